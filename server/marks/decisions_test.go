package marks_test

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"rightpage/banks"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/library"
	"rightpage/quiz/store"
	"rightpage/server/web/webtest"
)

// A correction of one question is shown first, applied once, and keeps old scores.
func TestRegradeOneQuestion(t *testing.T) {
	t.Parallel()
	s := openShop(t)
	a := s.assign("Editions", 1, someEditions(3))
	s.paper(a, s.ann, "A", "B", "C")
	s.paper(a, s.bob, "A", "A", "C")
	at := "/assignments/" + a.ID + "/regrade"
	got := s.b.Get(at)
	says(t, got, 200, "By a correction of one question", "There is no catalog with the title")
	form := url.Values{"by": {"question"}, "once": {hidden(t, got.Body, "once")}, "n": {"2"}, "key": {"A"}, "void": {"withdrawn for everybody"}, "reason": {"the supplement says so"}, "do": {"preview"}}
	says(t, s.b.Post(at, with(form, "key", "")), 422, "Say what is right")
	says(t, s.b.Post(at, with(form, "n", "17", "reason", "")), 422, "A number from 1 to 3.", "This is needed.")
	says(t, s.b.Post(at, with(form, "key", "Q")), 422, "cannot be carried out")
	got = s.b.Post(at, form)
	says(t, got, 200, "Nothing has changed yet.", "Edition 2 → Edition 1", "Ann Orrick", "loses", "no longer passes", "Bob Tarn", "gains", "now passes", "1 gain points, 1 lose points")
	if n := s.attempts(a)[0].Gradings; n != 1 {
		t.Fatalf("a preview graded: %d gradings", n)
	}
	apply := with(form, "do", "apply", "seen", hidden(t, got.Body, "seen"))
	// Not shown before: it is shown, and not done.
	says(t, s.b.Post(at, with(apply, "seen", "", "once", "anotherkeyanother")), 409, "What you see below is new")
	goes(t, s.b.Post(at, apply), at)
	goes(t, s.b.Post(at, apply), at) // a second click
	for _, x := range s.attempts(a) {
		want := map[string]float64{s.ann.ID: 2, s.bob.ID: 3}[x.Person]
		if x.Result.Points != want || x.Gradings != 2 || !strings.Contains(x.Result.Reason, "the supplement says so") {
			t.Errorf("%+v, want %v points", x, want)
		}
	}
	says(t, s.b.Get(at), 200, "2 attempts have another score")
	says(t, s.b.Get("/assignments/"+a.ID+"/grades/"+s.attempts(a)[0].ID), 200, "One earlier grading", "The key was corrected")
}

// A question that has no right answer can be withdrawn for everybody.
func TestVoidQuestion(t *testing.T) {
	t.Parallel()
	s := openShop(t)
	a := s.assign("Editions", 1, someEditions(3))
	x := s.paper(a, s.ann, "A", "A", "C")
	at := "/assignments/" + a.ID + "/regrade"
	form := url.Values{"by": {"question"}, "once": {"keyofthetestform"}, "n": {"2"}, "nokey": {"1"}, "void": {"withdrawn for everybody"}, "reason": {"two editions hold"}, "do": {"preview"}}
	got := s.b.Post(at, form)
	says(t, got, 200, "2 of 3", "2 of 2", "withdrawn", "now passes")
	goes(t, s.b.Post(at, with(form, "do", "apply", "seen", hidden(t, got.Body, "seen"))), at)
	if x = s.attempts(a)[0]; x.Result.Points != 2 || x.Result.Of != 2 || !x.Result.Passed {
		t.Errorf("after withdrawing: %+v", x)
	}
	says(t, s.b.Get("/assignments/"+a.ID+"/grades"), 200, "×")
}

// dispute opens a dispute of Bob's about question 2.
func (s *shop) dispute(a quiz.Assignment) quiz.Dispute {
	s.t.Helper()
	for _, x := range s.attempts(a) {
		if x.Person == s.bob.ID {
			d, err := s.app.Store.OpenDispute(s.t.Context(), x.ID, x.Questions[1], "Bulletin 7 moves the limit <b>")
			s.ok(err)
			return d
		}
	}
	s.t.Fatal("Bob has no attempt")
	return quiz.Dispute{}
}

