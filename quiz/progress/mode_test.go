package progress

import (
	"testing"

	"rightpage/banks/resolver"
	"rightpage/quiz"
)

func TestModesAreReadAsTheyAreWritten(t *testing.T) {
	for text, want := range map[string]Mode{
		"":               {Kind: ByNeed},
		"need":           {Kind: ByNeed},
		"step":           {Kind: OneStep},
		"step:edition":   {Kind: OneStep, Step: resolver.EditionStep, Chosen: true},
		"step:classify":  {Kind: OneStep, Step: resolver.ClassifyStep, Chosen: true},
		"skill:editions": {Kind: OneSkill, Skill: "editions"},
		"chase":          {Kind: Chases},
	} {
		got, err := ParseMode(text)
		if err != nil || got != want {
			t.Errorf("%q is read as %+v, %v; want %+v", text, got, err, want)
		}
		if again, err := ParseMode(got.String()); err != nil || again != got {
			t.Errorf("%q is written as %q, which is read as %+v, %v", text, got.String(), again, err)
		}
	}
	for _, text := range []string{"skill", "skill:", "step:", "step:nowhere", "chase:x", "need:x", "all"} {
		if _, err := ParseMode(text); quiz.ErrorCode(err) != quiz.Invalid {
			t.Errorf("%q gives %v, want an error that it is invalid", text, err)
		}
	}
}
