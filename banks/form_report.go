package banks

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Report says how a form came about.
type Report struct {
	Bank           int             `json:"bank"`                       // questions offered
	TooManyOptions int             `json:"too_many_options,omitempty"` // left out: more options than the blueprint has
	Overexposed    int             `json:"overexposed,omitempty"`      // left out: given too often
	Eligible       int             `json:"eligible"`                   // the rest
	Distinct       int             `json:"distinct"`                   // of which near-duplicates of one another count once
	Lines          []LineReport    `json:"lines"`
	Variants       []VariantReport `json:"variants,omitempty"`
	Imbalance      float64         `json:"imbalance"` // logits: the greatest distance of a variant's mean difficulty from the mean of all
	Shared         int             `json:"shared"`    // questions that stand in more than one variant
}

// LineReport is what became of a line of the blueprint.
type LineReport struct {
	Quota     Quota `json:"quota"`
	Least     int   `json:"least"` // questions that the line asks for
	Most      int   `json:"most"`
	Available int   `json:"available"` // most that one form could hold
	Taken     []int `json:"taken"`     // in each variant
}

// VariantReport describes a variant.
type VariantReport struct {
	Name   string  `json:"name"`
	Size   int     `json:"size"`
	Mean   float64 `json:"mean_logit"` // predicted difficulty
	SD     float64 `json:"sd_logit"`
	Easy   int     `json:"easy"`
	Medium int     `json:"medium"`
	Hard   int     `json:"hard"`
}

func (r *Report) lines(p *pool, b *Blueprint, forms [][]int) {
	for i := range b.Quotas {
		l := LineReport{Quota: b.Quotas[i], Least: p.lines[i].lo, Most: p.lines[i].hi, Available: p.lines[i].available}
		for _, in := range forms {
			n := 0
			for _, q := range in {
				if b.Quotas[i].Covers(p.bank[q]) {
					n++
				}
			}
			l.Taken = append(l.Taken, n)
		}
		r.Lines = append(r.Lines, l)
	}
}

func (r *Report) variants(f *TestForm) {
	stands := map[string]int{}
	var all float64
	for i := range f.Variants {
		v := VariantReport{Name: f.Variants[i].Name, Size: len(f.Variants[i].Questions)}
		var sum, squares float64
		for _, q := range f.Variants[i].Questions {
			sum += q.Logit
			squares += q.Logit * q.Logit
			switch BandOf(q.Logit) {
			case Easy:
				v.Easy++
			case Medium:
				v.Medium++
			case Hard:
				v.Hard++
			}
			if stands[q.ID]++; stands[q.ID] == 2 {
				r.Shared++
			}
		}
		n := float64(max(1, v.Size))
		v.Mean = sum / n
		v.SD = math.Sqrt(max(0, squares/n-v.Mean*v.Mean))
		all += v.Mean / float64(len(f.Variants))
		r.Variants = append(r.Variants, v)
	}
	for _, v := range r.Variants {
		// To the billionth: what is below is rounding of the sums.
		r.Imbalance = max(r.Imbalance, math.Round(math.Abs(v.Mean-all)*1e9)/1e9)
	}
}

// Shortfall is a line of a blueprint that cannot be met.
type Shortfall struct {
	Quota     Quota `json:"quota"` // By is empty for the number of questions itself
	Least     int   `json:"least"`
	Most      int   `json:"most"`
	Available int   `json:"available"` // most that one form could hold, were this line the only one
	Forced    int   `json:"forced"`    // fewest that a full form must hold, were this line the only one
	Taken     int   `json:"taken"`     // in the nearest form
	Alone     bool  `json:"alone"`     // the bank cannot meet the line even by itself
}

// TooFew and TooMany are by how many questions the line is missed.
func (s *Shortfall) TooFew() int { return max(0, s.Least-s.Taken) }

// TooMany is by how many questions the nearest form exceeds the line.
func (s *Shortfall) TooMany() int { return max(0, s.Taken-s.Most) }