// A dispute is decided once, by what accepting it was shown to change.
func TestAcceptDispute(t *testing.T) {
	t.Parallel()
	s := openShop(t)
	a := s.assign("Editions", 1, someEditions(3))
	s.paper(a, s.ann, "A", "B", "C")
	s.paper(a, s.bob, "A", "A", "C")
	says(t, s.b.Get("/disputes"), 200, "There are none.")
	d := s.dispute(a)
	says(t, s.b.Get("/disputes"), 200, "Bob Tarn", "Editions, Question 2", "Bulletin 7")
	at := "/disputes/" + d.ID
	got := s.b.Get(at)
	says(t, got, 200, "Bob Tarn disputes question 2", "Answer A wrong", "B Edition 2", "one graded attempt", "How the answer is found")
	if strings.Contains(got.Body, "limit <b>") {
		t.Error("the reason is not escaped")
	}
	says(t, s.b.Post(at, url.Values{"do": {"decide"}}), 422, "Choose one of those offered.", "This is needed.")
	form := url.Values{"accept": {"yes"}, "key": {"A"}, "also": {"1"}, "verdict": {"Bulletin 7 holds."}, "do": {"decide"}}
	got = s.b.Post(at, form)
	says(t, got, 409, "What you see below is new", "Bob Tarn", "gains") // not shown before
	goes(t, s.b.Post(at, with(form, "seen", hidden(t, got.Body, "seen"))), "/disputes")
	goes(t, s.b.Post(at, with(form, "seen", hidden(t, got.Body, "seen"))), at) // a second click
	for _, x := range s.attempts(a) {
		if x.Result.Points != 3 {
			t.Errorf("%+v, want 3 points: either key is right", x)
		}
	}
	says(t, s.b.Get(at), 200, "accepted", "Cora Pell", "Bulletin 7 holds.")
	says(t, s.b.Get("/disputes?state=accepted"), 200, "Bulletin 7 holds.")
	if got := s.b.Get("/disputes?state=accepted&as=csv"); strings.Count(got.Body, "\r\n") != 2 {
		t.Errorf("table: %q", got.Body)
	}
}

// Rejecting changes no score; nobody decides their own dispute.
func TestRejectDispute(t *testing.T) {
	t.Parallel()
	s := openShop(t)
	a := s.assign("Editions", 1, someEditions(3))
	s.paper(a, s.bob, "A", "A", "C")
	d := s.dispute(a)
	s.bob.Roles = []quiz.Role{quiz.Technician, quiz.Coordinator}
	s.ok(s.app.Store.SavePerson(t.Context(), "", s.bob))
	bob := webtest.As(t, s.app, s.server, s.bob)
	says(t, bob.Get("/disputes/"+d.ID), 200, "your own dispute")
	form := url.Values{"accept": {"no"}, "verdict": {"The bulletin is of another model."}, "do": {"decide"}}
	if got := bob.Post("/disputes/"+d.ID, form); got.Status == 303 {
		t.Error("Bob decided his own dispute")
	}
	goes(t, s.b.Post("/disputes/"+d.ID, form), "/disputes")
	says(t, s.b.Get("/disputes?state=rejected"), 200, "another model")
	if x := s.attempts(a)[0]; x.Gradings != 1 {
		t.Errorf("rejecting regraded: %+v", x)
	}
	if got := s.b.Get("/disputes/nothing"); got.Status != 404 {
		t.Errorf("a dispute that there is not: %d", got.Status)
	}
}

