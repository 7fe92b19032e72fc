package grading

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// found is what a lookup gives for a question, in the terms of its kind: the
// values by which options are told apart, the texts that people read and type.
type found struct {
	values []string
	texts  []string
	amount *catalog.Specification // of a specification
	steps  []found                // of a chase
}

// noKey is why a catalog has no key for a question: it is settled that there is
// none, or (person) somebody must look.
type noKey struct {
	why    string
	person bool
}

func (e *noKey) Error() string { return e.why }

func gone(format string, args ...any) error    { return &noKey{fmt.Sprintf(format, args...), false} }
func unclear(format string, args ...any) error { return &noKey{fmt.Sprintf(format, args...), true} }

// reading of a kind: how the key of its questions follows from the answer to
// their query. A site, by which a question was made, numbers the rows of one
// revision and means nothing in another; the query does.
type kindReading struct {
	// key reads the answer, which may be one that a slip leads to.
	key func(r *resolver.Resolver, q *banks.Question, a *resolver.Answer) (found, error)
	// holds tells whether what the question states of the catalog is so; nil:
	// it states nothing.
	holds func(r *resolver.Resolver, q *banks.Question, a *resolver.Answer) error
	// traced: the trace of the question is that of the lookup.
	traced bool
	// bare: the key does not follow from an answer of the resolver alone, so
	// that a slip of the resolver says nothing about its wrong answers.
	bare bool
}

// kindReadings lists the kinds whose keys can be computed again. For a kind that
// it does not list a person must look.
func kindReadings(kind string) (kindReading, bool) {
	switch kind {
	case "job-class":
		return kindReading{key: stepKey(resolver.ClassifyStep), traced: true}, true
	case "group":
		return kindReading{key: stepKey(resolver.GroupStep), traced: true}, true
	case "publication":
		return kindReading{key: stepKey(resolver.PublicationStep), traced: true}, true
	case "edition":
		return kindReading{key: stepKey(resolver.EditionStep), holds: seriesHolds, traced: true}, true
	case "location":
		return kindReading{key: locationKey, holds: editionHolds, traced: true}, true
	case "read-code":
		return kindReading{key: codeKey, bare: true}, true
	case "factory-code":
		return kindReading{key: factoryKey, bare: true}, true
	case "fitted":
		return kindReading{key: fittedKey, traced: true}, true
	case "due":
		return kindReading{key: dueKey}, true
	case "specification":
		return kindReading{key: specificationKey, traced: true}, true
	case "guide":
		return kindReading{key: guideKey, traced: true}, true
	case "next-step":
		return kindReading{key: nextStepKey, holds: testHolds}, true
	case "trouble-code":
		return kindReading{key: troubleKey, traced: true}, true
	case "latest":
		return kindReading{key: latestKey, traced: true}, true
	case "chase":
		return kindReading{key: chaseKey, traced: true}, true
	}
	return kindReading{}, false
}

// lookUp asks a resolver a question and reads the key.
func lookUp(r *resolver.Resolver, q *banks.Question) (kindReading, found, *resolver.Answer, error) {
	k, ok := kindReadings(q.Kind)
	if !ok {
		return k, found{}, nil, unclear("questions of kind %s cannot be computed again", q.Kind)
	}
	if isIssueOrder(q) {
		f, err := issueOrderKey(r, q)
		return kindReading{key: k.key, bare: true}, f, nil, err
	}
	var a resolver.Answer
	r.Resolve(&q.Query, resolver.Break{}, &a)
	switch {
	case q.Kind == "factory-code":
		// The query names the model code that was the key; the sales name is
		// what is asked about.
	case q.Kind == "due":
		// Which services are due, or the place of one operation, is asked for:
		// that the others are ambiguous, or have no place, does not matter.
		if a.Unsure {
			return k, found{}, &a, unclear("whether a service is due depends on what the question does not say")
		}
	case a.Status == resolver.NotCovered:
		return k, found{}, &a, gone("the lookup is not covered any more: it ends at the step “%s”", a.FailedAt)
	case a.Status == resolver.Ambiguous:
		return k, found{}, &a, unclear("the lookup has more than one answer now: %s", places(r, &a))
	}
	if k.holds != nil {
		if err := k.holds(r, q, &a); err != nil {
			return k, found{}, &a, err
		}
	}
	f, err := k.key(r, q, &a)
	return k, f, &a, err
}

