package coordinator

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"rightpage/banks"
	"rightpage/quiz/library"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

// editor is the page on which a blueprint is put together. Everything stands in
// it as it was typed, so that what is wrong can be mended where it stands.
type editor struct {
	Catalogs  []store.CatalogInfo // in force
	Catalog   string              // ID of the one that questions are made of
	Title     string
	Questions string
	Variants  string
	Time      string // minutes
	Cut       string // per cent
	Options   string
	Seed      string
	Book      string
	Order     string
	Partial   bool
	Sections  []section
	YAML      string
	Faults    map[string]string
	Wrong     []banks.BlueprintFault // what is wrong with the blueprint as a whole, or with its YAML
	Counts    *counts
	// Evenly is for how many questions the shares were spread evenly over the
	// kinds; as long as nobody touches them they follow the number of questions.
	Evenly string
	lines  []typedLine
}

// typedLine is a line of the shares as it was typed.
type typedLine struct{ by, of, bound, want string }

// section is the lines of the shares of one attribute.
type section struct {
	By     string
	Open   bool // some line asks for something
	Free   bool // the names are typed
	Rows   []sectionRow
	Values []namedValue // to choose the names of typed lines from
}

// sectionRow is a line that can be filled in.
type sectionRow struct {
	N         int // of the line on the page
	By, Of    string
	Title     string // of a group
	Bound     string
	Want      string
	Bank      int // questions of the bank that it covers
	Counted   bool
	Available int // of these, most that one form can hold
	Taken     int // in the form that was tried
	Least     int
	Most      int
}

type namedValue struct{ Value, Title string }

// counts is what the bank has for the blueprint.
type counts struct {
	Bank, Eligible, Distinct, TooManyOptions int
	Possible                                 bool
	Questions, Nearest                       int
	Short                                    []banks.Shortfall
	Together                                 []banks.Quota
	Proven                                   bool
	Under                                    *under
	Easy, Medium, Hard                       int
	Shared                                   int
}

// under is an attribute whose lines name every value of the bank and ask for
// fewer questions than the blueprint has: a pitfall of changing their number.
type under struct {
	By             string
	Sum, Questions int
}

// underOf finds the first attribute of which a question has one value that is
// claimed whole by lines that do not add up.
func underOf(b *banks.Blueprint, r *banks.Report, list []*banks.Question) *under {
	values := valuesOf(list)
	for _, by := range []banks.Attribute{banks.KindAttribute, banks.SkillAttribute, banks.DifficultyAttribute} {
		sum, named := 0, 0
		for _, l := range r.Lines {
			if l.Quota.By == by && l.Quota.Bound != banks.AtLeast && slices.Contains(values[by], l.Quota.Of) {
				sum += l.Most
				named++
			}
		}
		if named == len(values[by]) && sum < b.Questions {
			return &under{string(by), sum, b.Questions}
		}
	}
	return nil
}

// spareRows is how many empty lines stand below those with typed names.
const spareRows = 3

// fromBlueprint fills the fields.
func (e *editor) fromBlueprint(b *banks.Blueprint) {
	e.Title, e.Questions, e.Variants = b.Title, strconv.Itoa(b.Questions), strconv.Itoa(b.Variants)
	e.Time, e.Options, e.Seed = "", strconv.Itoa(b.Options), strconv.FormatUint(b.Seed, 10)
	if b.TimeLimit > 0 {
		e.Time = strconv.Itoa(b.TimeLimit)
	}
	e.Cut = strings.TrimSuffix(percentText(math.Round(b.Cut*1e6)/1e6), "%")
	e.Book, e.Order, e.Partial = string(b.Book), string(b.Order), b.PartialCredit
	e.lines = nil
	for i := range b.Quotas {
		q := b.Quotas[i]
		line := typedLine{by: string(q.By), of: q.Of, bound: string(q.Bound)}
		q.Bound = banks.Exactly
		line.want = q.Wants()
		e.lines = append(e.lines, line)
	}
}

