package grading

import (
	"fmt"
	"strings"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// gradeChase scores the steps of a chase, separated by |. A step is right if it
// is the key, or if it is what follows from a slip that the technician made at
// an earlier step; then it is credited and marked as carried.
func gradeChase(q *banks.Question, given string, s *Score) error {
	parts := strings.Split(given, "|")
	if len(parts) > len(q.Steps) {
		return &Refusal{
			fmt.Sprintf("%d answers for a chase of %d steps", len(parts), len(q.Steps)),
			"give one answer a step, separated by |",
		}
	}
	inHand := map[resolver.Slip]bool{}
	var sum float64
	var given2 []string
	for i := range q.Steps {
		st := &q.Steps[i]
		answer := ""
		if i < len(parts) {
			answer = parts[i]
		}
		ss, err := gradeStep(st, answer, inHand)
		if err != nil {
			return err
		}
		if ss.Slip != resolver.NoSlip {
			inHand[ss.Slip] = true
		}
		// The first slip is where the way parts.
		if ss.Verdict == Wrong && ss.Known && !s.Known {
			recognise(s, ss.Slip)
			s.Step = st.Step
		}
		sum += ss.Points
		given2 = append(given2, ss.Given)
		s.Steps = append(s.Steps, ss)
	}
	s.Given = strings.Join(given2, "; ")
	settle(s, sum/float64(len(q.Steps)))
	if s.Verdict == Right {
		for _, ss := range s.Steps {
			if ss.Verdict == Carried {
				s.Verdict = Partly
			}
		}
	}
	return nil
}

func gradeStep(st *banks.ChaseStep, answer string, inHand map[resolver.Slip]bool) (StepScore, error) {
	ss := StepScore{Step: st.Step, Right: st.KeyText(), Verdict: Wrong}
	answer = strings.TrimSpace(answer)
	if answer == "" {
		ss.Verdict = Blank
		return ss, nil
	}
	var value string
	var right bool
	var slip resolver.Slip
	if len(st.Options) > 0 {
		marks, err := letters(answer, len(st.Options))
		if err != nil {
			return ss, err
		}
		if len(marks) != 1 {
			return ss, &Refusal{"two or more marks (" + answer + ") at the step “" + st.Ask + "”", "enter the one that is meant"}
		}
		o := &st.Options[marks[0]]
		ss.Given, value, right, slip = o.Text, o.Value, o.Right, o.Slip
	} else {
		ss.Given = answer
		value = Normalise(answer, Code)
		for _, a := range st.Accept {
			right = right || Normalise(a, Code) == value
		}
		for _, sl := range st.Slipped {
			if Normalise(sl.Value, Code) == value {
				slip = sl.Slip
			}
		}
	}
	switch {
	case right:
		ss.Verdict, ss.Points = Right, 1
		return ss, nil
	case carried(st, value, inHand, len(st.Options) == 0):
		ss.Verdict, ss.Points = Carried, 1
		return ss, nil
	}
	ss.Slip, ss.Known = slip, slip != resolver.NoSlip
	return ss, nil
}

func carried(st *banks.ChaseStep, value string, inHand map[resolver.Slip]bool, typed bool) bool {
	for _, c := range st.Carried {
		v := c.Value
		if typed {
			v = Normalise(v, Code)
		}
		if v == value && inHand[c.Slip] {
			return true
		}
	}
	return false
}
