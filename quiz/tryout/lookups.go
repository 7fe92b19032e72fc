package tryout

import (
	"context"
	"fmt"
	"strings"

	"rightpage/banks"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
)

// How much of an answer is shown; the command that shows all of it stands
// below.
const (
	mostOrders   = 3
	mostPlaces   = 4
	mostServices = 5
	mostSteps    = 9
	mostCautions = 4
)

func (t *trial) lookups(context.Context) error {
	orders, err := findOrders(t.cfg.Catalog)
	if err != nil {
		return err
	}
	source := ""
	if len(orders) == 0 {
		orders, source = t.inventOrders(), " made up from the catalog"
	}
	orders = orders[:min(mostOrders, len(orders))]
	t.head(2, fmt.Sprintf("Answer %s%s, every step shown", count(len(orders), "repair order", "repair orders"), source))
	if len(orders) == 0 {
		t.say("  The catalog has no job that could be looked up.\n")
		return nil
	}
	for i := range orders {
		o := &orders[i]
		if i > 0 {
			t.say("\n")
		}
		a, tr := t.r.Explain(&o.Query, resolver.Break{})
		rep := t.r.Report(&o.Query, a, tr)
		command := command(t.cfg.Catalog, &o.Query, t.c)
		t.sum.Orders = append(t.sum.Orders, OrderSummary{Order: o.Order, Status: rep.Status.String(), Statement: rep.Statement, Places: len(rep.Places), Command: command})
		t.order(o, &rep, t.r.Hazards(a), command)
	}
	if general := t.c.Meta().Cautions; len(general) > 0 {
		t.say("\n  With every job:\n")
		for _, c := range general {
			t.say("  ! %s\n", c)
		}
	}
	return nil
}

// order prints the answer to one order.
func (t *trial) order(o *order, rep *resolver.Report, hazards []string, command string) {
	t.say("  Order %s", o.Order)
	if o.Site != "" {
		t.say(" (%s)", o.Site)
	}
	if o.Customer != "" {
		t.say(": “%s”", o.Customer)
	}
	t.say("\n")
	answer := rep.Statement
	if len(rep.Places) == 1 && rep.Status == resolver.Found {
		answer = fmt.Sprintf("Read %s.", place(&rep.Places[0]))
	}
	t.line("answer", answer)
	for _, v := range rep.Vehicle[:min(2, len(rep.Vehicle))] {
		t.line("vehicle", v)
	}
	if n := len(rep.Services); n > 0 {
		t.line("services", strings.Join(rep.Services[:min(mostServices, n)], "; ")+more(n-mostServices, "more"))
	}
	if n := len(rep.Places); n > 1 {
		for i := range rep.Places[:min(mostPlaces, n)] {
			t.line("place", place(&rep.Places[i]))
		}
		if n > mostPlaces {
			t.line("", fmt.Sprintf("… %d more", n-mostPlaces))
		}
	}
	for i := range rep.Places {
		if i == mostPlaces {
			break
		}
		for _, b := range rep.Places[i].Bulletins {
			t.line("bulletin", b)
		}
	}
	steps := traceLines(rep.Trace)
	for i, s := range steps[:min(mostSteps, len(steps))] {
		label := ""
		if i == 0 {
			label = "because"
		}
		t.line(label, s)
	}
	if n := len(steps) - mostSteps; n > 0 {
		t.line("", fmt.Sprintf("… %s", count(n, "more step", "more steps")))
	}
	t.cautions(hazards)
	t.say("    All of it:\n    %s\n", command)
}

// cautions prints the cautions of hazards; of more than a few, the rest by name.
func (t *trial) cautions(hazards []string) {
	texts := t.c.Meta().Hazards
	var rest []string
	shown := 0
	for _, h := range hazards {
		switch {
		case texts[h] == "":
		case shown < mostCautions:
			t.say("    ! %s\n", texts[h])
			shown++
		default:
			rest = append(rest, h)
		}
	}
	if len(rest) > 0 {
		t.say("    ! More hazards: %s.\n", strings.Join(rest, ", "))
	}
}

// line prints a line with its label.
func (t *trial) line(label, text string) { t.say("    %-9s %s\n", label, " "+text) }

func more(n int, word string) string {
	if n <= 0 {
		return ""
	}
	return fmt.Sprintf("; … %d %s", n, word)
}

func place(p *resolver.PlaceReport) string {
	text := p.Read
	if p.Title != "" {
		text += ": " + p.Title
	}
	if p.Value != "" {
		text += " " + p.Value
	}
	if p.Shelf != "" {
		text += " (" + p.Shelf + ")"
	}
	if p.Partly {
		text += ", if it applies to this one"
	}
	return text
}

// traceLines writes a trace, a line a step; steps that repeat themselves are
// told once.
func traceLines(trace resolver.Trace) []string {
	var out []string
	times := 0
	for i, s := range trace {
		if i > 0 {
			if b := trace[i-1]; b.Step == s.Step && b.Input == s.Input && b.Result == s.Result && b.Branch == s.Branch {
				times++
				continue
			}
		}
		if times > 0 {
			out[len(out)-1] += fmt.Sprintf(" (%d records)", times+1)
			times = 0
		}
		text := fmt.Sprintf("%s: %s → %s", s.Step, s.Input, s.Result)
		if s.Branch != "" {
			text = "if it is " + s.Branch + ", " + text
		}
		out = append(out, text)
	}
	if times > 0 {
		out[len(out)-1] += fmt.Sprintf(" (%d records)", times+1)
	}
	return out
}

// inventOrders takes lookups from the catalog itself where it comes without
// sample orders.
func (t *trial) inventOrders() []order {
	src := banks.NewSource(t.r)
	k, _ := kinds.Find("location")
	m := banks.NewMaker(src, banks.StartingWeights())
	var out []order
	sites := k.Sites(src).Inside
	for i := 0; i < len(sites) && len(out) < mostOrders; i += max(1, len(sites)/7) {
		if m.Make(&k, sites[i], t.cfg.Seed) {
			out = append(out, order{Order: fmt.Sprint(len(out) + 1), Customer: m.Q.Query.Text, Query: m.Q.Query})
		}
	}
	return out
}
