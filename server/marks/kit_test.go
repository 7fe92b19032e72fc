package marks_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"rightpage/banks"
	"rightpage/banks/resolver"
	"rightpage/quiz"
	"rightpage/quiz/issuing"
	"rightpage/quiz/library"
	"rightpage/quiz/marking"
	"rightpage/quiz/paper"
	"rightpage/quiz/quiztest"
	"rightpage/server/marks"
	"rightpage/server/web"
	"rightpage/server/web/webtest"
)

// shop is a small organisation with the pages of marks and certificates.
type shop struct {
	t       testing.TB
	app     *web.App
	clock   *webtest.Clock
	marker  *marking.Marker
	library *library.Library
	server  *httptest.Server
	cora    *quiz.Person // the coordinator
	ann     *quiz.Person
	bob     *quiz.Person
	b       *webtest.Browser
}

func openShop(t testing.TB) *shop {
	t.Helper()
	s := &shop{t: t}
	s.app, s.clock = webtest.Open(t)
	l := library.New(s.app.Store, library.Options{BankSize: 300})
	s.library = l
	s.marker = marking.New(s.app.Store, l, marking.Options{Now: s.clock.Now})
	keys, err := issuing.OpenKeys(filepath.Join(t.TempDir(), "keys.json"), "") // encrypting it takes its time
	s.ok(err)
	pages, err := marks.New(s.app, marks.Deps{Library: l, Marker: s.marker, Issuer: issuing.New(s.app.Store, s.marker, l, keys, issuing.Options{Now: s.clock.Now})})
	s.ok(err)
	s.app.Menu = marks.Menu()
	s.server = webtest.Serve(t, s.app, pages.Routes())
	site := &quiz.Site{Name: "North yard", Zone: "Europe/Berlin"}
	s.ok(s.app.Store.SaveSite(t.Context(), "", site))
	settings := quiz.DefaultSettings()
	settings.Organisation, settings.Prefix = "Wexcombe Estate & Farm Services", "WX"
	s.ok(s.app.Store.SaveSettings(t.Context(), "", &settings))
	s.cora = webtest.Person(t, s.app, "Cora Pell", site.ID, quiz.Coordinator)
	s.ann = s.person("Ann Orrick", "T-01", site.ID)
	s.bob = s.person("Bob Tarn", "T-02", "")
	s.b = webtest.As(t, s.app, s.server, s.cora)
	return s
}

func (s *shop) ok(err error) {
	s.t.Helper()
	if err != nil {
		s.t.Fatal(err)
	}
}

func (s *shop) person(name, number, site string) *quiz.Person {
	s.t.Helper()
	p := &quiz.Person{Name: name, Number: number, Site: site, Roles: []quiz.Role{quiz.Technician}}
	s.ok(s.app.Store.SavePerson(s.t.Context(), "", p))
	return p
}

func trace() []banks.TraceLine {
	return []banks.TraceLine{{Step: resolver.CodeStep, Result: "Dellow 40"}, {Step: resolver.EditionStep, Result: "edition 2"}}
}

func oneOf(stem string, key int) *banks.Question {
	return quiztest.Sealed(&banks.Question{Kind: "edition", Skill: "editions", Form: banks.OneOf, Stem: stem, Order: []banks.Line{{Label: "Model", Value: "D40"}},
		Options: quiztest.Choices(key, "Edition 1", "Edition 2", "Edition 3"), Trace: trace(), Cautions: []string{"Relieve the pressure first."}})
}

// everyForm gives a question of every response form. Right are B, AC, page 4711,
// 85 N·m, BAC and A|4711.
func everyForm() []*banks.Question {
	some := &banks.Question{Kind: "due", Skill: "services due", Form: banks.SomeOf, Stem: "Which services are due?", Options: quiztest.Choices(0, "Oil", "Filter", "Belt"), Trace: trace()}
	some.Options[2].Right, some.Options[2].Slip = true, resolver.NoSlip
	ordered := &banks.Question{Kind: "next-step", Skill: "test steps", Form: banks.Ordered, Stem: "In which order?", Options: quiztest.Choices(-1, "First", "Second", "Third"), Trace: trace()}
	ordered.Key.Order = []string{"value Second", "value First", "value Third"}
	for i := range ordered.Options {
		ordered.Options[i].Slip = resolver.NoSlip
	}
	return []*banks.Question{
		oneOf("Which edition holds?", 1), quiztest.Sealed(some),
		quiztest.Sealed(&banks.Question{Kind: "location", Skill: "locations", Form: banks.Typed, Stem: "On which page is it?", Key: banks.Key{Accept: []string{"page 4711"}, Charset: "code"}, Trace: trace()}),
		quiztest.Sealed(&banks.Question{Kind: "specification", Skill: "specifications", Form: banks.Number, Stem: "What torque?", Key: banks.Key{Number: 85, Unit: "N·m"}, Trace: trace()}),
		quiztest.Sealed(ordered),
		quiztest.Sealed(&banks.Question{Kind: "chase", Skill: "whole chase", Form: banks.Chase, Stem: "Find the page.", Trace: trace(), Steps: []banks.ChaseStep{
			{Step: resolver.GroupStep, Ask: "Which group?", Options: quiztest.Choices(0, "Cooling", "Fuel")}, {Step: resolver.LocationStep, Ask: "Which page?", Accept: []string{"4711"}}}}),
	}
}

