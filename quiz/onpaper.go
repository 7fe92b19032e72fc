package quiz

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"time"
)

// Medium is what an attempt was worked on.
type Medium string

// The media.
const (
	OnScreen Medium = "screen"
	OnPaper  Medium = "paper"
)

// NewPaperAttempt makes an attempt that was worked on paper and is recorded
// now: handed in, whatever the time limit, opening and closing time, for the
// sheet was worked before. Key is that of the sheet, see [SheetKey].
func NewPaperAttempt(id string, a Assignment, person string, number, variant int, questions []string, key string, now time.Time) (*Attempt, error) {
	p, err := NewAttempt(id, a, person, number, variant, questions, now)
	if err != nil {
		return nil, err
	}
	p.Medium, p.State, p.Started, p.Ended, p.HandInKey = OnPaper, HandedIn, now, now, key
	return p, nil
}

// SheetKey is a key of a sheet by its content: recorded twice, it is known
// again.
func SheetKey(assignment, person string, variant int, answers map[string]string) string {
	h := sha256.New()
	write := func(s string) { fmt.Fprintf(h, "%d:%s,", len(s), s) }
	write(assignment)
	write(person)
	write(strconv.Itoa(variant))
	for _, q := range slices.Sorted(maps.Keys(answers)) {
		if answers[q] != "" {
			write(q)
			write(answers[q])
		}
	}
	return "sheet-" + hex.EncodeToString(h.Sum(nil))[:48]
}

// Correct judges answers read from the sheet of an attempt on paper: those of
// the first reading, and later corrections of it, also of an attempt that was
// graded. Known are all versions stored so far. It gives the versions to
// store: one for each answer that differs from what stands. A question that is
// not among the answers stays as it is; an empty answer takes back what stood.
func (a *Attempt) Correct(known []Response, answers map[string]string, key func() string, now time.Time) ([]Response, error) {
	if a.Medium != OnPaper {
		return nil, &Error{Code: Closed, Text: "the attempt was not worked on paper", Mend: "answers given on a screen stay as the person left them"}
	}
	latest := Latest(known)
	var changed []Response
	for _, q := range slices.Sorted(maps.Keys(answers)) {
		value, last := answers[q], latest[q]
		switch {
		case !a.Asks(q):
			return nil, &Error{Code: Invalid, Text: "the attempt does not ask question " + q, Mend: "is it the sheet of another variant?"}
		case len(value) > MaxAnswer || !plain(value):
			return nil, &Error{Code: Invalid, Text: "the answer to question " + strconv.Itoa(slices.Index(a.Questions, q)+1) + " is too long or not text", Mend: "shorten it"}
		case value == last.Value:
			continue
		}
		changed = append(changed, Response{Attempt: a.ID, Question: q, Version: last.Version + 1, Key: key(), Value: value, At: later(now, last.At)})
	}
	return changed, nil
}
