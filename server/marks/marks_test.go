package marks_test

import (
	"fmt"
	"net/url"
	"slices"
	"strings"
	"testing"

	"rightpage/quiz"
	"rightpage/server/web/webtest"
)

// Nobody but a coordinator gets anything from these pages.
func TestOnlyCoordinators(t *testing.T) {
	t.Parallel()
	s := openShop(t)
	a := s.assign("Editions", 1, someEditions(3))
	boss := webtest.Person(t, s.app, "Mo Kerr", "", quiz.Manager, quiz.Administrator)
	for _, who := range []*quiz.Person{s.ann, boss} {
		b := webtest.As(t, s.app, s.server, who)
		for _, path := range []string{"grades", "grades/table", "grades/answers", "paper", "scans", "statistics", "statistics/judges", "statistics/questions/1", "regrade"} {
			if got := b.Get("/assignments/" + a.ID + "/" + path); got.Status != 403 {
				t.Errorf("%s gets %s: %d", who.Name, path, got.Status)
			}
		}
		for _, path := range []string{"/disputes", "/certified", "/certified/issue", "/certified/table"} {
			if got := b.Get(path); got.Status != 403 {
				t.Errorf("%s gets %s: %d", who.Name, path, got.Status)
			}
		}
	}
}

// Whose sheet it is shows from the staff number, or as much of the name as tells
// people apart; the answers are typed as they stand on the sheet.
func TestTypedFromPaper(t *testing.T) {
	t.Parallel()
	s := openShop(t)
	s.person("Anna Orrell", "T-03", "")
	a := s.assign("Finding the page", 1, everyForm())
	at := "/assignments/" + a.ID + "/paper"
	says(t, s.b.Get(at), 200, "Ann Orrick, who has nothing yet")
	for _, who := range []string{"t-01", "ann orrick", "orrick", "Ann Orrick · T-01", ""} {
		if got := s.b.Get(at + "?who=" + url.QueryEscape(who)); got.Path != at+"/"+s.ann.ID {
			t.Errorf("%q leads to %s", who, got.Path)
		}
	}
	says(t, s.b.Get(at+"?who=an+orr"), 200, "Who of these?", "Anna Orrell")
	says(t, s.b.Get(at+"?who=nobody+here"), 422, "Nobody to whom this is assigned")

	at += "/" + s.ann.ID
	says(t, s.b.Get(at), 200, "Sheet of Ann Orrick", "1 a letter, A–C", "4 number and unit", "6a a letter, A–B", "6b as it is written")
	form := url.Values{"variant": {"A"}, "do": {"save"}, "a-1": {"ab"}, "a-2": {"ac"}, "a-3": {"page 4711"}, "a-4": {"85 Nm"}, "a-5": {"BAC"}, "a-6-1": {"a"}, "a-6-2": {"4711"}}
	got := s.b.Post(at, form)
	says(t, got, 422, "This cannot be read for certain")
	for _, kept := range []string{`value="AB"`, `value="page 4711"`, `value="85 Nm"`, `id="e-a-1"`} {
		if !strings.Contains(got.Body, kept) {
			t.Errorf("the page lacks %s", kept)
		}
	}
	form = with(form, "a-1", "b")
	says(t, s.b.Post(at, with(form, "do", "check")), 200, "Nothing is saved yet")
	if n := len(s.attempts(a)); n != 0 {
		t.Fatalf("checking saved %d attempts", n)
	}
	next := "/assignments/" + a.ID + "/paper?after=Ann+Orrick"
	goes(t, s.b.Post(at, form), next)
	goes(t, s.b.Post(at, form), next) // a second click
	list := s.attempts(a)
	if len(list) != 1 || list[0].Result.Points != 6 {
		t.Fatalf("attempts %+v", list)
	}
	says(t, s.b.Get(next), 200, "Ann Orrick: 6 of 6 points; 0 answers blank.", "Anna Orrell, who has nothing yet")
	// Another sheet of somebody who has no attempt left is not taken, and what was
	// typed stays.
	got = s.b.Post(at, with(form, "a-1", "c"))
	says(t, got, 409, "No attempt is left")
	if !strings.Contains(got.Body, `value="85 Nm"`) {
		t.Error("what was typed is lost")
	}
}

