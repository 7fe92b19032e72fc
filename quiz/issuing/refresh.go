package issuing

import (
	"context"
	"slices"
	"strconv"

	"rightpage/quiz"
	"rightpage/quiz/certificate"
)

// Refresh asks the catalogs in force about every lookup that is certified, after
// a revision has come into force. It records what changed and tells people
// whose certificate became outdated. It gives the certificates of which
// something changed. Doing it again changes nothing and tells nobody twice.
func (x *Issuer) Refresh(ctx context.Context, actor string) ([]quiz.Certified, error) {
	all, err := x.s.Certificates(ctx)
	if err != nil {
		return nil, err
	}
	return x.refresh(ctx, actor, all, all)
}

// refresh asks about some certificates of all.
func (x *Issuer) refresh(ctx context.Context, actor string, some, all []quiz.Certified) ([]quiz.Certified, error) {
	entries, err := x.l.InForce(ctx)
	if err != nil {
		return nil, err
	}
	askers := map[string]*asker{}
	for _, e := range entries {
		askers[e.Info.Title] = newAsker(e)
	}
	settings, err := x.s.Settings(ctx)
	if err != nil {
		return nil, err
	}
	book, now := x.newBook(all), x.now()
	var out []quiz.Certified
	for i := range some {
		c := &some[i]
		a := askers[c.CatalogTitle]
		if a == nil || settled(c, policy(settings), x) {
			continue
		}
		questions, err := book.questions(ctx, c)
		if err != nil {
			return out, err
		}
		changes := a.changes(&c.Certificate, questions)
		fresh := *c
		fresh.Changes = changes
		is := fresh.Standing(policy(settings), now)
		if is.State == certificate.Outdated {
			renewed, err := book.renewedBy(ctx, c)
			if err != nil {
				return out, err
			}
			p, err := x.s.Person(ctx, c.PersonID)
			if err != nil {
				return out, err
			}
			// It is told first, and once: the notice has an ID of its own.
			if renewed == "" && p.Erased.IsZero() {
				err := x.tell(ctx, *c, quiz.NoticeOutdated, "outdated/"+c.Number+"/"+a.revision, map[string]string{DetailReason: is.Reason, DetailRevision: a.revision,
					DetailChanged: strconv.Itoa(len(is.Changed)), DetailTotal: strconv.Itoa(is.Total)})
				if err != nil {
					return out, err
				}
			}
		}
		if slices.Equal(changes, c.Changes) {
			continue
		}
		saved, err := x.s.RecordChanges(ctx, actor, c.Number, changes)
		if err != nil {
			return out, err
		}
		out = append(out, saved)
	}
	return out, nil
}

// settled tells whether nothing can change the standing of a certificate any
// more.
func settled(c *quiz.Certified, p certificate.Policy, x *Issuer) bool {
	s := c.Standing(p, x.now()).State
	return s == certificate.Revoked || s == certificate.Expired
}
