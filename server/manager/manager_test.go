package manager_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/issuing"
	"rightpage/quiz/library"
	"rightpage/quiz/marking"
	"rightpage/quiz/progress"
	"rightpage/server/manager"
	"rightpage/server/web"
	"rightpage/server/web/webtest"
)

// shop is two sites, a manager of the first, a director and a coordinator, and a
// technician at each site.
type shop struct {
	app                            *web.App
	clock                          *webtest.Clock
	manager, director, coordinator *webtest.Browser
	here, there                    *quiz.Person
}

func open(t *testing.T) *shop {
	t.Helper()
	a, clock := webtest.Open(t)
	north, south := &quiz.Site{Name: "North"}, &quiz.Site{Name: "South"}
	for _, s := range []*quiz.Site{north, south} {
		if err := a.Store.SaveSite(t.Context(), "", s); err != nil {
			t.Fatal(err)
		}
	}
	shelf := library.New(a.Store, library.Options{})
	p, err := manager.New(a, manager.Deps{
		Progress: progress.New(a.Store, progress.Options{Now: a.Now, Every: -1, Refit: time.Nanosecond}),
		Issuer:   issuing.New(a.Store, marking.New(a.Store, shelf, marking.Options{Now: a.Now}), shelf, nil, issuing.Options{Now: a.Now}),
	})
	if err != nil {
		t.Fatal(err)
	}
	srv := webtest.Serve(t, a, p.Routes())
	as := func(name, site string, r quiz.Role) *webtest.Browser {
		return webtest.As(t, a, srv, webtest.Person(t, a, name, site, r))
	}
	return &shop{app: a, clock: clock, manager: as("Mo", north.ID, quiz.Manager), director: as("Di", "", quiz.Manager), coordinator: as("Co", south.ID, quiz.Coordinator),
		here: webtest.Person(t, a, "Nora North", north.ID, quiz.Technician), there: webtest.Person(t, a, "Sami South", south.ID, quiz.Technician)}
}

// practise has a person answer exercises of the skill editions.
func (s *shop) practise(t *testing.T, p *quiz.Person, right, of int) {
	t.Helper()
	for i := range of {
		score := grading.Score{Question: webtest.Key(i), Kind: "edition", Skill: "editions", Verdict: grading.Wrong}
		if i < right {
			score.Verdict, score.Points = grading.Right, 1
		}
		_, err := s.app.Store.SavePractice(t.Context(), quiz.Practice{Person: p.ID, Key: webtest.Key(i), At: s.clock.Now(), Spent: 30 * time.Second, Score: score})
		if err != nil {
			t.Fatal(err)
		}
		s.clock.Move(time.Minute)
	}
}

func course(fields url.Values) url.Values {
	f := url.Values{"course": {"Gearboxes, off-site"}, "date": {"2031-04-14"}, "target": {"role:technician"}, "id": {""}, "version": {"0"}}
	f.Set(level("editions"), "80")
	for k, v := range fields {
		f[k] = v
	}
	return f
}

// level is the field of a skill, found on the page as a person finds it.
func level(skill string) string {
	for i, s := range manager.Skills() {
		if s == skill {
			return "level" + string(rune('0' + i/10))[:min(1, i/10)] + string(rune('0'+i%10))
		}
	}
	return "none"
}

func TestWhoIsReady(t *testing.T) {
	s := open(t)
	s.practise(t, s.here, 39, 40)
	a := s.manager.Post("/requirements", course(nil))
	if a.Status != http.StatusSeeOther {
		t.Fatalf("status %d:\n%s", a.Status, a.Body)
	}
	board := a.Header.Get("Location")
	page := s.manager.Get(board)
	for _, want := range []string{"Gearboxes, off-site", "Nora North", "14 April 2031", "<svg", "at least"} {
		if !strings.Contains(page.Body, want) {
			t.Errorf("no %q on the board of the manager:\n%s", want, page.Body)
		}
	}
	if strings.Contains(page.Body, "Sami South") {
		t.Error("the manager of North sees somebody of South")
	}
	// Sami answered nothing: that is said rather than a figure.
	for _, b := range []*webtest.Browser{s.director, s.coordinator} {
		if page := b.Get(board); !strings.Contains(page.Body, "Sami South") || !strings.Contains(page.Body, "too few answers to tell") {
			t.Errorf("the whole board:\n%s", page.Body)
		}
	}
	if table := s.manager.Get(board + "/table?as=csv"); !strings.Contains(table.Body, "Nora North") || strings.Contains(table.Body, "Sami") || table.Header.Get("Content-Type") != "text/csv; charset=utf-8" {
		t.Errorf("the table: %s", table.Body)
	}
	if pdf := s.manager.Get(board + "/report"); !strings.HasPrefix(pdf.Body, "%PDF-") {
		t.Errorf("the report: %d %.80s", pdf.Status, pdf.Body)
	}
	if list := s.manager.Get("/readiness"); !strings.Contains(list.Body, "42 days left") {
		t.Errorf("the list:\n%s", list.Body)
	}
}

