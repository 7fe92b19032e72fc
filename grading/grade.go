package grading

import (
	"strings"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// Grade scores an answer. How it is written depends on the form: an option by
// its letter; several options by their letters with or without separators; an
// order by the letters in order; a number with its unit; a chase by its steps,
// separated by |. An answer that is blank scores nothing; one that cannot be
// read, such as two marks where one is asked for, is a [*Refusal].
func Grade(q *banks.Question, given string, rules Rules) (Score, error) {
	s := Score{Question: q.ID, Kind: q.Kind, Skill: q.Skill, Right: q.KeyText()}
	if strings.TrimSpace(strings.ReplaceAll(given, "|", "")) == "" {
		s.Verdict = Blank
		s.Says = "Not answered."
		return s, nil
	}
	var err error
	switch q.Form {
	case banks.OneOf:
		err = gradeOne(q, given, &s)
	case banks.SomeOf:
		err = gradeSome(q, given, &s)
	case banks.Typed:
		gradeTyped(q, given, &s)
	case banks.Number:
		err = gradeNumber(q, given, &s)
	case banks.Ordered:
		err = gradeOrdered(q, given, &s)
	case banks.Chase:
		err = gradeChase(q, given, &s)
	default:
		err = &Refusal{"the question has the form " + string(q.Form) + ", which this grader does not know", "grade it with the version that made the bank"}
	}
	if err != nil {
		return s, err
	}
	if rules.AllOrNothing && s.Points < 1 {
		s.Points = 0
		if s.Verdict == Partly {
			s.Verdict = Wrong
		}
	}
	explain(q, &s)
	return s, nil
}

// settle turns points into a verdict.
func settle(s *Score, points float64) {
	s.Points = points
	switch {
	case points >= 1:
		s.Points, s.Verdict = 1, Right
	case points > 0:
		s.Verdict = Partly
	default:
		s.Points, s.Verdict = 0, Wrong
	}
}

// recognise notes the slip of a wrong answer.
func recognise(s *Score, slip resolver.Slip) {
	s.Slip, s.Known = slip, slip != resolver.NoSlip
	s.Step = slip.Step()
}

func gradeOne(q *banks.Question, given string, s *Score) error {
	marks, err := letters(given, len(q.Options))
	if err != nil {
		return err
	}
	if len(marks) != 1 {
		return &Refusal{"two or more marks (" + given + ") where one option is asked for", "look at the sheet and enter the one that is meant, or leave it blank"}
	}
	o := &q.Options[marks[0]]
	s.Given = o.Text
	if o.Right {
		settle(s, 1)
		return nil
	}
	settle(s, 0)
	recognise(s, o.Slip)
	return nil
}

func gradeSome(q *banks.Question, given string, s *Score) error {
	marks, err := letters(given, len(q.Options))
	if err != nil {
		return err
	}
	keys, hits, wrong := 0, 0, 0
	for i := range q.Options {
		if q.Options[i].Right {
			keys++
		}
	}
	var values, texts []string
	for _, i := range marks {
		o := &q.Options[i]
		values, texts = append(values, o.Value), append(texts, o.Text)
		if o.Right {
			hits++
		} else {
			wrong++
		}
	}
	s.Given = strings.Join(texts, ", ")
	settle(s, max(0, float64(hits-wrong)/float64(keys)))
	if s.Verdict == Right {
		return nil
	}
	// The whole set may be what a slip leads to; failing that the wrong marks
	// may all come from one.
	set := banks.OptionSet(values)
	for _, sl := range q.Slipped {
		if sl.Value == set {
			recognise(s, sl.Slip)
			return nil
		}
	}
	slip := resolver.NoSlip
	for _, i := range marks {
		if o := &q.Options[i]; !o.Right {
			if slip != resolver.NoSlip && slip != o.Slip {
				return nil
			}
			slip = o.Slip
		}
	}
	if slip != resolver.NoSlip {
		recognise(s, slip)
	}
	return nil
}

func gradeTyped(q *banks.Question, given string, s *Score) {
	s.Given = strings.TrimSpace(given)
	c := Charset(q.Key.Charset)
	n := Normalise(given, c)
	for _, a := range q.Key.Accept {
		if Normalise(a, c) == n {
			settle(s, 1)
			return
		}
	}
	settle(s, 0)
	for _, sl := range q.Slipped {
		if Normalise(sl.Value, c) == n {
			recognise(s, sl.Slip)
			return
		}
	}
}

func gradeOrdered(q *banks.Question, given string, s *Score) error {
	marks, err := letters(given, len(q.Options))
	if err != nil {
		return err
	}
	seen := map[int]bool{}
	var values, texts []string
	for _, i := range marks {
		if seen[i] {
			return &Refusal{"the letter " + banks.Letter(i) + " stands twice in the order " + given, "enter each letter once"}
		}
		seen[i] = true
		values, texts = append(values, q.Options[i].Value), append(texts, q.Options[i].Text)
	}
	s.Given = strings.Join(texts, ", then ")
	n := len(q.Key.Order)
	l := commonSubsequence(values, q.Key.Order)
	if n < 2 {
		settle(s, float64(l)/float64(n))
	} else {
		settle(s, max(0, float64(l-1)/float64(n-1)))
	}
	if s.Verdict != Right {
		joined := strings.Join(values, ";")
		for _, sl := range q.Slipped {
			if sl.Value == joined {
				recognise(s, sl.Slip)
			}
		}
	}
	return nil
}

// commonSubsequence is the length of the longest common subsequence of two
// lists (Wagner and Fischer 1974: O(len(a)·len(b)) time).
func commonSubsequence(a, b []string) int {
	row := make([]int, len(b)+1)
	for i := range a {
		diagonal := 0
		for j := range b {
			up := row[j+1]
			if a[i] == b[j] {
				row[j+1] = diagonal + 1
			} else {
				row[j+1] = max(row[j+1], row[j])
			}
			diagonal = up
		}
	}
	return row[len(b)]
}

// letters reads the letters of options: "B", "a c", "A,C", "ACD".
func letters(given string, n int) ([]int, error) {
	var out []int
	for _, r := range strings.ToUpper(given) {
		switch {
		case r >= 'A' && int(r-'A') < n:
			out = append(out, int(r-'A'))
		case isSeparator(r) || r == '&' || r == '+':
		default:
			return nil, &Refusal{"“" + strings.TrimSpace(given) + "” names no option; the options are A to " + banks.Letter(n-1), "enter letters alone"}
		}
	}
	if len(out) == 0 {
		return nil, &Refusal{"“" + strings.TrimSpace(given) + "” names no option", "enter the letter of the option"}
	}
	return out, nil
}

// explain says in words what went wrong and what to do next time.
func explain(q *banks.Question, s *Score) {
	switch s.Verdict {
	case Right, Blank:
		return
	}
	if s.Known {
		s.Says = "You " + s.Slip.Does() + ". Next time: " + s.Slip.NextTime()
		return
	}
	s.Step = lastStep(q)
	s.Says = "The slip is not recognised. Go through the trace and find the step at which your way parts from it."
}

// lastStep is the step that a question asks for.
func lastStep(q *banks.Question) resolver.Step {
	if n := len(q.Trace); n > 0 {
		return q.Trace[n-1].Step
	}
	return resolver.ClassifyStep
}
