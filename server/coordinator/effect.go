package coordinator

import (
	"context"

	"rightpage/quiz/certificate"
	"rightpage/quiz/issuing"
	"rightpage/quiz/library"
)

// shownCertificates is how many certificates stand on the page of an effect.
const shownCertificates = 25

// effect is what a revision would do to open quizzes and certificates.
type effect struct {
	issuing.Effect
	Names map[string]string // of the people of the certificates
}

func (p *Pages) effect(ctx context.Context, candidate *library.Entry) (*effect, error) {
	e, err := p.issuer.Effect(ctx, candidate)
	if err != nil {
		return nil, err
	}
	names, err := p.names(ctx)
	return &effect{e, names}, err
}

// ShownCertificates are the certificates that stand on the page.
func (e *effect) ShownCertificates() []issuing.CertificateEffect {
	return e.Certificates[:min(len(e.Certificates), shownCertificates)]
}

// MoreCertificates is how many certificates the page leaves out.
func (e *effect) MoreCertificates() int { return len(e.Certificates) - len(e.ShownCertificates()) }

// outdated counts the certificates about a catalog that are outdated.
func (p *Pages) outdated(ctx context.Context, title string) (int, error) {
	all, err := p.store.Certificates(ctx)
	if err != nil {
		return 0, err
	}
	n := 0
	for _, c := range all {
		if c.CatalogTitle != title {
			continue
		}
		if p.issuer.Standing(ctx, c).State == certificate.Outdated {
			n++
		}
	}
	return n, nil
}