func places(r *resolver.Resolver, a *resolver.Answer) string {
	var list []string
	for _, it := range a.Items {
		if p := r.Place(it); !slices.Contains(list, p) {
			list = append(list, p)
		}
	}
	if len(list) == 0 {
		return "more than one data card fits"
	}
	return strings.Join(list, " or ")
}

// one is a key that is one value.
func one(value, text string) (found, error) {
	return found{values: []string{value}, texts: []string{text}}, nil
}

// stepKey reads what was chosen at a step.
func stepKey(step resolver.Step) func(*resolver.Resolver, *banks.Question, *resolver.Answer) (found, error) {
	return func(r *resolver.Resolver, q *banks.Question, a *resolver.Answer) (found, error) {
		value, text, ok := r.StepValue(&q.Query, a, step)
		if !ok {
			return found{}, gone("the lookup does not reach the step “%s” any more", step)
		}
		return one(value, text)
	}
}

// line gives a line of the repair order or plate that a question shows.
func line(q *banks.Question, label string) string {
	for _, l := range q.Order {
		if l.Label == label {
			return l.Value
		}
	}
	return ""
}

// seriesHolds: the question names the publication whose edition it asks for.
func seriesHolds(r *resolver.Resolver, q *banks.Question, a *resolver.Answer) error {
	shown, _, _ := strings.Cut(line(q, "Publication"), " ")
	if series, _, ok := r.StepValue(&q.Query, a, resolver.PublicationStep); ok && series != shown {
		return gone("the question names publication %s; the lookup leads to %s now", shown, series)
	}
	return nil
}

// editionHolds: the question names the edition in which it asks for a place.
func editionHolds(r *resolver.Resolver, q *banks.Question, a *resolver.Answer) error {
	shown := line(q, "Publication")
	if edition, _, ok := r.StepValue(&q.Query, a, resolver.EditionStep); ok && edition != shown {
		return gone("the question names edition %s; edition %s applies now", shown, edition)
	}
	return nil
}

func locationKey(r *resolver.Resolver, q *banks.Question, a *resolver.Answer) (found, error) {
	if len(a.Items) > 0 && a.Items[0].Bulletin >= 0 {
		return found{}, gone("%s takes the place of the page now", r.Place(a.Items[0]))
	}
	return stepKey(resolver.LocationStep)(r, q, a)
}

// codeKey reads the field of the number on the plate that the question asks
// for.
func codeKey(r *resolver.Resolver, q *banks.Question, _ *resolver.Answer) (found, error) {
	name, field, ok := strings.Cut(strings.TrimPrefix(q.About.Record, "scheme:"), "/")
	if !ok {
		return found{}, unclear("the question does not say which field it asks for")
	}
	c := r.Catalog()
	d, ok := c.Decoder(name)
	if !ok {
		return found{}, gone("the scheme %s no longer exists", name)
	}
	v := &q.Query.Vehicle
	code := v.Chassis
	switch primary := c.Meta().Primary; {
	case code != "":
	case v.Engine != "" && primary == catalog.UnitEngine:
		code = v.Engine
	case v.Transmission != "" && primary == catalog.UnitTransmission:
		code = v.Transmission
	default:
		code = v.Model
	}
	values, err := d.Read(catalog.Fold(code), nil)
	if err != nil {
		return found{}, gone("the scheme %s does not read %s any more: %v", name, code, err)
	}
	for i := range values {
		if values[i].Field.Name != field {
			continue
		}
		means := values[i].Means
		text := values[i].Raw
		if len(means) > 0 {
			at := slices.IndexFunc(means, func(m catalog.Meaning) bool {
				return catalog.FitDays(v.Built.Span(), m.Days) != catalog.Outside
			})
			if at < 0 {
				return found{}, gone("%s has no meaning in the field %s for that build date", text, field)
			}
			text = cmp.Or(means[at].Text, text)
		}
		return one(text, text)
	}
	return found{}, gone("the scheme %s has no field %s any more", name, field)
}

