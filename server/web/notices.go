package web

import (
	"strings"

	"rightpage/quiz"
	"rightpage/quiz/marking"
)

// NoticePath is the page about what a notice tells; "" if there is none.
func NoticePath(n quiz.Notice) string {
	of, id, _ := strings.Cut(n.Subject, "/")
	switch of {
	case "attempt":
		return "/attempts/" + id + "/feedback"
	case "assignment":
		return "/quizzes/" + id
	case "certificate":
		return "/certificates"
	case "dispute":
		if attempt := n.Detail[marking.DetailAttempt]; attempt != "" {
			return "/attempts/" + attempt + "/feedback"
		}
	}
	return ""
}
