package technician

import (
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"rightpage/quiz"
	"rightpage/server/web"
)

// Flags are notes of the person to look at a question again. They are kept in a
// cookie of the attempt, which outlives the session but not the device: they are
// no part of the answers.

func flagCookie(a quiz.Attempt) string { return "flags-" + a.ID }

// flagsOf lists the questions that are flagged, counted from 0.
func flagsOf(c *web.Context, a quiz.Attempt) []int {
	k, err := c.Cookie(flagCookie(a))
	if err != nil {
		return nil
	}
	var list []int
	for s := range strings.SplitSeq(k.Value, ".") {
		if n, err := strconv.Atoi(s); err == nil && n >= 0 && n < len(a.Questions) && !slices.Contains(list, n) {
			list = append(list, n)
		}
	}
	return list
}

func toggleFlag(c *web.Context, a quiz.Attempt, n int) {
	list := flagsOf(c, a)
	if i := slices.Index(list, n); i >= 0 {
		list = slices.Delete(list, i, i+1)
	} else {
		list = append(list, n)
	}
	var text []string
	for _, n := range list {
		text = append(text, strconv.Itoa(n))
	}
	setFlags(c, a, strings.Join(text, "."), int((7 * 24 * time.Hour).Seconds()))
}

func dropFlags(c *web.Context, a quiz.Attempt) { setFlags(c, a, "", -1) }

func setFlags(c *web.Context, a quiz.Attempt, value string, age int) {
	c.SetCookie(&http.Cookie{Name: flagCookie(a), Value: value, Path: attemptPath(a.ID), MaxAge: age,
		Secure: c.App.Secure, HttpOnly: true, SameSite: http.SameSiteLaxMode})
}