// wantPattern is a number of questions, or a share of them in per cent.
var wantPattern = regexp.MustCompile(`^(\d{1,9}(?:[.,]\d{1,6})?)[ \x{a0}]*(%)?$`)

// readEditor reads the fields, with the shares or without, and makes the blueprint
// of them, as far as nothing is wrong.
func readEditor(c *web.Context, shares bool) (*editor, *banks.Blueprint) {
	f := c.Form()
	e := &editor{Catalog: f.Raw("catalog"), Title: f.Raw("title"), Questions: f.Raw("questions"), Variants: f.Raw("variants"), Time: f.Raw("time"), Cut: f.Raw("cut"),
		Options: f.Raw("options"), Seed: f.Raw("seed"), Book: f.Raw("book"), Order: f.Raw("order"), Partial: f.On("partial"), YAML: f.Raw("yaml"), Evenly: f.Raw("evenly"), Faults: f.Faults}
	b := banks.NewBlueprint(f.Text("title", true, 120), f.Int("questions", 1, 200, 20))
	b.Variants = f.Int("variants", 1, 26, 1)
	b.TimeLimit = f.Int("time", 0, 24*60, 0)
	b.Cut = f.Float("cut", 0, 100, 80) / 100
	b.Options = f.Int("options", 0, 8, 4)
	b.Book = banks.Book(f.One("book", string(banks.OpenBook), string(banks.ClosedBook)))
	b.Order = banks.Sequence(f.One("order", string(banks.Mixed), string(banks.ByKind), string(banks.EasyFirst)))
	b.PartialCredit = e.Partial
	if s := strings.TrimSpace(e.Seed); s != "" {
		n, err := strconv.ParseUint(s, 10, 64)
		if err != nil {
			f.Fault("seed", "coordinator.editor.seed.fault")
		}
		b.Seed = n
	}
	for i, line := range typedLines(f) {
		if !shares || line.want == "" {
			continue
		}
		e.lines = append(e.lines, line)
		if q, ok := readLine(f, i, line); ok {
			if slices.ContainsFunc(b.Quotas, func(x banks.Quota) bool { return x.By == q.By && x.Of == q.Of }) {
				f.Fault("want-"+strconv.Itoa(i), "coordinator.editor.twice", "Name", q.Name())
			}
			b.Quotas = append(b.Quotas, q)
		}
	}
	over(f, &b)
	if !f.OK() {
		return e, nil
	}
	var wrong *banks.BlueprintError
	if errors.As(b.Check(), &wrong) {
		e.Wrong = wrong.Faults
		return e, nil
	}
	return e, &b
}

// typedLines lists the lines of the shares as they were sent.
func typedLines(f *web.Form) []typedLine {
	by, of, bound, want := f.Many("by"), f.Many("of"), f.Many("bound"), f.Many("want")
	lines := make([]typedLine, min(len(by), len(of), len(bound), len(want), maxLines))
	for i := range lines {
		lines[i] = typedLine{by[i], strings.TrimSpace(of[i]), bound[i], strings.TrimSpace(want[i])}
	}
	return lines
}

// follow tells whether the shares are to follow the number of questions: it has
// changed, and nobody has touched the shares since they were spread evenly.
func follow(f *web.Form, bank []*banks.Question) bool {
	n, err := strconv.Atoi(f.Raw("evenly"))
	if err != nil || n < 1 || n > 200 || f.Raw("questions") == f.Raw("evenly") {
		return false
	}
	even := banks.EvenBlueprint("", n, bank)
	var spread editor
	spread.fromBlueprint(&even)
	sent := slices.DeleteFunc(typedLines(f), func(l typedLine) bool { return l.want == "" })
	byName := func(a, b typedLine) int { return cmp.Or(strings.Compare(a.by, b.by), strings.Compare(a.of, b.of)) }
	slices.SortFunc(sent, byName)
	slices.SortFunc(spread.lines, byName)
	return slices.Equal(sent, spread.lines)
}

