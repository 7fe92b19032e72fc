package marks_test

import (
	"net/url"
	"slices"
	"strings"
	"testing"

	"rightpage/quiz"
)

// A coordinator who is a technician too sees neither keys nor marks of a form
// while working on it.
func TestWhoWorksOnAQuizSeesNoKeyOfIt(t *testing.T) {
	t.Parallel()
	s := openShop(t)
	a, other := s.assign("Editions", 1, someEditions(3)), s.assign("Others", 1, everyForm())
	done := s.paper(a, s.ann, "A", "B", "C")
	s.paper(a, s.bob, "A", "A", "C")
	d := s.dispute(a)
	s.cora.Roles = append(s.cora.Roles, quiz.Technician)
	s.ok(s.app.Store.SavePerson(t.Context(), "", s.cora))
	at := "/assignments/" + a.ID
	pages := []string{at + "/grades", at + "/grades/table?as=csv", at + "/grades/answers?as=csv", at + "/grades/" + done.ID, at + "/statistics",
		at + "/statistics/questions/1", at + "/statistics/table/questions?as=csv", at + "/regrade", "/disputes/" + d.ID}
	status := func(path string) int { return s.b.Get(path).Status }
	for _, path := range pages {
		if got := status(path); got != 200 && !strings.Contains(path, "/table/") {
			t.Errorf("%s before: status %d", path, got)
		}
	}
	mine, err := s.marker.Begin(t.Context(), a.ID, s.cora.ID)
	s.ok(err)
	for _, path := range pages {
		if got := s.b.Get(path); got.Status != 409 || !strings.Contains(got.Body, "You are working on this quiz yourself") {
			t.Errorf("%s: status %d", path, got.Status)
		}
	}
	for _, path := range []string{at + "/regrade", "/disputes/" + d.ID} {
		if got := s.b.Post(path, url.Values{"do": {"preview"}}); got.Status != 409 {
			t.Errorf("posting to %s: status %d", path, got.Status)
		}
	}
	if got := s.b.Get("/disputes"); strings.Contains(got.Body, "Bob Tarn") {
		t.Error("the dispute with its key is in the list")
	}
	if got := status("/assignments/" + other.ID + "/grades"); got != 200 {
		t.Errorf("another quiz: status %d", got)
	}
	_, err = s.marker.HandIn(t.Context(), mine.ID, "key-of-the-hand-in")
	s.ok(err)
	if i := slices.IndexFunc(pages, func(path string) bool { return status(path) == 409 }); i >= 0 {
		t.Errorf("%s is closed after handing in", pages[i])
	}
}