// Certificates are issued to those who passed, once each, can be taken away as
// they were issued, and revoked once with a reason.
func TestCertificates(t *testing.T) {
	t.Parallel()
	s := openShop(t)
	a := s.assign("Editions", 1, someEditions(3))
	passed := s.paper(a, s.ann, "A", "B", "C")
	failed := s.paper(a, s.bob, "A", "A", "")
	says(t, s.b.Get("/certified"), 200, "No certificate was issued yet.")
	got := s.b.Get("/certified/issue?assignment=" + a.ID)
	says(t, got, 200, "Ann Orrick", "one without a certificate")
	if strings.Contains(got.Body, failed.ID) {
		t.Error("somebody who did not pass can be ticked")
	}
	says(t, s.b.Post("/certified/issue", url.Values{"assignment": {a.ID}}), 422, "Tick at least one person.")
	form := url.Values{"assignment": {a.ID}, "attempt": {passed.ID, failed.ID}} // the second is forged
	goes(t, s.b.Post("/certified/issue", form), "/certified")
	goes(t, s.b.Post("/certified/issue", form), "/certified") // a second click
	list, err := s.app.Store.Certificates(t.Context())
	s.ok(err)
	if len(list) != 1 || list[0].PersonID != s.ann.ID {
		t.Fatalf("certificates %+v", list)
	}
	at := "/certified/" + list[0].Number
	says(t, s.b.Get("/certified"), 200, list[0].Number, "Ann Orrick", "valid")
	says(t, s.b.Get("/certified?who=nobody"), 200, "Nothing fits")
	says(t, s.b.Get("/certified?state=revoked"), 200, "Nothing fits")
	says(t, s.b.Get(at), 200, "Certificate (PDF)", "Revoke")
	for kind, start := range map[string]string{"pdf": "%PDF-", "badge": "\x89PNG", "json": "{", "jwt": "ey"} {
		if got := s.b.Get(at + "/files/" + kind); got.Status != 200 || !strings.HasPrefix(got.Body, start) {
			t.Errorf("%s: %d %.10q", kind, got.Status, got.Body)
		}
	}
	if got := s.b.Get(at + "/files/keys"); got.Status != 404 {
		t.Errorf("a file that there is not: %d", got.Status)
	}
	if got := s.b.Get("/certified/table?as=csv"); strings.Count(got.Body, "\r\n") != 2 || !strings.Contains(got.Body, list[0].Number) {
		t.Errorf("table: %q", got.Body)
	}
	// Close to its last day it is listed as soon to expire.
	s.clock.Move(list[0].ValidUntil().Sub(s.clock.Now()) - 24*3600*1e9*10)
	s.b = webtest.As(t, s.app, s.server, s.cora)
	says(t, s.b.Get("/certified?state=expiring"), 200, "One expires within 60 days", list[0].Number)

	// Regraded so that it no longer passes, it is for the coordinator to decide.
	form = url.Values{"by": {"question"}, "once": {"keyofthetestform"}, "n": {"2"}, "key": {"A"}, "void": {"withdrawn for everybody"}, "reason": {"wrong key"}, "do": {"preview"}}
	got = s.b.Post("/assignments/"+a.ID+"/regrade", form)
	goes(t, s.b.Post("/assignments/"+a.ID+"/regrade", with(form, "do", "apply", "seen", hidden(t, got.Body, "seen"))), "/assignments/"+a.ID+"/regrade")
	says(t, s.b.Get("/certified"), 200, "Certificates whose attempt no longer passes")
	got = s.b.Get(at)
	says(t, got, 200, "Let it stand, or revoke it.")
	revoke := url.Values{"version": {hidden(t, got.Body, "version")}}
	says(t, s.b.Post(at+"/revoke", revoke), 422, "This is needed.", "Tick that you know it.")
	if got := s.b.Post(at+"/revoke", with(revoke, "reason", "no longer passes", "sure", "1", "version", "77")); got.Status != 409 {
		t.Errorf("a stale form: %d", got.Status)
	}
	goes(t, s.b.Post(at+"/revoke", with(revoke, "reason", "no longer passes", "sure", "1")), at)
	goes(t, s.b.Post(at+"/revoke", with(revoke, "reason", "again", "sure", "1")), at) // a second click
	says(t, s.b.Get(at), 200, "revoked", "no longer passes")
	if got := words(s.b.Get("/certified").Body); strings.Contains(got, "no longer passes") {
		t.Errorf("what was revoked is still to be decided: %s", got)
	}
}

