package progress

import (
	"time"

	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
	"rightpage/grading"
	"rightpage/quiz/store"
)

// Answer is one answer as progress looks at it: the part of a
// [grading.Score] that counts, when it was given and how long it took.
type Answer struct {
	At       time.Time
	Spent    time.Duration // 0: not taken, as on paper
	Quiz     bool          // of a quiz; otherwise an exercise
	Ref      string        // ID of the attempt, or key of the exercise
	Question string        // ID
	Kind     string
	Skill    string
	Right    bool // entirely; what earns part of the points is not
	Points   float64
	Blank    bool
	Slip     resolver.Slip // of a wrong answer; NoSlip: none known
	Marks    []StepMark
}

// StepMark says whether an answer was right at one step of the lookup.
type StepMark struct {
	Step  resolver.Step
	Right bool
}

// AnswerOf takes from an outcome what counts.
func AnswerOf(o store.Outcome) Answer {
	s := o.Score
	a := Answer{At: o.At, Spent: o.Spent, Quiz: o.Source == store.FromQuiz, Ref: o.Ref, Question: s.Question, Kind: s.Kind, Skill: s.Skill,
		Right: s.Verdict == grading.Right, Points: s.Points, Blank: s.Verdict == grading.Blank}
	if s.Known && !a.Right {
		a.Slip = s.Slip
	}
	a.Marks = marksOf(s)
	return a
}

// marksOf says at which steps an answer speaks for or against the person.
//
// A chase says it itself. Any other question can be got wrong at the steps of
// the slips that its kind knows. Right: it was right at each of them. Wrong by
// a slip: wrong at the step of the slip, and right at those before it, for
// otherwise the path had been left earlier; of those after it nothing is known.
// Wrong in a way that is not recognised: wrong at the step that was asked for.
// A blank counts as that, too.
func marksOf(s grading.Score) []StepMark {
	if len(s.Steps) > 0 {
		marks := make([]StepMark, 0, len(s.Steps))
		for _, x := range s.Steps {
			marks = append(marks, StepMark{x.Step, x.Verdict == grading.Right || x.Verdict == grading.Carried})
		}
		return marks
	}
	on := stepsOfKind(s.Kind)
	if s.Verdict == grading.Right {
		marks := make([]StepMark, len(on))
		for i, step := range on {
			marks[i] = StepMark{step, true}
		}
		return marks
	}
	var marks []StepMark
	if s.Known && s.Slip != resolver.NoSlip {
		for _, step := range on {
			if step < s.Step {
				marks = append(marks, StepMark{step, true})
			}
		}
	}
	return append(marks, StepMark{s.Step, false})
}

// stepsOfKind lists the steps at which questions of a kind can be got wrong,
// in the order of a lookup.
func stepsOfKind(kind string) []resolver.Step {
	k, ok := kinds.Find(kind)
	if !ok {
		return nil
	}
	var in [16]bool
	for _, s := range k.Slips {
		in[s.Step()] = true
	}
	var list []resolver.Step
	for _, step := range resolver.Steps() {
		if in[step] {
			list = append(list, step)
		}
	}
	return list
}