// over faults lines that ask for more questions than there are: a question has one
// kind, skill and difficulty.
func over(f *web.Form, b *banks.Blueprint) {
	for _, x := range []struct {
		by      banks.Attribute
		message string
	}{{banks.KindAttribute, "coordinator.editor.over.kind"}, {banks.SkillAttribute, "coordinator.editor.over.skill"}, {banks.DifficultyAttribute, "coordinator.editor.over.difficulty"}} {
		var sum float64
		for i := range b.Quotas {
			if q := &b.Quotas[i]; q.By == x.by && q.Bound != banks.AtMost {
				sum += max(q.Share*float64(b.Questions), float64(q.Count))
			}
		}
		if sum > float64(b.Questions)+1e-6 {
			f.Fault("questions", x.message, "Sum", int(math.Ceil(sum-1e-6)), "Questions", b.Questions)
		}
	}
}

// maxLines bounds the lines of the shares on the page.
const maxLines = 1000

func readLine(f *web.Form, i int, line typedLine) (banks.Quota, bool) {
	field := "want-" + strconv.Itoa(i)
	q := banks.Quota{By: banks.Attribute(line.by), Of: line.of, Bound: banks.Bound(line.bound)}
	m := wantPattern.FindStringSubmatch(line.want)
	if m == nil {
		f.Fault(field, "coordinator.editor.want.fault")
		return q, false
	}
	if q.By != banks.BoundaryAttribute && q.Of == "" {
		f.Fault(field, "coordinator.editor.name.fault")
		return q, false
	}
	x, err := strconv.ParseFloat(strings.Replace(m[1], ",", ".", 1), 64)
	switch {
	case err != nil, m[2] == "" && x != math.Trunc(x), m[2] == "%" && x > 100:
		f.Fault(field, "coordinator.editor.want.fault")
		return q, false
	case m[2] == "%":
		q.Share = x / 100
	default:
		q.Count = int(x)
	}
	return q, true
}

// lay lays out the lines of the shares: one for each value that the bank has,
// and what was typed.
func (e *editor) lay(entry *library.Entry, list []*banks.Question, tried *banks.Report) {
	e.Sections = nil
	number := 0
	used := make([]bool, len(e.lines))
	values := valuesOf(list)
	for _, by := range []banks.Attribute{banks.KindAttribute, banks.DifficultyAttribute, banks.BoundaryAttribute, banks.HazardAttribute, banks.SkillAttribute,
		banks.GroupAttribute, banks.ModelAttribute} {
		s := section{By: string(by), Free: by == banks.GroupAttribute || by == banks.ModelAttribute}
		row := func(of string, line int) {
			r := sectionRow{N: number, By: string(by), Of: of}
			if line >= 0 {
				used[line] = true
				r.Bound, r.Want, r.Of = e.lines[line].bound, e.lines[line].want, e.lines[line].of
				s.Open = true
			}
			if by == banks.GroupAttribute && entry != nil {
				if g, ok := entry.Catalog.Group(r.Of); ok {
					r.Title = g.Title
				}
			}
			q := banks.Quota{By: by, Of: r.Of}
			if q.Of != "" || by == banks.BoundaryAttribute {
				for _, x := range list {
					if q.Covers(x) {
						r.Bank++
					}
				}
			}
			if tried != nil && line >= 0 {
				for _, l := range tried.Lines {
					if string(l.Quota.By) == r.By && l.Quota.Of == r.Of && string(l.Quota.Bound) == r.Bound {
						r.Counted, r.Available, r.Least, r.Most = true, l.Available, l.Least, l.Most
						if len(l.Taken) > 0 {
							r.Taken = l.Taken[0]
						}
					}
				}
			}
			s.Rows = append(s.Rows, r)
			number++
		}
		lines := func(of string, any bool) (found bool) {
			for i, l := range e.lines {
				if !used[i] && l.by == string(by) && (any || l.of == of) {
					row(of, i)
					found = true
				}
			}
			return found
		}
		if !s.Free {
			for _, v := range values[by] {
				if !lines(v, false) {
					row(v, -1)
				}
			}
		}
		lines("", true) // what the bank does not have, or was typed
		if s.Free {
			for range spareRows {
				row("", -1)
			}
			for _, v := range values[by] {
				title := ""
				if by == banks.GroupAttribute && entry != nil {
					if g, ok := entry.Catalog.Group(v); ok {
						title = g.Title
					}
				}
				s.Values = append(s.Values, namedValue{v, title})
			}
		}
		e.Sections = append(e.Sections, s)
	}
}

