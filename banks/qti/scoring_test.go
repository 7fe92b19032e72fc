package qti_test

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"rightpage/banks"
	"rightpage/banks/resolver"
	"rightpage/grading"
)

// element is an item as any XML library reads it.
type element struct {
	XMLName xml.Name
	Attrs   []xml.Attr `xml:",any,attr"`
	Kids    []element  `xml:",any"`
	Text    string     `xml:",chardata"`
}

func (e *element) get(name string) string {
	for _, a := range e.Attrs {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

func (e *element) all(name string) []*element {
	var out []*element
	for i := range e.Kids {
		if e.Kids[i].XMLName.Local == name {
			out = append(out, &e.Kids[i])
		}
	}
	return out
}

// session is a small QTI engine, written from the specification's account of
// response processing and sharing nothing with the package: variables are lists
// of strings.
type session struct {
	item      *element
	responses map[string][]string
	outcomes  map[string][]string
}

func run(item *element, responses map[string][]string) *session {
	s := &session{item, responses, map[string][]string{}}
	for _, d := range item.all("qti-outcome-declaration") {
		for _, v := range d.all("qti-default-value") {
			s.outcomes[d.get("identifier")] = []string{v.Kids[0].Text}
		}
	}
	for _, p := range item.all("qti-response-processing") {
		s.rules(p.Kids)
	}
	return s
}

func (s *session) rules(list []element) {
	for i := range list {
		switch r := &list[i]; r.XMLName.Local {
		case "qti-set-outcome-value":
			s.outcomes[r.get("identifier")] = s.value(&r.Kids[0])
		case "qti-response-condition":
			for j := range r.Kids {
				branch := &r.Kids[j]
				if branch.XMLName.Local == "qti-response-else" {
					s.rules(branch.Kids)
					break
				}
				if slices.Equal(s.value(&branch.Kids[0]), []string{"true"}) {
					s.rules(branch.Kids[1:])
					break
				}
			}
		}
	}
}

func (s *session) declaration(name string) *element {
	for _, d := range s.item.all("qti-response-declaration") {
		if d.get("identifier") == name {
			return d
		}
	}
	panic("the response " + name + " is not declared")
}

func float(v []string) float64 {
	f, err := strconv.ParseFloat(v[0], 64)
	if err != nil {
		panic(err)
	}
	return f
}

func truth(b bool) []string { return []string{strconv.FormatBool(b)} }

// value computes an expression; nil is NULL.
func (s *session) value(e *element) []string {
	arg := func(i int) []string { return s.value(&e.Kids[i]) }
	switch e.XMLName.Local {
	case "qti-null":
		return nil
	case "qti-base-value":
		return []string{e.Text}
	case "qti-variable":
		if v, ok := s.responses[e.get("identifier")]; ok {
			return v
		}
		return s.outcomes[e.get("identifier")]
	case "qti-correct":
		var out []string
		for _, v := range s.declaration(e.get("identifier")).all("qti-correct-response")[0].Kids {
			out = append(out, v.Text)
		}
		return out
	case "qti-multiple":
		var out []string
		for i := range e.Kids {
			out = append(out, arg(i)...)
		}
		return out
	case "qti-map-response":
		return []string{fmt.Sprint(s.mapped(e.get("identifier")))}
	case "qti-sum":
		sum := 0.0
		for i := range e.Kids {
			sum += float(arg(i))
		}
		return []string{fmt.Sprint(sum)}
	}
	a, b := arg(0), arg(1)
	if a == nil || b == nil {
		return nil // NULL
	}
	switch e.XMLName.Local {
	case "qti-match":
		if len(e.Kids) == 2 && e.Kids[1].XMLName.Local == "qti-multiple" {
			a, b = slices.Sorted(slices.Values(a)), slices.Sorted(slices.Values(b))
		}
		return truth(slices.Equal(a, b))
	case "qti-member":
		return truth(slices.Contains(b, a[0]))
	case "qti-string-match":
		if e.get("case-sensitive") == "false" {
			return truth(strings.EqualFold(a[0], b[0]))
		}
		return truth(a[0] == b[0])
	case "qti-equal":
		x, y := float(a), float(b)
		if e.get("tolerance-mode") == "exact" {
			return truth(x == y)
		}
		t, _ := strconv.ParseFloat(strings.Fields(e.get("tolerance"))[0], 64)
		return truth(math.Abs(x-y) <= t)
	case "qti-gte":
		return truth(float(a) >= float(b))
	case "qti-divide":
		return []string{fmt.Sprint(float(a) / float(b))}
	}
	panic("the expression " + e.XMLName.Local + " is not known")
}

func (s *session) mapped(name string) float64 {
	d := s.declaration(name)
	m := d.all("qti-mapping")[0]
	sum := 0.0
	for _, v := range s.responses[name] {
		for i := range m.Kids {
			e := &m.Kids[i]
			key := e.get("map-key")
			if key == v || e.get("case-sensitive") == "false" && strings.EqualFold(key, v) {
				f, _ := strconv.ParseFloat(e.get("mapped-value"), 64)
				sum += f
				break
			}
		}
	}
	if low := m.get("lower-bound"); low != "" {
		sum = max(sum, float([]string{low}))
	}
	if high := m.get("upper-bound"); high != "" {
		sum = min(sum, float([]string{high}))
	}
	return sum
}

// items reads the items of a package by the ID of their question.
func items(tb testing.TB, pkg []byte) map[string]*element {
	tb.Helper()
	z, err := zip.NewReader(bytes.NewReader(pkg), int64(len(pkg)))
	if err != nil {
		tb.Fatal(err)
	}
	out := map[string]*element{}
	for _, f := range z.File {
		if !strings.HasPrefix(f.Name, "items/") {
			continue
		}
		r, err := f.Open()
		if err != nil {
			tb.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			tb.Fatal(err)
		}
		var e element
		if err := xml.Unmarshal(text, &e); err != nil {
			tb.Fatal(err)
		}
		out[strings.TrimSuffix(strings.TrimPrefix(f.Name, "items/"), ".xml")] = &e
	}
	return out
}

// answers draws an answer: as the grader reads it, and as a QTI engine holds
// it.
func answer(q *banks.Question, rng *rand.Rand) (string, map[string][]string) {
	pick := func(options []banks.Option) string { return banks.Letter(rng.IntN(len(options))) }
	field := func(accept []string, slipped []banks.Slipped) string {
		if n := rng.IntN(len(accept) + len(slipped)); n < len(accept) {
			return accept[n]
		} else {
			return slipped[n-len(accept)].Value
		}
	}
	switch q.Form {
	case banks.OneOf:
		l := pick(q.Options)
		return l, map[string][]string{"RESPONSE": {l}}
	case banks.SomeOf:
		var marks []string
		for i := range q.Options {
			if rng.IntN(2) == 0 {
				marks = append(marks, banks.Letter(i))
			}
		}
		if marks == nil {
			marks = []string{"A"}
		}
		return strings.Join(marks, ""), map[string][]string{"RESPONSE": marks}
	case banks.Typed:
		a := field(q.Key.Accept, q.Slipped)
		return a, map[string][]string{"RESPONSE": {a}}
	case banks.Number:
		v := q.Key.Number
		if len(q.Slipped) > 0 && rng.IntN(2) == 0 {
			if f, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(q.Slipped[0].Value, q.Key.Unit)), 64); err == nil {
				v = f
			}
		}
		n := strconv.FormatFloat(v, 'f', -1, 64)
		return n + " " + q.Key.Unit, map[string][]string{"RESPONSE": {n}}
	}
	var given []string
	responses := map[string][]string{}
	for i := range q.Steps {
		s := &q.Steps[i]
		var a string
		if len(s.Options) > 0 {
			a = pick(s.Options)
		} else {
			a = field(s.Accept, s.Slipped)
		}
		given = append(given, a)
		name := "RESPONSE"
		if len(q.Steps) > 1 {
			name += strconv.Itoa(i + 1)
		}
		responses[name] = []string{a}
	}
	return strings.Join(given, "|"), responses
}

