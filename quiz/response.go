package quiz

import (
	"strings"
	"time"
	"unicode/utf8"
)

// MaxAnswer bounds an answer in bytes; the longest key of a chase is far below.
const MaxAnswer = 4096

// MaxVersions bounds how often one answer is changed: far more than anybody does
// by hand, and as much as a program run wild may fill the database with.
const MaxVersions = 500

// The bounds of a key that a client makes, in bytes: a UUID fits.
const (
	minKey = 8
	maxKey = 64
)

// Response is an answer as it stands: one version of it. Versions are kept,
// so that it can be seen how somebody arrived at an answer.
type Response struct {
	Attempt  string
	Question string
	Version  int    // 1 for the first answer
	Key      string // made by the client; identifies the save
	Value    string // in the form that grading.Grade reads; empty: taken back
	Spent    time.Duration
	At       time.Time
}

// Save is a request to save an answer.
type Save struct {
	Attempt  string
	Question string
	Key      string        // made by the client, anew for each change of the answer
	Base     int           // version of the answer that the person saw; 0: none
	Value    string        // at most MaxAnswer bytes of UTF-8
	Spent    time.Duration // time on the question since the last save, as the client says
}

// plain tells whether s is text that every database takes: UTF-8 without NUL.
func plain(s string) bool { return utf8.ValidString(s) && !strings.Contains(s, "\x00") }

// CheckKey reports why a client-made key will not do.
func CheckKey(key string) error {
	if len(key) < minKey || len(key) > maxKey {
		return &Error{Code: Invalid, Text: "the key of the request is too short or too long", Mend: "send 8 to 64 letters, digits or hyphens"}
	}
	for i := range len(key) {
		c := key[i]
		if c != '-' && c != '_' && (c < '0' || c > '9') && (c < 'A' || c > 'Z') && (c < 'a' || c > 'z') {
			return &Error{Code: Invalid, Text: "the key of the request has other characters than letters, digits, hyphens", Mend: "send 8 to 64 of those"}
		}
	}
	return nil
}

// Save judges a request to save an answer. Known are the versions stored so
// far that have the request's question or key. It gives the version to store,
// or, with repeated, the one that was stored for the same key before: a retry
// is acknowledged even after the attempt ended, for its answer is kept. An
// answer that was changed elsewhere since the person saw it is a Conflict.
func (a *Attempt) Save(known []Response, s Save, now time.Time) (r Response, repeated bool, err error) {
	if err := CheckKey(s.Key); err != nil {
		return Response{}, false, err
	}
	if len(s.Value) > MaxAnswer || !plain(s.Value) {
		return Response{}, false, &Error{Code: Invalid, Text: "the answer is too long or not text", Mend: "shorten it"}
	}
	last := Response{At: a.Started}
	for _, k := range known {
		if k.Key == s.Key {
			if k.Question != s.Question || k.Value != s.Value {
				return Response{}, false, &Error{Code: Invalid, Text: "the key of the request was used for another answer", Mend: "make a new key for each change"}
			}
			return k, true, nil
		}
		if k.Question == s.Question && k.Version > last.Version {
			last = k
		}
	}
	if err := a.Working(now); err != nil {
		return Response{}, false, err
	}
	if !a.Asks(s.Question) {
		return Response{}, false, Errorf(NotFound, "the attempt does not ask question %s", s.Question)
	}
	if s.Base != last.Version {
		return Response{}, false, &Error{Code: Conflict, Text: "the answer was changed in another window or on another device", Mend: "look at the answer as it stands, then change it"}
	}
	if last.Version >= MaxVersions {
		return Response{}, false, &Error{Code: TooMany, Text: "the answer was changed too often", Mend: "leave it as it stands, or ask the coordinator"}
	}
	now = later(now, last.At)
	return Response{Attempt: a.ID, Question: s.Question, Version: last.Version + 1, Key: s.Key, Value: s.Value,
		Spent: min(max(s.Spent, 0), now.Sub(a.Started)), At: now}, false, nil
}

// Latest gives the answers as they stand, by question.
func Latest(all []Response) map[string]Response {
	latest := make(map[string]Response, len(all))
	for _, r := range all {
		if r.Version > latest[r.Question].Version {
			latest[r.Question] = r
		}
	}
	return latest
}
