package coordinator_test

import (
	"context"
	"fmt"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"rightpage/quiz"
	"rightpage/server/web/webtest"
)

// assignment is the fields of an assignment to the technicians, from the clock's
// start, for a week; the coordinator's clock is an hour ahead of UTC.
func (s *shop) assignment(form string) url.Values {
	return url.Values{"key": {"abcdefgh12345678"}, "title": {"Monday quiz"}, "form": {form}, "role": {"technician"}, "open": {"2031-03-03T10:00"}, "close": {"2031-03-10T18:00"},
		"limit": {"30"}, "attempts": {"1"}, "when": {"hand"}, "score": {"1"}, "answers": {"1"}, "showkey": {"1"}, "trace": {"1"}}
}

// assign makes an assignment and gives its ID.
func (s *shop) assign(change func(url.Values)) string {
	s.t.Helper()
	v := s.assignment(strings.TrimPrefix(s.makeForm("Basics"), "/forms/"))
	if change != nil {
		change(v)
	}
	got := s.b.Post("/assignments/new", v)
	if got.Status != 303 {
		s.t.Fatalf("assign: %d %s", got.Status, words(got.Body))
	}
	return strings.TrimPrefix(got.Header.Get("Location"), "/assignments/")
}

func TestAQuizIsAssignedOnceHoweverOftenItIsSent(t *testing.T) {
	s := openShop(t)
	form := strings.TrimPrefix(s.makeForm("Basics"), "/forms/")
	says(t, s.b.Get("/assignments/new?form="+form), 200, "Assign a quiz", "Europe/Berlin", "Everybody with a role", "North yard", "Ann Orrick")
	var path string
	for range 2 {
		got := s.b.Post("/assignments/new", s.assignment(form))
		if got.Status != 303 || path != "" && got.Header.Get("Location") != path {
			t.Fatalf("assign: %d to %s, before to %s: %s", got.Status, got.Header.Get("Location"), path, words(got.Body))
		}
		path = got.Header.Get("Location")
	}
	list, err := s.app.Store.Assignments(t.Context())
	if err != nil || len(list) != 1 {
		t.Fatalf("%d assignments, %v", len(list), err)
	}
	a := list[0]
	if want := time.Date(2031, 3, 3, 9, 0, 0, 0, time.UTC); !a.Open.Equal(want) {
		t.Errorf("opens %s, want %s: 10:00 in the coordinator's zone", a.Open.UTC(), want)
	}
	if a.Limit != 30*time.Minute || a.Release.When != quiz.ReleaseByHand || !a.Release.Trace {
		t.Errorf("%+v", a)
	}
	says(t, s.b.Get(path), 200, "Monday quiz", "open", "2 people: 2 have not begun", "everybody with the role technician")
	for _, x := range []*quiz.Person{s.ann, s.bob} {
		if n, err := s.app.Store.Notices(t.Context(), x.ID, 5); err != nil || len(n) != 1 || n[0].Kind != quiz.NoticeAssignment {
			t.Errorf("%s is told %v, %v", x.Name, n, err)
		}
	}
	says(t, s.b.Get("/assignments"), 200, "Monday quiz", "open")
	for path, want := range map[string]string{"/assignments": "Monday quiz,open,2031-03-03 10:00", path: "Ann Orrick,North yard", "/forms": "Basics,Quillan engine literature,18", "/catalogs": "Quillan engine literature,Quillan Marine"} {
		if got := s.b.Get(path + "?as=csv"); got.Status != 200 || !strings.Contains(got.Body, want) {
			t.Errorf("%s as a file: %d %s", path, got.Status, got.Body)
		}
		if got := s.b.Get(path + "?as=xlsx"); got.Status != 200 || !strings.HasPrefix(got.Body, "PK") {
			t.Errorf("%s as a workbook: %d %.100s", path, got.Status, got.Body)
		}
	}
}

