package grading

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
)

// Sums tells how many responses gain points, lose points, change in their
// diagnosis alone, and are withdrawn.
func (rep *RegradeReport) Sums() (gain, lose, diagnosis, withdrawn int) {
	for i := range rep.Responses {
		switch r := &rep.Responses[i]; {
		case r.Withdrawn:
			withdrawn++
		case r.Delta > 0:
			gain++
		case r.Delta < 0:
			lose++
		default:
			diagnosis++
		}
	}
	return gain, lose, diagnosis, withdrawn
}

// WriteJSON writes the report as one object.
func (rep *RegradeReport) WriteJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(rep)
}

// WriteText writes the report for people: what changed and why, question by
// question, then every response with its old and its new score.
func (rep *RegradeReport) WriteText(w io.Writer) error {
	var b strings.Builder
	gain, lose, diagnosis, withdrawn := rep.Sums()
	fmt.Fprintf(&b, "Regrading because of %s\n", rep.Cause)
	fmt.Fprintf(&b, "%s examined: %d on questions that keep their key, %d with the score that they had, %d better by the old key and left so, %d for a person to look at, %d changed.\n",
		plural(rep.Examined, "response"), rep.Unaffected, rep.Same, rep.Kept, rep.Undecided, len(rep.Responses))
	if len(rep.Responses) > 0 {
		fmt.Fprintf(&b, "Of those changed %d gain, %d lose, %d are withdrawn, %d change in their diagnosis alone. Remedy: %s; void questions are %s.\n",
			gain, lose, withdrawn, diagnosis, rep.Remedy, rep.VoidRemedy)
	}
	for i := range rep.Questions {
		c := &rep.Questions[i]
		fmt.Fprintf(&b, "\nQuestion %s (%s), %s: %s\n", c.Question, c.Kind, plural(c.Responses, "response"), c.Outcome)
		fmt.Fprintf(&b, "  old key: %s\n", c.OldKey)
		if c.NewKey != "" {
			fmt.Fprintf(&b, "  new key: %s\n", c.NewKey)
		}
		fmt.Fprintf(&b, "  why: %s\n", c.Why)
		for j := range rep.Responses {
			if r := &rep.Responses[j]; r.Question == c.Question {
				fmt.Fprintf(&b, "  %s: “%s” %s → %s\n", who(r.Person, r.Ref), r.Given, scoreText(&r.Before), afterText(r))
			}
		}
		for j := range rep.Open {
			if r := &rep.Open[j]; r.Question == c.Question {
				fmt.Fprintf(&b, "  %s: “%s” %s, stands until a person has looked: %s\n", who(r.Person, r.Ref), r.Given, scoreText(&r.Before), r.Why)
			}
		}
	}
	if len(rep.People) > 0 {
		b.WriteString("\nPeople\n")
	}
	for _, p := range rep.People {
		fmt.Fprintf(&b, "  %s: %s of %d → %s of %d (%s changed)\n", p.Person, points(p.Before), p.Of, points(p.After), p.AfterOf, plural(p.Changed, "response"))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func who(person, ref string) string {
	if ref == "" || ref == person {
		return person
	}
	return person + " [" + ref + "]"
}

func scoreText(s *Score) string { return points(s.Points) + " (" + string(s.Verdict) + ")" }

func afterText(r *ResponseChange) string {
	if r.After == nil {
		return "withdrawn"
	}
	text := scoreText(r.After)
	if r.After.Known {
		text += ", " + r.After.Slip.String()
	}
	return text
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// points writes points without decimals that say nothing.
func points(p float64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.2f", p), "0"), ".")
}
