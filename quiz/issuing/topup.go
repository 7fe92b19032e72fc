package issuing

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"time"

	"rightpage/banks"
	"rightpage/banks/kinds"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/library"
	"rightpage/quiz/marking"
)

// topUpTitle begins the title of the form of a top-up quiz; the number of the
// certificate and the title of its quiz follow.
const topUpTitle = "Top-up for certificate "

// renewsBy tells which certificate a form of that title is to renew.
func renewsBy(title string) (number string, ok bool) {
	rest, ok := strings.CutPrefix(title, topUpTitle)
	if !ok {
		return "", false
	}
	number, _, _ = strings.Cut(rest, ":")
	return number, number != ""
}

// topUpAttempts is how often a top-up quiz may be tried.
const topUpAttempts = 3

// TopUp assigns a person a short quiz on exactly the lookups of a certificate
// that have another answer by the catalog in force. Passing it renews the
// certificate, see [Issuer.Issue]. Asked for again, it gives the same quiz.
func (x *Issuer) TopUp(ctx context.Context, actor, number string) (quiz.Assignment, error) {
	none := quiz.Assignment{}
	c, err := x.s.Certificate(ctx, number)
	if err != nil {
		return none, err
	}
	t, err := x.lookAgain(ctx, c)
	if err != nil {
		return none, err
	}
	if as, ok, err := x.topUpOf(ctx, number, t.entry.Catalog.Meta().Revision); err != nil || ok {
		return as, err
	}
	f, err := x.topUpForm(ctx, c, t)
	if err != nil {
		return none, err
	}
	if err := x.s.AddForm(ctx, actor, f); err != nil {
		return none, err
	}
	// The ID follows from what is topped up by what: of two who ask at once, on
	// whatever server, one makes the quiz, and its attempts are not doubled.
	id := sha256.Sum256([]byte("top-up\x00" + number + "\x00" + t.entry.Catalog.Meta().Revision))
	as := quiz.Assignment{ID: "t" + hex.EncodeToString(id[:12]), Title: f.Title, Form: f.ID, Targets: []quiz.Target{{Kind: quiz.ToPerson, ID: c.PersonID}}, Open: x.now(),
		Close: c.ValidUntil().Add(time.Second), Attempts: topUpAttempts,
		Release: quiz.Release{When: quiz.ReleaseAtEnd, Score: true, Answers: true, Key: true, Trace: true}}
	if err := x.s.SaveAssignment(ctx, actor, &as); err != nil {
		if made, ok, other := x.topUpOf(ctx, number, t.entry.Catalog.Meta().Revision); ok && other == nil {
			return made, nil // another was quicker
		}
		return none, err
	}
	return as, x.s.AddNotices(ctx, []quiz.Notice{{ID: "top-up/" + as.ID, Person: c.PersonID, Kind: quiz.NoticeAssignment, Subject: "assignment/" + as.ID,
		Detail: map[string]string{marking.DetailAssignment: as.Title, DetailNumber: c.Number}}})
}

// topUpOf finds the open top-up quiz for a certificate by a revision.
func (x *Issuer) topUpOf(ctx context.Context, number, revision string) (as quiz.Assignment, ok bool, err error) {
	forms, err := x.s.Forms(ctx)
	if err != nil {
		return as, false, err
	}
	ours := map[string]bool{}
	for _, f := range forms {
		n, isTopUp := renewsBy(f.Title)
		ours[f.ID] = isTopUp && n == number && f.Revision == revision
	}
	all, err := x.s.Assignments(ctx)
	if err != nil {
		return as, false, err
	}
	for _, as := range all {
		if ours[as.Form] && x.now().Before(as.Close) {
			return as, true, nil
		}
	}
	return as, false, nil
}

// again is what has become of the lookups of a certificate.
type again struct {
	entry     *library.Entry
	asker     *asker
	standing  certificate.Standing
	questions map[string]*banks.Question
}

