package paper

import (
	"bytes"
	"errors"
	"fmt"
	"iter"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// printed is a run as bytes.
func printed(t testing.TB, booklets iter.Seq2[Booklet, error], o RunOptions) ([]byte, RunCount) {
	t.Helper()
	if o.Created.IsZero() {
		o.Created = testDate
	}
	var buf bytes.Buffer
	count, err := WriteRun(&buf, booklets, o)
	if err != nil {
		t.Fatal(err)
	}
	return buf.Bytes(), count
}

// pagesOf is the text of each page, by poppler.
func pagesOf(t testing.TB, pdf []byte) []string {
	t.Helper()
	pages := strings.Split(pdfToText(t, pdf), "\f")
	return pages[:len(pages)-1]
}

func TestBookletSaysWhatAPersonNeeds(t *testing.T) {
	for _, size := range []PageSize{A4, Letter} {
		for _, large := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s large=%v", size, large), func(t *testing.T) {
				b := sampleBooklet()
				pdf, count := printed(t, one(b), RunOptions{BookletOptions: BookletOptions{Size: size, LargePrint: large}, Booklets: true})
				pages := pagesOf(t, pdf)
				if len(pages) != count.Pages {
					t.Fatalf("%d pages by poppler, %d counted", len(pages), count.Pages)
				}
				flat := func(s string) string { return strings.Join(strings.Fields(s), " ") }
				cover := flat(pages[0])
				for _, want := range []string{b.PersonName, b.Site, b.Organisation, "Literature", "75 minutes", "80 %", "To pass", "Before you begin", "revision 3"} {
					if !strings.Contains(cover, want) {
						t.Errorf("cover lacks %q", want)
					}
				}
				for _, long := range append(b.Cautions, b.Instructions...) {
					for _, word := range strings.Fields(long) {
						if !strings.Contains(cover, word) {
							t.Errorf("cover lacks %q of %q", word, long)
						}
					}
				}
				for i, page := range pages {
					if want := fmt.Sprintf("page %d of %d", i+1, len(pages)); !strings.Contains(flat(page), want) {
						t.Errorf("page %d does not say %q", i+1, want)
					}
					if !regexp.MustCompile(`form\s+B`).MatchString(page) {
						t.Errorf("page %d does not name the form variant", i+1)
					}
				}
				text := flat(strings.Join(pages, " "))
				for _, q := range b.Questions {
					words := strings.Fields(q.Stem)
					for _, c := range q.Cautions {
						words = append(words, strings.Fields(c)...)
					}
					for _, box := range q.Boxes {
						for _, r := range box.Rows {
							words = append(words, strings.Fields(r.Label+" "+r.Value)...)
						}
					}
					for _, o := range q.Options {
						words = append(words, strings.Fields(o)...)
					}
					for _, s := range q.Steps {
						words = append(words, strings.Fields(s.Prompt+" "+strings.Join(s.Options, " "))...)
					}
					for _, w := range words {
						if !strings.Contains(text, w) {
							t.Errorf("question %d: %q is not printed", q.Number, w)
						}
					}
				}
				info := tool(t, t.TempDir(), pdf, "pdfinfo", "FILE")
				want := map[PageSize]string{A4: "595.28 x 841.89 pts (A4)", Letter: "612 x 792 pts (letter)"}[size]
				if !strings.Contains(info, want) {
					t.Errorf("page size is not %s:\n%s", want, info)
				}
				tool(t, t.TempDir(), pdf, "qpdf", "--check", "FILE")
			})
		}
	}
}

// The form's text is set in at least 16 points in large print, which is what
// large print commonly means (common practice, no source).
func TestLargePrintIsLarge(t *testing.T) {
	m, err := measuresFor(BookletOptions{LargePrint: true})
	if err != nil {
		t.Fatal(err)
	}
	if m.stem < 16 {
		t.Errorf("questions in %.1f points", m.stem)
	}
}

func TestBookletIsTheSameBytesEachTime(t *testing.T) {
	o := RunOptions{Booklets: true, Sheets: true}
	a, _ := printed(t, run(3), o)
	b, _ := printed(t, run(3), o)
	if !bytes.Equal(a, b) {
		t.Error("two prints of the same booklets differ")
	}
}

// Nothing may depend on colour: a black-and-white printer must lose nothing.
func TestNothingIsColoured(t *testing.T) {
	pdf, _ := printed(t, one(sampleBooklet()), RunOptions{Booklets: true, Sheets: true})
	plain := tool(t, t.TempDir(), pdf, "qpdf", "--qdf", "--object-streams=disable", "FILE", "-")
	if m := regexp.MustCompile(`(?m)^.*[\d.]+ [\d.]+ [\d.]+ (rg|RG)\b.*$`).FindString(plain); m != "" {
		t.Errorf("a colour is set: %s", m)
	}
}

