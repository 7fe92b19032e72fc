package technician

import (
	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

// CertificateRow is one of the visitor's certificates.
type CertificateRow struct {
	quiz.Certified
	Standing certificate.Standing
	Formats  []string // that can be taken away
}

// Outdated tells whether a top-up quiz would renew the certificate.
func (r CertificateRow) Outdated() bool { return r.Standing.State == certificate.Outdated }

// Good tells whether the certificate is valid.
func (r CertificateRow) Good() bool { return r.Standing.State == certificate.Valid }

// Formats lists the files of a certificate, as they stand in addresses.
func formats() []string { return []string{"pdf", "json", "jwt", "png"} }

func (p *Pages) certificates(c *web.Context) error {
	list, err := p.app.Store.CertificatesOf(c.Ctx(), c.Visitor.ID)
	if err != nil {
		return err
	}
	var v struct{ Rows []CertificateRow }
	for _, x := range list {
		v.Rows = append(v.Rows, CertificateRow{Certified: x, Standing: p.deps.Issuer.Standing(c.Ctx(), x), Formats: formats()})
	}
	return c.Page(p.set, "technician-certificates", v)
}

func (p *Pages) certificateOwner(c *web.Context) (string, error) {
	x, err := p.app.Store.Certificate(c.Ctx(), c.Param("number"))
	if err != nil {
		return "", err
	}
	c.Set(certificateEntry, x)
	return x.PersonID, nil
}

// certificateFile gives a file of a certificate as it was issued.
func (p *Pages) certificateFile(c *web.Context) error {
	number := c.Param("number")
	f, err := p.deps.Issuer.Files(c.Ctx(), number)
	if err != nil {
		return err
	}
	data, media := file(f, c.Param("format"))
	if len(data) == 0 {
		return quiz.Errorf(quiz.NotFound, "certificate %s has no such file", number)
	}
	return c.File(number+"."+c.Param("format"), media, data)
}

// file chooses a file of a certificate. Media types: VC Data Model 2.0, 6.3, and
// Securing Verifiable Credentials using JOSE and COSE, 6.1, both W3C 2025 (from
// memory).
func file(f store.Files, format string) (data []byte, media string) {
	switch format {
	case "pdf":
		return f.PDF, "application/pdf"
	case "json":
		return f.JSON, "application/vc"
	case "jwt":
		return f.JWT, "application/vc+jwt"
	case "png":
		return f.PNG, "image/png"
	}
	return nil, ""
}

// topUp assigns the short quiz that renews an outdated certificate, and goes to
// it.
func (p *Pages) topUp(c *web.Context) error {
	x, _ := c.Get(certificateEntry).(quiz.Certified)
	a, err := p.deps.Issuer.TopUp(c.Ctx(), c.Visitor.ID, x.Number)
	if quiz.ErrorCode(err) == quiz.Closed || quiz.ErrorCode(err) == quiz.Conflict {
		c.Flash(c.T("technician.topup.not"))
		return c.Go("/certificates")
	}
	if err != nil {
		return err
	}
	return c.Go("/quizzes/" + a.ID)
}
