package technician_test

import (
	"bytes"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rightpage/quiz"
	"rightpage/server/web/webtest"
)

// A technician without scripts takes a quiz with every response form: from what
// is due to the feedback and a dispute.
func TestAQuizFromStartToFeedback(t *testing.T) {
	x := open(t)
	a := x.assign(x.form("Spring check", everyForm(0)...), func(a *quiz.Assignment) { a.Limit = time.Hour; a.Close = x.clock.Now().Add(48 * time.Hour) })
	b := x.browse()
	has := func(got webtest.Answer, want ...string) {
		t.Helper()
		if got.Status != http.StatusOK {
			t.Fatalf("%s: status %d\n%s", got.Path, got.Status, got.Body)
		}
		for _, w := range want {
			if !strings.Contains(got.Body, w) {
				t.Errorf("%s has no %q:\n%s", got.Path, w, got.Body)
			}
		}
	}
	has(b.Get("/due"), `href="/quizzes/`+a.ID+`"`, "Closes on 5 March 2031, 09:00")
	has(b.Get("/quizzes/"+a.ID), "1 h", "0 of 1 used", "80 % of the points", "Open book", "lifting, fuel, brakes")
	id := x.attempt(b, a)
	page := b.Get("/attempts/" + id)
	has(page, "Question 1 of 6", "1 h left", "Relieve the pressure first.", "0 of 6 answered")
	for n, fields := range rightFields() {
		page = b.Get(question(id, n+1))
		got := b.Post(page.Path, with(merge(hidden(page.Body), fields), "go", "next"))
		if got.Status != http.StatusSeeOther {
			t.Fatalf("question %d: status %d\n%s", n+1, got.Status, got.Body)
		}
		want := question(id, n+2)
		if n == 5 {
			want = "/attempts/" + id + "/review"
		}
		if at := got.Header.Get("Location"); at != want {
			t.Errorf("after question %d: %s, want %s", n+1, at, want)
		}
	}
	if diff := cmp.Diff([]string{"A", "AC", "Page 4711", "4711 Nm", "BAC", "A|4711"}, x.answers(id)); diff != "" {
		t.Errorf("answers saved (-want +got):\n%s", diff)
	}
	// What was answered is there again.
	has(b.Get(question(id, 4)), `name="number" value="4711"`, `name="unit" value="Nm"`)
	has(b.Get(question(id, 5)), `<option value="2" selected>2</option>`)
	has(b.Get(question(id, 6)), `name="step1" value="A" id="f-step1" checked`, `name="step2" value="4711"`)
	// A flag, and an answer taken back, show on the review page.
	page = b.Get(question(id, 1))
	b.Post(question(id, 1), with(hidden(page.Body), "answer", "A", "go", "flag"))
	page = b.Get(question(id, 3))
	b.Post(question(id, 3), with(hidden(page.Body), "answer", "Page 4711", "go", "clear"))
	review := b.Get("/attempts/" + id + "/review")
	has(review, "One question has no answer yet.", "You flagged one question.")
	got := b.Post("/attempts/"+id+"/hand-in", hidden(review.Body))
	if got.Status != http.StatusSeeOther {
		t.Fatalf("hand in: status %d\n%s", got.Status, got.Body)
	}
	f := b.Get("/attempts/" + id + "/feedback")
	has(f, "Handed in", "5 of 6", "4.8", "left blank", "secret 0", "Dispute this question")
	d := b.Get("/attempts/" + id + "/disputes/3")
	has(d, "On which page is it?")
	if got := b.Post(d.Path, url.Values{"reason": {" "}}); got.Status != http.StatusUnprocessableEntity || !strings.Contains(got.Body, "This is needed.") {
		t.Errorf("a dispute without a reason: status %d", got.Status)
	}
	for range 2 {
		if got := b.Post(d.Path, url.Values{"reason": {"Manual 12, page 9 says otherwise."}}); got.Status != http.StatusSeeOther {
			t.Errorf("dispute: status %d\n%s", got.Status, got.Body)
		}
	}
	open, err := x.app.Store.Disputes(t.Context(), quiz.DisputeOpen)
	x.ok(err)
	if len(open) != 1 {
		t.Errorf("%d disputes are open", len(open))
	}
	has(b.Get("/attempts/"+id+"/feedback"), "Your dispute:")
	has(b.Get("/due"), "5 of 6", "passed")
}