func TestWhatIsWrongInAnAssignmentIsSaidBesideTheField(t *testing.T) {
	s := openShop(t)
	form := strings.TrimPrefix(s.makeForm("Basics"), "/forms/")
	for _, c := range []struct {
		why   string
		field string
		value []string
		says  string
	}{
		{"no title", "title", []string{""}, "This is needed"},
		{"no form", "form", []string{"nonsense"}, "Choose one of those offered"},
		{"nobody", "role", nil, "Tick at least one"},
		{"a role that there is not", "role", []string{"apprentice"}, "which there is not"},
		{"no opening", "open", []string{""}, "This is needed"},
		{"no date", "open", []string{"tomorrow"}, "no date that can be read"},
		{"closes first", "close", []string{"2031-03-01T18:00"}, "after it opens"},
		{"no attempt", "attempts", []string{"0"}, "A number from 1 to 100"},
		{"feedback at the end of what has none", "when", []string{"close"}, "It never closes"},
		{"feedback from no time on", "when", []string{"from"}, "This is needed"},
	} {
		t.Run(c.why, func(t *testing.T) {
			v := s.assignment(form)
			v[c.field] = c.value
			if c.value != nil && c.value[0] == "close" {
				v.Set("close", "")
			}
			got := s.b.Post("/assignments/new", v)
			says(t, got, 422, c.says)
			if c.field != "limit" && !strings.Contains(got.Body, `name="limit" type="number" value="30"`) {
				t.Error("what was typed is gone")
			}
		})
	}
	if list, _ := s.app.Store.Assignments(t.Context()); len(list) != 0 {
		t.Errorf("%d assignments were made", len(list))
	}
}

func TestAccommodations(t *testing.T) {
	s := openShop(t)
	line := func(v url.Values, person, percent, minutes, until, reason string) {
		for name, x := range map[string]string{"a-person": person, "a-percent": percent, "a-minutes": minutes, "a-close": until, "a-reason": reason} {
			v.Add(name, x)
		}
	}
	id := s.assign(func(v url.Values) {
		line(v, s.ann.ID, "25", "5", "2031-03-12T18:00", "reads slowly")
		line(v, "", "", "", "", "")
	})
	a, err := s.app.Store.Assignment(t.Context(), id)
	if err != nil || a.LimitFor(s.ann.ID) != 42*time.Minute+30*time.Second || a.LimitFor(s.bob.ID) != 30*time.Minute || !a.ClosesFor(s.ann.ID).Equal(time.Date(2031, 3, 12, 17, 0, 0, 0, time.UTC)) {
		t.Fatalf("%+v, %v", a, err)
	}
	page := s.b.Get("/assignments/" + id + "/edit")
	says(t, page, 200, "Accommodations")
	if !strings.Contains(page.Body, `value="reads slowly"`) || !strings.Contains(page.Body, `value="2031-03-12T18:00"`) {
		t.Error("the accommodation does not stand in the editor")
	}
	for _, c := range []struct {
		why, person, percent, minutes, until, says string
	}{
		{"nobody's", "", "25", "", "", "Say for whom"},
		{"too much", s.bob.ID, "500", "", "", "A number from 0 to 300"},
		{"no number", s.bob.ID, "", "lots", "", "A number from 0 to 1440"},
		{"earlier", s.bob.ID, "", "", "2031-03-04T18:00", "later than it closes for the others"},
		{"twice", s.ann.ID, "10", "", "", "stands here twice"},
	} {
		v := s.assignment(a.Form)
		v.Set("version", fmt.Sprint(a.Version))
		line(v, s.ann.ID, "25", "", "", "")
		line(v, c.person, c.percent, c.minutes, c.until, "")
		t.Run(c.why, func(t *testing.T) { says(t, s.b.Post("/assignments/"+id+"/edit", v), 422, c.says) })
	}
}

func TestAStaleAssignmentIsNotOverwrittenUnawares(t *testing.T) {
	s := openShop(t)
	id := s.assign(nil)
	a, _ := s.app.Store.Assignment(t.Context(), id)
	mine, theirs := s.assignment(a.Form), s.assignment(a.Form)
	mine.Set("version", "1")
	mine.Set("title", "Mine")
	theirs.Set("version", "1")
	theirs.Set("title", "Theirs")
	if got := s.b.Post("/assignments/"+id+"/edit", theirs); got.Status != 303 {
		t.Fatalf("theirs: %d %s", got.Status, words(got.Body))
	}
	got := s.b.Post("/assignments/"+id+"/edit", mine)
	says(t, got, 409, "Somebody else changed this", "Save over their change")
	if !strings.Contains(got.Body, `value="Mine"`) {
		t.Error("what was typed is gone")
	}
	if a, _ := s.app.Store.Assignment(t.Context(), id); a.Title != "Theirs" {
		t.Errorf("the title is %s", a.Title)
	}
	mine.Set("version", field(t, got.Body, "version"))
	if got := s.b.Post("/assignments/"+id+"/edit", mine); got.Status != 303 {
		t.Fatalf("on purpose: %d %s", got.Status, words(got.Body))
	}
	if a, _ := s.app.Store.Assignment(t.Context(), id); a.Title != "Mine" {
		t.Errorf("the title is %s", a.Title)
	}
}

