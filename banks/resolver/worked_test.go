package resolver_test

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// worked is a lookup in a demo catalog, worked by hand from its CSV files: the
// rows were opened and reasoned out as at the counter, the program was not
// asked. The places of the answer are written edition and place, with the
// bulletin to read instead before them and those to see after them.
type worked struct {
	why    string   // the reasoning
	on     string   // what is known: plate, model, built, serial, engine, gearbox
	ask    string   // job, value, complaint, code or due, and what belongs to it
	want   string   // status: places; or status, of them: some of the places
	places int      // how many places in all, with "of them"
	trace  []string // step: what it must say
}

func workThrough(t *testing.T, path string, lookups []worked) {
	r := resolver.New(demo(t, path))
	for _, w := range lookups {
		t.Run(w.on+": "+w.ask, func(t *testing.T) {
			q := parseLookup(t, w.on, w.ask)
			a, trace := r.Explain(q, resolver.Break{})
			var fast resolver.Answer
			if r.Resolve(q, resolver.Break{}, &fast); !sameAnswer(a, &fast) {
				t.Error("Explain and Resolve differ")
			}
			status, places := printedAnswer(r, a)
			if wantStatus, list, some := strings.Cut(w.want, ", of them: "); some {
				if status != wantStatus || len(places) != w.places {
					t.Errorf("%s\n got %s with %d places\nwant %s with %d", w.why, status, len(places), wantStatus, w.places)
				}
				for want := range strings.SplitSeq(list, "; ") {
					if !slices.Contains(places, want) {
						t.Errorf("%s\n %q is not among\n\t%s", w.why, want, strings.Join(places, "\n\t"))
					}
				}
			} else {
				wantStatus, list, _ := strings.Cut(w.want, ": ")
				want := strings.Split(list, "; ")
				slices.Sort(want)
				if status != wantStatus || !slices.Equal(places, want) {
					t.Errorf("%s\n got %s: %s\nwant %s", w.why, status, strings.Join(places, "; "), w.want)
				}
			}
			for _, k := range w.trace {
				step, says, _ := strings.Cut(k, ": ")
				if got := resultOf(trace, step); !strings.Contains(got, says) {
					t.Errorf("%s\nthe step %q comes to %q, want %q", w.why, step, got, says)
				}
			}
		})
	}
}

// parseLookup reads a lookup as the tables of worked ones write it.
func parseLookup(t *testing.T, on, ask string) *resolver.Query {
	q := &resolver.Query{}
	for known := range strings.SplitSeq(on, ", ") {
		word, value, _ := strings.Cut(known, " ")
		switch word {
		case "plate":
			q.Vehicle.Chassis = value
		case "model":
			q.Vehicle.Model = value
		case "built":
			q.Vehicle.Built = day(value)
		case "serial":
			q.Vehicle.Serial = int64(numeral(t, value))
		case "engine":
			q.Vehicle.Engine = value
		case "gearbox":
			q.Vehicle.Transmission = value
		default:
			t.Fatalf("%q: there is no %q of a vehicle", on, word)
		}
	}
	parts := strings.Split(ask, "; ")
	task, text, _ := strings.Cut(parts[0], " ")
	tasks := map[string]resolver.Task{"job": resolver.JobTask, "value": resolver.SpecTask, "complaint": resolver.ComplaintTask,
		"code": resolver.TroubleTask, "due": resolver.DueTask}
	kind, ok := tasks[task]
	if !ok {
		t.Fatalf("%q: there is no task %q", ask, task)
	}
	if q.Task, q.Text = kind, text; kind == resolver.DueTask {
		q.Text, q.Due.Now = "", counts(t, text)
	}
	for _, p := range parts[1:] {
		words := strings.Fields(p)
		_, rest, _ := strings.Cut(p, " ")
		switch words[0] {
		case "condition":
			q.Condition = rest
		case "at":
			c := numeral(t, words[1])
			q.Ambient = &c
		case "side":
			q.Side = rest
		case "system":
			q.System = rest
		case "duty":
			q.Duty = rest
		case "last":
			q.Due.Last = counts(t, rest)
		case "chapter": // chapter 7 step 2 failed
			q.At = resolver.StepAt{Chapter: words[1], Step: words[3]}
			q.Outcome = outcome(t, words[4])
		case "step": // step 2 failed, in the chapter of the guide
			q.At.Step = words[1]
			q.Outcome = outcome(t, words[2])
		default:
			t.Fatalf("%q: what is %q?", ask, p)
		}
	}
	return q
}