// A revision of the catalog is applied as it was shown, once; a typed reason is
// kept in the audit log.
func TestRegradeByRevision(t *testing.T) {
	t.Parallel()
	s := openShop(t)
	folder, err := filepath.Glob("../../testdata/quillan/*")
	s.ok(err)
	pack := func(edit func(name string, data []byte) []byte) store.CatalogInfo {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		for _, f := range folder {
			data, err := os.ReadFile(f)
			s.ok(err)
			w, err := z.Create(filepath.Base(f))
			s.ok(err)
			_, err = w.Write(edit(filepath.Base(f), data))
			s.ok(err)
		}
		s.ok(z.Close())
		up, err := library.ReadUpload("quillan.zip", b.Bytes())
		s.ok(err)
		if up.Catalog == nil {
			t.Fatal(up.Report)
		}
		s.ok(s.app.Store.AddCatalog(t.Context(), "", &up.Info, up.Content))
		s.ok(s.app.Store.PutInForce(t.Context(), "", up.Info.ID))
		return up.Info
	}
	old := pack(func(_ string, data []byte) []byte { return data })
	e, err := s.library.Entry(t.Context(), old.ID)
	s.ok(err)
	bank, err := e.Bank(t.Context())
	s.ok(err)
	var asked []*banks.Question
	for _, q := range bank.Questions {
		if q.Form == banks.Number && q.Kind == "specification" && len(asked) < 3 {
			asked = append(asked, q)
		}
	}
	if len(asked) < 3 {
		t.Fatal("the bank has too few specifications")
	}
	a := s.assign("Values", 1, asked)
	var right []string
	for _, q := range asked {
		right = append(right, grading.KeyAnswer(q))
	}
	s.paper(a, s.ann, right...)
	// In the next revision every value is another: a 9 is put before each.
	next := pack(func(name string, data []byte) []byte {
		switch name {
		case "catalog.yaml":
			return regexp.MustCompile(`(?m)^revision:.*$`).ReplaceAll(data, []byte("revision: \"2099-9\""))
		case "specifications.csv":
			r := csv.NewReader(bytes.NewReader(data))
			r.FieldsPerRecord = -1
			rows, err := r.ReadAll()
			s.ok(err)
			at := slices.Index(rows[0], "value")
			if at < 0 {
				t.Fatal(rows[0])
			}
			for _, row := range rows[1:] {
				if len(row) > at && row[at] != "" && row[at][0] >= '0' && row[at][0] <= '9' && !strings.ContainsAny(row[at], "-–…") {
					row[at] = "9" + row[at]
				}
			}
			var b bytes.Buffer
			w := csv.NewWriter(&b)
			s.ok(w.WriteAll(rows))
			return b.Bytes()
		}
		return data
	})
	at := "/assignments/" + a.ID + "/regrade"
	got := s.b.Get(at)
	says(t, got, 200, "By a revision of the catalog", "2099-9 – in force")
	form := url.Values{"by": {"revision"}, "once": {hidden(t, got.Body, "once")}, "catalog": {next.ID}, "remedy": {string(grading.NewKey)}, "void": {string(grading.Withdraw)}, "do": {"preview"}}
	says(t, s.b.Post(at, with(form, "catalog", "nothing")), 422, "Choose one of those offered.")
	kept := s.b.Post(at, with(form, "remedy", string(grading.Either)))
	says(t, kept, 200, "Nothing has changed yet.", "key changed", "stay as they are because they were right by the old key", "No score changes.")
	got = s.b.Post(at, form)
	says(t, got, 200, "Nothing has changed yet.", "key changed", "Ann Orrick", "loses")
	apply := with(form, "do", "apply", "seen", hidden(t, got.Body, "seen"), "reason", "the old values were misprints")
	says(t, s.b.Post(at, with(apply, "reason", "")), 422, "This is needed.")
	goes(t, s.b.Post(at, apply), at)
	goes(t, s.b.Post(at, apply), at) // a second click
	x := s.attempts(a)[0]
	if x.Gradings != 2 || x.Result.Points >= 3 {
		t.Errorf("after the regrade: %+v", x)
	}
	entries, err := s.app.Store.AuditLog(t.Context(), 0, 10)
	s.ok(err)
	if !slices.ContainsFunc(entries, func(e quiz.Entry) bool {
		return e.Action == "assignment.regrade" && strings.Contains(e.Detail, "misprints")
	}) {
		t.Errorf("the reason is not in the audit log: %+v", entries)
	}
}
