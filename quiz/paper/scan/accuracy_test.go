package scan

import (
	"fmt"
	"image"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"

	"rightpage/quiz/paper"
)

// fullForm is a form that fills its sheet: 52 choices of 4 to 8 options, two
// questions with several answers, an ordering of five steps, a chase and four
// boxes to write in.
func fullForm() []paper.Question {
	var qs []paper.Question
	options := func(n int) []string { return slices.Repeat([]string{"option"}, n) }
	add := func(q paper.Question) {
		q.Number = len(qs) + 1
		q.Stem = "stem"
		qs = append(qs, q)
	}
	for i := range 50 {
		add(paper.Question{Form: paper.ChooseOne, Options: options(4 + i%5)})
	}
	add(paper.Question{Form: paper.ChooseSeveral, Options: options(5)})
	add(paper.Question{Form: paper.ChooseSeveral, Options: options(6)})
	add(paper.Question{Form: paper.OrderSteps, Options: options(5)})
	add(paper.Question{Form: paper.Chase, Steps: []paper.ChaseStep{
		{Prompt: "p", Form: paper.ChooseOne, Options: options(4)},
		{Prompt: "p", Form: paper.ChooseOne, Options: options(5)},
		{Prompt: "p", Form: paper.TypedCode},
		{Prompt: "p", Form: paper.NumberUnit, Unit: "Nm"},
	}})
	add(paper.Question{Form: paper.TypedCode})
	add(paper.Question{Form: paper.NumberUnit})
	return qs
}

// fullPage is the sheet of the full form.
var fullPage = sync.OnceValue(func() paper.SheetPage {
	fields, err := paper.SheetFields(fullForm())
	if err != nil {
		panic(err)
	}
	pages, err := paper.LayoutSheet(fields, false)
	if err != nil {
		panic(err)
	}
	return pages[0]
})

var blankSheets sync.Map // by person: *canvas

// blankSheet is a copy of a person's sheet of the full form, printed once.
func blankSheet(t testing.TB, person string) (*canvas, paper.SheetPage, paper.SheetCode) {
	page := fullPage()
	code := page.Code("AUT31", "B", person)
	if c, ok := blankSheets.Load(person); ok {
		return c.(*canvas).clone(), page, code
	}
	c := printSheet(t, page, code, printDPI)
	blankSheets.Store(person, c)
	return c.clone(), page, code
}

// truth is what was done to a row.
type truth struct {
	marked []int
	clear  bool // a person would have no doubt what was meant, nor that it was
	// unseen is set for a mark rubbed out: where the scanner does not see the
	// smudge, the row may be read as marked says.
	unseen bool
}

// answer fills a sheet in. Rows are answered properly but for one in spoil,
// which get a double mark, a blank, a rubbed-out mark, a tick or a mark
// crossed out. spoil = 0: none.
func answer(c *canvas, page paper.SheetPage, h hand, spoil int) []truth {
	out := make([]truth, len(page.Rows))
	pick := func(n int) int { return h.rng.IntN(n) }
	for i, row := range page.Rows {
		n := len(row.Bubbles)
		first := pick(n)
		second := (first + 1 + pick(n-1)) % n
		switch {
		case spoil > 0 && pick(spoil) == 0:
			switch pick(6) {
			case 0: // blank
			case 1: // double
				h.fill(c, row.Bubbles[first], page.Radius)
				h.fill(c, row.Bubbles[second], page.Radius)
				out[i].marked = []int{first, second}
				if row.Field.Kind == paper.MarkSeveral { // there it is an answer
					slices.Sort(out[i].marked)
					out[i].clear = true
				}
			case 2: // rubbed out badly
				h.rubOut(c, row.Bubbles[first], page.Radius, 0.12+0.1*h.rng.Float64())
				h.fill(c, row.Bubbles[second], page.Radius)
				out[i] = truth{marked: []int{second}, unseen: true}
			case 3: // crossed out, and another filled
				h.fill(c, row.Bubbles[first], page.Radius)
				h.crossOut(c, row.Bubbles[first], page.Radius)
				h.fill(c, row.Bubbles[second], page.Radius)
				out[i].marked = []int{second}
			case 4: // ticked
				h.tick(c, row.Bubbles[first], page.Radius)
			case 5: // crossed out an empty circle, filled another
				h.crossOut(c, row.Bubbles[first], page.Radius)
				h.fill(c, row.Bubbles[second], page.Radius)
				out[i].marked = []int{second}
			}
		default:
			marked := []int{first}
			if row.Field.Kind == paper.MarkSeveral {
				marked = append(marked, second)
				slices.Sort(marked)
			}
			for _, m := range marked {
				h.fill(c, row.Bubbles[m], page.Radius)
			}
			out[i] = truth{marked: marked, clear: true}
		}
	}
	return out
}