func merge(a, b url.Values) url.Values {
	for k, v := range b {
		a[k] = v
	}
	return a
}

// The key is computed from the answer that differs, so the strongest test of
// what an attempt gives away is that two forms which differ in nothing but
// their keys are answered with the same bytes.
func TestNothingSentDuringAnAttemptDependsOnTheKey(t *testing.T) {
	record := func(key int) string {
		x := open(t)
		a := x.assign(x.form("Same title", everyForm(key)...), func(a *quiz.Assignment) { a.Limit = time.Hour; a.Attempts = 2 })
		b := x.browse()
		b.Seen = &bytes.Buffer{}
		seen := &bytes.Buffer{}
		note := func(got webtest.Answer) webtest.Answer {
			seen.WriteString(got.Header.Get("Location") + got.Body)
			return got
		}
		note(b.Get("/due"))
		note(b.Get("/quizzes/" + a.ID))
		id := x.attempt(b, a)
		for n, fields := range rightFields() {
			page := note(b.Get(question(id, n+1)))
			note(b.Post(page.Path, with(merge(hidden(page.Body), fields), "go", "next")))
			// The same by script, and what is wrong with it.
			for _, body := range []string{"", "&answer=B&number=1&unit=kg&place1=1&step1=B&step2=7", "&answer=Z&place1=1&place2=1&step1=Z", "&base=99&answer=C&number=2&place1=3&step2=1"} {
				req, err := http.NewRequest("POST", x.srv.URL+question(id, n+1), strings.NewReader("csrf="+url.QueryEscape(b.CSRF())+body))
				x.ok(err)
				req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
				req.Header.Set("Accept", "application/json")
				note(b.Do(req))
			}
		}
		note(b.Get("/attempts/" + id + "/review"))
		note(b.Get("/attempts/" + id + "/feedback")) // not yet
		note(b.Get("/attempts/" + id + "/disputes/1"))
		review := b.Get("/attempts/" + id + "/review")
		note(b.Post("/attempts/"+id+"/hand-in", hidden(review.Body)))
		// With an attempt still to come, the score alone is shown.
		after := b.Get("/attempts/" + id + "/feedback")
		for _, secret := range []string{"secret", "4711 N·m", "1147 lbf"} {
			if strings.Contains(after.Body, secret) {
				t.Errorf("with another attempt to come, the feedback holds %q", secret)
			}
		}
		for _, q := range everyForm(key) {
			for _, secret := range append([]string{q.ID, "secret", "value "}, q.Key.Accept...) {
				if bytes.Contains(b.Seen.Bytes(), []byte(secret)) {
					t.Errorf("what was sent during the attempt holds %q", secret)
				}
			}
		}
		text := seen.String()
		text = strings.NewReplacer(id, "ATTEMPT", a.ID, "ASSIGNMENT").Replace(text)
		for _, r := range []string{`name="(csrf|key)" value="[^"]*"`, `/assets/[^"]*`} {
			text = regexp.MustCompile(r).ReplaceAllString(text, "")
		}
		return text
	}
	zero, one := record(0), record(1)
	if diff := cmp.Diff(strings.Split(zero, "\n"), strings.Split(one, "\n")); diff != "" || len(zero) < 20000 {
		t.Errorf("two forms that differ only in their keys are told apart (%d bytes):\n%s", len(zero), diff)
	}
}