func someEditions(n int) []*banks.Question {
	var list []*banks.Question
	for i := range n {
		list = append(list, oneOf(fmt.Sprintf("Which edition holds for unit %d?", i+1), i%3))
	}
	return list
}

// assign makes a form of the questions and gives it to every technician.
func (s *shop) assign(title string, attempts int, variants ...[]*banks.Question) quiz.Assignment {
	s.t.Helper()
	f := &banks.TestForm{Title: title, Catalog: variants[0][0].Catalog, Revision: variants[0][0].Revision, Blueprint: banks.NewBlueprint(title, len(variants[0]))}
	for i, v := range variants {
		f.Variants = append(f.Variants, banks.Variant{Name: banks.Letter(i), Questions: v})
	}
	s.ok(s.app.Store.AddForm(s.t.Context(), "", f))
	a := quiz.Assignment{Title: title, Form: f.ID, Targets: []quiz.Target{{Kind: quiz.ToRole, ID: string(quiz.Technician)}}, Open: s.clock.Now().Add(-time.Hour),
		Attempts: attempts, Release: quiz.Release{When: quiz.ReleaseAtEnd, Score: true, Answers: true, Key: true, Trace: true}}
	s.ok(s.app.Store.SaveAssignment(s.t.Context(), "", &a))
	return a
}

func (s *shop) paper(a quiz.Assignment, who *quiz.Person, answers ...string) quiz.Attempt {
	s.t.Helper()
	x, err := s.marker.Paper(s.t.Context(), s.cora.ID, a.ID, who.ID, 0, answers)
	s.ok(err)
	return x
}

func (s *shop) attempts(a quiz.Assignment) []quiz.Attempt {
	s.t.Helper()
	list, err := s.app.Store.AttemptsAt(s.t.Context(), a.ID)
	s.ok(err)
	return list
}

// answers lists the answers of an attempt as they stand.
func (s *shop) answers(a quiz.Attempt) []string {
	s.t.Helper()
	all, err := s.app.Store.Answers(s.t.Context(), a.ID)
	s.ok(err)
	latest := quiz.Latest(all)
	var list []string
	for _, id := range a.Questions {
		list = append(list, latest[id].Value)
	}
	return list
}

var (
	tags  = regexp.MustCompile(`(?s)<script.*?</script>|<svg.*?</svg>|<[^>]*>`)
	space = regexp.MustCompile(`\s+`)
)

// words is the text of a page.
func words(page string) string {
	if _, main, ok := strings.Cut(page, "<main"); ok {
		page, _, _ = strings.Cut("<main"+main, "</main>")
	}
	text := space.ReplaceAllString(tags.ReplaceAllString(page, " "), " ")
	return strings.NewReplacer("&#39;", "'", "&#34;", `"`, "&amp;", "&", "\u00a0", " ", "’", "'").Replace(text)
}

// says fails unless a page holds each text, and no message that is missing.
func says(t testing.TB, got webtest.Answer, status int, texts ...string) {
	t.Helper()
	text := words(got.Body)
	if got.Status != status {
		t.Errorf("%s: status %d, want %d: %s", got.Path, got.Status, status, text)
	}
	for _, want := range texts {
		if !strings.Contains(text, want) {
			t.Errorf("%s does not say %q:\n%s", got.Path, want, text)
		}
	}
	if strings.Contains(got.Body, "⟦") {
		t.Errorf("%s lacks a message: %s", got.Path, text)
	}
}

