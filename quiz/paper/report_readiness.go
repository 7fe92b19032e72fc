package paper

import (
	"errors"
	"fmt"
	"io"
	"time"
)

// ReadinessState is a verdict on a person for a course.
type ReadinessState string

// The verdicts. Each is told apart in print by its mark, not by colour.
const (
	Ready    ReadinessState = "ready"
	Close    ReadinessState = "close"
	NotReady ReadinessState = "not yet"
	NoData   ReadinessState = "no data"
)

// PersonReadiness is one person's readiness for a course.
type PersonReadiness struct {
	Person      string
	Site        string
	State       ReadinessState
	Probability float64 // of passing the requirement on the day, 0 to 1
	Low, High   float64 // its interval
	Why         string  // "Limits under a condition is at 61 %"
	Needs       string  // "about 3 hours of practice on that skill"
}

// CourseReadiness is who is ready for one course.
type CourseReadiness struct {
	Course      string
	Place       string
	Starts      time.Time
	Requirement string  // what has to be passed, in words
	Threshold   float64 // probability from which a person counts as ready
	People      []PersonReadiness
}

// ReadinessReport is the manager's page.
type ReadinessReport struct {
	Size         PageSize
	Organisation string
	Day          time.Time // as of when
	Confidence   float64   // of the intervals, 0.9 for 90 %; 0 leaves it unsaid
	Courses      []CourseReadiness
}

// WriteReadinessReport writes p as a PDF. The same p gives the same bytes.
func WriteReadinessReport(w io.Writer, p ReadinessReport) error {
	if p.Organisation == "" || p.Day.IsZero() {
		return errors.New("paper: a readiness report needs its organisation and day")
	}
	day := longDate(p.Day)
	return writeReport(w, reportOptions(p.Size, "Readiness, "+day, p.Organisation, p.Day),
		p.Organisation+": readiness on "+day,
		"Readiness is the probability of passing the requirement on the first day of the course, if practice goes on as before.",
		func(r *report) {
			r.title("Who is ready", p.Organisation, "for which course, on "+day)
			for _, c := range p.Courses {
				c.draw(r, p.Confidence)
			}
			if len(p.Courses) == 0 {
				r.note("No course is planned.", 10.5)
			}
		})
}

func (c CourseReadiness) draw(r *report, confidence float64) {
	r.section(c.Course, 30)
	ready := 0
	for _, p := range c.People {
		if p.State == Ready {
			ready++
		}
	}
	where := "Starts " + longDate(c.Starts)
	if c.Place != "" {
		where += ", " + c.Place
	}
	r.ink(inkText)
	r.textRight(faceSansBold, 10.5, r.right, r.y, fmt.Sprintf("%d of %d ready", ready, len(c.People)))
	r.ink(inkQuiet)
	r.fit(faceSans, 9, 7, r.left, r.y, r.right-r.left-32, where)
	r.y += 4.4
	r.note("Requirement: "+c.Requirement, 9)
	r.y += 2.4

	cols := r.columns([]string{"", "person", "probability of passing", "", "why, and what it takes"},
		[]float64{17, 36, 36, 11, 62}, map[int]bool{3: true})
	r.tableHead(cols)
	s := scale{cols[2].x + 1.5, cols[2].w - 3}
	for _, p := range c.People {
		why := p.Why
		if p.Needs != "" {
			if why != "" {
				why += ". "
			}
			why += "Needs " + p.Needs + "."
		}
		nameFace := faceSans
		if p.State == Ready {
			nameFace = faceSansBold
		}
		name, nameLines := p.Person, len(r.wrap(nameFace, 9, cols[1].w, p.Person))
		if p.Site != "" {
			name += "\n" // room for the site, which is drawn in its own ink
		}
		value := ""
		if p.State != NoData {
			value = percent(p.Probability)
		}
		y := r.row(cols, 9, []face{faceSans, nameFace, faceSans, faceSans, faceSans},
			[]string{"", name, "", value, why})
		r.stateMark(p.State, cols[0].x, y)
		r.ink(inkQuiet)
		r.fit(faceSans, 8, 6, cols[1].x, y+float64(nameLines)*9*0.45, cols[1].w, p.Site)
		if p.State != NoData {
			r.axis(s, y-3.3, 4.4, c.Threshold)
			r.estimate(s, y-1.1, p.Low, p.Probability, p.High, p.State == Ready)
		}
	}
	r.onPage = nil
	if c.Threshold > 0 {
		r.y += 1
		r.note(fmt.Sprintf("Dashed line: ready from %s. Circle: the estimate%s.", percent(c.Threshold), rangeLegend(confidence)), 7.5)
	}
}

// stateMark draws a verdict: a solid, half or open square, or a dash, and the
// word.
func (r *report) stateMark(state ReadinessState, x, y float64) {
	const side = 2.6
	top := y - side + 0.1
	r.pdf.SetDrawColor(inkText.r, inkText.g, inkText.b)
	r.pdf.SetLineWidth(0.3)
	if state != NoData {
		r.pdf.Rect(x+0.15, top, side, side, "D")
	}
	switch state {
	case NoData:
		r.line(x+0.15, top+side/2, x+0.15+side, top+side/2, 0.3, inkText)
	case Ready:
		r.fill(x+0.15, top, side, side, inkText)
	case Close:
		r.fill(x+0.15, top+side/2, side, side/2, inkText)
	}
	r.ink(inkText)
	f := faceSans
	if state == Ready {
		f = faceSansBold
	}
	r.text(f, 8.5, x+side+1.6, y, string(state))
}