func TestTimeLimit(t *testing.T) {
	x := open(t)
	a := x.assign(x.form("Short", everyForm(0)...), func(a *quiz.Assignment) { a.Limit = 30 * time.Minute })
	b := x.browse()
	id := x.attempt(b, a)
	page := b.Get(question(id, 1))
	b.Post(page.Path, with(hidden(page.Body), "answer", "A", "go", "next"))
	x.clock.Move(29 * time.Minute)
	if got := b.Get(question(id, 2)); !strings.Contains(got.Body, "1 min left") {
		t.Errorf("a minute before the end:\n%s", got.Body)
	}
	late := b.Get(question(id, 3))
	x.clock.Move(2 * time.Minute)
	got := b.Post(late.Path, with(hidden(late.Body), "answer", "Page 4711", "go", "next"))
	if got.Status != http.StatusSeeOther || got.Header.Get("Location") != "/attempts/"+id+"/feedback" {
		t.Fatalf("too late: status %d to %s", got.Status, got.Header.Get("Location"))
	}
	f := b.Get("/attempts/" + id + "/feedback")
	for _, want := range []string{"It was too late for that answer", "Time was up", "1 of 6"} {
		if !strings.Contains(f.Body, want) {
			t.Errorf("the page after the end has no %q:\n%s", want, f.Body)
		}
	}
	if got := x.answers(id); got[0] != "A" || got[2] != "" {
		t.Errorf("answers %q", got)
	}
	if got := b.Get(question(id, 2)); got.Path != "/attempts/"+id+"/feedback" {
		t.Errorf("the question after the end: %s", got.Path)
	}
	if got := b.Post("/quizzes/"+a.ID, nil); got.Header.Get("Location") != "/quizzes/"+a.ID {
		t.Errorf("a second attempt of one: %d to %s", got.Status, got.Header.Get("Location"))
	}
	// A clock that is set back opens nothing again.
	x.clock.Move(-10 * time.Minute)
	if got := b.Get(question(id, 2)); got.Path != "/attempts/"+id+"/feedback" {
		t.Errorf("after the clock was set back: %s", got.Path)
	}
}

func TestHandingInTwiceCountsOnce(t *testing.T) {
	x := open(t)
	a := x.assign(x.form("Twice", everyForm(0)...), nil)
	b := x.browse()
	id := x.attempt(b, a)
	review := b.Get("/attempts/" + id + "/review")
	again := b.Get("/attempts/" + id + "/review") // another tab, with another key
	token := b.CSRF()
	var wg sync.WaitGroup
	statuses := make([]int, 6)
	for i := range statuses {
		body := review.Body
		if i%2 == 1 {
			body = again.Body
		}
		form := hidden(body)
		form.Set("csrf", token)
		wg.Go(func() {
			req, _ := http.NewRequest("POST", x.srv.URL+"/attempts/"+id+"/hand-in", strings.NewReader(form.Encode()))
			req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			statuses[i] = b.Do(req).Status
		})
	}
	wg.Wait()
	if slices.ContainsFunc(statuses, func(s int) bool { return s != http.StatusSeeOther }) {
		t.Errorf("statuses %v", statuses)
	}
	got, err := x.app.Store.Attempt(t.Context(), id)
	x.ok(err)
	if got.State != quiz.Graded || got.Gradings != 1 {
		t.Errorf("%s, graded %d times", got.State, got.Gradings)
	}
}

func TestTwoTabsDoNotOverwriteEachOther(t *testing.T) {
	x := open(t)
	a := x.assign(x.form("Tabs", everyForm(0)...), nil)
	b := x.browse()
	id := x.attempt(b, a)
	one, two := b.Get(question(id, 1)), b.Get(question(id, 1))
	if got := b.Post(one.Path, with(hidden(one.Body), "answer", "B", "go", "next")); got.Status != http.StatusSeeOther {
		t.Fatal(got.Status)
	}
	got := b.Post(two.Path, with(hidden(two.Body), "answer", "C", "go", "next"))
	if got.Status != http.StatusConflict || !strings.Contains(got.Body, "Edition 2") || !strings.Contains(got.Body, `value="C" checked`) {
		t.Fatalf("status %d\n%s", got.Status, got.Body)
	}
	if x.answers(id)[0] != "B" {
		t.Errorf("the answer was overwritten by %q", x.answers(id)[0])
	}
	// Sent again from the page that shows both, it is what the person wants.
	if got := b.Post(two.Path, with(hidden(got.Body), "answer", "C", "go", "next")); got.Status != http.StatusSeeOther || x.answers(id)[0] != "C" {
		t.Errorf("status %d, answer %q", got.Status, x.answers(id)[0])
	}
	// The back button, and the same form again, do no harm.
	if got := b.Post(two.Path, with(hidden(got.Body), "answer", "C", "go", "next")); got.Status != http.StatusSeeOther || x.answers(id)[0] != "C" {
		t.Errorf("the same again: status %d, answer %q", got.Status, x.answers(id)[0])
	}
}

