package catalog

import (
	"fmt"
	"slices"
)

func testChecks() family {
	return family{"tests", checkTests, []CheckKind{
		{"no-step", Error, "a failed test step sends to a chapter or step that does not exist, or only for the other side"},
		{"self-step", Warning, "a failed test step sends back to itself"},
	}}
}

func checkTests(k *checker) {
	t := k.t
	k.indexChapters()
	for i := range t.Tests {
		s := &t.Tests[i]
		name := s.Chapter
		if s.FailChapter != "" {
			name = s.FailChapter
		}
		c := k.chapterOf(s.Publication, name)
		if c == nil {
			k.add("no-step", "tests", s.Origin, "fail_chapter", fmt.Sprintf("step %s of chapter %s sends to chapter %s, which %s does not have", s.Step, s.Chapter, name, s.Publication),
				"add the chapter's steps, or correct the cell", k.testLookups(i))
			continue
		}
		for _, step := range s.FailSteps {
			sides := c.sides[step]
			switch {
			case len(sides) == 0:
				k.add("no-step", "tests", s.Origin, "fail_steps", fmt.Sprintf("step %s of chapter %s sends to step %s of chapter %s, which does not exist", s.Step, s.Chapter, step, name),
					"add the step, or correct the cell", k.testLookups(i))
			case s.Side != "" && !slices.Contains(sides, s.Side) && !slices.Contains(sides, ""):
				k.add("no-step", "tests", s.Origin, "fail_steps", fmt.Sprintf("step %s of chapter %s, for the %s side, sends to step %s of chapter %s, which is for the other side only", s.Step, s.Chapter, s.Side, step, name),
					"add the step for this side, or correct the cell", k.testLookups(i))
			}
		}
		if name == s.Chapter && slices.Equal(s.FailSteps, []string{s.Step}) {
			k.add("self-step", "tests", s.Origin, "fail_steps", fmt.Sprintf("when step %s of chapter %s fails, it sends to itself", s.Step, s.Chapter),
				"name the step that follows", k.testLookups(i))
		}
	}
}