func TestDuplexBeginsEachOnAFront(t *testing.T) {
	pdf, count := printed(t, run(3), RunOptions{BookletOptions: BookletOptions{Duplex: true}, Booklets: true, Sheets: true})
	pages := pagesOf(t, pdf)
	if len(pages) != count.Pages {
		t.Fatalf("%d pages, %d counted", len(pages), count.Pages)
	}
	for i, page := range pages {
		switch {
		case strings.Contains(page, "Before you begin") && i%2 != 0:
			t.Errorf("a booklet begins on page %d, a back", i+1)
		case strings.Contains(page, "answer sheet 1 of 1"):
			if i%2 != 0 {
				t.Errorf("an answer sheet is on page %d, a back", i+1)
			}
			if i+1 >= len(pages) || strings.TrimSpace(pages[i+1]) != "" {
				t.Errorf("the back of the answer sheet on page %d is not empty", i+1)
			}
		}
	}
}

// A run is written as it is laid out: when the last booklet is asked for, the
// first are long written. A page cannot be held back by what comes later.
func TestRunIsStreamed(t *testing.T) {
	var w countingWriter
	var early int64
	const n = 200 // 800 pages, in parts of 256
	counted := func(yield func(Booklet, error) bool) {
		i := 0
		for b, err := range run(n) {
			if i++; i == n {
				early = w.n
			}
			if !yield(b, err) {
				return
			}
		}
	}
	count, err := WriteRun(&w, counted, RunOptions{Booklets: true, Created: testDate})
	if err != nil {
		t.Fatal(err)
	}
	if count.People != n || count.Pages != 4*n {
		t.Errorf("%d people, %d pages", count.People, count.Pages)
	}
	if early < w.n/2 {
		t.Errorf("of %d bytes only %d were written before the last booklet", w.n, early)
	}
}

type countingWriter struct{ n int64 }

func (w *countingWriter) Write(p []byte) (int, error) {
	w.n += int64(len(p))
	return len(p), nil
}

// Several parts joined must be as good a PDF as one: checked by qpdf, counted
// and read by poppler, with an outline entry for each person.
func TestPartsAreJoinedIntoOnePDF(t *testing.T) {
	const people, part = 13, 10
	var buf bytes.Buffer
	count, err := writeRun(&buf, run(people), RunOptions{Booklets: true, Created: testDate}, part)
	if err != nil {
		t.Fatal(err)
	}
	if count.Pages != 4*people {
		t.Fatalf("%d pages for %d people", count.Pages, people)
	}
	pdf := buf.Bytes()
	tool(t, t.TempDir(), pdf, "qpdf", "--check", "FILE")
	pages := pagesOf(t, pdf)
	if len(pages) != count.Pages {
		t.Fatalf("%d pages by poppler, %d counted", len(pages), count.Pages)
	}
	for _, i := range []int{0, 2, 3, people - 1} {
		if name := fmt.Sprintf("Technician %d", i); !strings.Contains(pages[4*i], name) {
			t.Errorf("page %d is not the cover of %s", 4*i+1, name)
		}
	}
	outline := tool(t, t.TempDir(), pdf, "qpdf", "--json", "--json-key=outlines", "FILE")
	if n := strings.Count(outline, `"title"`); n != people {
		t.Errorf("%d outline entries for %d people", n, people)
	}
	if !strings.Contains(outline, "Technician 7, form V7") {
		t.Error("no outline entry for Technician 7")
	}
}

func TestWriteRunReportsWhatIsWrong(t *testing.T) {
	broken := errors.New("the bank is gone")
	long := sampleBooklet()
	long.Questions = []Question{{Number: 1, Stem: strings.Repeat("A very long stem. ", 2000)}}
	many := sampleBooklet()
	many.Questions = []Question{{Number: 9, Stem: "s", Options: make([]string, 9)}}
	ids := sampleBooklet()
	ids.PersonID = strings.Repeat("x", 60)
	slash := sampleBooklet()
	slash.Quiz = "AUT/31"
	tests := []struct {
		name string
		seq  iter.Seq2[Booklet, error]
		o    RunOptions
		want string
	}{
		{"nothing asked for", one(sampleBooklet()), RunOptions{}, "set Booklets, Sheets or both"},
		{"no date", one(sampleBooklet()), RunOptions{Booklets: true}, "Created"},
		{"page size", one(sampleBooklet()), RunOptions{Booklets: true, BookletOptions: BookletOptions{Size: "A7"}, Created: testDate}, "A7"},
		{"no people", func(func(Booklet, error) bool) {}, RunOptions{Booklets: true, Created: testDate}, "no booklet"},
		{"source fails", func(yield func(Booklet, error) bool) { yield(Booklet{}, broken) }, RunOptions{Booklets: true, Created: testDate}, broken.Error()},
		{"question too long", one(long), RunOptions{Booklets: true, Created: testDate}, "question 1 is higher"},
		{"too many options", one(many), RunOptions{Sheets: true, Created: testDate}, "question 9: 9 options"},
		{"ids too long", one(ids), RunOptions{Sheets: true, Created: testDate}, "use shorter ids"},
		{"id with a slash", one(slash), RunOptions{Sheets: true, Created: testDate}, `'/' cannot stand in it`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := WriteRun(&bytes.Buffer{}, tt.seq, tt.o)
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want one with %q", err, tt.want)
			}
		})
	}
}