// tally counts what reading made of the circles.
type tally struct {
	sheets, refused  int
	bubbles          int // on sheets that were read
	right            int // on rows reported clear, and right
	flagged          int // on rows flagged that needed it
	needless         int // on rows flagged that were plainly filled in
	wrong            int // on rows reported clear, and wrong
	spoilt, spoiltOK int // rows spoilt; of them flagged, or read as meant
	examples         []string
}

func (a *tally) add(b tally) {
	a.sheets += b.sheets
	a.refused += b.refused
	a.bubbles += b.bubbles
	a.right += b.right
	a.flagged += b.flagged
	a.needless += b.needless
	a.wrong += b.wrong
	a.spoilt += b.spoilt
	a.spoiltOK += b.spoiltOK
	a.examples = append(a.examples, b.examples...)
}

// compare holds the rows as read against the truth. A spoilt row that was not
// flagged is wrong for each circle that was not plainly as read.
func compare(rows []Row, want []truth) tally {
	t := tally{sheets: 1}
	for i, row := range rows {
		n := len(row.Bubbles)
		t.bubbles += n
		if !want[i].clear {
			t.spoilt++
		}
		switch {
		case row.Flag != Clear && want[i].clear:
			t.needless += n
			t.examples = append(t.examples, fmt.Sprintf("row %s needlessly flagged: %s, %s", row.Field.Label(), row.Flag, inks(row)))
		case row.Flag != Clear:
			t.flagged += n
			t.spoiltOK++
		case slices.Equal(row.Marked, want[i].marked) && (want[i].clear || want[i].unseen):
			t.right += n
			if want[i].unseen {
				t.spoiltOK++
			}
		default:
			t.wrong += max(1, n-same(row, want[i]))
			t.right += min(n-1, same(row, want[i]))
			t.examples = append(t.examples, fmt.Sprintf("row %s read as %v, marked %v, clear %v: %s", row.Field.Label(), row.Marked, want[i].marked, want[i].clear, inks(row)))
		}
	}
	return t
}

func same(row Row, want truth) int {
	n := 0
	for i, b := range row.Bubbles {
		if (b.State == Filled) == slices.Contains(want.marked, i) {
			n++
		}
	}
	return n
}

func inks(row Row) string {
	s := ""
	for i, b := range row.Bubbles {
		s += fmt.Sprintf(" %s %.2f/%.2f", paper.OptionLetter(i), b.Ink, b.Cover)
	}
	return s
}

func (a tally) String() string {
	return fmt.Sprintf("%d sheets, %d refused; %d circles: %d right, %d flagged, %d needlessly flagged, %d wrong; %d of %d spoilt rows caught",
		a.sheets, a.refused, a.bubbles, a.right, a.flagged, a.needless, a.wrong, a.spoiltOK, a.spoilt)
}

// pen is a hand with a ball-point pen, pencilLight one with a light pencil.
func pen(rng *rand.Rand) hand         { return hand{rng: rng, darkness: 0.85, width: 0.6, slip: 0.3} }
func pencilLight(rng *rand.Rand) hand { return hand{rng: rng, darkness: 0.45, width: 0.8, slip: 0.3} }

// hasty leaves gaps, overshoots and misses the middle.
func hasty(rng *rand.Rand) hand { return hand{rng: rng, darkness: 0.6, width: 0.5, slip: 0.6} }

// trial answers a sheet, distorts it and reads it back.
func trial(t testing.TB, d distortion, write func(*rand.Rand) hand, spoil int, seed uint64) (tally, image.Image) {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 31))
	c, page, _ := blankSheet(t, fmt.Sprintf("T-%03d", seed%3))
	want := answer(c, page, write(rng), spoil)
	if d.turn != 0 { // either way
		d.turn *= 2*rng.Float64() - 1
	}
	img := d.apply(t, c, rng)
	sheet, refusal := readPicture(img, lookupFull)
	if refusal != nil {
		return tally{sheets: 1, refused: 1, examples: []string{refusal.Error()}}, img
	}
	return compare(sheet.Rows, want), img
}

// lookupFull knows the full form's sheet for everybody.
func lookupFull(code paper.SheetCode) (paper.SheetPage, error) {
	if code.Quiz != "AUT31" {
		return paper.SheetPage{}, fmt.Errorf("no quiz %s", code.Quiz)
	}
	return fullPage(), nil
}

// level is how far a distortion goes.
type level int

const (
	moderate level = iota // what an office scanner or a careful photo does
	severe                // what should rather be scanned again
)

// hands are who fills sheets in.
var hands = []struct {
	name  string
	write func(*rand.Rand) hand
}{
	{"pen", pen}, {"light pencil", pencilLight}, {"hasty pencil", hasty},
}