// What the script sends, and what it is told.
func TestSavingByScript(t *testing.T) {
	x := open(t)
	a := x.assign(x.form("Script", everyForm(0)...), func(a *quiz.Assignment) { a.Limit = time.Hour })
	b := x.browse()
	id := x.attempt(b, a)
	token := b.CSRF()
	type told struct {
		Code    string
		Version int
		Left    int64
		Saved   []string
		Faults  map[string]string
	}
	save := func(n int, fields string) (int, told) {
		req, err := http.NewRequest("POST", x.srv.URL+question(id, n), strings.NewReader("csrf="+url.QueryEscape(token)+"&"+fields))
		x.ok(err)
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		req.Header.Set("Accept", "application/json")
		got := b.Do(req)
		var v told
		got.JSON(t, &v)
		return got.Status, v
	}
	for range 2 { // an acknowledgement was lost: the same again
		if s, v := save(1, "key=abcdefgh01&base=0&spent=5000&answer=B"); s != 200 || v.Version != 1 || v.Left != time.Hour.Milliseconds() {
			t.Errorf("status %d, %+v", s, v)
		}
	}
	if s, v := save(1, "key=abcdefgh02&base=0&answer=C"); s != 409 || v.Code != "conflict" || v.Version != 1 || !slices.Equal(v.Saved, []string{"B Edition 2"}) {
		t.Errorf("from a second device: status %d, %+v", s, v)
	}
	if s, v := save(5, "key=abcdefgh03&base=0&place1=1&place2=1"); s != 422 || v.Faults["place2"] == "" {
		t.Errorf("two in one place: status %d, %+v", s, v)
	}
	x.clock.Move(2 * time.Hour)
	if s, v := save(2, "key=abcdefgh04&base=0&answer=A"); s != 409 || v.Code != "closed" {
		t.Errorf("too late: status %d, %+v", s, v)
	}
	if s, v := save(1, "key=abcdefgh01&base=0&spent=5000&answer=B"); s != 200 || v.Version != 1 {
		t.Errorf("acknowledged before, asked after the end: status %d, %+v", s, v)
	}
	all, err := x.app.Store.Answers(t.Context(), id)
	x.ok(err)
	if len(all) != 1 || all[0].Spent > 5*time.Second {
		t.Errorf("answers %+v", all)
	}
}

func TestAnotherDeviceGoesOnWhereTheFirstStopped(t *testing.T) {
	x := open(t)
	a := x.assign(x.form("Devices", everyForm(0)...), nil)
	phone := x.browse()
	id := x.attempt(phone, a)
	page := phone.Get(question(id, 1))
	phone.Post(page.Path, with(hidden(page.Body), "answer", "B", "go", "next"))
	tablet := x.browse()
	if got := tablet.Get("/due"); !strings.Contains(got.Body, "/attempts/"+id) {
		t.Errorf("the attempt is not under way:\n%s", got.Body)
	}
	if got := x.attempt(tablet, a); got != id {
		t.Errorf("starting again makes attempt %s", got)
	}
	got := tablet.Get("/attempts/" + id)
	if got.Path != question(id, 2) || !strings.Contains(tablet.Get(question(id, 1)).Body, `value="B" checked`) {
		t.Errorf("goes on at %s", got.Path)
	}
}