// valuesOf lists what a bank has of each attribute.
func valuesOf(list []*banks.Question) map[banks.Attribute][]string {
	seen := map[banks.Attribute]map[string]bool{}
	add := func(by banks.Attribute, v string) {
		if seen[by] == nil {
			seen[by] = map[string]bool{}
		}
		if v != "" {
			seen[by][v] = true
		}
	}
	for _, q := range list {
		add(banks.KindAttribute, q.Kind)
		add(banks.SkillAttribute, q.Skill)
		add(banks.GroupAttribute, q.About.Group)
		for _, g := range q.About.Within {
			add(banks.GroupAttribute, g)
		}
		add(banks.ModelAttribute, q.About.Model)
		for _, h := range q.Hazards {
			add(banks.HazardAttribute, h)
		}
	}
	out := map[banks.Attribute][]string{}
	for by, set := range seen {
		for v := range set {
			out[by] = append(out[by], v)
		}
		slices.Sort(out[by])
	}
	if len(out[banks.HazardAttribute]) > 0 {
		out[banks.HazardAttribute] = append([]string{banks.AnyHazard}, out[banks.HazardAttribute]...)
	}
	for _, b := range banks.Bands() {
		out[banks.DifficultyAttribute] = append(out[banks.DifficultyAttribute], string(b))
	}
	out[banks.BoundaryAttribute] = []string{""}
	return out
}

// count tries the blueprint on the bank.
func (e *editor) count(list []*banks.Question, b *banks.Blueprint, exposure map[string]int) (*banks.TestForm, *banks.Report, error) {
	f, r, err := banks.Assemble(list, *b, banks.AssembleOptions{Exposure: exposure})
	n := &counts{Bank: r.Bank, Eligible: r.Eligible, Distinct: r.Distinct, TooManyOptions: r.TooManyOptions, Questions: b.Questions, Shared: r.Shared}
	var impossible *banks.ImpossibleError
	switch {
	case errors.As(err, &impossible):
		n.Short, n.Together, n.Nearest, n.Proven = impossible.Lines, impossible.Together, impossible.Nearest, impossible.Proven
		n.Under = underOf(b, &r, list)
	case err != nil:
		return nil, nil, fmt.Errorf("try the blueprint: %w", err)
	default:
		n.Possible = true
		if len(r.Variants) > 0 {
			n.Easy, n.Medium, n.Hard = r.Variants[0].Easy, r.Variants[0].Medium, r.Variants[0].Hard
		}
	}
	e.Counts = n
	return f, &r, nil
}

// exposure counts how often people were given each question, so that a new form
// prefers others.
func (p *Pages) exposure(ctx context.Context) (map[string]int, error) {
	assignments, err := p.store.Assignments(ctx)
	if err != nil {
		return nil, err
	}
	out := map[string]int{}
	for _, a := range assignments {
		attempts, err := p.store.AttemptsAt(ctx, a.ID)
		if err != nil {
			return nil, err
		}
		for _, x := range attempts {
			for _, q := range x.Questions {
				out[q]++
			}
		}
	}
	return out, nil
}

// newSeed gives a seed for a form, so that two forms of one blueprint ask
// different questions.
func newSeed() uint64 { return 1 + rand.Uint64N(999999) }
