package progress

import (
	"slices"
	"strings"

	"rightpage/banks/resolver"
	"rightpage/quiz"
)

// ModeKind is what somebody wants to practise.
type ModeKind string

// The kinds of practice.
const (
	ByNeed   ModeKind = "need"  // the weakest skill
	OneSkill ModeKind = "skill" // one skill, chosen by the person
	OneStep  ModeKind = "step"  // one step of the lookup; chosen, or the weakest
	Chases   ModeKind = "chase" // whole lookups
)

// ChaseSkill is the skill of whole lookups.
const ChaseSkill = "whole chase"

// Mode is what somebody wants to practise. The zero value is ByNeed.
type Mode struct {
	Kind  ModeKind
	Skill string // for OneSkill
	// Step is the step for OneStep, if Chosen; otherwise it is the weakest.
	Step   resolver.Step
	Chosen bool
}

// String writes the mode as [ParseMode] reads it: "need", "skill:editions",
// "step", "step:edition", "chase".
func (m Mode) String() string {
	switch {
	case m.Kind == OneSkill:
		return string(OneSkill) + ":" + m.Skill
	case m.Kind == OneStep && m.Chosen:
		return string(OneStep) + ":" + m.Step.String()
	case m.Kind == "":
		return string(ByNeed)
	}
	return string(m.Kind)
}

// ParseMode reads what String writes; nothing is ByNeed.
func ParseMode(text string) (Mode, error) {
	kind, of, detailed := strings.Cut(text, ":")
	switch m := (Mode{Kind: ModeKind(kind)}); {
	case text == "":
		return Mode{Kind: ByNeed}, nil
	case !detailed && slices.Contains([]ModeKind{ByNeed, OneStep, Chases}, m.Kind):
		return m, nil
	case m.Kind == OneSkill && of != "":
		m.Skill = of
		return m, nil
	case m.Kind == OneStep && detailed:
		if err := m.Step.UnmarshalText([]byte(of)); err == nil {
			m.Chosen = true
			return m, nil
		}
	}
	return Mode{}, &quiz.Error{Code: quiz.Invalid, Text: "there is no practice of " + strings.TrimSpace(text),
		Mend: "choose need, step, chase, or a skill or step by its name"}
}