func numeral(t *testing.T, s string) float64 {
	n, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func counts(t *testing.T, s string) catalog.Counters {
	var c catalog.Counters
	for part := range strings.SplitSeq(s, ", ") {
		n, unit, _ := strings.Cut(part, " ")
		switch unit {
		case "h":
			c.Hours = numeral(t, n)
		case "months":
			c.Months = numeral(t, n)
		case "km":
			c.Distance = numeral(t, n)
		default:
			t.Fatalf("%q: there is no unit %q", s, unit)
		}
	}
	return c
}

func outcome(t *testing.T, s string) resolver.Outcome {
	var o resolver.Outcome
	if err := o.UnmarshalText([]byte(s)); err != nil {
		t.Fatal(err)
	}
	return o
}

func resultOf(trace resolver.Trace, step string) string {
	var out []string
	for _, s := range trace {
		if s.Step.String() == step {
			out = append(out, s.Result)
		}
	}
	return strings.Join(out, " | ")
}

// printedAnswer writes an answer as somebody would on the repair order.
func printedAnswer(r *resolver.Resolver, a *resolver.Answer) (status string, places []string) {
	if a.Status == resolver.NotCovered {
		return a.Status.String(), []string{a.FailedAt.String()}
	}
	t := r.Catalog().Tables()
	for i, it := range a.Items {
		text := printedPlace(t, it)
		if it.Bulletin >= 0 {
			text = t.Bulletins[it.Bulletin].ID + " instead of " + text
		}
		if it.Partly {
			text = "perhaps " + text
		}
		for _, m := range a.Amendments {
			if int(m.Item) == i && m.Bulletin != it.Bulletin {
				text += ", see " + t.Bulletins[m.Bulletin].ID
				if m.Partly {
					text += " perhaps"
				}
			}
		}
		places = append(places, text)
	}
	slices.Sort(places)
	return a.Status.String(), places
}

func printedPlace(t *catalog.Tables, it resolver.Item) string {
	if it.Row < 0 {
		return it.Operation + " nowhere"
	}
	id := t.Publications[it.Publication].ID
	switch it.Table {
	case resolver.ProcedureTable:
		return id + " " + printedLocation(t.Procedures[it.Row].Location)
	case resolver.OperationTable:
		return it.Operation + " " + id + " " + printedLocation(t.Operations[it.Row].Location)
	case resolver.SpecificationTable:
		s := t.Specifications[it.Row]
		value := s.Value
		if value == "" {
			value = fmt.Sprintf("%v to %v", *s.Low, *s.High)
		}
		return strings.TrimSpace(value+" "+s.Unit) + " " + id + " " + printedLocation(s.Location)
	case resolver.TestTable:
		s := t.Tests[it.Row]
		return strings.TrimSpace(id + " chapter " + s.Chapter + " step " + s.Step + " " + s.Side)
	case resolver.TroubleTable:
		return id + " " + printedLocation(t.TroubleCodes[it.Row].Location)
	}
	return id
}

func printedLocation(l catalog.Location) string {
	var parts []string
	for _, p := range []struct{ word, v string }{{"page", l.Page}, {"sheet", l.Sheet}, {"frame", l.Frame}, {"section", l.Section}} {
		if p.v != "" {
			parts = append(parts, p.word+" "+p.v)
		}
	}
	return strings.Join(parts, " ")
}