// A QTI engine gives the same points as the grader, less those for errors
// carried forward, and shows the feedback of the slip that the grader names.
func TestItemsScoreLikeTheGrader(t *testing.T) {
	bank := demoBank(t)
	all := items(t, export(t, bank...))
	rng := rand.New(rand.NewPCG(1, 2))
	seen := map[banks.Form]int{}
	slips, carried := 0, 0
	for _, q := range bank {
		for range 6 {
			given, responses := answer(q, rng)
			if strings.Contains(given, "|") && q.Form != banks.Chase || strings.Contains(given, "||") {
				continue
			}
			score, err := grading.Grade(q, given, grading.Rules{})
			if err != nil {
				t.Fatalf("%s: %q: %v", q.ID, given, err)
			}
			seen[q.Form]++
			s := run(all[q.ID], responses)
			want := score.Points
			for _, st := range score.Steps {
				if st.Verdict == grading.Carried {
					carried++
					want -= st.Points / float64(len(q.Steps))
				}
			}
			if got := float(s.outcomes["SCORE"]); math.Abs(got-want) > 1e-9 {
				t.Errorf("%s (%s): %q scores %v in the item, %v by the grader (%v with what is carried)", q.ID, q.Form, given, got, want, score.Points)
			}
			if score.Slip != resolver.NoSlip && q.Form != banks.Chase {
				slips++
				want := "SLIP_" + strings.NewReplacer(" ", "_", "'", "_").Replace(score.Slip.String())
				if got := s.outcomes["FEEDBACK"]; !slices.Equal(got, []string{want}) {
					t.Errorf("%s (%s): %q gets the feedback %v, the grader says %v", q.ID, q.Form, given, got, want)
				}
			}
		}
	}
	for _, f := range banks.Forms() {
		if f != banks.Ordered && seen[f] == 0 {
			t.Errorf("no question of the form %s was tried", f)
		}
	}
	if slips == 0 || carried == 0 {
		t.Errorf("%d answers with a slip and %d steps carried were tried", slips, carried)
	}
}
