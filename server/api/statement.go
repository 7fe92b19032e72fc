package api

import (
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"rightpage/grading"
)

// Statement is a statement of xAPI 2.0 (IEEE 9274.1.1-2023): somebody did
// something. These are told:
//
//   - answered, for each question that was answered, in a quiz or as an exercise
//   - completed, for each attempt that was handed in and graded
//   - passed or failed, for each attempt that was graded
//   - voided, for a statement that a regrade has overtaken
//
// A statement never changes, as the standard has it: when a regrade changes a
// score, what was told of it is voided and told anew. The IDs follow from what
// is told, so that every server gives the same.
//
// The actor is an account: the home page is the address of the server, and the
// name the ID of the person, or the staff number if the query says
// account=number and the person has one. There is neither name nor mail address
// in a statement, nor an answer or a key.
type Statement struct {
	ID        uuid.UUID         `json:"id"`
	Actor     Agent             `json:"actor"`
	Verb      Verb              `json:"verb"`
	Object    StatementObject   `json:"object"`
	Result    *StatementResult  `json:"result,omitempty"`
	Context   *StatementContext `json:"context,omitempty"`
	Timestamp time.Time         `json:"timestamp" jsonschema_description:"When it happened"`
	Stored    time.Time         `json:"stored" jsonschema_description:"When it became known: when it was graded"`
	Authority Agent             `json:"authority"`
	Version   string            `json:"version" jsonschema:"const=2.0.0"`
}

// Agent is somebody, by an account.
type Agent struct {
	ObjectType string  `json:"objectType" jsonschema:"const=Agent"`
	Account    Account `json:"account"`
}

// Account is an account on a system.
type Account struct {
	HomePage string `json:"homePage" jsonschema:"format=uri"`
	Name     string `json:"name" jsonschema:"minLength=1"`
}

// Verb is what was done.
type Verb struct {
	ID      string            `json:"id" jsonschema:"format=uri"`
	Display map[string]string `json:"display"`
}

// StatementObject is what it was done to: an activity, or another statement.
type StatementObject struct {
	ObjectType string      `json:"objectType" jsonschema:"enum=Activity,enum=StatementRef"`
	ID         string      `json:"id"`
	Definition *Definition `json:"definition,omitempty"`
}

// Definition says what an activity is.
type Definition struct {
	Type       string            `json:"type" jsonschema:"format=uri"`
	Name       map[string]string `json:"name"`
	Extensions map[string]any    `json:"extensions,omitempty"`
}

// StatementResult is how it went.
type StatementResult struct {
	Score      *Score         `json:"score,omitempty"`
	Success    *bool          `json:"success,omitempty"`
	Completion *bool          `json:"completion,omitempty"`
	Duration   string         `json:"duration,omitempty" jsonschema_description:"ISO 8601"`
	Extensions map[string]any `json:"extensions,omitempty"`
}

// Score is a score with its scale.
type Score struct {
	Scaled float64 `json:"scaled" jsonschema:"minimum=-1,maximum=1"`
	Raw    float64 `json:"raw"`
	Min    float64 `json:"min"`
	Max    float64 `json:"max"`
}

// StatementContext is what it was part of.
type StatementContext struct {
	Registration *uuid.UUID         `json:"registration,omitempty" jsonschema_description:"The same for all that was done in one attempt"`
	Activities   *ContextActivities `json:"contextActivities,omitempty"`
	Platform     string             `json:"platform,omitempty"`
}

// ContextActivities are activities around one.
type ContextActivities struct {
	Parent []StatementObject `json:"parent"`
}

// The verbs. They are those of the vocabulary that the standard's community
// keeps; voided is the standard's own.
const (
	verbBase     = "http://adlnet.gov/expapi/verbs/"
	typeBase     = "http://adlnet.gov/expapi/activities/"
	answeredVerb = "answered"
	completeVerb = "completed"
	passedVerb   = "passed"
	failedVerb   = "failed"
	voidedVerb   = "voided"
)

// fact is what a statement is made of, without what depends on who asks.
type fact struct {
	name   string // unique; the ID follows from it
	verb   string
	person string // empty: the program
	stored time.Time
	at     time.Time
	voided bool   // a later fact voids it
	voids  string // name of the one that this voids
	// Of an attempt or an answer.
	attempt, assignment string // empty: an exercise
	number              int    // of the attempt
	spent               time.Duration
	points, of          float64
	// Of an answer.
	question string
	score    grading.Score // without the answer and the key
	// Of an attempt.
	passed, handedIn bool
}

// teller makes statements of facts.
type teller struct {
	home    string            // address of the server, without a slash at its end
	account map[string]string // the name of the account of each person
	form    string            // how accounts are named
	titles  map[string]string // of assignments
	lang    string
}