// testSetter is a setter on a throw-away document.
func testSetter(t interface{ Fatal(...any) }) *setter {
	pdf, err := newDocument(documentOptions{Created: testDate, Faces: []face{faceSans, faceSansBold, faceSansItalic, faceMono, faceMonoBold}})
	if err != nil {
		t.Fatal(err)
	}
	s := &setter{}
	s.use(pdf)
	s.newPage()
	return s
}

// Whatever the questions: none is lost, they stay in order, no piece leaves
// its page or overlaps another, and a question is on one page unless it is a
// chase higher than a page.
func TestQuestionsNeverBreakAcrossPages(t *testing.T) {
	s := testSetter(t)
	checked, skipped := 0, 0
	defer func() {
		if skipped > checked {
			t.Errorf("%d drawings had to be left out, only %d were checked", skipped, checked)
		}
	}()
	rapid.Check(t, func(t *rapid.T) {
		m, err := measuresFor(BookletOptions{Size: rapid.SampledFrom([]PageSize{A4, Letter}).Draw(t, "size"), LargePrint: rapid.Bool().Draw(t, "large")})
		if err != nil {
			t.Fatal(err)
		}
		words := rapid.StringMatching(`([a-zA-ZåéЖ0-9]{1,14}[ -]){1,40}`)
		options := rapid.SliceOfN(rapid.StringMatching(`[a-z]{1,9}( [a-z]{1,9}){0,12}`), 2, MaxOptions)
		boxes := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Box {
			return Box{Kind: rapid.SampledFrom([]BoxKind{RepairOrder, Plate}).Draw(t, "kind"),
				Rows: rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Pair { return Pair{"Label", words.Draw(t, "value")} }), 1, 4).Draw(t, "rows")}
		}), 0, 2)
		var qs []Question
		for i := range rapid.IntRange(1, 12).Draw(t, "n") {
			q := Question{Number: i + 1, Stem: words.Draw(t, "stem"), Boxes: boxes.Draw(t, "boxes"), Form: rapid.SampledFrom([]ResponseForm{ChooseOne, ChooseSeveral, TypedCode, NumberUnit, OrderSteps, Chase}).Draw(t, "form")}
			switch q.Form {
			case ChooseOne, ChooseSeveral, OrderSteps:
				q.Options = options.Draw(t, "options")
			case Chase:
				for range rapid.IntRange(1, 9).Draw(t, "steps") {
					q.Steps = append(q.Steps, ChaseStep{Prompt: words.Draw(t, "prompt"), Options: options.Draw(t, "step options")})
				}
			}
			qs = append(qs, q)
		}
		pages, err := m.paginate(s, qs)
		if err != nil {
			if strings.Contains(err.Error(), "higher than") {
				skipped++
				t.Skip("one question is too large for any page")
			}
			t.Fatal(err)
		}
		checked++
		number := regexp.MustCompile(`^\d+$`)
		var order []string
		for i, page := range pages {
			y := m.top
			for _, p := range page {
				if p.y < y-1e-6 {
					t.Fatalf("page %d: a piece at %.2f begins above the end of the last, %.2f", i, p.y, y)
				}
				y = p.y + p.piece.height
				if y > m.bottom+1e-6 {
					t.Fatalf("page %d: a piece ends at %.2f, below %.2f", i, y, m.bottom)
				}
				for _, st := range p.piece.steps {
					if st.op == opText && st.x == 0 && st.face == faceSansBold && number.MatchString(st.text) {
						if len(order) == 0 || order[len(order)-1] != st.text {
							order = append(order, st.text)
						} else if qs[len(order)-1].Form != Chase {
							t.Fatalf("question %s appears twice", st.text)
						}
					}
				}
			}
		}
		if len(order) != len(qs) {
			t.Fatalf("%d questions printed of %d: %v", len(order), len(qs), order)
		}
		for i, n := range order {
			if n != fmt.Sprint(qs[i].Number) {
				t.Fatalf("order %v", order)
			}
		}
	})
}