func TestTheMonitorTellsWhoIsHowFar(t *testing.T) {
	s := openShop(t)
	ctx := context.Background()
	id := s.assign(nil)
	at, err := s.marker.Begin(ctx, id, s.ann.ID)
	if err != nil {
		t.Fatal(err)
	}
	for i, q := range at.Questions[:3] {
		answer := "A"
		if i == 2 {
			answer = "" // taken back
		}
		if _, _, err := s.app.Store.SaveAnswer(ctx, quiz.Save{Attempt: at.ID, Question: q, Key: fmt.Sprintf("answer-key-%d", i), Value: answer}); err != nil {
			t.Fatal(err)
		}
	}
	s.clock.Move(10 * time.Minute)
	page := s.b.Get("/assignments/" + id)
	says(t, page, 200, "2 people: 1 have not begun, 1 at work, 0 handed in", "started", "2 of 8", "20 min", "more time", "As of 10:10")
	if !strings.Contains(page.Body, `data-refresh="10"`) {
		t.Error("the monitor does not keep itself up to date")
	}
	s.clock.Move(-time.Hour) // a clock that is set back
	says(t, s.b.Get("/assignments/"+id), 200, "planned", "started")
	s.clock.Move(time.Hour)
	if _, err := s.marker.HandIn(ctx, at.ID, "hand-in-key-1"); err != nil {
		t.Fatal(err)
	}
	says(t, s.b.Get("/assignments/"+id), 200, "2 people: 1 have not begun, 0 at work, 1 handed in", "graded")
	if _, err := s.marker.Begin(ctx, id, s.bob.ID); err != nil {
		t.Fatal(err)
	}
	s.clock.Move(31 * time.Minute)
	says(t, s.b.Get("/assignments/"+id), 200, "time is up", "For one time is up")
}

func TestMoreTimeIsGivenOnce(t *testing.T) {
	s := openShop(t)
	id := s.assign(nil)
	at, err := s.marker.Begin(context.Background(), id, s.ann.ID)
	if err != nil {
		t.Fatal(err)
	}
	path := "/assignments/" + id + "/attempts/" + at.ID + "/time"
	page := s.b.Get(path)
	says(t, page, 200, "More time for Ann Orrick", "30 min left")
	says(t, s.b.Post(path, url.Values{"minutes": {"0"}, "key": {"key-of-this-page"}}), 422, "A number from 1 to 240")
	says(t, s.b.Post(path, url.Values{"minutes": {""}, "key": {"key-of-this-page"}}), 422, "A number from 1 to 240")
	for range 2 {
		if got := s.b.Post(path, url.Values{"minutes": {"15"}, "key": {field(t, page.Body, "key")}}); got.Status != 303 {
			t.Fatalf("%d %s", got.Status, words(got.Body))
		}
	}
	now, err := s.app.Store.Attempt(context.Background(), at.ID)
	if err != nil || now.Deadline.Sub(at.Deadline) != 15*time.Minute {
		t.Errorf("the deadline moved by %s, %v", now.Deadline.Sub(at.Deadline), err)
	}
	if got := s.b.Get("/assignments/other/attempts/" + at.ID + "/time"); got.Status != 404 {
		t.Errorf("at another assignment: status %d", got.Status)
	}
	s.clock.Move(2 * time.Hour)
	says(t, s.b.Post(path, url.Values{"minutes": {"15"}, "key": {"another-key-of-it"}}), 409, "Time was up")
}

func TestFeedbackIsReleasedByHand(t *testing.T) {
	s := openShop(t)
	id := s.assign(nil)
	version := field(t, s.b.Get("/assignments/"+id).Body, "version")
	says(t, s.b.Post("/assignments/"+id+"/release", url.Values{"version": {"7"}}), 409, "changed in the meantime")
	for range 2 {
		if got := s.b.Post("/assignments/"+id+"/release", url.Values{"version": {version}}); got.Status != 303 {
			t.Fatalf("%d %s", got.Status, words(got.Body))
		}
	}
	a, err := s.app.Store.Assignment(t.Context(), id)
	if err != nil || !a.Released.Equal(webtest.Start()) || a.Version != 2 {
		t.Errorf("%+v, %v", a, err)
	}
	says(t, s.b.Get("/assignments/"+id), 200, "shown since 3 March 2031")
}

func TestTheFormOfAnAssignmentStaysOnceSomebodyHasBegun(t *testing.T) {
	s := openShop(t)
	id := s.assign(nil)
	a, _ := s.app.Store.Assignment(t.Context(), id)
	if _, err := s.marker.Begin(context.Background(), id, s.ann.ID); err != nil {
		t.Fatal(err)
	}
	other := s.b.Post("/forms/new", with(blueprint("", "Another", "6"), "do", "make"))
	v := s.assignment(strings.TrimPrefix(other.Header.Get("Location"), "/forms/"))
	v.Set("version", "1")
	says(t, s.b.Post("/assignments/"+id+"/edit", v), 422, "People have begun")
	says(t, s.b.Get("/assignments/"+id+"/edit"), 200, "People have begun")
	v.Set("form", a.Form)
	v.Set("close", "2031-03-20T18:00")
	if got := s.b.Post("/assignments/"+id+"/edit", v); got.Status != 303 {
		t.Errorf("a later closing: %d %s", got.Status, words(got.Body))
	}
}

