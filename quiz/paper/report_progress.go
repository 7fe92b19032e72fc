package paper

import (
	"errors"
	"fmt"
	"io"
	"time"
)

// SkillProgress is one skill of a person at the end of a period. Shares are
// probabilities of a right answer, 0 to 1.
type SkillProgress struct {
	Name    string
	Before  float64 // at the start of the period; negative if not known then
	Now     float64
	Low     float64 // interval of Now
	High    float64
	Answers int    // answers in the period
	Slip    string // the slip made most often, if any: "Limit read on the wrong side"
}

// WeekOfPractice counts the answers of one week.
type WeekOfPractice struct {
	Starts time.Time // its Monday
	Right  int
	Wrong  int
}

// AttemptLine is one quiz taken.
type AttemptLine struct {
	When    time.Time
	Quiz    string
	Score   string // "34 of 40"
	Outcome string // "passed"
}

// ProgressReport is what a person's progress report prints.
type ProgressReport struct {
	Size         PageSize
	Organisation string
	Person       string
	Site         string
	From, To     time.Time // the period, both days included
	Catalog      string    // title and revision
	Summary      string    // a sentence or two, by the caller's rules
	Confidence   float64   // of the intervals, 0.9 for 90 %; 0 leaves it unsaid
	MasteredAt   float64   // the share from which a skill counts as mastered; 0 for no mark
	Skills       []SkillProgress
	Weeks        []WeekOfPractice
	Attempts     []AttemptLine
	Next         []string // what to practise next, the most useful first
}

// WriteProgressReport writes p as a PDF. The same p gives the same bytes.
func WriteProgressReport(w io.Writer, p ProgressReport) error {
	if p.Person == "" || p.Organisation == "" || p.From.IsZero() || p.To.IsZero() {
		return errors.New("paper: a progress report needs its person, organisation and period")
	}
	period := longDate(p.From) + " to " + longDate(p.To)
	about := period
	if p.Site != "" {
		about = p.Site + ", " + about
	}
	return writeReport(w, reportOptions(p.Size, "Progress of "+p.Person, p.Organisation, p.To),
		p.Person+": progress, "+period,
		p.Organisation+"  ·  "+p.Catalog,
		func(r *report) {
			r.title("Progress report", p.Person, about)
			if p.Summary != "" {
				r.note(p.Summary, 10.5)
			}
			p.drawSkills(r)
			p.drawNext(r)
			p.drawWeeks(r)
			p.drawAttempts(r)
		})
}

func (p ProgressReport) drawSkills(r *report) {
	if len(p.Skills) == 0 {
		return
	}
	r.section("Skills", 16)
	cols := r.columns([]string{"skill", "answers", "chance of the right page", "", "commonest slip"},
		[]float64{40, 10, 46, 12, 40}, map[int]bool{1: true, 3: true})
	r.tableHead(cols)
	s := scale{cols[2].x + 1.5, cols[2].w - 3}
	faces := []face{faceSansBold, faceSans, faceSans, faceSans, faceSans}
	for _, k := range p.Skills {
		cells := []string{k.Name, fmt.Sprint(k.Answers), "", percent(k.Now), k.Slip}
		y := r.row(cols, 9, faces, cells) - 1.1
		r.axis(s, y-2.2, 4.4, p.MasteredAt)
		if k.Before >= 0 {
			r.line(s.at(k.Before), y, s.at(k.Now), y, 0.15, inkText)
		}
		r.estimate(s, y, k.Low, k.Now, k.High, true)
		if k.Before >= 0 {
			r.pdf.SetFillColor(255, 255, 255)
			r.pdf.Circle(s.at(k.Before), y, 0.8, "FD")
		}
	}
	r.y += 1
	legend := "Filled circle: at the end of the period" + rangeLegend(p.Confidence) + ". Open circle: at its start."
	if p.MasteredAt > 0 {
		legend += " Dashed line: mastered, " + percent(p.MasteredAt) + "."
	}
	r.onPage = nil
	r.note(legend, 7.5)
}

// rangeLegend explains the bar of an estimate.
func rangeLegend(confidence float64) string {
	if confidence <= 0 {
		return ", with its range"
	}
	return ", with the range in which it lies with " + percent(confidence) + " confidence"
}

func (p ProgressReport) drawNext(r *report) {
	if len(p.Next) == 0 {
		return
	}
	r.section("Practise next", 8)
	for i, n := range p.Next {
		lines := clip(r.wrap(faceSans, 10, r.right-r.left-8, n), mostCellLines)
		r.room(5 * float64(len(lines)))
		r.ink(inkText)
		r.text(faceSansBold, 10, r.left, r.y, fmt.Sprint(i+1))
		for _, line := range lines {
			r.text(faceSans, 10, r.left+8, r.y, line)
			r.y += 4.8
		}
		r.y += 0.8
	}
}

// drawWeeks draws a bar a week: right answers solid, wrong ones outlined on
// top.
func (p ProgressReport) drawWeeks(r *report) {
	if len(p.Weeks) == 0 {
		return
	}
	const h = 26.0
	r.section("Answers a week", h+8)
	most := 1
	for _, w := range p.Weeks {
		most = max(most, w.Right+w.Wrong)
	}
	const labels = 10.0 // width kept for the figures at the left
	pitch := min(14, (r.right-r.left-labels)/float64(len(p.Weeks)))
	base := r.y + h
	for _, part := range []float64{0.5, 1} {
		y := base - h*part
		r.line(r.left+labels, y, r.left+labels+pitch*float64(len(p.Weeks)), y, 0.1, inkPale)
		r.ink(inkQuiet)
		r.textRight(faceSans, 7, r.left+labels-1.5, y+1, fmt.Sprintf("%.3g", float64(most)*part))
	}
	every := max(1, int(12/pitch+0.99)) // so that dates do not collide
	for i, w := range p.Weeks {
		x, bar := r.left+labels+pitch*(float64(i)+0.15), pitch*0.7
		right := h * float64(w.Right) / float64(most)
		wrong := h * float64(w.Wrong) / float64(most)
		if right > 0 {
			r.fill(x, base-right, bar, right, inkText)
		}
		if wrong > 0 {
			r.pdf.SetLineWidth(0.25)
			r.pdf.SetDrawColor(inkText.r, inkText.g, inkText.b)
			r.pdf.Rect(x+0.12, base-right-wrong, bar-0.25, wrong, "D")
		}
		if i%every == 0 {
			r.ink(inkQuiet)
			r.text(faceSans, 7, x, base+3.4, w.Starts.Format("2 Jan"))
		}
	}
	r.line(r.left+labels, base, r.left+labels+pitch*float64(len(p.Weeks)), base, 0.3, inkText)
	r.y = base + 8
	r.note("Solid: right. Outlined: wrong.", 7.5)
}

func (p ProgressReport) drawAttempts(r *report) {
	if len(p.Attempts) == 0 {
		return
	}
	r.section("Quizzes", 12)
	cols := r.columns([]string{"date", "quiz", "score", "outcome"}, []float64{22, 70, 16, 24}, map[int]bool{2: true})
	r.tableHead(cols)
	for _, a := range p.Attempts {
		r.row(cols, 9, []face{faceSans, faceSans, faceSans, faceSans},
			[]string{a.When.Format("2 Jan 2006"), a.Quiz, a.Score, a.Outcome})
	}
}
