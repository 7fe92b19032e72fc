package resolver

import (
	"fmt"
	"io"
	"slices"
	"strings"
)

// Report is an answer in words, with its trace: what the command line prints
// and what its JSON form holds.
type Report struct {
	Status    Status        `json:"status"`
	FailedAt  string        `json:"failed_at,omitempty"` // with not covered: the step
	Places    []PlaceReport `json:"places"`
	Services  []string      `json:"services,omitempty"`
	Vehicle   []string      `json:"vehicle,omitempty"` // what the vehicle can be
	Trace     Trace         `json:"trace,omitempty"`
	Cautions  []string      `json:"cautions,omitempty"`
	Catalog   string        `json:"catalog"`
	Revision  string        `json:"revision"`
	Statement string        `json:"statement"` // the answer in one sentence
}

// PlaceReport is one place that answers.
type PlaceReport struct {
	Read        string   `json:"read"` // where to read: edition and place, or the bulletin
	Record      string   `json:"record"`
	Title       string   `json:"title,omitempty"`
	Publication string   `json:"publication,omitempty"`
	Shelf       string   `json:"shelf,omitempty"`
	Value       string   `json:"value,omitempty"` // specifications: the value
	Partly      bool     `json:"partly,omitempty"`
	Bulletins   []string `json:"bulletins,omitempty"` // what amends it
}

// Report puts an answer to a query into words.
func (r *Resolver) Report(q *Query, a *Answer, tr Trace) Report {
	rep := Report{
		Status: a.Status, Trace: tr, Places: []PlaceReport{},
		Catalog: r.meta.Title, Revision: r.meta.Revision,
	}
	for i, it := range a.Items {
		p := PlaceReport{Read: r.Place(it), Record: r.recordName(it), Title: r.title(it), Partly: it.Partly}
		if it.Publication >= 0 {
			p.Publication, p.Shelf = r.t.Publications[it.Publication].ID, r.t.Publications[it.Publication].Shelf
		}
		if it.Table == SpecificationTable && it.Row >= 0 {
			p.Value = SpecText(&r.t.Specifications[it.Row])
		}
		for _, am := range a.Amendments {
			if am.Item != int32(i) {
				continue
			}
			b := &r.t.Bulletins[am.Bulletin]
			text := b.ID + " (" + b.Issued.String() + ") " + b.Subject
			if am.Partly {
				text += " — if it applies to this one"
			}
			if b.Instruction != "" {
				text += ": " + b.Instruction
			}
			p.Bulletins = append(p.Bulletins, text)
		}
		rep.Places = append(rep.Places, p)
	}
	for _, s := range a.Services {
		// A service has a row for each unit that it touches.
		if name := strings.TrimSpace(r.t.Schedule[s].Name + " " + r.t.Schedule[s].Title); !slices.Contains(rep.Services, name) {
			rep.Services = append(rep.Services, name)
		}
	}
	for i := range a.work.branches {
		if c := a.work.branches[i].card; c >= 0 {
			rep.Vehicle = append(rep.Vehicle, r.cardText(c))
		}
	}
	for _, h := range r.Hazards(a) {
		if c := r.meta.Hazards[h]; c != "" {
			rep.Cautions = append(rep.Cautions, c)
		}
	}
	rep.Cautions = append(rep.Cautions, r.meta.Cautions...)
	if a.Status == NotCovered {
		rep.FailedAt = a.FailedAt.String()
	}
	rep.Statement = r.statement(a)
	return rep
}

func (r *Resolver) statement(a *Answer) string {
	n := len(a.Items)
	switch {
	case a.Status == NotCovered:
		return "Not covered: the lookup ends at the step “" + a.FailedAt.String() + "”."
	case a.Status == Ambiguous:
		return fmt.Sprintf("Ambiguous: %d places remain; the trace says what settles it.", n)
	case n == 0:
		return "Found the data card."
	case n == 1:
		return "Read " + r.Place(a.Items[0]) + "."
	}
	return fmt.Sprintf("Found %d places.", n)
}

func (r *Resolver) title(it Item) string {
	t := r.t
	if it.Row < 0 {
		return ""
	}
	switch it.Table {
	case ProcedureTable:
		return t.Procedures[it.Row].Job
	case OperationTable:
		return t.Operations[it.Row].Title
	case SpecificationTable:
		return t.Specifications[it.Row].Quantity
	case TestTable:
		s := &t.Tests[it.Row]
		text := s.Tests
		if s.Do != "" {
			text += ": " + s.Do
		}
		if s.Expect != "" {
			text += " → " + s.Expect
		}
		return text
	case TroubleTable:
		return t.TroubleCodes[it.Row].Meaning
	}
	return ""
}

// mostRuledOut bounds what is shown at the step at which a lookup ends.
const mostRuledOut = 6

// WriteText prints a report for people. With full false the records that were
// ruled out are left out of the trace, but for those at the step at which a
// lookup that is not covered ends.
func (rep Report) WriteText(w io.Writer, full bool) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n", rep.Statement)
	for _, v := range rep.Vehicle {
		fmt.Fprintf(&b, "  vehicle    %s\n", v)
	}
	if len(rep.Services) > 0 {
		fmt.Fprintf(&b, "  services   %s\n", strings.Join(rep.Services, "; "))
	}
	for _, p := range rep.Places {
		mark := " "
		if p.Partly {
			mark = "?"
		}
		fmt.Fprintf(&b, "%s %s — %s", mark, p.Read, p.Title)
		if p.Value != "" {
			fmt.Fprintf(&b, ": %s", p.Value)
		}
		if p.Shelf != "" {
			fmt.Fprintf(&b, "  [shelf %s]", p.Shelf)
		}
		b.WriteByte('\n')
		for _, bul := range p.Bulletins {
			fmt.Fprintf(&b, "    bulletin %s\n", bul)
		}
	}
	if len(rep.Trace) > 0 {
		b.WriteString("Trace\n")
	}
	branch := ""
	for i, s := range rep.Trace {
		if s.Branch != branch && s.Branch != "" {
			fmt.Fprintf(&b, "   if it is %s:\n", s.Branch)
		}
		branch = s.Branch
		fmt.Fprintf(&b, "%3d. %-11s %s → %s\n", i+1, s.Step, s.Input, s.Result)
		if full {
			fmt.Fprintf(&b, "     rule: %s\n", s.Rule)
		}
		// Where a lookup ends without an answer, what was ruled out there is
		// what people want to know.
		ended := rep.Status == NotCovered && i == len(rep.Trace)-1
		for n, c := range s.Considered {
			if c.Verdict == RuledOut && !full && (!ended || n >= mostRuledOut) {
				continue
			}
			label := c.Label
			if label != "" {
				label = " " + label
			}
			fmt.Fprintf(&b, "     %-9s %s%s: %s\n", c.Verdict, c.Record, label, c.Why)
		}
	}
	if len(rep.Cautions) > 0 {
		b.WriteString("Cautions\n")
	}
	for _, c := range rep.Cautions {
		fmt.Fprintf(&b, "  ! %s\n", c)
	}
	_, err := io.WriteString(w, b.String())
	return err
}
