package manager

import (
	"fmt"
	"strconv"
	"strings"

	"rightpage/quiz"
)

// skillField names the field of the level of a skill by its place in the list.
func skillField(i int) string { return "level" + strconv.Itoa(i) }

// Field is skillField, for the template.
func (requirementForm) Field(i int) string { return skillField(i) }

// percent writes a level as the form has it.
func percent(level float64) string { return fmt.Sprintf("%.0f", 100*level) }

// cutTarget reads an address as the form has it: kind:id.
func cutTarget(s string) (quiz.TargetKind, string, bool) {
	kind, id, ok := strings.Cut(s, ":")
	switch k := quiz.TargetKind(kind); k {
	case quiz.ToPerson, quiz.ToSite, quiz.ToRole:
		return k, id, ok && id != ""
	}
	return "", "", false
}