// ImpossibleError says that no form meets a blueprint.
type ImpossibleError struct {
	Questions int         // that the blueprint asks for
	Nearest   int         // that the nearest form has without breaking more lines
	Lines     []Shortfall // every line that the nearest form breaks
	Together  []Quota     // lines of which each can be met, but not all together; none may be known
	Proven    bool        // no form comes nearer than the nearest one; otherwise none was found that does
}

func (e *ImpossibleError) Error() string {
	var b strings.Builder
	b.WriteString("the blueprint cannot be met from this bank")
	switch {
	case e.Proven:
	case slices.ContainsFunc(e.Lines, func(s Shortfall) bool { return s.Alone }):
		b.WriteString(" (another form may come nearer than the one found)")
	default:
		b.WriteString(" (no form was found that does; that there is none is not proven)")
	}
	for i := range e.Lines {
		b.WriteString("\n  " + e.Lines[i].String())
	}
	if len(e.Together) > 1 {
		b.WriteString("\n  each of these can be met, but not together: ")
		b.WriteString(joinTexts(e.Together, func(q Quota) string { return at(&q) + q.Name() + " " + q.Wants() }, "; "))
	}
	fmt.Fprintf(&b, "\nThe nearest form has %d of %d questions. Make a larger bank, or one with the blueprint (bank make --blueprint), or change these lines.", e.Nearest, e.Questions)
	return b.String()
}

// String says what is missing, such as
//
//	line 9: kind edition: 8 wanted, the bank has 5 that can stand in one form: 3 too few
func (s *Shortfall) String() string {
	if s.Quota.By == "" {
		return fmt.Sprintf("questions: %d wanted, the bank has %d that are no near-duplicates of one another: %d too few", s.Least, s.Available, s.Least-s.Available)
	}
	wanted := strconv.Itoa(s.Least)
	switch s.Quota.Bound {
	case AtLeast:
		wanted = "at least " + wanted
	case AtMost:
		wanted = "at most " + strconv.Itoa(s.Most)
	}
	text := at(&s.Quota) + s.Quota.Name() + ": " + wanted + " wanted"
	if s.Quota.Share > 0 {
		text += " (" + s.Quota.Wants() + ")"
	}
	switch {
	case s.Alone && s.Available < s.Least:
		text += fmt.Sprintf(", the bank has %d that can stand in one form: %d too few", s.Available, s.Least-s.Available)
	case s.Alone:
		text += fmt.Sprintf(", a full form must hold %d, since the bank has too few others: %d too many", s.Forced, s.Forced-s.Most)
	case s.TooFew() > 0:
		text += fmt.Sprintf(", the nearest form has %d: %d too few", s.Taken, s.TooFew())
	default:
		text += fmt.Sprintf(", the nearest form has %d: %d too many", s.Taken, s.TooMany())
	}
	return text
}

func at(q *Quota) string {
	if q.Line == 0 {
		return ""
	}
	return "line " + strconv.Itoa(q.Line) + ": "
}

// impossible says which lines a solution breaks, and those that the bank cannot
// meet even alone.
func (p *pool) impossible(b *Blueprint, sol *solution) *ImpossibleError {
	e := &ImpossibleError{Questions: p.n, Nearest: len(sol.in), Proven: sol.proven}
	if p.classes < p.n {
		e.Lines = append(e.Lines, Shortfall{Least: p.n, Most: p.n, Available: p.classes, Taken: len(sol.in), Alone: true})
	}
	for i := range b.Quotas {
		l := &p.lines[i]
		s := Shortfall{Quota: b.Quotas[i], Least: l.lo, Most: l.hi, Available: l.available, Forced: max(0, p.n-l.outside), Taken: sol.count[i]}
		s.Alone = l.available < l.lo || p.classes >= p.n && s.Forced > l.hi
		if s.Alone || l.miss(sol.count[i]) > 0 {
			e.Lines = append(e.Lines, s)
		}
	}
	for _, i := range p.conflict(sol) {
		e.Together = append(e.Together, b.Quotas[i])
	}
	return e
}