// factoryKey finds the model code of a sales name among the cards that agree
// with what the question shows.
func factoryKey(r *resolver.Resolver, q *banks.Question, a *resolver.Answer) (found, error) {
	code := ""
	built := q.Query.Vehicle.Built
	for i := range r.Catalog().Tables().Models {
		m := &r.Catalog().Tables().Models[i]
		if m.SalesName != line(q, "Sales name") || catalog.FitDays(built.Span(), m.Range.Days()) == catalog.Outside || !cardAgrees(q, m) {
			continue
		}
		if code != "" && code != m.Code {
			return found{}, unclear("models %s and %s have that name and what else the question shows", code, m.Code)
		}
		code = m.Code
	}
	if code == "" {
		return found{}, gone("no model has that name, build date and what else the question shows")
	}
	return one(code, code)
}

func cardAgrees(q *banks.Question, m *catalog.Model) bool {
	for _, l := range q.Order {
		switch l.Label {
		case "Sales name", "Built":
		case "Engine":
			if l.Value != m.Engine {
				return false
			}
		case "Transmission":
			if l.Value != m.Transmission {
				return false
			}
		default:
			for _, u := range m.Units {
				if strings.EqualFold(u.Unit, l.Label) && u.Code != l.Value {
					return false
				}
			}
		}
	}
	return true
}

// fittedKey reads the data card. The unit asked for is a word of the stem.
func fittedKey(r *resolver.Resolver, q *banks.Question, a *resolver.Answer) (found, error) {
	card := a.Path[resolver.CardStep]
	if card < 0 {
		return found{}, gone("there is no data card for this vehicle any more")
	}
	m := &r.Catalog().Tables().Models[card]
	units := append([]catalog.UnitCode{{Unit: catalog.UnitEngine, Code: m.Engine}, {Unit: catalog.UnitTransmission, Code: m.Transmission}}, m.Units...)
	words := strings.FieldsFunc(strings.ToLower(q.Stem), func(c rune) bool { return strings.ContainsRune(" ?:,.", c) })
	var asked []catalog.UnitCode
	for _, u := range units {
		if containsWords(words, strings.Fields(strings.ToLower(u.Unit))) {
			asked = append(asked, u)
		}
	}
	switch {
	case len(asked) != 1:
		return found{}, unclear("the card of this vehicle names no unit, or several, that the question asks for by name")
	case asked[0].Code == "":
		return found{}, gone("the data card names no %s any more", asked[0].Unit)
	}
	return one(asked[0].Code, asked[0].Code)
}

func containsWords(words, sub []string) bool {
	for i := 0; i+len(sub) <= len(words); i++ {
		if slices.Equal(words[i:i+len(sub)], sub) {
			return len(sub) > 0
		}
	}
	return false
}

func dueKey(r *resolver.Resolver, q *banks.Question, a *resolver.Answer) (found, error) {
	if number, ok := strings.CutPrefix(q.About.Record, "operation:"); ok {
		return operationKey(r, number, a)
	}
	var f found
	for _, row := range a.Services {
		if s := &r.Catalog().Tables().Schedule[row]; !slices.Contains(f.values, s.Name) {
			f.values = append(f.values, s.Name)
			f.texts = append(f.texts, strings.TrimSpace(s.Name+" "+s.Title))
		}
	}
	if len(f.values) == 0 {
		return f, gone("no service is due at this reading any more")
	}
	return f, nil
}