// What was typed wrongly is corrected with a reason; the old grading stays.
func TestCorrectPaper(t *testing.T) {
	t.Parallel()
	s := openShop(t)
	a := s.assign("Editions", 1, someEditions(3))
	x := s.paper(a, s.ann, "A", "C", "")
	at := "/assignments/" + a.ID + "/grades/" + x.ID
	got := s.b.Get(at + "/correct")
	says(t, got, 200, "Correct the sheet of Ann Orrick")
	form := url.Values{"version": {hidden(t, got.Body, "version")}, "a-1": {"A"}, "a-2": {"B"}, "a-3": {""}}
	says(t, s.b.Post(at+"/correct", form), 422, "This is needed.")
	says(t, s.b.Post(at+"/correct", with(form, "reason", "a slip of mine", "version", "1")), 409, "since you opened this page")
	form.Set("reason", "misread by me")
	goes(t, s.b.Post(at+"/correct", form), at)
	goes(t, s.b.Post(at+"/correct", form), at) // a second click
	says(t, s.b.Get(at), 200, "2 of 3", "misread by me", "One earlier grading", "1 of 3")
	if n := s.attempts(a)[0].Gradings; n != 2 {
		t.Errorf("%d gradings, want 2", n)
	}
}

// An answer that cannot be read for certain is recorded on purpose alone, listed,
// and settled.
func TestUnreadAnswers(t *testing.T) {
	t.Parallel()
	s := openShop(t)
	a := s.assign("Editions", 1, someEditions(3))
	at := "/assignments/" + a.ID
	form := url.Values{"variant": {"A"}, "do": {"save"}, "a-1": {"A"}, "a-2": {"AB"}, "a-3": {"C"}}
	says(t, s.b.Post(at+"/paper/"+s.ann.ID, form), 422, "Record answers that cannot be read as they are")
	goes(t, s.b.Post(at+"/paper/"+s.ann.ID, with(form, "keep", "1")), at+"/paper?after=Ann+Orrick")
	says(t, s.b.Get(at+"/grades?show=unread"), 200, "Ann Orrick", "one answer to look at")
	x := s.attempts(a)[0]
	at += "/grades/" + x.ID
	says(t, s.b.Get(at), 200, "What is meant", "Settle")
	settle := url.Values{"n": {"2"}, "reading-2": {""}, "reason-2": {"the first was crossed out"}}
	says(t, s.b.Post(at+"/read", settle), 422, "Say what is meant")
	says(t, s.b.Post(at+"/read", with(settle, "reading-2", "AC")), 422, "This cannot be read for certain")
	says(t, s.b.Post(at+"/read", url.Values{"n": {"9"}}), 422)
	goes(t, s.b.Post(at+"/read", with(settle, "reading-2", "B")), at+"#q2")
	goes(t, s.b.Post(at+"/read", with(settle, "reading-2", "C")), at+"#q2") // a second click, with anything
	if x = s.attempts(a)[0]; x.Result.Points != 3 || x.Gradings != 2 {
		t.Errorf("after settling: %+v", x)
	}
}

// The grade table shows people and questions, filters, and can be taken away.
func TestGrades(t *testing.T) {
	t.Parallel()
	s := openShop(t)
	a := s.assign("Editions", 1, someEditions(3))
	s.paper(a, s.ann, "A", "B", "C")
	s.paper(a, s.bob, "A", "A", "")
	s.person("=HYPERLINK(1)", "T-09", "")
	at := "/assignments/" + a.ID + "/grades"
	says(t, s.b.Get(at), 200, "Ann Orrick", "3 of 3", "Bob Tarn", "1 of 3", "limit off by one ×1", "Nothing yet from", "=HYPERLINK(1)")
	if got := words(s.b.Get(at + "?show=passed").Body); !strings.Contains(got, "Ann Orrick T-01") || strings.Contains(got, "Bob Tarn T-02") {
		t.Errorf("those who passed: %s", got)
	}
	if got := words(s.b.Get(at + "?site=North+yard&show=failed").Body); !strings.Contains(got, "Nothing fits") {
		t.Errorf("nobody failed at the site: %s", got)
	}
	got := s.b.Get(at + "/table?as=csv&show=failed")
	if lines := strings.Split(strings.TrimSpace(got.Body), "\r\n"); len(lines) != 2 || !strings.HasPrefix(lines[1], "T-02,Bob Tarn,") || !strings.HasSuffix(lines[1], ",1,0,0") {
		t.Errorf("table: %q", lines)
	}
	if got := s.b.Get(at + "/table?as=xlsx"); !strings.HasPrefix(got.Body, "PK") {
		t.Error("the workbook is none")
	}
	if got := s.b.Get(at + "/answers?as=csv"); strings.Count(got.Body, "\r\n") != 7 || !strings.Contains(got.Body, "Edition 2") {
		t.Errorf("answers: %s", got.Body)
	}
	says(t, s.b.Get(at+"/"+s.attempts(a)[0].ID), 200, "How the answer is found", "Relieve the pressure first.", "Key")
}

