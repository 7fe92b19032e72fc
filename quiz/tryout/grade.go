package tryout

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"

	"rightpage/banks"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
	"rightpage/grading"
)

// mostExamples is how many wrong answers are shown.
const mostExamples = 4

func (t *trial) grade(context.Context) error {
	t.head(5, fmt.Sprintf("Grade the answers of %d technicians, with the slip behind every wrong one", len(technicians())))
	questions := t.form.Variants[0].Questions
	number := map[string]int{}
	for i, q := range questions {
		number[q.ID] = i + 1
	}
	answers := madeUpAnswers(questions, t.cfg.Seed)
	if err := t.file("answers.csv", "their answers, as they come from a spreadsheet", func(w io.Writer) error { _, err := w.Write(answers); return err }); err != nil {
		return err
	}
	sheet, err := grading.GradeCSV(bytes.NewReader(answers), func(id string) (*banks.Question, bool) {
		n := number[id]
		if n == 0 {
			return nil, false
		}
		return questions[n-1], true
	}, grading.Rules{})
	if err != nil {
		return err
	}
	t.sheet = sheet
	if err := t.file("scores.csv", "a row a person, a column a question", sheet.WriteScores); err != nil {
		return err
	}
	t.sum.Graded, t.sum.Refused = sheet.Count()
	t.say("\n  %s, %d refused, and %s skipped.\n\n", count(t.sum.Graded, "answer graded", "answers graded"), t.sum.Refused, count(sheet.Blank, "blank row", "blank rows"))
	t.people()
	t.examples(number)
	t.refusals()
	t.say("  All of it:\n    rightpage grade --bank %s --responses %s\n", quoted(filepath.Join(t.cfg.Out, "quiz.json")), quoted(filepath.Join(t.cfg.Out, "answers.csv")))
	return nil
}

// people prints the results, best first.
func (t *trial) people() {
	list := slices.Clone(t.sheet.People)
	slices.SortStableFunc(list, func(a, b grading.PersonResult) int { return cmp.Compare(b.Points, a.Points) })
	slips := map[resolver.Slip]int{}
	t.say("    %-16s  %-12s  %-6s  %-10s  %-17s  %s\n", "person", "points", "share", "expect", "", "most frequent slip")
	for i := range list {
		p := &list[i]
		if p.Of == 0 {
			continue
		}
		passed := p.Share() >= cutShare
		t.sum.People = append(t.sum.People, PersonSummary{Person: p.Person, Points: p.Points, Of: p.Of, Passed: passed})
		word, slip := "not passed", ""
		if passed {
			word = "passed"
		}
		if p.Close(cutShare) {
			word += ", close"
		}
		if len(p.Slips) > 0 {
			slip = fmt.Sprintf("%s (%d)", p.Slips[0].Slip, p.Slips[0].Times)
		}
		t.say("    %-16s  %-12s  %3.0f %%   %-10s  %-17s  %s\n", p.Person, fmt.Sprintf("%.2f of %d", p.Points, p.Of), 100*p.Share(), p.ExpectText(), word, slip)
		for _, s := range p.Slips {
			slips[s.Slip] += s.Times
		}
	}
	t.say("\n  Expect: the share on other questions of the kind, 19 times out of 20. Close: other questions might have decided otherwise.\n")
	if worst := mostFrequent(slips); worst != resolver.NoSlip {
		t.say("\n  What to teach first: “%s”, made %s: somebody %s. Next time: %s\n", worst, count(slips[worst], "time", "times"), worst.Does(), worst.NextTime())
	}
}

func mostFrequent(slips map[resolver.Slip]int) resolver.Slip {
	best := resolver.NoSlip
	for _, s := range resolver.Slips() {
		if slips[s] > slips[best] {
			best = s
		}
	}
	return best
}

// examples prints a few wrong answers, each of another slip, of several people.
func (t *trial) examples(number map[string]int) {
	t.say("\n  Some of the wrong answers:\n")
	slips, people := map[resolver.Slip]bool{}, map[string]int{}
	shown := 0
	for i := range t.sheet.Rows {
		r := &t.sheet.Rows[i]
		if r.Score == nil || r.Score.Verdict != grading.Wrong || slips[r.Score.Slip] || people[r.Person] == 2 || shown == mostExamples {
			continue
		}
		slips[r.Score.Slip] = true
		people[r.Person]++
		shown++
		t.say("    %s, question %d (%s): “%s” instead of “%s”.\n      %s\n", r.Person, number[r.Score.Question], kindTitle(r.Score.Kind), r.Score.Given, r.Score.Right, r.Score.Says)
	}
	if shown == 0 {
		t.say("    There are none.\n")
	}
}

func kindTitle(name string) string {
	if k, ok := kinds.Find(name); ok {
		return lower(k.Title)
	}
	return name
}

// refusals prints the rows that were not graded.
func (t *trial) refusals() {
	t.say("\n  Refused, so that a person looks at them:\n")
	for i := range t.sheet.Rows {
		if r := &t.sheet.Rows[i]; r.Score == nil {
			t.say("    row %d: %s\n", r.Row, r.Refused)
		}
	}
	t.say("\n")
}
