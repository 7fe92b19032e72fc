package issuing

import (
	"context"
	"crypto/sha256"
	"encoding/base32"
	"encoding/json"
	"slices"
	"strings"

	"rightpage/banks"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/library"
)

func lookupID(q *banks.Question) string {
	h := sha256.New()
	e := json.NewEncoder(h)
	for _, part := range []any{q.Kind, q.Query, q.About.Record, q.Stem} {
		_ = e.Encode(part) // to a hash, of plain data
	}
	return strings.ToLower(base32.StdEncoding.EncodeToString(h.Sum(nil)))[:20]
}

// longestTask bounds the words for a lookup, in runes.
const longestTask = 300

// taskOf says in words what is looked up.
func taskOf(q *banks.Question) string {
	title := q.Kind
	if k, ok := kinds.Find(q.Kind); ok {
		title = k.Title
	}
	var parts []string
	for _, l := range q.Order {
		parts = append(parts, l.Label+" "+l.Value)
	}
	if len(parts) == 0 {
		parts = []string{q.Stem}
	}
	text := []rune(title + ": " + strings.Join(parts, ", "))
	if len(text) > longestTask {
		text = append(text[:longestTask-1], '…')
	}
	return string(text)
}

// asker asks one catalog about lookups, each once.
type asker struct {
	change   grading.Change
	r        *resolver.Resolver
	revision string
	known    map[string]asked
}

// asked is what a catalog says of a question.
type asked struct {
	certificate.Current
	grading.QuestionChange
}

func newAsker(e *library.Entry) *asker {
	return &asker{grading.Revision(e.Resolver), e.Resolver, e.Info.Revision, map[string]asked{}}
}

// ask tells what the catalog answers to the lookup behind a question.
func (a *asker) ask(q *banks.Question) asked {
	if x, ok := a.known[q.ID]; ok {
		return x
	}
	x := asked{QuestionChange: a.change(q)}
	x.Source = "revision " + a.revision
	switch x.Outcome {
	case grading.Unchanged:
		x.Answer = q.KeyText()
	case grading.KeyChanged:
		x.Answer = x.NewKey
	default:
		// The question cannot be asked any more as it was; the lookup may be
		// covered still.
		x.Answer = a.places(q)
	}
	a.known[q.ID] = x
	return x
}

// places says where a lookup leads: empty if it is not covered. Of a question
// that asks for a step before the place, it says what is chosen there.
func (a *asker) places(q *banks.Question) string {
	var ans resolver.Answer
	a.r.Resolve(&q.Query, resolver.Break{}, &ans)
	if step, ok := steps(q.Kind); ok && step != resolver.LocationStep && ans.Status == resolver.Found {
		if _, text, ok := a.r.StepValue(&q.Query, &ans, step); ok {
			return text
		}
	}
	var list []string
	if ans.Status != resolver.NotCovered {
		for _, it := range ans.Items {
			if p := a.r.Place(it); !slices.Contains(list, p) {
				list = append(list, p)
			}
		}
	}
	return strings.Join(list, " or ")
}

// changes asks about the lookups of a certificate. Those whose question is not
// there any more are left as they are.
func (a *asker) changes(c *certificate.Certificate, questions map[string]*banks.Question) []certificate.Change {
	return certificate.Changed(c.Lookups, func(l certificate.Lookup) certificate.Current {
		q, ok := questions[l.ID]
		if !ok {
			return certificate.Current{Answer: l.Answer}
		}
		return a.ask(q).Current
	})
}

// book finds the questions behind certificates.
type book struct {
	x      *Issuer
	forms  map[string]map[string]*banks.Question // form → lookup → question
	titles map[string]string                     // form → title
	of     map[string]string                     // attempt → form
	people map[string][]quiz.Certified
}

func (x *Issuer) newBook(all []quiz.Certified) *book {
	b := &book{x: x, forms: map[string]map[string]*banks.Question{}, titles: map[string]string{}, of: map[string]string{}, people: map[string][]quiz.Certified{}}
	for _, c := range all {
		b.people[c.PersonID] = append(b.people[c.PersonID], c)
	}
	return b
}

// form gives the form of the attempt that earned a certificate; "" if it was
// entered by hand.
func (b *book) form(ctx context.Context, c *quiz.Certified) (string, error) {
	if c.Attempt == "" {
		return "", nil
	}
	if id, ok := b.of[c.Attempt]; ok {
		return id, nil
	}
	a, err := b.x.s.Attempt(ctx, c.Attempt)
	if err != nil {
		return "", err
	}
	as, err := b.x.s.Assignment(ctx, a.Assignment)
	if err != nil {
		return "", err
	}
	if b.forms[as.Form] == nil {
		f, err := b.x.m.Form(ctx, as.Form)
		if err != nil {
			return "", err
		}
		of := map[string]*banks.Question{}
		for _, q := range f.Questions() {
			of[lookupID(q)] = q
		}
		b.forms[as.Form], b.titles[as.Form] = of, f.Title
	}
	b.of[c.Attempt] = as.Form
	return as.Form, nil
}

// questions gives the questions behind a certificate by lookup. Those of one
// that was renewed are in the forms of the ones before it, too.
func (b *book) questions(ctx context.Context, c *quiz.Certified) (map[string]*banks.Question, error) {
	form, err := b.form(ctx, c)
	if err != nil {
		return nil, err
	}
	own := b.forms[form]
	whole := !slices.ContainsFunc(c.Lookups, func(l certificate.Lookup) bool { return own[l.ID] == nil })
	if whole {
		return own, nil
	}
	all := map[string]*banks.Question{}
	for i := range b.people[c.PersonID] {
		form, err := b.form(ctx, &b.people[c.PersonID][i])
		if err != nil {
			return nil, err
		}
		for id, q := range b.forms[form] {
			all[id] = q
		}
	}
	for id, q := range own {
		all[id] = q
	}
	return all, nil
}

// renewedBy gives the number of the certificate that renewed one; "" if none
// has.
func (b *book) renewedBy(ctx context.Context, c *quiz.Certified) (string, error) {
	for i := range b.people[c.PersonID] {
		other := &b.people[c.PersonID][i]
		if other.Number == c.Number {
			continue
		}
		form, err := b.form(ctx, other)
		if err != nil {
			return "", err
		}
		if n, ok := renewsBy(b.titles[form]); ok && n == c.Number {
			return other.Number, nil
		}
	}
	return "", nil
}