// distortions are what the table of results is made of. Turns and lights are
// random within the numbers given.
var distortions = []struct {
	level level
	distortion
}{
	{moderate, distortion{name: "scan, 300 dpi", dpi: 300, turn: 1}},
	{moderate, distortion{name: "scan, 200 dpi", dpi: 200, turn: 1}},
	{moderate, distortion{name: "scan, 150 dpi", dpi: 150, turn: 1}},
	{moderate, distortion{name: "scan, 100 dpi", dpi: 100, turn: 1}},
	{moderate, distortion{name: "scan, 90 dpi", dpi: 90, turn: 1}},
	{moderate, distortion{name: "black and white only, 200 dpi", dpi: 200, turn: 1, levels: true}},
	{moderate, distortion{name: "turned up to ±15°", dpi: 150, turn: 15, margin: 10}},
	{moderate, distortion{name: "turned up to ±15°, 90 dpi", dpi: 90, turn: 15, margin: 10}},
	{moderate, distortion{name: "perspective 15 %, dark table", dpi: 150, perspective: 0.15, margin: 25, background: 45}},
	{moderate, distortion{name: "bent 1.5 mm", dpi: 150, curl: 1.5}},
	{moderate, distortion{name: "blur 0.25 mm", dpi: 150, blur: 0.25}},
	{moderate, distortion{name: "noise 15 of 255", dpi: 150, noise: 15}},
	{moderate, distortion{name: "shadow to half the light", dpi: 150, shadow: 0.5}},
	{moderate, distortion{name: "edge of a shadow, 35 % darker", dpi: 150, hardShadow: 0.35}},
	{moderate, distortion{name: "faded to 60 % of contrast", dpi: 150, contrast: 0.6}},
	{moderate, distortion{name: "JPEG quality 40", dpi: 150, quality: 40}},
	{moderate, distortion{name: "JPEG quality 40, 90 dpi", dpi: 90, quality: 40}},
	{moderate, distortion{name: "phone photo: all of these a little", dpi: 150, turn: 8, perspective: 0.1, curl: 1, blur: 0.15, noise: 6, shadow: 0.35, background: 90, margin: 20, quality: 60}},
	{moderate, distortion{name: "all at once, 90 dpi", dpi: 90, turn: 15, perspective: 0.1, curl: 1, blur: 0.15, noise: 8, shadow: 0.4, background: 60, margin: 15, quality: 40}},
	{severe, distortion{name: "72 dpi", dpi: 72, turn: 3}},
	{severe, distortion{name: "perspective 35 %", dpi: 150, perspective: 0.35, margin: 25}},
	{severe, distortion{name: "bent 3 mm", dpi: 150, curl: 3}},
	{severe, distortion{name: "blur 0.5 mm", dpi: 150, blur: 0.5}},
	{severe, distortion{name: "noise 40 of 255", dpi: 150, noise: 40}},
	{severe, distortion{name: "shadow to a fifth of the light", dpi: 150, shadow: 0.8}},
	{severe, distortion{name: "edge of a shadow, 60 % darker", dpi: 150, hardShadow: 0.6}},
	{severe, distortion{name: "faded to 35 % of contrast", dpi: 150, contrast: 0.35}},
	{severe, distortion{name: "JPEG quality 10", dpi: 100, quality: 10}},
	{severe, distortion{name: "all at once, worse", dpi: 90, turn: 15, perspective: 0.25, curl: 2, blur: 0.3, noise: 20, shadow: 0.6, background: 60, margin: 15, quality: 30}},
}

// TestReadsWhatWasMarked reads one sheet for each moderate distortion. The
// whole table, with more sheets and hands, is TestDistortionTable's (build
// tag long).
func TestReadsWhatWasMarked(t *testing.T) {
	var mu sync.Mutex
	var all tally
	t.Run("distortions", func(t *testing.T) {
		for i, d := range distortions {
			if d.level != moderate {
				continue
			}
			write := hands[i%2]
			t.Run(d.name+", "+write.name, func(t *testing.T) {
				t.Parallel()
				got, _ := trial(t, d.distortion, write.write, 8, uint64(i))
				mu.Lock()
				all.add(got)
				mu.Unlock()
				if got.refused > 0 || got.wrong > 0 {
					t.Errorf("%v\n%s", got, strings.Join(got.examples, "\n"))
				}
			})
		}
	})
	if all.spoiltOK != all.spoilt {
		t.Errorf("of %d spoilt rows %d were flagged or read as meant", all.spoilt, all.spoiltOK)
	}
	if all.needless*10 > all.bubbles {
		t.Errorf("too much is left to people: %v", all)
	}
}