func specificationKey(r *resolver.Resolver, q *banks.Question, a *resolver.Answer) (found, error) {
	if len(a.Items) == 0 || a.Items[0].Table != resolver.SpecificationTable || a.Items[0].Row < 0 {
		return found{}, gone("the lookup leads to no value any more")
	}
	s := r.Catalog().Tables().Specifications[a.Items[0].Row]
	s.Condition, s.Ambient = "", catalog.Band{} // the question states them
	text := resolver.SpecText(&s)
	f, _ := one(text, text)
	f.amount = &s
	return f, nil
}

func guideKey(r *resolver.Resolver, _ *banks.Question, a *resolver.Answer) (found, error) {
	if len(a.Items) == 0 || a.Items[0].Table != resolver.TestTable || a.Items[0].Row < 0 {
		return found{}, gone("the guide leads to no chapter of tests any more")
	}
	t := &r.Catalog().Tables().Tests[a.Items[0].Row]
	text := t.Publication + ", section " + t.Chapter
	return one(text, text)
}

// testHolds: the question names the publication and the check that failed.
func testHolds(r *resolver.Resolver, q *banks.Question, _ *resolver.Answer) error {
	shown := line(q, "Publication")
	t := r.Catalog().Tables()
	now := ""
	for i := range t.Tests { // a step may have a row for each side
		s := &t.Tests[i]
		if s.Publication != shown || s.Chapter != q.Query.At.Chapter || s.Step != q.Query.At.Step {
			continue
		}
		if strings.EqualFold(s.Tests, line(q, "Check")) {
			return nil
		}
		now = s.Tests
	}
	if now != "" {
		return gone("step %s of chapter %s of %s is another check now: %s", q.Query.At.Step, q.Query.At.Chapter, shown, now)
	}
	return gone("%s has no step %s of chapter %s any more", shown, q.Query.At.Step, q.Query.At.Chapter)
}

func nextStepKey(r *resolver.Resolver, q *banks.Question, a *resolver.Answer) (found, error) {
	var steps []string
	chapter, side := "", ""
	for _, it := range a.Items {
		if it.Table != resolver.TestTable || it.Row < 0 {
			return found{}, gone("the check leads to no further step any more")
		}
		t := &r.Catalog().Tables().Tests[it.Row]
		if shown := line(q, "Publication"); shown != t.Publication {
			return found{}, gone("the question names publication %s; the guide leads to %s now", shown, t.Publication)
		}
		chapter, steps = t.Chapter, append(steps, t.Step)
		if t.Side != "" {
			side = ", " + t.Side + " side"
		}
	}
	if len(steps) == 0 {
		return found{}, gone("the check leads to no further step any more")
	}
	text := "chapter " + chapter + ", step " + steps[0] + side
	if last := len(steps) - 1; last > 0 {
		text = "chapter " + chapter + ", steps " + strings.Join(steps[:last], ", ") + " and " + steps[last] + side
	}
	return one(text, text)
}

func troubleKey(r *resolver.Resolver, q *banks.Question, a *resolver.Answer) (found, error) {
	if len(a.Items) == 0 {
		return found{}, gone("the code is not treated any more")
	}
	text := r.Place(a.Items[0])
	if line(q, "Bytes read") != "" {
		if a.Items[0].Table != resolver.TroubleTable || a.Items[0].Row < 0 {
			return found{}, gone("the bytes stand for no code of the catalog any more")
		}
		text = r.Catalog().Tables().TroubleCodes[a.Items[0].Row].Code
	}
	return one(text, text)
}

func latestKey(r *resolver.Resolver, _ *banks.Question, a *resolver.Answer) (found, error) {
	if len(a.Items) == 0 || a.Items[0].Publication < 0 {
		return found{}, gone("the lookup leads to no edition any more")
	}
	t := r.Catalog().Tables()
	it := &a.Items[0]
	var with []string
	for _, am := range a.Amendments {
		if am.Item == 0 && !am.Partly && am.Bulletin != it.Bulletin {
			with = append(with, t.Bulletins[am.Bulletin].ID)
		}
	}
	slices.Sort(with)
	text := t.Publications[it.Publication].ID
	switch {
	case it.Bulletin >= 0:
		text = "bulletin " + t.Bulletins[it.Bulletin].ID + " in place of " + text
	case len(with) == 0:
		text += " alone"
	}
	if len(with) > 0 {
		text += " with " + strings.Join(with, " and ")
	}
	return one(text, text)
}