// Nothing is claimed from few answers; with many the figures stand there.
func TestStatistics(t *testing.T) {
	t.Parallel()
	s := openShop(t)
	a := s.assign("Editions", 1, someEditions(9))
	at := "/assignments/" + a.ID + "/statistics"
	says(t, s.b.Get(at), 200, "Nobody has a graded attempt yet.")
	s.paper(a, s.ann, "A", "B", "C", "A", "B", "C", "A", "B", "B")
	says(t, s.b.Get(at), 200, "first attempt", "too few to tell", "Below which numbers nothing is claimed")
	key := []string{"A", "B", "C"}
	for i := range 30 {
		p := s.person(fmt.Sprintf("Person %02d", i), fmt.Sprintf("P-%02d", i), "")
		var answers []string
		for q := range 9 {
			k := key[q%3]
			if (i*7+q*5)%30 >= i+9-q { // able people and early questions do better
				k = key[(q+1)%3]
			}
			answers = append(answers, k)
		}
		s.paper(a, p, answers...)
	}
	got := s.b.Get(at)
	says(t, got, 200, "first attempts of 31 people", "Reliability (alpha)", "standard error of measurement", "People and questions on one scale", "Fairness")
	if !strings.Contains(got.Body, "<svg") {
		t.Error("there is no chart")
	}
	says(t, s.b.Get(at+"/questions/3"), 200, "Options and the slips that lead there", "lowest third", "Expected and observed")
	says(t, s.b.Get(at+"/questions/10"), 404)
	for table, rows := range map[string]int{"questions": 10, "options": 28, "people": 32} {
		if got := s.b.Get(at + "/table/" + table + "?as=csv"); got.Status != 200 || strings.Count(got.Body, "\r\n") != rows {
			t.Errorf("%s: %d, %d rows", table, got.Status, strings.Count(got.Body, "\r\n"))
		}
	}
	if got := s.b.Get(at + "/table/fairness?as=xlsx"); !strings.HasPrefix(got.Body, "PK") {
		t.Error("the workbook of fairness is none")
	}
	if got := s.b.Get(at + "/table/secrets"); got.Status != 404 {
		t.Errorf("a table that there is not: %d", got.Status)
	}
}

// Judges' figures come back as they went out, and the cut score follows: the sum
// over questions of the judges' mean share (Angoff 1971).
func TestJudges(t *testing.T) {
	t.Parallel()
	s := openShop(t)
	a := s.assign("Editions", 1, someEditions(4))
	s.paper(a, s.ann, "A", "B", "C", "A")
	s.paper(a, s.bob, "A", "B", "A", "B")
	at := "/assignments/" + a.ID + "/statistics/judges"
	says(t, s.b.Get(at), 200, "Pass mark by judges")
	sheet := s.b.Get(at + "/page?names=Ida,+Jo")
	if !strings.Contains(sheet.Body, "Ida,Jo") || strings.Count(sheet.Body, "\n") != 5 {
		t.Fatalf("page for judges: %q", sheet.Body)
	}
	lines := strings.Split(strings.TrimRight(sheet.Body, "\r\n"), "\n")
	for i, figures := range []string{"", "90,70", "60,60", "50,70", "40,60"} {
		if line := strings.TrimRight(lines[i], "\r"); i > 0 {
			lines[i] = strings.TrimSuffix(line, ",") // the two empty cells
			lines[i] = strings.TrimSuffix(lines[i], ",") + "," + figures
		}
	}
	filled := strings.Join(lines, "\n") + "\n"
	file := func(name, data string) webtest.File {
		return webtest.File{Field: "file", Name: name, Data: []byte(data)}
	}
	// By hand: (80+60+60+50)/100 = 2.5 of 4 questions.
	says(t, s.b.Upload(at, nil, file("judges.csv", filled)), 200, "Pass mark: 2.5 of 4 questions, which is 62.5 %", "Ida", "Jo", "Of 2 people", "1 reach the judges' mark")
	says(t, s.b.Upload(at, nil), 422, "Choose a file.")
	says(t, s.b.Upload(at, nil, file("judges.csv", strings.Replace(filled, "90,70", "190,70", 1))), 422, "cannot be used as it is", "190")
	says(t, s.b.Upload(at, nil, file("a.png", "\x89PNG\r\n\x1a\n\x00\x00")), 422, "cannot be used as it is")
	says(t, s.b.Upload(at, nil, file("judges.csv", strings.Join(slices.Delete(lines, 2, 3), "\n"))), 422, "no row for question 2")
}
