package marks_test

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"rightpage/quiz/paper"
	"rightpage/quiz/store"
	"rightpage/server/web/webtest"
)

// A sheet is printed, filled in, scanned, looked at, and graded: the answers that
// are recorded are those that were filled in and typed.
func TestScanRoundTrip(t *testing.T) {
	t.Parallel()
	for _, large := range []bool{false, true} {
		t.Run(map[bool]string{false: "ordinary", true: "large print"}[large], func(t *testing.T) {
			s := openShop(t)
			a := s.assign("Finding the page", 1, everyForm())
			at := "/assignments/" + a.ID + "/scans"
			pages, layout := s.printed(a, s.ann, large), s.layout(a, large)
			if len(pages) != len(layout) {
				t.Fatalf("%d pages, layout of %d", len(pages), len(layout))
			}
			filled := map[string]string{"1": "B", "2": "AC", "3": "~", "4": "~", "5.1": "B", "5.2": "A", "5.3": "C", "6a": "A", "6b": "~"}
			var files []webtest.File
			for i, img := range pages {
				fill(img, layout[i], filled, 0.8)
				files = append(files, webtest.File{Field: "files", Name: "monday.png", Data: pngOf(t, img)})
			}
			once := url.Values{"key": {"keyofthetestform"}}
			goes(t, s.b.Upload(at, once, files...), at)
			goes(t, s.b.Upload(at, once, files...), at) // a second click
			got := s.b.Get(at)
			says(t, got, 200, "Ann Orrick", "1 of 1")
			if strings.Contains(words(got.Body), "refused:") || strings.Contains(got.Body, "read before") {
				t.Errorf("a second click counts: %s", words(got.Body))
			}
			got = s.b.Get(at + "/" + s.ann.ID)
			says(t, got, 200, "Scanned sheet of Ann Orrick", "3 to look at", "written by hand", "6 were read for certain")
			for _, src := range regexp.MustCompile(`<img src="(/assignments[^"]*)"`).FindAllStringSubmatch(got.Body, -1) {
				if x := s.b.Get(src[1]); x.Status != 200 || x.Header.Get("Content-Type") != "image/png" || len(x.Body) < 100 {
					t.Errorf("crop %s: %d %s", src[1], x.Status, x.Header.Get("Content-Type"))
				}
			}
			form := url.Values{"seen": {hidden(t, got.Body, "seen")}, "do": {"record"}, "s-1": {"B"}, "s-2": {"AC"}, "s-5.1": {"B"}, "s-5.2": {"A"}, "s-5.3": {"C"}, "s-6a": {"A"}}
			says(t, s.b.Post(at+"/"+s.ann.ID, form), 422, "Look at the picture and type what it says")
			form = with(form, "s-3", "page 4711", "s-4", "85 Nm", "s-6b", "4711")
			says(t, s.b.Post(at+"/"+s.ann.ID, with(form, "s-1", "AB")), 422, "This cannot be read for certain") // two where one is asked for
			goes(t, s.b.Post(at+"/"+s.ann.ID, form), at)
			goes(t, s.b.Post(at+"/"+s.ann.ID, form), at) // a second click
			list := s.attempts(a)
			if len(list) != 1 || list[0].Result.Points != 6 || !list[0].Result.Passed {
				t.Fatalf("attempts %+v", list)
			}
			if got, want := s.answers(list[0]), []string{"B", "AC", "page 4711", "85 Nm", "BAC", "A|4711"}; !slices.Equal(got, want) {
				t.Errorf("answers %q, want %q", got, want)
			}
			// The same sheet scanned again is refused.
			goes(t, s.b.Upload(at, nil, files...), at)
			says(t, s.b.Get(at), 200, "Pages that were refused", "read before", "No sheet waits.")
		})
	}
}