// lookAgain asks the catalog in force about the lookups of a certificate that
// can be renewed.
func (x *Issuer) lookAgain(ctx context.Context, c quiz.Certified) (again, error) {
	var t again
	settings, err := x.s.Settings(ctx)
	if err != nil {
		return t, err
	}
	if t.entry, err = x.l.InForceOf(ctx, c.CatalogTitle); err != nil {
		return t, err
	}
	of, err := x.s.CertificatesOf(ctx, c.PersonID)
	if err != nil {
		return t, err
	}
	b := x.newBook(of)
	by, err := b.renewedBy(ctx, &c)
	if err != nil {
		return t, err
	}
	if by != "" {
		return t, quiz.Errorf(quiz.Closed, "certificate %s was renewed by %s", c.Number, by)
	}
	if t.questions, err = b.questions(ctx, &c); err != nil {
		return t, err
	}
	t.asker = newAsker(t.entry)
	c.Changes = t.asker.changes(&c.Certificate, t.questions)
	t.standing = c.Standing(policy(settings), x.now())
	switch s := t.standing; {
	case s.State != certificate.Outdated && s.State != certificate.Valid:
		return t, &quiz.Error{Code: quiz.Closed, Text: "certificate " + c.Number + " is " + string(s.State) + ": a top-up quiz cannot renew it", Mend: "assign the whole quiz"}
	case len(s.Changed) == 0:
		return t, quiz.Errorf(quiz.Closed, "nothing has changed that certificate %s stands for", c.Number)
	}
	return t, nil
}

// topUpForm makes the form that asks the changed lookups again.
func (x *Issuer) topUpForm(ctx context.Context, c quiz.Certified, t again) (*banks.TestForm, error) {
	finder := finder{t.entry, t.asker}
	var list []*banks.Question
	for _, ch := range t.standing.Changed {
		q, ok := t.questions[ch.Lookup.ID]
		if !ok || ch.Now.Answer == "" {
			continue // no longer covered: there is nothing to ask
		}
		next, err := finder.find(ctx, q, t.asker.ask(q), list)
		if err != nil {
			return nil, err
		}
		if next != nil {
			list = append(list, next)
		}
	}
	if len(list) == 0 {
		return nil, &quiz.Error{Code: quiz.Conflict, Text: "of what changed for certificate " + c.Number + " nothing can be asked", Mend: "assign a new quiz on the catalog in force"}
	}
	cut := 0.8 // of a certificate that was entered by hand
	partial := true
	if c.Attempt != "" {
		a, err := x.s.Attempt(ctx, c.Attempt)
		if err != nil {
			return nil, err
		}
		as, err := x.s.Assignment(ctx, a.Assignment)
		if err != nil {
			return nil, err
		}
		f, err := x.m.Form(ctx, as.Form)
		if err != nil {
			return nil, err
		}
		cut, partial = f.Blueprint.Cut, f.Blueprint.PartialCredit
	}
	title := topUpTitle + c.Number + ": " + c.Quiz
	b := banks.NewBlueprint(title, len(list))
	b.Cut, b.PartialCredit = cut, partial
	return &banks.TestForm{Title: title, Catalog: t.entry.Catalog.Meta().Title, Revision: t.entry.Catalog.Meta().Revision, Blueprint: b,
		Variants: []banks.Variant{{Name: banks.Letter(0), Questions: list}}}, nil
}

// renewed gives the certificate that a passed top-up quiz earns.
func (x *Issuer) renewed(ctx context.Context, number string, a quiz.Attempt, f *marking.Form) (certificate.Certificate, error) {
	none := certificate.Certificate{}
	c, err := x.s.Certificate(ctx, number)
	if err != nil {
		return none, err
	}
	if c.PersonID != a.Person {
		return none, quiz.Errorf(quiz.Forbidden, "certificate %s is another person's", number)
	}
	t, err := x.lookAgain(ctx, c)
	if err != nil {
		return none, err
	}
	stale := &quiz.Error{Code: quiz.Conflict, Text: "the top-up quiz does not ask what has changed by now", Mend: "assign a top-up quiz again"}
	if f.Revision != t.entry.Catalog.Meta().Revision {
		return none, stale
	}
	asks := map[string]*banks.Question{}
	for _, q := range f.Questions() {
		asks[lookupID(q)] = q
	}
	for _, ch := range t.standing.Changed {
		q, ok := t.questions[ch.Lookup.ID]
		if ok && t.asker.ask(q).Outcome == grading.KeyChanged && asks[ch.Lookup.ID] == nil {
			return none, stale
		}
	}
	out, err := certificate.Renew(c.Certificate, t.standing, c.Number, t.entry.Catalog.Meta().Revision, a.Ended)
	if err != nil {
		return none, &quiz.Error{Code: quiz.Closed, Text: "the certificate cannot be renewed", Err: err}
	}
	// From now on these are asked as the top-up quiz asked them.
	for i, l := range out.Lookups {
		if q := asks[l.ID]; q != nil {
			out.Lookups[i] = LookupOf(q)
		}
	}
	// The day of issue is that of the signature, as with any other.
	out.Issued = x.now().Truncate(24 * time.Hour)
	return out, nil
}