func TestBookletsForEverybodyAddressed(t *testing.T) {
	s := openShop(t)
	id := s.assign(nil)
	page := s.b.Get("/assignments/" + id + "/print")
	says(t, page, 200, "Ann Orrick", "Bob Tarn", "Large print")
	all := "/assignments/" + id + "/booklets?person=" + s.ann.ID + "&person=" + s.bob.ID + "&large=" + s.bob.ID + "&what=both&size=A4"
	pages := regexp.MustCompile(`/Type /Page\b`)
	for _, set := range []string{"ordinary", "large"} {
		got := s.b.Get(all + "&set=" + set)
		if got.Status != 200 || !strings.HasPrefix(got.Body, "%PDF") || !strings.Contains(got.Body, "%%EOF") || len(pages.FindAllString(got.Body, -1)) < 3 {
			t.Errorf("%s: status %d, %d bytes, %d pages", set, got.Status, len(got.Body), len(pages.FindAllString(got.Body, -1)))
		}
	}
	says(t, s.b.Get("/assignments/"+id+"/booklets?set=ordinary"), 422, "Nobody is chosen")
	// A person who is not addressed is not printed for.
	says(t, s.b.Get("/assignments/"+id+"/booklets?person="+s.cora.ID+"&set=ordinary"), 422, "Nobody is chosen")
	if _, err := s.marker.Begin(context.Background(), id, s.ann.ID); err != nil {
		t.Fatal(err)
	}
	says(t, s.b.Get("/assignments/"+id+"/print"), 200, "is at work")
}

func TestACoordinatorAtWorkOnAFormSeesNoKeyOfIt(t *testing.T) {
	s := openShop(t)
	s.cora.Roles = append(s.cora.Roles, quiz.Technician)
	if err := s.app.Store.SavePerson(t.Context(), "", s.cora); err != nil {
		t.Fatal(err)
	}
	id := s.assign(nil)
	a, _ := s.app.Store.Assignment(t.Context(), id)
	at, err := s.marker.Begin(context.Background(), id, s.cora.ID)
	if err != nil {
		t.Fatal(err)
	}
	page := s.b.Get("/forms/" + a.Form + "?key=1")
	says(t, page, 200, "You are working on this quiz yourself")
	if strings.Contains(words(page.Body), "Key:") {
		t.Error("the key is shown")
	}
	says(t, s.b.Get("/forms/"+a.Form+"/print?what=key"), 409, "Hand in first")
	if _, err := s.marker.HandIn(context.Background(), at.ID, "hand-in-key-1"); err != nil {
		t.Fatal(err)
	}
	says(t, s.b.Get("/forms/"+a.Form+"?key=1"), 200, "Key:")
}

func TestThePagesInEveryLanguage(t *testing.T) {
	s := openShop(t)
	id := s.assign(nil)
	at, err := s.marker.Begin(context.Background(), id, s.ann.ID)
	if err != nil {
		t.Fatal(err)
	}
	a, _ := s.app.Store.Assignment(t.Context(), id)
	list, _ := s.app.Store.Catalogs(t.Context())
	before, after := list[0].ID, s.upload("quillan-next")
	for locale, word := range map[string]string{"de": "Zuweisungen", "es": "Asignaciones", "fr": "Attributions"} {
		s.cora.Locale = locale
		if err := s.app.Store.SavePerson(t.Context(), "", s.cora); err != nil {
			t.Fatal(err)
		}
		says(t, s.b.Get("/assignments"), 200, word)
		for _, path := range []string{"/catalogs", "/catalogs/" + before, "/catalogs/" + after, "/catalogs/" + after + "/report", "/catalogs/" + after + "/against/" + before, "/forms", "/forms/new",
			"/forms/" + a.Form + "?key=1", "/assignments/new", "/assignments/" + id, "/assignments/" + id + "/edit", "/assignments/" + id + "/print", "/assignments/" + id + "/attempts/" + at.ID + "/time"} {
			says(t, s.compared(path), 200)
		}
		says(t, s.b.Post("/forms/new", with(blueprint(before, "X", "20", [4]string{"hazard", "flooding", "", "19"}, [4]string{"difficulty", "hard", "", "100%"}), "do", "make")), 422)
	}
}