func (t *teller) uuid(name string) uuid.UUID {
	return uuid.NewSHA1(uuid.NameSpaceURL, []byte(t.home+"/xapi/"+t.form+"/"+name))
}

func (t *teller) iri(parts ...string) string { return t.home + "/xapi/" + strings.Join(parts, "/") }

func (t *teller) agent(name string) Agent {
	return Agent{"Agent", Account{HomePage: t.home, Name: name}}
}

// program is who vouches for the statements.
func (t *teller) program() Agent { return t.agent("rightpage") }

func (t *teller) nameOf(person string) string {
	if n := t.account[person]; n != "" {
		return n
	}
	return person
}

// object is the activity that a fact is about.
func (t *teller) object(f *fact) StatementObject {
	switch {
	case f.verb == voidedVerb:
		return StatementObject{ObjectType: "StatementRef", ID: t.uuid(f.voids).String()}
	case f.verb == answeredVerb:
		// Not the question's own ID: that is a hash of its key, too.
		id := uuid.NewSHA1(uuid.NameSpaceOID, []byte("question "+f.question)).String()
		return StatementObject{"Activity", t.iri("questions", id), &Definition{Type: typeBase + "question", Name: map[string]string{"en": f.score.Kind},
			Extensions: map[string]any{t.iri("extensions", "skill"): f.score.Skill, t.iri("extensions", "kind"): f.score.Kind}}}
	}
	return t.assignment(f)
}

func (t *teller) assignment(f *fact) StatementObject {
	title := t.titles[f.assignment]
	if title == "" {
		title = "Quiz"
	}
	return StatementObject{"Activity", t.iri("assignments", f.assignment), &Definition{Type: typeBase + "assessment", Name: map[string]string{t.lang: title}}}
}

func (t *teller) parent(f *fact) (StatementObject, bool) {
	switch {
	case f.verb != answeredVerb:
		return StatementObject{}, false
	case f.assignment != "":
		return t.assignment(f), true
	}
	return StatementObject{"Activity", t.iri("practice"), &Definition{Type: typeBase + "lesson", Name: map[string]string{"en": "Practice"}}}, true
}

// tell makes the statement of a fact.
func (t *teller) tell(f *fact) Statement {
	s := Statement{ID: t.uuid(f.name), Actor: t.program(), Verb: Verb{verbBase + f.verb, map[string]string{"en": f.verb}}, Object: t.object(f),
		Timestamp: f.at.UTC(), Stored: f.stored.UTC(), Authority: t.program(), Version: xapiVersion}
	if f.verb == voidedVerb {
		return s
	}
	s.Actor = t.agent(t.nameOf(f.person))
	s.Result = t.result(f)
	ctx := StatementContext{Platform: "rightpage"}
	if parent, ok := t.parent(f); ok {
		ctx.Activities = &ContextActivities{[]StatementObject{parent}}
	}
	if f.attempt != "" {
		id := t.uuid("attempt|" + f.attempt)
		ctx.Registration = &id
	}
	s.Context = &ctx
	return s
}

func (t *teller) result(f *fact) *StatementResult {
	r := &StatementResult{Duration: duration(f.spent), Extensions: map[string]any{}}
	yes := func(b bool) *bool { return &b }
	if f.of > 0 {
		scaled := min(1, max(0, f.points/f.of))
		r.Score = &Score{Scaled: math.Round(scaled*1e6) / 1e6, Raw: f.points, Min: 0, Max: f.of}
	}
	switch f.verb {
	case answeredVerb:
		if f.of > 0 {
			r.Success = yes(f.score.Verdict == grading.Right)
		}
		slip, step := slipOf(f.score)
		if slip != "" {
			r.Extensions[t.iri("extensions", "slip")] = slip
		}
		if step != "" {
			r.Extensions[t.iri("extensions", "step")] = step
		}
	default:
		r.Success, r.Completion = yes(f.passed), yes(f.handedIn)
		r.Extensions[t.iri("extensions", "attempt")] = f.number
	}
	if len(r.Extensions) == 0 {
		r.Extensions = nil
	}
	return r
}

// duration writes a duration as ISO 8601 has it, to the hundredth of a second,
// which is as exact as the standard has durations compared; empty for none.
func duration(d time.Duration) string {
	d = d.Round(10 * time.Millisecond)
	if d <= 0 {
		return ""
	}
	var b strings.Builder
	b.WriteString("PT")
	if h := d / time.Hour; h > 0 {
		b.WriteString(strconv.FormatInt(int64(h), 10) + "H")
	}
	if m := d % time.Hour / time.Minute; m > 0 {
		b.WriteString(strconv.FormatInt(int64(m), 10) + "M")
	}
	if s := d % time.Minute; s > 0 {
		b.WriteString(strconv.FormatFloat(s.Seconds(), 'f', -1, 64) + "S")
	}
	return b.String()
}