// finder finds, in a revision, a question for a lookup.
type finder struct {
	e *library.Entry
	a *asker
}

// find gives the question that asks a lookup by the revision: the same one with
// its new key; where what it said or offered is no longer so, the same one
// amended; and where that cannot be, another on the same record or task. It
// gives nil if there is none, or the form has one like it already.
func (f *finder) find(ctx context.Context, q *banks.Question, now asked, in []*banks.Question) (*banks.Question, error) {
	fits := func(x *banks.Question) bool {
		return !slices.ContainsFunc(in, func(y *banks.Question) bool { return x.ID == y.ID || banks.NearDuplicates(x, y) })
	}
	if now.Outcome == grading.KeyChanged {
		if slices.ContainsFunc(in, func(y *banks.Question) bool { return y.ID == now.New.ID }) {
			return nil, nil
		}
		return now.New, nil
	}
	if now.Outcome == grading.Unchanged {
		// The certificate has another answer from a revision between; the
		// question as it was is right again.
		same := *q
		same.Revision = f.e.Catalog.Meta().Revision
		if _, err := banks.Encode(&same); err != nil {
			return nil, &quiz.Error{Code: quiz.Internal, Text: "make the top-up quiz", Err: err}
		}
		return &same, nil
	}
	if x := f.a.amended(q); x != nil && !slices.ContainsFunc(in, func(y *banks.Question) bool { return y.ID == x.ID }) {
		return x, nil
	}
	bank, err := f.e.Bank(ctx)
	if err != nil {
		return nil, err
	}
	for _, near := range nearness(q) {
		for _, x := range bank.Questions {
			if near(x) && fits(x) {
				return x, nil
			}
		}
		if x, err := f.make(ctx, q.Kind, func(x *banks.Question) bool { return near(x) && fits(x) }); err != nil || x != nil {
			return x, err
		}
	}
	return nil, nil
}

// nearness lists what makes a question ask the same as another, the nearest
// first.
func nearness(q *banks.Question) []func(*banks.Question) bool {
	kind := func(x *banks.Question) bool { return x.Kind == q.Kind }
	task := func(x *banks.Question) bool { return x.Query.Task == q.Query.Task && x.Query.Text == q.Query.Text }
	model := func(x *banks.Question) bool { return x.About.Model == q.About.Model }
	return []func(*banks.Question) bool{
		func(x *banks.Question) bool { return kind(x) && task(x) && model(x) },
		func(x *banks.Question) bool {
			return kind(x) && q.About.Record != "" && x.About.Record == q.About.Record
		},
		func(x *banks.Question) bool { return kind(x) && task(x) },
	}
}

// mostMade bounds the search for a question that the bank does not have: a
// fraction of a second's work.
const mostMade = 4000

// make makes a question of a kind that fits; nil if there is none, or none is
// found among the first that the catalog has.
func (f *finder) make(ctx context.Context, kind string, fits func(*banks.Question) bool) (*banks.Question, error) {
	k, ok := kinds.Find(kind)
	if !ok {
		return nil, nil
	}
	short, cancel := context.WithCancel(ctx)
	defer cancel()
	made := 0
	var found *banks.Question
	// One worker, so that Accept needs no lock and the same question is found
	// each time.
	plan := banks.Plan{Seed: 1, Size: 1, Shares: []banks.Share{{Kind: &k, Weight: 1}}, Workers: 1, Accept: func(q *banks.Question) bool {
		if made++; made > mostMade {
			cancel()
			return false
		}
		return fits(q)
	}}
	_, err := banks.Generate(short, banks.NewSource(f.e.Resolver), plan, func(q *banks.Question, _ []byte) bool {
		c := *q
		found = &c
		return false
	})
	if found == nil && err != nil && made <= mostMade {
		return nil, &quiz.Error{Code: quiz.Unavailable, Text: "make the top-up quiz", Err: fmt.Errorf("question of kind %s: %w", kind, err)}
	}
	return found, nil
}