func TestWrapKeepsWordsAndWidth(t *testing.T) {
	s := testSetter(t)
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`([a-zA-Zåß0-9/ .-]|\n){0,200}`).Draw(t, "text")
		width := rapid.Float64Range(8, 180).Draw(t, "width")
		lines := s.wrap(faceSans, 10.5, width, text)
		for _, line := range lines {
			if w := s.width(faceSans, 10.5, strings.TrimRight(line, " ")); w > width+0.05 && len([]rune(line)) > 1 {
				t.Fatalf("%q is %.2f mm wide, %.2f allowed", line, w, width)
			}
		}
		squeeze := func(s string) string { return strings.Join(strings.Fields(s), "") }
		if got, want := squeeze(strings.Join(lines, "")), squeeze(text); got != want {
			t.Fatalf("letters changed: %q from %q", got, want)
		}
	})
}

func TestWrapBreaksWherePeopleExpect(t *testing.T) {
	s := testSetter(t)
	tests := []struct {
		name, text string
		width      float64
		want       []string
	}{
		{"spaces", "take down the book", 20, []string{"take down", "the book"}},
		{"line feeds kept", "one\n\ntwo", 50, []string{"one", "", "two"}},
		{"codes and dates whole", "RM-K4-2 of 2031-05", 23, []string{"RM-K4-2 of", "2031-05"}},
		{"after the hyphen of a word", "a high-pressure line", 18, []string{"a high-", "pressure", "line"}},
		{"a word wider than the line", "aaaaaaaaaaaaaaaaaaaa", 20, []string{"aaaaaaaaaa", "aaaaaaaaaa"}},
		{"empty", "", 20, []string{""}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := s.wrap(faceSans, 10, tt.width, tt.text); fmt.Sprintf("%q", got) != fmt.Sprintf("%q", tt.want) {
				t.Errorf("got %q, want %q", got, tt.want)
			}
		})
	}
}

func TestMinutes(t *testing.T) {
	for d, want := range map[time.Duration]string{
		time.Minute: "1 minute", 45 * time.Minute: "45 minutes", time.Hour: "1 hour", 75 * time.Minute: "75 minutes",
		90 * time.Minute: "1 h 30 min", 2 * time.Hour: "2 hours", 125 * time.Minute: "2 h 5 min", 90 * time.Second: "2 minutes",
	} {
		if got := minutes(d); got != want {
			t.Errorf("%v: %q, want %q", d, got, want)
		}
	}
}

// Text from outside may hold anything: none of it may break the PDF.
func TestOddTextIsPrinted(t *testing.T) {
	b := sampleBooklet()
	b.Title = "a\\b (c) \r\n\x00 \U0001F527 山 e\u0301 \xff"
	b.PersonName = "(((\\"
	b.Questions[0].Stem = b.Title + strings.Repeat("\\)(", 50)
	b.Questions[0].Options = []string{"", " ", "\n\n", "\\"}
	pdf, _ := printed(t, one(b), RunOptions{Booklets: true, Sheets: true})
	tool(t, t.TempDir(), pdf, "qpdf", "--check", "FILE")
	if text := pdfToText(t, pdf); !strings.Contains(text, `(((\`) {
		t.Error("the name is not printed")
	}
}

// TestLook writes what a person should look at, where LOOK names a folder.
func TestLook(t *testing.T) {
	dir := os.Getenv("LOOK")
	if dir == "" {
		t.Skip("set LOOK to a folder to get sample PDFs and their pages as PNG")
	}
	requireTool(t, "pdftoppm")
	save := func(name string, pdf []byte) {
		file := dir + "/" + name + ".pdf"
		if err := os.WriteFile(file, pdf, 0o644); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command("pdftoppm", "-r", "80", "-png", file, dir+"/"+name).CombinedOutput(); err != nil {
			t.Fatalf("%v %s", err, out)
		}
	}
	for _, size := range []PageSize{A4, Letter} {
		for _, large := range []bool{false, true} {
			o := BookletOptions{Size: size, LargePrint: large}
			name := fmt.Sprintf("%s-large-%v", size, large)
			pdf, _ := printed(t, one(sampleBooklet()), RunOptions{BookletOptions: o, Booklets: true, Sheets: true})
			save("booklet-"+name, pdf)
			var key bytes.Buffer
			if err := WriteKeySheet(&key, sampleKey(), o, testDate); err != nil {
				t.Fatal(err)
			}
			save("key-"+name, key.Bytes())
		}
	}
}
