package issuing

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"rightpage/banks"
	"rightpage/grading"
	"rightpage/grading/psychometrics"
	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/credential"
	"rightpage/quiz/marking"
	"rightpage/quiz/paper"
	"rightpage/quiz/store"
)

// Issue issues the certificate that a graded and passed attempt earns: with its
// number and code, PDF, badge and signed credential, all of them kept. For an
// attempt that has one it gives that. A passed top-up quiz renews the
// certificate that it is for.
func (x *Issuer) Issue(ctx context.Context, actor, attempt string) (quiz.Certified, error) {
	a, err := x.s.Attempt(ctx, attempt)
	if err != nil {
		return quiz.Certified{}, err
	}
	switch {
	case a.State != quiz.Graded:
		return quiz.Certified{}, &quiz.Error{Code: quiz.Closed, Text: "the attempt is not graded", Mend: "wait until it is"}
	case !a.Result.Passed:
		return quiz.Certified{}, quiz.Errorf(quiz.Closed, "the attempt did not pass")
	}
	if c, ok, err := x.earned(ctx, a); err != nil || ok {
		return c, err
	}
	settings, err := x.s.Settings(ctx)
	if err != nil {
		return quiz.Certified{}, err
	}
	as, err := x.s.Assignment(ctx, a.Assignment)
	if err != nil {
		return quiz.Certified{}, err
	}
	f, err := x.m.Form(ctx, as.Form)
	if err != nil {
		return quiz.Certified{}, err
	}
	c := quiz.Certified{PersonID: a.Person, Attempt: a.ID}
	renews, isTopUp := renewsBy(f.Title)
	if isTopUp {
		c.Certificate, err = x.renewed(ctx, renews, a, f)
	} else {
		c.Certificate, err = x.certificate(ctx, a, as, f, settings)
	}
	if err != nil {
		return quiz.Certified{}, err
	}
	if err := x.s.IssueCertificate(ctx, actor, settings.Prefix, &c); err != nil {
		// Another may have been quicker.
		if c, ok, other := x.earned(ctx, a); ok && other == nil {
			return c, nil
		}
		return quiz.Certified{}, err
	}
	if _, err := x.Files(ctx, c.Number); err != nil {
		return c, err
	}
	var detail map[string]string
	if isTopUp {
		detail = map[string]string{DetailRenews: renews}
	}
	return c, x.tell(ctx, c, quiz.NoticeCertificate, "issued/"+c.Number, detail)
}

// earned finds the certificate that an attempt has earned, with its files.
func (x *Issuer) earned(ctx context.Context, a quiz.Attempt) (quiz.Certified, bool, error) {
	list, err := x.s.CertificatesOf(ctx, a.Person)
	if err != nil {
		return quiz.Certified{}, false, err
	}
	for _, c := range list {
		if c.Attempt == a.ID {
			_, err := x.Files(ctx, c.Number)
			return c, true, err
		}
	}
	return quiz.Certified{}, false, nil
}

// certificate states what an attempt has shown.
func (x *Issuer) certificate(ctx context.Context, a quiz.Attempt, as quiz.Assignment, f *marking.Form, settings quiz.Settings) (certificate.Certificate, error) {
	var c certificate.Certificate
	if settings.Organisation == "" {
		return c, &quiz.Error{Code: quiz.Closed, Text: "the organisation has no name yet", Mend: "give it in the settings: it stands on certificates"}
	}
	p, err := x.s.Person(ctx, a.Person)
	if err != nil {
		return c, err
	}
	if !p.Erased.IsZero() {
		return c, quiz.Errorf(quiz.Closed, "the data of this person was erased")
	}
	gradings, err := x.s.Gradings(ctx, a.ID)
	if err != nil {
		return c, err
	}
	if len(gradings) == 0 {
		return c, quiz.Errorf(quiz.Internal, "attempt %s is graded and has no grading", a.ID)
	}
	scores := gradings[len(gradings)-1].Scores
	issued := x.now().Truncate(24 * time.Hour)
	c = certificate.Certificate{Number: settings.Prefix, Person: p.Name, Organisation: settings.Organisation, Quiz: as.Title,
		CatalogTitle: f.Catalog, CatalogRevision: f.Revision, Issued: issued, Expires: issued.AddDate(0, settings.CertificateMonths, -1),
		Skills: skills(scores, settings.Aim)}
	if p.Site != "" {
		sites, err := x.s.Sites(ctx)
		if err != nil {
			return c, err
		}
		for _, s := range sites {
			if s.ID == p.Site {
				c.Site = s.Name
			}
		}
	}
	seen := map[string]bool{}
	for _, s := range scores {
		q, ok := f.ByID(s.Question)
		if !ok || s.Points < mostly {
			continue
		}
		l := LookupOf(q)
		if !seen[l.ID] {
			seen[l.ID] = true
			c.Lookups = append(c.Lookups, l)
		}
	}
	return c, nil
}

// mostly is the points of a question from which its lookup is certified: a
// chase that was found with a detour counts, one that was mostly missed does
// not.
const mostly = 0.5

// The levels of skills on certificates.
const (
	LevelAssured = "assured" // the organisation's aim is reached over enough questions to tell
	LevelShown   = "shown"   // it is reached, over a few
)

