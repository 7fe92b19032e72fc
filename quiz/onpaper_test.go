package quiz

import (
	"fmt"
	"testing"
	"time"
)

func TestPaperAttempt(t *testing.T) {
	at := time.Date(2031, 3, 4, 12, 0, 0, 0, time.UTC)
	// The assignment has closed: the sheet was worked before.
	of := Assignment{ID: "a", Title: "Week 10", Attempts: 1, Open: at.Add(-48 * time.Hour), Close: at.Add(-24 * time.Hour), Limit: time.Minute}
	a, err := NewPaperAttempt("x", of, "p", 1, 0, []string{"q1", "q2"}, "sheet-1", at)
	if err != nil {
		t.Fatal(err)
	}
	if a.Medium != OnPaper || a.State != HandedIn || !a.Ended.Equal(at) || !a.Deadline.IsZero() {
		t.Errorf("%+v", a)
	}
	n := 0
	key := func() string { n++; return fmt.Sprintf("key-%04d", n) }
	first, err := a.Correct(nil, map[string]string{"q1": "B", "q2": ""}, key, at)
	if err != nil || len(first) != 1 || first[0].Version != 1 || first[0].Value != "B" || first[0].Attempt != "x" {
		t.Fatalf("the first reading, with a blank: %+v, %v", first, err)
	}
	second, err := a.Correct(first, map[string]string{"q1": "B", "q2": "C"}, key, at.Add(-time.Hour)) // a clock that was set back
	if err != nil || len(second) != 1 || second[0].Question != "q2" {
		t.Fatalf("only what differs: %+v, %v", second, err)
	}
	third, err := a.Correct(append(first, second...), map[string]string{"q1": ""}, key, at.Add(-time.Hour))
	if err != nil || len(third) != 1 || third[0].Version != 2 || third[0].Value != "" || third[0].At.Before(first[0].At) {
		t.Errorf("taken back: %+v, %v", third, err)
	}
	for what, answers := range map[string]map[string]string{
		"a question that is not asked": {"q3": "A"},
		"an answer that is no text":    {"q1": "\xff"},
	} {
		if _, err := a.Correct(nil, answers, key, at); ErrorCode(err) != Invalid {
			t.Errorf("%s: %v", what, err)
		}
	}
	if err := a.Grade(Result{Points: 1, Of: 2}); err != nil {
		t.Fatal(err)
	}
	if _, err := a.Correct(first, map[string]string{"q1": "C"}, key, at); err != nil {
		t.Errorf("a sheet that was misread is corrected after it was graded: %v", err)
	}
	if _, err := NewPaperAttempt("y", of, "p", 2, 0, []string{"q1"}, "sheet-2", at); ErrorCode(err) != Closed {
		t.Errorf("no attempts left: %v", err)
	}
	of.Close = time.Time{}
	screen, err := NewAttempt("z", of, "p", 1, 0, []string{"q1"}, at)
	if err != nil || screen.Medium != OnScreen {
		t.Fatalf("%+v, %v", screen, err)
	}
	if _, err := screen.Correct(nil, map[string]string{"q1": "A"}, key, at); ErrorCode(err) != Closed {
		t.Errorf("an attempt on a screen was corrected: %v", err)
	}
}

func TestSheetKey(t *testing.T) {
	base := SheetKey("a", "p", 0, map[string]string{"q1": "A", "q2": ""})
	if err := CheckKey(base); err != nil {
		t.Error(err)
	}
	if base != SheetKey("a", "p", 0, map[string]string{"q1": "A"}) {
		t.Error("a blank answer makes another sheet")
	}
	for what, other := range map[string]string{
		"another person":  SheetKey("a", "q", 0, map[string]string{"q1": "A"}),
		"another variant": SheetKey("a", "p", 1, map[string]string{"q1": "A"}),
		"another answer":  SheetKey("a", "p", 0, map[string]string{"q1": "B"}),
		"fields run on":   SheetKey("ap", "", 0, map[string]string{"q1": "A"}),
	} {
		if other == base {
			t.Errorf("%s has the same key", what)
		}
	}
}

func TestTokens(t *testing.T) {
	at := time.Date(2031, 3, 4, 12, 0, 0, 0, time.UTC)
	token := Token{Person: "p", Name: "Staff system", Expires: at.Add(time.Hour)}
	if err := token.Check(at); err != nil {
		t.Error(err)
	}
	for what, x := range map[string]Token{
		"nobody's": {Name: "x"}, "no name": {Person: "p", Name: " "}, "expired": {Person: "p", Name: "x", Expires: at},
	} {
		if ErrorCode(x.Check(at)) != Invalid {
			t.Errorf("%s is taken", what)
		}
	}
	if !token.Alive(at) || token.Alive(at.Add(time.Hour)) {
		t.Error("a token lives up to but without its end")
	}
	if !(Token{}).Alive(at) || (Token{Revoked: at}).Alive(at) {
		t.Error("a token without an end lives until it is revoked")
	}
}

func TestNoticeCheck(t *testing.T) {
	good := Notice{Person: "p", Kind: NoticeRegraded, Subject: "attempt/x", Detail: map[string]string{"title": "Week 10"}}
	if err := good.Check(); err != nil {
		t.Error(err)
	}
	for what, n := range map[string]Notice{
		"nobody's": {Kind: "x"}, "no kind": {Person: "p"}, "no text": {Person: "p", Kind: "x", Detail: map[string]string{"a": "\x00"}},
	} {
		if ErrorCode(n.Check()) != Invalid {
			t.Errorf("%s is taken", what)
		}
	}
}

func TestEmptyHashMatchesNothing(t *testing.T) {
	for _, password := range []string{"", "correct horse battery"} {
		if match, again, err := DefaultPasswords().Match(password, ""); match || again || err != nil {
			t.Errorf("%q: %v, %v, %v", password, match, again, err)
		}
	}
}