// Marks that are not plain are not guessed: they come with a picture, and nothing
// is recorded until somebody says what they are.
func TestDoubtfulMarksAreLookedAt(t *testing.T) {
	t.Parallel()
	s := openShop(t)
	a := s.assign("Editions", 1, someEditions(6))
	at := "/assignments/" + a.ID + "/scans"
	img, layout := s.printed(a, s.ann, false)[0], s.layout(a, false)
	fill(img, layout[0], map[string]string{"1": "A", "2": "AB", "4": "A", "5": "B"}, 0.8)
	fill(img, layout[0], map[string]string{"6": "C"}, 0.35)
	goes(t, s.b.Upload(at, nil, webtest.File{Field: "files", Name: "a.png", Data: pngOf(t, img)}), at)
	got := s.b.Get(at + "/" + s.ann.ID)
	says(t, got, 200, "3 to look at", "more than one filled in (seen: AB)", "nothing filled in", "3 were read for certain")
	if strings.Contains(got.Body, `name="s-2" value="A`) {
		t.Error("the page guesses a doubtful mark")
	}
	form := url.Values{"seen": {hidden(t, got.Body, "seen")}, "do": {"record"}, "s-1": {"A"}, "s-4": {"A"}, "s-5": {"B"}}
	says(t, s.b.Post(at+"/"+s.ann.ID, form), 422, "Look at the picture")
	says(t, s.b.Post(at+"/"+s.ann.ID, with(form, "s-2", "X", "s-6", "-")), 422, "Letters A to C, or a hyphen.")
	// A form that is older than what is kept says so, and changes nothing.
	says(t, s.b.Post(at+"/"+s.ann.ID, with(form, "s-2", "B", "s-6", "-", "seen", "older/1")), 409, "have changed since you opened it")
	if n := len(s.attempts(a)); n != 0 {
		t.Fatalf("%d attempts are recorded", n)
	}
	goes(t, s.b.Post(at+"/"+s.ann.ID, with(form, "s-2", "b", "s-6", "-")), at)
	if got, want := s.answers(s.attempts(a)[0]), []string{"A", "B", "", "A", "B", ""}; !slices.Equal(got, want) {
		t.Errorf("answers %q, want %q", got, want)
	}
}

// What is no sheet, or not of this quiz, is refused with the reason and can be
// put away; the others go on.
func TestRefusedPages(t *testing.T) {
	t.Parallel()
	s := openShop(t)
	a, b := s.assign("Editions", 1, someEditions(6)), s.assign("Other editions", 1, someEditions(7))
	at := "/assignments/" + a.ID + "/scans"
	other := s.printed(b, s.ann, false)[0]
	mine := s.printed(a, s.bob, false)[0]
	says(t, s.b.Upload(at, nil), 422, "Choose a file.")
	goes(t, s.b.Upload(at, nil, webtest.File{Field: "files", Name: "other.png", Data: pngOf(t, other)}, webtest.File{Field: "files", Name: "notes.txt", Data: []byte("no picture at all")},
		webtest.File{Field: "files", Name: "broken.pdf", Data: []byte("%PDF-1.5 broken")}, webtest.File{Field: "files", Name: "bob.png", Data: pngOf(t, mine)}), at)
	got := s.b.Get(at)
	says(t, got, 200, "One page was read. 3 were refused.", "it is the sheet of another quiz", "notes.txt : the file cannot be read", "Bob Tarn")
	list, err := s.app.Store.Scans(t.Context(), a.ID, store.ScanRefused)
	s.ok(err)
	for _, x := range list {
		goes(t, s.b.Post(at+"/pages/"+x.ID+"/refuse", url.Values{"version": {"1"}}), at)
		goes(t, s.b.Post(at+"/pages/"+x.ID+"/refuse", url.Values{"version": {"1"}}), at) // a second click
	}
	if got := words(s.b.Get(at).Body); strings.Contains(got, "refused") {
		t.Errorf("what was put away is still there: %s", got)
	}
	// A page of another assignment is not reached by this one.
	if got := s.b.Get("/assignments/" + b.ID + "/scans/pages/" + list[0].ID + "/image"); got.Status != 404 {
		t.Errorf("a page of another assignment: %d", got.Status)
	}
}