// isIssueOrder tells whether a question asks for the order in which bulletins
// were issued.
func isIssueOrder(q *banks.Question) bool { return q.Kind == "latest" && q.Form == banks.Ordered }

// issueOrderKey puts the bulletins of a question in the order of their issue.
func issueOrderKey(r *resolver.Resolver, q *banks.Question) (found, error) {
	var list []*catalog.Bulletin
	t := r.Catalog().Tables()
	for _, o := range q.Options {
		at := slices.IndexFunc(t.Bulletins, func(b catalog.Bulletin) bool { return b.ID == o.Value })
		if at < 0 {
			return found{}, gone("bulletin %s no longer exists", o.Value)
		}
		list = append(list, &t.Bulletins[at])
	}
	slices.SortFunc(list, func(a, b *catalog.Bulletin) int { return cmp.Compare(a.Issued.First(), b.Issued.First()) })
	var f found
	for i, b := range list {
		if i > 0 && b.Issued.First() == list[i-1].Issued.First() {
			return f, gone("bulletins %s and %s bear the same date", list[i-1].ID, b.ID)
		}
		f.values, f.texts = append(f.values, b.ID), append(f.texts, b.ID+" "+b.Subject)
	}
	return f, nil
}

func chaseKey(r *resolver.Resolver, q *banks.Question, a *resolver.Answer) (found, error) {
	var f found
	for i := range q.Steps {
		s, err := stepKey(q.Steps[i].Step)(r, q, a)
		if err != nil {
			return f, err
		}
		f.steps = append(f.steps, s)
	}
	return f, nil
}

// agrees tells whether the key of a question is what was found.
func (f *found) agrees(q *banks.Question) bool {
	switch q.Form {
	case banks.OneOf:
		for _, o := range q.Options {
			if o.Right != (o.Value == f.values[0]) {
				return false
			}
		}
		return slices.ContainsFunc(q.Options, func(o banks.Option) bool { return o.Right })
	case banks.SomeOf:
		for _, o := range q.Options {
			if o.Right != slices.Contains(f.values, o.Value) {
				return false
			}
		}
		return true
	case banks.Ordered:
		return slices.Equal(q.Key.Order, f.values)
	case banks.Typed:
		return len(q.Key.Accept) > 0 && q.Key.Accept[0] == f.texts[0]
	case banks.Number:
		n, unit, ok := f.number()
		return ok && n == q.Key.Number && unit == q.Key.Unit
	case banks.Chase:
		for i := range q.Steps {
			st := &q.Steps[i]
			if len(st.Options) == 0 {
				if len(st.Accept) == 0 || st.Accept[0] != f.steps[i].texts[0] {
					return false
				}
				continue
			}
			for _, o := range st.Options {
				if o.Right != (o.Value == f.steps[i].values[0]) {
					return false
				}
			}
		}
		return true
	}
	return false
}

// number is the value of a specification that is a plain number.
func (f *found) number() (n float64, unit string, ok bool) {
	if f.amount == nil {
		return 0, "", false
	}
	n, err := strconv.ParseFloat(f.amount.Value, 64)
	return n, f.amount.Unit, err == nil
}

// operationKey reads where an operation of a service stands.
func operationKey(r *resolver.Resolver, number string, a *resolver.Answer) (found, error) {
	var place string
	for _, it := range a.Items {
		switch {
		case it.Operation != number || it.Row < 0 || it.Publication < 0:
		case place != "" || it.Partly:
			return found{}, unclear("operation %s may stand in more than one place now", number)
		default:
			place = r.Place(it)
		}
	}
	if place == "" {
		return found{}, gone("the service does not ask for operation %s any more, or no edition that applies holds it", number)
	}
	return one(place, place)
}