func TestAnExpiredSessionKeepsTheAnswer(t *testing.T) {
	x := open(t)
	a := x.assign(x.form("Session", everyForm(0)...), nil)
	b := x.browse()
	id := x.attempt(b, a)
	page := b.Get(question(id, 3))
	_, err := x.app.Store.Sessions().EndAll(t.Context(), x.tech.ID)
	x.ok(err)
	got := b.Post(page.Path, with(hidden(page.Body), "answer", "Page 4711", "go", "next"))
	if got.Status != http.StatusUnauthorized || !strings.Contains(got.Body, `name="answer" value="Page 4711"`) {
		t.Fatalf("status %d\n%s", got.Status, got.Body)
	}
	kept := url.Values{}
	for _, m := range regexp.MustCompile(`<input type="hidden" name="(\w+)" value="([^"]*)">`).FindAllStringSubmatch(got.Body, -1) {
		if m[1] != "csrf" {
			kept.Add(m[1], m[2])
		}
	}
	b = x.browse() // signed in again
	if got := b.Post(page.Path, kept); got.Status != http.StatusSeeOther || x.answers(id)[2] != "Page 4711" {
		t.Errorf("status %d, answers %q", got.Status, x.answers(id))
	}
}

// An attempt is nobody else's.
func TestAttemptsOfOthers(t *testing.T) {
	x := open(t)
	a := x.assign(x.form("Mine", everyForm(0)...), nil)
	id := x.attempt(x.browse(), a)
	other := webtest.Person(t, x.app, "Other", "", quiz.Technician)
	for _, who := range []*quiz.Person{other, x.boss} {
		b := webtest.As(t, x.app, x.srv, who)
		for _, path := range []string{"", "/questions/1", "/review", "/feedback", "/disputes/1"} {
			if got := b.Get("/attempts/" + id + path); got.Status != http.StatusNotFound {
				t.Errorf("%s sees %s of another: status %d", who.Name, path, got.Status)
			}
		}
		if got := b.Post("/attempts/"+id+"/hand-in", nil); got.Status != http.StatusNotFound {
			t.Errorf("%s hands in for another: status %d", who.Name, got.Status)
		}
	}
	if got := webtest.As(t, x.app, x.srv, x.boss).Get("/quizzes/" + a.ID); got.Status != http.StatusNotFound {
		t.Errorf("an assignment to others: status %d", got.Status)
	}
}

// Answers that make no sense are said to be so, beside the field, and what was
// entered is still there.
func TestAnswersThatMakeNoSense(t *testing.T) {
	x := open(t)
	a := x.assign(x.form("Nonsense", everyForm(0)...), nil)
	b := x.browse()
	id := x.attempt(b, a)
	for _, c := range []struct {
		n      int
		fields url.Values
		want   string
	}{
		{1, url.Values{"answer": {"Q"}}, "Choose one of those offered."},
		{1, url.Values{"answer": {"A", "B"}}, "Choose one of those offered."},
		{3, url.Values{"answer": {strings.Repeat("x", 301)}}, "At most 300 characters."},
		{5, url.Values{"place1": {"1"}, "place2": {"1"}}, "Place 1 is taken twice."},
		{6, url.Values{"step1": {"Z"}}, "Choose one of those offered."},
	} {
		page := b.Get(question(id, c.n))
		got := b.Post(page.Path, with(merge(hidden(page.Body), c.fields), "go", "next"))
		if got.Status != http.StatusUnprocessableEntity || !strings.Contains(got.Body, c.want) {
			t.Errorf("%v: status %d without %q", c.fields, got.Status, c.want)
		}
	}
	if got := b.Get(question(id, 7)); got.Status != http.StatusNotFound {
		t.Errorf("question 7 of 6: status %d", got.Status)
	}
	if diff := cmp.Diff(make([]string, 6), x.answers(id)); diff != "" {
		t.Errorf("something was saved:\n%s", diff)
	}
}