// goes fails unless the answer leads to a path.
func goes(t testing.TB, got webtest.Answer, path string) {
	t.Helper()
	if got.Status != 303 || got.Header.Get("Location") != path {
		t.Fatalf("%s: status %d to %q, want 303 to %s\n%s", got.Path, got.Status, got.Header.Get("Location"), path, words(got.Body))
	}
}

// hidden gives the value of a hidden field.
func hidden(t testing.TB, page, name string) string {
	t.Helper()
	m := regexp.MustCompile(`name="` + name + `" value="([^"]*)"`).FindStringSubmatch(page)
	if m == nil {
		t.Fatalf("there is no field %s in %s", name, words(page))
	}
	return m[1]
}

func with(v url.Values, pairs ...string) url.Values {
	w := url.Values{}
	for k, x := range v {
		w[k] = x
	}
	for i := 0; i+1 < len(pairs); i += 2 {
		w.Set(pairs[i], pairs[i+1])
	}
	return w
}

// sheetDPI is the resolution at which printed sheets are drawn.
const sheetDPI = 150

// printed prints the answer sheet of a person and has it drawn: a picture a page.
func (s *shop) printed(a quiz.Assignment, who *quiz.Person, large bool) []*image.Gray {
	s.t.Helper()
	if _, err := exec.LookPath("pdftoppm"); err != nil {
		if os.Getenv("CI") != "" {
			s.t.Fatal("pdftoppm is not installed: apt-get install poppler-utils")
		}
		s.t.Skip("pdftoppm is not installed (Debian package poppler-utils)")
	}
	f, err := s.marker.Form(s.t.Context(), a.Form)
	s.ok(err)
	var pdf bytes.Buffer
	b := paper.BookletOf(f.TestForm, &f.Variants[0], who.ID, who.Name, "Wexcombe", nil)
	s.ok(paper.WriteSheet(&pdf, b, paper.BookletOptions{LargePrint: large}, s.clock.Now()))
	dir := s.t.TempDir()
	file := filepath.Join(dir, "sheet.pdf")
	s.ok(os.WriteFile(file, pdf.Bytes(), 0o600))
	if out, err := exec.Command("pdftoppm", "-r", fmt.Sprint(sheetDPI), "-gray", "-png", file, filepath.Join(dir, "p")).CombinedOutput(); err != nil {
		s.t.Fatalf("pdftoppm: %v %s", err, out)
	}
	names, _ := filepath.Glob(filepath.Join(dir, "p*.png"))
	var pages []*image.Gray
	for _, n := range names {
		r, err := os.Open(n)
		s.ok(err)
		img, err := png.Decode(r)
		s.ok(err)
		r.Close()
		g := image.NewGray(img.Bounds())
		draw.Draw(g, g.Rect, img, img.Bounds().Min, draw.Src)
		pages = append(pages, g)
	}
	return pages
}

// layout is the geometry of the sheet of an assignment.
func (s *shop) layout(a quiz.Assignment, large bool) []paper.SheetPage {
	s.t.Helper()
	f, err := s.marker.Form(s.t.Context(), a.Form)
	s.ok(err)
	fields, err := paper.SheetFields(paper.QuestionsOf(f.Variants[0].Questions))
	s.ok(err)
	pages, err := paper.LayoutSheet(fields, large)
	s.ok(err)
	return pages
}

// fill fills circles and writes in boxes: by label, the letters to fill, or "~"
// to scribble in a box. How says how a circle is filled.
func fill(img *image.Gray, page paper.SheetPage, marks map[string]string, cover float64) {
	const perMM = sheetDPI / 25.4
	left, top := (210-paper.FrameWidth)/2, (297-paper.FrameHeight)/2
	disc := func(x, y, r float64) {
		for j := int((y - r + top) * perMM); j <= int((y+r+top)*perMM); j++ {
			for i := int((x - r + left) * perMM); i <= int((x+r+left)*perMM); i++ {
				if math.Hypot(float64(i)/perMM-left-x, float64(j)/perMM-top-y) < r {
					img.SetGray(i, j, color.Gray{Y: 30})
				}
			}
		}
	}
	for _, row := range page.Rows {
		for i, b := range row.Bubbles {
			if strings.Contains(marks[row.Field.Label()], banks.Letter(i)) {
				disc(b.X, b.Y, page.Radius*cover)
			}
		}
	}
	for _, box := range page.Boxes {
		if marks[box.Field.Label()] == "~" {
			for x := box.Box.X + 5; x < box.Box.X+25; x += 0.4 {
				disc(x, box.Box.Y+box.Box.H/2+1.2*math.Sin(x), 0.35)
			}
		}
	}
}

func pngOf(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