func TestARequirementThatIsWrongIsMended(t *testing.T) {
	s := open(t)
	a := s.manager.Post("/requirements", course(url.Values{"course": {" "}, "date": {"soon"}, level("editions"): {""}, "target": {"role:"}}))
	if a.Status != http.StatusUnprocessableEntity || !strings.Contains(a.Body, `value="soon"`) {
		t.Fatalf("status %d:\n%s", a.Status, a.Body)
	}
	for _, want := range []string{"This is needed.", "no date that can be read", "at least one skill", "Choose one of those offered"} {
		if !strings.Contains(a.Body, want) {
			t.Errorf("it is not said: %s", want)
		}
	}
	// Two who change the same: the second is told, and nothing is overwritten.
	a = s.manager.Post("/requirements", course(nil))
	id := strings.TrimPrefix(a.Header.Get("Location"), "/readiness/")
	edit := s.manager.Get("/requirements/" + id)
	if !strings.Contains(edit.Body, `name="version" value="1"`) || !strings.Contains(edit.Body, `value="80"`) {
		t.Errorf("the form does not hold what is saved:\n%s", edit.Body)
	}
	change := course(url.Values{"id": {id}, "version": {"1"}, "course": {"Second thoughts"}})
	if a := s.manager.Post("/requirements", change); a.Status != http.StatusSeeOther {
		t.Errorf("a change: status %d", a.Status)
	}
	change.Set("course", "Stale")
	if a := s.coordinator.Post("/requirements", change); a.Status != http.StatusConflict {
		t.Errorf("a stale change: status %d", a.Status)
	}
	if page := s.manager.Get("/readiness"); !strings.Contains(page.Body, "Second thoughts") || strings.Contains(page.Body, "Stale") {
		t.Errorf("after both:\n%s", page.Body)
	}
}

func TestCalendarAndRecognition(t *testing.T) {
	s := open(t)
	for _, page := range []struct{ path, want string }{
		{"/calendar", "No certificate expires"}, {"/recognition", "Recognition: February 2031"},
		{"/recognition?month=2031-03", "not over"}, {"/recognition?month=2099-01", "February 2031"}, {"/recognition?month=x", "February 2031"},
	} {
		if a := s.manager.Get(page.path); a.Status != http.StatusOK || !strings.Contains(a.Body, page.want) {
			t.Errorf("%s: %d, no %q:\n%s", page.path, a.Status, page.want, a.Body)
		}
	}
	if a := s.manager.Get("/readiness/nonsense"); a.Status != http.StatusNotFound {
		t.Errorf("a requirement that there is not: %d", a.Status)
	}
}

// A manager of one site neither sees nor changes what concerns another alone,
// and drops nobody whom the form does not show.
func TestRequirementsOfOtherSites(t *testing.T) {
	s := open(t)
	saved := func(b *webtest.Browser, f url.Values) string {
		t.Helper()
		a := b.Post("/requirements", f)
		if a.Status != http.StatusSeeOther {
			t.Fatalf("status %d:\n%s", a.Status, a.Body)
		}
		return strings.TrimPrefix(a.Header.Get("Location"), "/readiness/")
	}
	theirs := saved(s.coordinator, course(url.Values{"course": {"Theirs"}, "target": {"person:" + s.there.ID}}))
	for _, path := range []string{"/readiness/" + theirs, "/requirements/" + theirs, "/readiness/" + theirs + "/table", "/readiness/" + theirs + "/report"} {
		if a := s.manager.Get(path); a.Status != http.StatusNotFound {
			t.Errorf("%s: status %d", path, a.Status)
		}
	}
	if a := s.manager.Get("/readiness"); strings.Contains(a.Body, "Theirs") {
		t.Error("it is in the list")
	}
	if a := s.manager.Post("/requirements", course(url.Values{"id": {theirs}, "version": {"1"}, "course": {"Taken over"}})); a.Status != http.StatusNotFound {
		t.Errorf("changed by the manager of another site: status %d", a.Status)
	}
	if a := s.manager.Post("/requirements", course(url.Values{"target": {"person:" + s.there.ID}})); a.Status != http.StatusUnprocessableEntity {
		t.Errorf("made for somebody of another site: status %d", a.Status)
	}

	both := saved(s.coordinator, course(url.Values{"course": {"Both"}, "target": {"person:" + s.here.ID, "person:" + s.there.ID}}))
	saved(s.manager, course(url.Values{"id": {both}, "version": {"1"}, "course": {"Both again"}, "target": {"person:" + s.here.ID}}))
	if a := s.coordinator.Get("/readiness/" + both); !strings.Contains(a.Body, "Sami South") || !strings.Contains(a.Body, "Both again") {
		t.Errorf("who is not on the form was dropped:\n%s", a.Body)
	}
}

// A double click makes one requirement; an ID that is made up makes none of it.
func TestARequirementIsMadeOnce(t *testing.T) {
	s := open(t)
	f := course(url.Values{"key": {"key-of-the-form"}})
	first, second := s.manager.Post("/requirements", f), s.manager.Post("/requirements", f)
	if at := first.Header.Get("Location"); first.Status != http.StatusSeeOther || second.Header.Get("Location") != at {
		t.Errorf("%d to %s, then %d to %s", first.Status, at, second.Status, second.Header.Get("Location"))
	}
	if a := s.manager.Post("/requirements", course(url.Values{"id": {"../made-up"}})); strings.Contains(a.Header.Get("Location"), "made-up") {
		t.Errorf("kept at %s", a.Header.Get("Location"))
	}
	s.manager.Get("/readiness") // says what was saved
	if n := strings.Count(s.manager.Get("/readiness").Body, "Gearboxes, off-site"); n != 2 {
		t.Errorf("%d requirements in the list", n)
	}
}

// The names of people are text, in drawings too.
func TestNamesAreText(t *testing.T) {
	s := open(t)
	s.here.Name = `</text><script>alert("1")</script>&`
	if err := s.app.Store.SavePerson(t.Context(), "", s.here); err != nil {
		t.Fatal(err)
	}
	s.practise(t, s.here, 39, 40)
	board := s.manager.Post("/requirements", course(url.Values{"course": {`<img src=x onerror="1">`}})).Header.Get("Location")
	page := s.manager.Get(board)
	if !strings.Contains(page.Body, "<svg") || strings.Contains(page.Body, "<script>alert") || strings.Contains(page.Body, "<img src=x") {
		t.Errorf("a name became part of the page:\n%s", page.Body)
	}
}