// The rule of release is the server's alone.
func TestFeedbackByTheReleaseRule(t *testing.T) {
	for name, c := range map[string]struct {
		release          quiz.Release
		score, key, word bool
	}{
		"all at the end":                    {quiz.Release{When: quiz.ReleaseAtEnd, Score: true, Answers: true, Key: true, Trace: true}, true, true, true},
		"score alone":                       {quiz.Release{When: quiz.ReleaseAtEnd, Score: true}, true, false, false},
		"which were right, without the key": {quiz.Release{When: quiz.ReleaseAtEnd, Score: true, Answers: true}, true, false, true},
		"never":                             {quiz.Release{When: quiz.ReleaseNever, Score: true, Answers: true, Key: true, Trace: true}, false, false, false},
		"by hand":                           {quiz.Release{When: quiz.ReleaseByHand, Score: true, Answers: true, Key: true, Trace: true}, false, false, false},
	} {
		t.Run(name, func(t *testing.T) {
			x := open(t)
			a := x.assign(x.form("Released", everyForm(0)...), func(a *quiz.Assignment) { a.Release = c.release })
			b := x.browse()
			id := x.attempt(b, a)
			page := b.Get(question(id, 1))
			b.Post(page.Path, with(hidden(page.Body), "answer", "B", "go", "next"))
			b.Post("/attempts/"+id+"/hand-in", nil)
			got := b.Get("/attempts/" + id + "/feedback")
			for what, w := range map[string]struct {
				text string
				want bool
			}{
				"the score": {"not passed", c.score}, "the key": {"4711 N·m", c.key}, "the trace": {"secret 0", c.key},
				"the slip": {"limit off by one", c.word}, "what to do next time": {"Next time:", c.word},
			} {
				if strings.Contains(got.Body, w.text) != w.want {
					t.Errorf("%s shown: %t", what, !w.want)
				}
			}
		})
	}
}

// Who answered on another device and then moves on from a page made before that,
// without touching it, is not asked to settle anything; who takes the answer back
// on such a page is.
func TestAnUntouchedPageIsNoConflict(t *testing.T) {
	x := open(t)
	id := x.attempt(x.browse(), x.assign(x.form("Two devices", everyForm(0)...), nil))
	phone, bay := x.browse(), x.browse()
	old := hidden(phone.Get(question(id, 1)).Body)
	page := bay.Get(question(id, 1))
	if got := bay.Post(page.Path, with(hidden(page.Body), "answer", "A", "go", "next")); got.Status != 303 {
		t.Fatalf("status %d", got.Status)
	}
	if got := phone.Post(page.Path, with(old, "go", "next")); got.Status != 303 || x.answers(id)[0] != "A" {
		t.Errorf("an empty page, untouched: status %d, answers %q", got.Status, x.answers(id))
	}
	old = hidden(phone.Get(question(id, 1)).Body)
	page = bay.Get(question(id, 1))
	bay.Post(page.Path, with(hidden(page.Body), "answer", "B", "go", "next"))
	if got := phone.Post(page.Path, with(merge(url.Values{}, old), "answer", "A", "go", "next")); got.Status != 303 || x.answers(id)[0] != "B" {
		t.Errorf("a page with the earlier answer, untouched: status %d, answers %q", got.Status, x.answers(id))
	}
	for what, fields := range map[string]url.Values{"another answer": {"answer": {"C"}}, "taken back": {"go": {"clear"}}} {
		if got := phone.Post(page.Path, merge(fields, old)); got.Status != 409 || x.answers(id)[0] != "B" {
			t.Errorf("%s: status %d, answers %q", what, got.Status, x.answers(id))
		}
	}
}

func TestWhatClosedBeforeSomebodyCameIsNotTheirs(t *testing.T) {
	x := open(t)
	x.assign(x.form("Long ago", oneOf(0)), func(a *quiz.Assignment) { a.Close = x.clock.Now().Add(time.Minute) })
	x.clock.Move(time.Hour)
	x.assign(x.form("Today", oneOf(1)), nil)
	b := webtest.As(t, x.app, x.srv, webtest.Person(t, x.app, "Newcomer", "", quiz.Technician))
	if page := b.Get("/due"); strings.Contains(page.Body, "Long ago") || !strings.Contains(page.Body, "Today") {
		t.Errorf("a newcomer sees\n%s", page.Body)
	}
	if page := x.browse().Get("/due"); !strings.Contains(page.Body, "Long ago") {
		t.Error("who was there does not see what they missed")
	}
}
