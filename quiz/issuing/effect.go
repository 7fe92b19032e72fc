package issuing

import (
	"cmp"
	"context"
	"slices"

	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/library"
)

// Effect is what a revision of a catalog would do if it came into force.
type Effect struct {
	Title, Revision string
	Lookups         int // certified, each counted once per certificate
	Changed         int // of these, with another answer than on the certificate
	Certificates    []CertificateEffect
	Outdated        int // certificates that it would outdate
	Quizzes         []QuizEffect
}

// CertificateEffect is what a revision would do to a certificate.
type CertificateEffect struct {
	Certified quiz.Certified
	Was       certificate.State    // as it stands
	Becomes   certificate.Standing // with the revision in force
}

// QuizEffect is what a revision would do to a quiz that is open or still to
// open.
type QuizEffect struct {
	Assignment quiz.Assignment
	Questions  int                      // of all variants
	Changes    []grading.QuestionChange // of those whose key would not stay; they hold keys
	NewKey     int                      // of these, with another key
	Void       int                      // without one
	Look       int                      // at which a person must look
	Working    int                      // attempts under way
	Graded     int                      // attempts graded, to be regraded or not
}

// Effect tells what a revision not yet in force would do to certificates and to
// quizzes that have not closed: only what it would change is listed. It changes
// nothing.
func (x *Issuer) Effect(ctx context.Context, candidate *library.Entry) (Effect, error) {
	out := Effect{Title: candidate.Info.Title, Revision: candidate.Info.Revision}
	settings, err := x.s.Settings(ctx)
	if err != nil {
		return out, err
	}
	all, err := x.s.Certificates(ctx)
	if err != nil {
		return out, err
	}
	a, book, now := newAsker(candidate), x.newBook(all), x.now()
	for i := range all {
		c := &all[i]
		if c.CatalogTitle != out.Title || settled(c, policy(settings), x) {
			continue
		}
		if renewed, err := book.renewedBy(ctx, c); err != nil || renewed != "" {
			if err != nil {
				return out, err
			}
			continue // the one that renewed it counts
		}
		questions, err := book.questions(ctx, c)
		if err != nil {
			return out, err
		}
		with := *c
		with.Changes = a.changes(&c.Certificate, questions)
		out.Lookups += len(c.Lookups)
		out.Changed += len(with.Changes)
		if len(with.Changes) == 0 && len(c.Changes) == 0 {
			continue
		}
		e := CertificateEffect{Certified: *c, Was: c.Standing(policy(settings), now).State, Becomes: with.Standing(policy(settings), now)}
		if e.Becomes.State == certificate.Outdated && e.Was != certificate.Outdated {
			out.Outdated++
		}
		out.Certificates = append(out.Certificates, e)
	}
	slices.SortStableFunc(out.Certificates, func(a, b CertificateEffect) int {
		return cmp.Or(cmp.Compare(len(b.Becomes.Changed), len(a.Becomes.Changed)), cmp.Compare(a.Certified.Number, b.Certified.Number))
	})
	out.Quizzes, err = x.quizEffects(ctx, out.Title, a)
	return out, err
}

func (x *Issuer) quizEffects(ctx context.Context, title string, a *asker) ([]QuizEffect, error) {
	assignments, err := x.s.Assignments(ctx)
	if err != nil {
		return nil, err
	}
	forms, err := x.s.Forms(ctx)
	if err != nil {
		return nil, err
	}
	catalogs := map[string]string{}
	for _, f := range forms {
		catalogs[f.ID] = f.Catalog
	}
	var out []QuizEffect
	for _, as := range assignments {
		if catalogs[as.Form] != title || !as.Close.IsZero() && !x.now().Before(as.Close) {
			continue
		}
		f, err := x.m.Form(ctx, as.Form)
		if err != nil {
			return out, err
		}
		e := QuizEffect{Assignment: as}
		for _, q := range f.Questions() {
			e.Questions++
			c := a.ask(q).QuestionChange
			switch c.Outcome {
			case grading.Unchanged:
				continue
			case grading.KeyChanged:
				e.NewKey++
			case grading.Void:
				e.Void++
			default:
				e.Look++
			}
			e.Changes = append(e.Changes, c)
		}
		if len(e.Changes) == 0 {
			continue
		}
		attempts, err := x.s.AttemptsAt(ctx, as.ID)
		if err != nil {
			return out, err
		}
		for _, t := range attempts {
			switch {
			case !t.State.Ended():
				e.Working++
			case t.State == quiz.Graded:
				e.Graded++
			}
		}
		out = append(out, e)
	}
	return out, nil
}
