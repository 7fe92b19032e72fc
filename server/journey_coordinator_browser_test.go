//go:build browser

package server_test

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rightpage/quiz"
	"rightpage/server/browsertest"
)

// catalogFile writes a catalog of the test data as a file to upload, changed on
// the way by change, and gives its path.
func catalogFile(t testing.TB, folder, name string, change func(file, text string) string) string {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	catalogs := os.DirFS("../testdata")
	entries, err := fs.ReadDir(catalogs, folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		text, err := fs.ReadFile(catalogs, folder+"/"+e.Name())
		if err != nil {
			t.Fatal(err)
		}
		if change != nil {
			text = []byte(change(e.Name(), string(text)))
		}
		w, err := z.Create(e.Name())
		if err == nil {
			_, err = w.Write(text)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// upload chooses a file in a field.
func upload(tab *browsertest.Tab, selector, path string) {
	tab.T.Helper()
	tab.Do(chromedp.SetUploadFiles(chromedp.CSS(selector), []string{path}))
}

// fetched asks for what a link or the form of a button leads to, as the tab would, and gives
// the type and the size of it.
func fetched(tab *browsertest.Tab, selector string) (media string, size int) {
	tab.T.Helper()
	type got struct {
		Status int    `json:"status"`
		Media  string `json:"media"`
		Size   int    `json:"size"`
	}
	g := browsertest.Eval[got](tab, fmt.Sprintf(`(async () => { const e = document.querySelector(%q); let to = e.href;
		if (e.form) { const d = new FormData(e.form, e); to = e.form.action + "?" + new URLSearchParams(d) }
		const r = await fetch(to); const b = await r.blob(); return {status: r.status, media: r.headers.get("Content-Type"), size: b.size} })()`, selector))
	if g.Status != 200 {
		tab.T.Errorf("%s at %s: status %d", selector, tab.Path(), g.Status)
	}
	return g.Media, g.Size
}

// wantPDF wants a file of pages behind a link or button.
func wantPDF(t testing.TB, tab *browsertest.Tab, selector string) {
	t.Helper()
	if media, size := fetched(tab, selector); !strings.HasPrefix(media, "application/pdf") || size < 2000 {
		t.Errorf("%s at %s: %d bytes of %s", selector, tab.Path(), size, media)
	}
}

// The way of a coordinator at a desk: a supplement comes, a quiz is made of it
// and given to people, watched, marked, a dispute decided, booklets printed.
func TestJourneyOfACoordinator(t *testing.T) {
	s := openShop(t)
	browser := browsertest.Start(t)
	s.hire("Cora Wint", "cora", "", quiz.Coordinator)
	tam := s.hire("Tam Reed", "tam", "", quiz.Technician)
	sol := s.hire("Sol Ember", "sol", "", quiz.Technician)
	tab := s.tab(t, browser, nil, browsertest.Desk())
	tab.Go("/")
	enter(tab, "cora", journeyPassword)
	at(t, tab, "/assignments")

	// A supplement: what the check and the comparison say, then it is put in force.
	tab.Press(`nav a[href="/catalogs"]`)
	upload(tab, "#f-file", catalogFile(t, "tarnfell/2026-1", "supplement.zip", func(file, text string) string {
		switch file {
		case "catalog.yaml":
			return strings.NewReplacer("revision: 2026-1", "revision: 2026-2", `issued: "2026-01-26"`, `issued: "2031-02-17"`).Replace(text)
		case "procedures.csv": // a page of the radiator moves
			return strings.Replace(text, "radiator,10-S-101-A,,1,B11", "radiator,10-S-101-A,,1,B14", 1)
		}
		return text
	}))
	tab.Press("main form button")
	says(t, tab, "2026-2")
	until(t, "the comparison is done", func() bool { return strings.Contains(reads(tab), "lead elsewhere") })
	wellMade(t, tab, "journey-desk-catalog")
	supplement := tab.Path()
	tab.Press(`form[action$="/force"] button`)
	says(t, tab, "in force")
	if list, err := s.store.Catalogs(t.Context()); err != nil || !strings.Contains(fmt.Sprint(list), "2026-2") {
		t.Fatal(list, err)
	}

	// A quiz, with counts while it is composed.
	tab.Go(supplement)
	tab.Press(`a[href^="/forms/new"]`)
	retype(tab, "#f-title", "After the supplement")
	retype(tab, "#f-questions", "500000")
	until(t, "it is counted, and not enough", func() bool {
		return browsertest.Eval[bool](tab, `!!document.querySelector("#counts .faults") || !!document.querySelector("#faults .faults")`)
	})
	retype(tab, "#f-questions", "8")
	retype(tab, "#f-time", "30")
	tab.Press(`button[name="do"][value="even"]`)
	possible := func() bool {
		return browsertest.Eval[bool](tab, `document.readyState === "complete" && !!document.querySelector("#counts .good") && !document.querySelector("#faults .faults")`)
	}
	for range 100 {
		if possible() {
			break
		}
		time.Sleep(100 * time.Millisecond)
	}
	if !possible() {
		t.Fatalf("it is not possible (%s):\n%s", browsertest.Eval[string](tab, `[...document.getElementById("blueprint").elements].map((e) => e.name + "=" + e.value).join("&").slice(0, 900) + document.getElementById("faults").textContent`), reads(tab))
	}
	wellMade(t, tab, "journey-desk-blueprint")
	tab.Press(`button[name="do"][value="make"]`)
	says(t, tab, "After the supplement")
	wantPDF(t, tab, `button[name="what"][value="booklet"]`)
	wellMade(t, tab, "journey-desk-form")

	// It is assigned, with more time for one.
	tab.Press(`a[href^="/assignments/new"]`)
	click(tab, fmt.Sprintf(`input[name="person"][value=%q]`, tam.ID))
	click(tab, fmt.Sprintf(`input[name="person"][value=%q]`, sol.ID))
	choose(tab, `select[name="when"]`, "end")
	choose(tab, `select[name="a-person"]`, sol.ID)
	retype(tab, `input[name="a-percent"]`, "50")
	retype(tab, `input[name="a-reason"]`, "reads slowly")
	for _, name := range []string{"score", "answers", "showkey", "trace"} {
		if !browsertest.Eval[bool](tab, fmt.Sprintf(`document.querySelector('input[name=%q]').checked`, name)) {
			click(tab, fmt.Sprintf(`input[name=%q]`, name))
		}
	}
	wellMade(t, tab, "journey-desk-assign")
	tab.Press("main form p.actions button")
	says(t, tab, "Who is how far")
	wellMade(t, tab, "journey-desk-assigned")
	id := strings.Split(strings.TrimPrefix(tab.Path(), "/assignments/"), "?")[0]
	a, err := s.store.Assignment(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if got := []time.Duration{a.LimitFor(tam.ID), a.LimitFor(sol.ID)}; got[0] != 30*time.Minute || got[1] != 45*time.Minute {
		t.Errorf("limits %v", got)
	}

	// It is watched while somebody works.
	work := s.begin(a, tam)
	for n, q := range work.Questions {
		if _, _, err := s.store.SaveAnswer(t.Context(), quiz.Save{Attempt: work.ID, Question: q, Key: fmt.Sprintf("journey%010d", n), Value: "B", Spent: time.Minute}); err != nil {
			t.Fatal(err)
		}
	}
	for range 300 { // the page looks every ten seconds
		if strings.Contains(reads(tab), "8 of 8") {
			break
		}
		time.Sleep(100 * time.Millisecond)
	}
	says(t, tab, "8 of 8")
	wellMade(t, tab, "journey-desk-watched")
	if _, err := s.server.Marker.HandIn(t.Context(), work.ID, "journeyhandin01"); err != nil {
		t.Fatal(err)
	}

	// Booklets for those who work on paper.
	tab.Press(fmt.Sprintf(`a[href="/assignments/%s/print"]`, id))
	wellMade(t, tab, "journey-desk-print")
	wantPDF(t, tab, `button[name="set"][value="ordinary"]`)
	dispute, err := s.store.OpenDispute(t.Context(), work.ID, work.Questions[1], "The page has moved with the supplement.")
	if err != nil {
		t.Fatal(err)
	}
	s.marks(t, tab, id, work, dispute)
}

// marks looks at the grades and decides the dispute.
func (s *shop) marks(t *testing.T, tab *browsertest.Tab, id string, work quiz.Attempt, dispute quiz.Dispute) {
	t.Helper()
	tab.Go("/assignments/" + id)
	tab.Press(fmt.Sprintf(`a[href="/assignments/%s/grades"]`, id))
	says(t, tab, "Tam Reed")
	wellMade(t, tab, "journey-desk-grades")
	tab.Press(fmt.Sprintf(`a[href="/assignments/%s/grades/%s"]`, id, work.ID))
	wellMade(t, tab, "journey-desk-attempt")
	tab.Press(`nav a[href="/disputes"]`)
	tab.Press(fmt.Sprintf(`a[href="/disputes/%s"]`, dispute.ID))
	wellMade(t, tab, "journey-desk-dispute")
	click(tab, `input[name="accept"][value="no"]`)
	tab.Type("#f-verdict", "The bulletin names the old page still.")
	tab.Press(`button[name="do"][value="decide"]`)
	list, err := s.store.Disputes(t.Context(), quiz.DisputeRejected)
	if err != nil {
		t.Fatal(err)
	}
	decided := false
	for _, d := range list {
		decided = decided || d.ID == dispute.ID && strings.HasPrefix(d.Verdict, "The bulletin")
	}
	if !decided {
		t.Errorf("the dispute is not decided:\n%s", reads(tab))
	}
}