// skills lists the skills in which the aim was reached, those with the most
// questions first; if in none, those in which most was right.
func skills(scores []grading.Score, aim float64) []certificate.Skill {
	var list []grading.SkillResult
	for _, s := range scores {
		i := slices.IndexFunc(list, func(k grading.SkillResult) bool { return k.Skill == s.Skill })
		if i < 0 {
			i = len(list)
			list = append(list, grading.SkillResult{Skill: s.Skill})
		}
		list[i].Points += s.Points
		list[i].Of++
	}
	slices.SortStableFunc(list, func(a, b grading.SkillResult) int {
		return cmp.Or(cmp.Compare(b.Of, a.Of), cmp.Compare(a.Skill, b.Skill))
	})
	reaching := func(aim float64) []certificate.Skill {
		const hair = 1e-9 // sums of parts of points
		var out []certificate.Skill
		for _, k := range list {
			if k.Points < aim*float64(k.Of)-hair {
				continue
			}
			level := LevelShown
			if k.Of >= psychometrics.MinSkillAnswers {
				level = LevelAssured
			}
			out = append(out, certificate.Skill{Name: strings.ToUpper(k.Skill[:min(1, len(k.Skill))]) + k.Skill[min(1, len(k.Skill)):], Level: level,
				Score: strconv.FormatFloat(float64(int(k.Points*100+0.5))/100, 'f', -1, 64) + " of " + strconv.Itoa(k.Of)})
		}
		return out
	}
	out := reaching(aim)
	for _, less := range []float64{0.5, 0} {
		if len(out) == 0 {
			out = reaching(less)
			for i := range out {
				out[i].Level = LevelShown
			}
		}
	}
	return out
}

// complete adds the address at which the certificate can be checked, which
// holds its number.
func complete(c quiz.Certified, base string) certificate.Certificate {
	out := c.Certificate
	if base != "" {
		out.VerifyURL = VerifyURL(base, c.Number, c.Code)
	}
	return out
}

// Files gives a certificate as it was issued. If a crash lost its files, or
// they were never made, they are made now.
func (x *Issuer) Files(ctx context.Context, number string) (store.Files, error) {
	files, err := x.s.CertificateFiles(ctx, number)
	if quiz.ErrorCode(err) != quiz.NotFound {
		return files, err
	}
	c, err := x.s.Certificate(ctx, number)
	if err != nil {
		return store.Files{}, err
	}
	p, err := x.s.Person(ctx, c.PersonID)
	if err != nil {
		return store.Files{}, err
	}
	if !p.Erased.IsZero() {
		return store.Files{}, &quiz.Error{Code: quiz.NotFound, Text: "the files of certificate " + number + " were erased with the data of the person"}
	}
	if files, err = x.print(ctx, c); err != nil {
		return store.Files{}, err
	}
	if err := x.s.KeepFiles(ctx, number, files); err != nil {
		if quiz.ErrorCode(err) == quiz.Conflict { // another process made them
			return x.s.CertificateFiles(ctx, number)
		}
		return store.Files{}, err
	}
	return files, nil
}

// print makes the files of a certificate.
func (x *Issuer) print(ctx context.Context, c quiz.Certified) (store.Files, error) {
	var files store.Files
	settings, err := x.s.Settings(ctx)
	if err != nil {
		return files, err
	}
	signer, err := x.k.Signer()
	if err != nil {
		return files, err
	}
	full := complete(c, settings.BaseURL)
	o := credential.IssueOptions{Now: x.now(), OrganisationURL: settings.BaseURL}
	if files.StatusIndex, err = x.s.ReserveStatusIndex(ctx, c.Number); err != nil {
		return files, err
	}
	if settings.BaseURL != "" {
		o.Status = credential.NewStatusEntry(StatusURL(settings.BaseURL), files.StatusIndex)
	}
	failed := func(doing string, err error) error {
		return &quiz.Error{Code: quiz.Internal, Text: doing + " certificate " + c.Number, Err: err, Mend: "see that its names can be printed"}
	}
	view := paper.CertificateOf(full)
	view.Signatory, view.SignatoryRole, view.KeyName = settings.Signatory, settings.SignatoryRole, signer.DID
	if view.Size, err = paper.ParsePageSize(settings.Paper); err != nil {
		return files, failed("print", err)
	}
	if view.VerifyURL == "" {
		// A shop without a server still says how to ask.
		view.VerifyURL = fmt.Sprintf("%s, code %s: ask %s", c.Number, c.Code, c.Organisation)
	}
	var pdf, png bytes.Buffer
	if err := paper.WriteCertificate(&pdf, view); err != nil {
		return files, failed("print", err)
	}
	if err := paper.WriteBadge(&png, paper.BadgeOf(full)); err != nil {
		return files, failed("draw the badge of", err)
	}
	o.PDF, o.PNG = pdf.Bytes(), png.Bytes()
	b, err := signer.Issue(full, o)
	if err != nil {
		return files, failed("sign", err)
	}
	files.JSON, files.JWT, files.PDF, files.PNG = b.JSON, b.JWT, b.PDF, b.PNG
	return files, nil
}

// LookupOf is the lookup behind a question, as a certificate states it. Its ID
// follows from the kind, the vehicle and the task, not from the answer: the
// question keeps it when a new revision gives it another key.
func LookupOf(q *banks.Question) certificate.Lookup {
	return certificate.Lookup{ID: lookupID(q), Task: taskOf(q), Skill: q.Skill, Answer: q.KeyText()}
}