// The pages of one sheet may come in several uploads; nothing is recorded before
// all are there, unless somebody says that the rest was handed in blank.
func TestPagesInSeveralUploads(t *testing.T) {
	t.Parallel()
	s := openShop(t)
	a := s.assign("Long", 1, someEditions(150))
	at := "/assignments/" + a.ID + "/scans"
	pages, layout := s.printed(a, s.ann, false), s.layout(a, false)
	if len(layout) < 2 || len(pages) != len(layout) {
		t.Fatalf("%d pages printed, %d laid out", len(pages), len(layout))
	}
	form := url.Values{"do": {"record"}}
	want := make([]string, 150)
	for i, page := range layout {
		marks := map[string]string{}
		for _, row := range page.Rows {
			marks[row.Field.Label()] = "B"
			form.Set("s-"+row.Field.Label(), "B")
			want[row.Field.Question-1] = "B"
		}
		fill(pages[i], page, marks, 0.8)
	}
	goes(t, s.b.Upload(at, nil, webtest.File{Field: "files", Name: "first.png", Data: pngOf(t, pages[0])}), at)
	says(t, s.b.Get(at), 200, "pages are missing")
	got := s.b.Get(at + "/" + s.ann.ID)
	says(t, got, 200, "of the sheet")
	says(t, s.b.Post(at+"/"+s.ann.ID, with(form, "seen", hidden(t, got.Body, "seen"))), 422, "Upload what is missing")
	for i, img := range pages[1:] {
		goes(t, s.b.Upload(at, nil, webtest.File{Field: "files", Name: fmt.Sprintf("later%d.png", i), Data: pngOf(t, img)}), at)
	}
	got = s.b.Get(at + "/" + s.ann.ID)
	says(t, got, 200, "150 were read for certain")
	goes(t, s.b.Post(at+"/"+s.ann.ID, with(form, "seen", hidden(t, got.Body, "seen"))), at)
	if got := s.answers(s.attempts(a)[0]); !slices.Equal(got, want) {
		t.Errorf("answers %q", got)
	}
}

// Where the square code cannot be read, the code at the foot of the sheet does.
func TestCodeTypedFromTheFoot(t *testing.T) {
	t.Parallel()
	s := openShop(t)
	a := s.assign("Editions", 1, someEditions(6))
	at := "/assignments/" + a.ID + "/scans"
	img, layout := s.printed(a, s.ann, false)[0], s.layout(a, false)
	fill(img, layout[0], map[string]string{"1": "A", "2": "B", "3": "C", "4": "A", "5": "B", "6": "C"}, 0.8)
	perMM := sheetDPI / 25.4
	blot := image.Rect(int((paper.CodeX+12+18)*perMM), int((paper.CodeY+5+25.5)*perMM), int((paper.CodeX+20+18)*perMM), int((paper.CodeY+25+25.5)*perMM))
	draw.Draw(img, blot, image.NewUniform(color.Gray{Y: 60}), image.Point{}, draw.Src)
	goes(t, s.b.Upload(at, nil, webtest.File{Field: "files", Name: "coffee.png", Data: pngOf(t, img)}), at)
	says(t, s.b.Get(at), 200, "coffee.png : the square code", "The code at the foot of the sheet")
	list, err := s.app.Store.Scans(t.Context(), a.ID, store.ScanRefused)
	s.ok(err)
	post := func(code string) webtest.Answer {
		return s.b.Post(at+"/pages/"+list[0].ID+"/code", url.Values{"code": {code}})
	}
	code := layout[0].Code(a.Form, "A", s.ann.ID).String()
	says(t, post("RP1/nonsense"), 422, "The code at the foot of the sheet")
	says(t, post(code+"0"), 422, "The code at the foot of the sheet")
	goes(t, post(code), at)
	goes(t, post(code), at) // a second click
	says(t, s.b.Get(at+"/"+s.ann.ID), 200, "6 were read for certain")
}
