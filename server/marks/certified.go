package marks

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/server/web"
)

// expiringDays is how long before its last day a certificate is listed as soon
// to expire.
const expiringDays = 60

// The states to filter certificates by; expiring are the valid ones whose last
// day is near.
const expiring = "expiring"

func standings() []string {
	return []string{"", string(certificate.Valid), expiring, string(certificate.Outdated), string(certificate.Expired), string(certificate.Revoked)}
}

// certifiedPage is the list of certificates.
type certifiedPage struct {
	Rows       []certifiedRow
	All        int
	State      string
	States     []string
	Site       string
	Sites      []string
	Who        string
	Undermined []certifiedRow
	Expiring   int
	Outdated   int
	Days       int
	Table      Taken
}

type certifiedRow struct {
	quiz.Certified
	Standing certificate.Standing
	Soon     bool
	Gone     bool // the person left
}

// Can tells whether it can still be revoked.
func (r certifiedRow) Can() bool { return r.Standing.State != certificate.Revoked }

func (p *Pages) certifiedOf(c *web.Context) (certifiedPage, error) {
	ctx := c.Ctx()
	page := certifiedPage{State: c.QueryParam("state"), States: standings(), Site: c.QueryParam("site"), Who: strings.TrimSpace(c.QueryParam("who")), Days: expiringDays}
	if !slices.Contains(page.States, page.State) {
		page.State = ""
	}
	list, err := p.store.Certificates(ctx)
	if err != nil {
		return page, err
	}
	policy, err := p.issuer.Policy(ctx)
	if err != nil {
		return page, err
	}
	people, err := p.peopleByID(ctx)
	if err != nil {
		return page, err
	}
	now := c.Now()
	row := func(x quiz.Certified) certifiedRow {
		r := certifiedRow{Certified: x, Standing: x.Standing(policy, now)}
		r.Soon = (r.Standing.State == certificate.Valid || r.Standing.State == certificate.Outdated) && x.ValidUntil().Before(now.AddDate(0, 0, expiringDays))
		who := people[x.PersonID]
		r.Gone = !who.Active(now)
		return r
	}
	words := strings.Fields(strings.ToLower(page.Who))
	for _, x := range list {
		if who := people[x.PersonID]; !c.Covers(&who) {
			continue
		}
		r := row(x)
		page.All++
		if r.Soon && !r.Gone {
			page.Expiring++
		}
		if r.Standing.State == certificate.Outdated {
			page.Outdated++
		}
		if x.Site != "" && !slices.Contains(page.Sites, x.Site) {
			page.Sites = append(page.Sites, x.Site)
		}
		text := strings.ToLower(x.Person + " " + x.Number + " " + x.Quiz)
		switch {
		case page.State == expiring && !r.Soon, page.State != "" && page.State != expiring && string(r.Standing.State) != page.State, page.Site != "" && x.Site != page.Site,
			slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(text, w) }):
			continue
		}
		page.Rows = append(page.Rows, r)
	}
	slices.Sort(page.Sites)
	if page.State == expiring {
		slices.SortStableFunc(page.Rows, func(a, b certifiedRow) int { return a.Expires.Compare(b.Expires) })
	}
	query := url.Values{}
	for k, v := range map[string]string{"state": page.State, "site": page.Site, "who": page.Who} {
		if v != "" {
			query.Set(k, v)
		}
	}
	page.Table = taken("/certified/table", query)
	under, err := p.issuer.Undermined(ctx)
	if err != nil {
		return page, err
	}
	for _, x := range under {
		if r := row(x); r.Can() {
			page.Undermined = append(page.Undermined, r)
		}
	}
	return page, nil
}

func (p *Pages) certified(c *web.Context) error {
	page, err := p.certifiedOf(c)
	if err != nil {
		return err
	}
	return c.Page(p.set, "marks-certified", page)
}

func (p *Pages) certifiedTable(c *web.Context) error {
	page, err := p.certifiedOf(c)
	if err != nil {
		return err
	}
	t := &web.Table{Name: "certificates", Columns: []string{c.T("marks.certified.number"), c.T("marks.name"), c.T("marks.site"), c.T("marks.quiz"), c.T("marks.certified.catalog"), c.T("marks.certified.issued"), c.T("marks.certified.expires"), c.T("marks.certified.standing"), c.T("marks.certified.changed"), c.T("marks.certified.lookups"), c.T("marks.reason")}}
	for _, r := range page.Rows {
		t.Rows = append(t.Rows, []any{r.Number, r.Person, r.Site, r.Quiz, r.CatalogTitle + " " + r.CatalogRevision, r.Issued.Format(time.DateOnly), r.Expires.Format(time.DateOnly),
			c.Words.Or("standing."+web.Slug(string(r.Standing.State)), string(r.Standing.State)), len(r.Standing.Changed), r.Standing.Total, r.Standing.Reason})
	}
	return c.Table(t)
}

// issuePage is the page on which certificates are issued to all who passed.
type issuePage struct {
	Assignments []issueRow
	Chosen      *quiz.Assignment
	Rows        []passedRow
	Ready       int
	Missing     string // what settings lack
	Faults      map[string]string
	Failed      []string
}

type issueRow struct {
	ID, Title string
	Passed    int // without a certificate
}

type passedRow struct {
	Attempt quiz.Attempt
	Person  quiz.Person
	Site    string
	Number  string // of the certificate that it has
	On      bool
}

// passedAt lists the best passed attempt of each person at an assignment.
func (p *Pages) passedAt(c *web.Context, a quiz.Assignment, numbers map[string]string) ([]passedRow, error) {
	attempts, err := p.store.AttemptsAt(c.Ctx(), a.ID)
	if err != nil {
		return nil, err
	}
	people, err := p.peopleByID(c.Ctx())
	if err != nil {
		return nil, err
	}
	best := map[string]quiz.Attempt{}
	for _, x := range attempts {
		if x.State != quiz.Graded || !x.Result.Passed {
			continue
		}
		b, ok := best[x.Person]
		// One that has its certificate stands for the person.
		if !ok || numbers[b.ID] == "" && (numbers[x.ID] != "" || shareOf(x.Result) > shareOf(b.Result)) {
			best[x.Person] = x
		}
	}
	var rows []passedRow
	for id, x := range best {
		who := people[id]
		if !c.Covers(&who) || !who.Erased.IsZero() {
			continue
		}
		rows = append(rows, passedRow{Attempt: x, Person: who, Number: numbers[x.ID], On: numbers[x.ID] == "" && who.Active(c.Now())})
	}
	slices.SortFunc(rows, func(a, b passedRow) int { return byPerson(a.Person, b.Person) })
	return rows, nil
}

func (p *Pages) issuePage(c *web.Context) error {
	return p.showIssue(c, http.StatusOK, issuePage{}, nil)
}

func (p *Pages) showIssue(c *web.Context, status int, page issuePage, chosen []string) error {
	ctx := c.Ctx()
	s, err := p.store.Settings(ctx)
	if err != nil {
		return err
	}
	if err := s.Check(); err != nil {
		page.Missing = err.Error()
	}
	numbers, err := p.certificatesByAttempt(c)
	if err != nil {
		return err
	}
	all, err := p.store.Assignments(ctx)
	if err != nil {
		return err
	}
	sites, err := p.siteNames(ctx)
	if err != nil {
		return err
	}
	for i := range all {
		rows, err := p.passedAt(c, all[i], numbers)
		if err != nil {
			return err
		}
		n := 0
		for _, r := range rows {
			if r.Number == "" {
				n++
			}
		}
		if len(rows) > 0 {
			page.Assignments = append(page.Assignments, issueRow{all[i].ID, all[i].Title, n})
		}
		if all[i].ID == c.FormValue("assignment") {
			page.Chosen, page.Rows, page.Ready = &all[i], rows, n
			for j := range page.Rows {
				page.Rows[j].Site = sites[page.Rows[j].Person.Site]
				if chosen != nil {
					page.Rows[j].On = slices.Contains(chosen, page.Rows[j].Attempt.ID)
				}
			}
		}
	}
	return c.PageStatus(p.set, status, "marks-issue", page)
}

func (p *Pages) certificatesByAttempt(c *web.Context) (map[string]string, error) {
	list, err := p.store.Certificates(c.Ctx())
	if err != nil {
		return nil, err
	}
	m := map[string]string{}
	for _, x := range list {
		if x.Attempt != "" {
			m[x.Attempt] = x.Number
		}
	}
	return m, nil
}

// issue issues the certificates of the attempts that are ticked. One that has its
// certificate keeps it: a second click issues nothing.
func (p *Pages) issue(c *web.Context) error {
	ctx := c.Ctx()
	f := c.Form()
	chosen := f.Many("attempt")
	page := issuePage{Faults: f.Faults}
	a, err := p.store.Assignment(ctx, f.Raw("assignment"))
	if err != nil {
		return err
	}
	if len(chosen) == 0 {
		f.Fault("attempt", "marks.issue.none")
		return p.showIssue(c, http.StatusUnprocessableEntity, page, []string{})
	}
	numbers, err := p.certificatesByAttempt(c)
	if err != nil {
		return err
	}
	rows, err := p.passedAt(c, a, numbers)
	if err != nil {
		return err
	}
	issued := 0
	for _, r := range rows {
		if !slices.Contains(chosen, r.Attempt.ID) || r.Number != "" {
			continue
		}
		if _, err := p.issuer.Issue(ctx, c.Visitor.ID, r.Attempt.ID); err != nil {
			why, err := answered(err)
			if err != nil {
				return err
			}
			page.Failed = append(page.Failed, r.Person.Name+": "+why)
			continue
		}
		issued++
	}
	if len(page.Failed) > 0 {
		return p.showIssue(c, http.StatusUnprocessableEntity, page, chosen)
	}
	c.Flash(c.T("marks.issue.done", "Count", issued))
	return c.Go("/certified")
}

// ownerOfCertificate gives whose certificate it is.
func (p *Pages) ownerOfCertificate(c *web.Context) (string, error) {
	x, err := p.store.Certificate(c.Ctx(), c.Param("number"))
	return x.PersonID, err
}

// certificatePage is one certificate.
type certificatePage struct {
	certifiedRow
	Who        string // issued it
	Undermined bool
	AttemptAt  string
	Reason     string
	Faults     map[string]string
	Trouble    string
}

// PageTitle names the page.
func (p certificatePage) PageTitle() string { return p.Number }

func (p *Pages) certificatePage(c *web.Context) (certificatePage, error) {
	ctx := c.Ctx()
	x, err := p.store.Certificate(ctx, c.Param("number"))
	if err != nil {
		return certificatePage{}, err
	}
	page := certificatePage{certifiedRow: certifiedRow{Certified: x, Standing: p.issuer.Standing(ctx, x), Gone: !c.Subject.Active(c.Now())}}
	people, err := p.peopleByID(ctx)
	if err != nil {
		return page, err
	}
	page.Who = people[x.By].Name
	if x.Attempt != "" {
		a, err := p.store.Attempt(ctx, x.Attempt)
		if err != nil {
			return page, err
		}
		page.AttemptAt = attemptPath(a)
	}
	under, err := p.issuer.Undermined(ctx)
	if err != nil {
		return page, err
	}
	page.Undermined = slices.ContainsFunc(under, func(u quiz.Certified) bool { return u.Number == x.Number })
	return page, nil
}

func (p *Pages) certificate(c *web.Context) error {
	page, err := p.certificatePage(c)
	if err != nil {
		return err
	}
	return c.Page(p.set, "marks-certificate", page)
}

// certificateFile gives a file of a certificate as it was issued.
func (p *Pages) certificateFile(c *web.Context) error {
	number, kind := c.Param("number"), c.Param("kind")
	files, err := p.issuer.Files(c.Ctx(), number)
	if err != nil {
		return err
	}
	for _, x := range []struct {
		kind, media, end string
		data             []byte
	}{{"pdf", "application/pdf", ".pdf", files.PDF}, {"badge", "image/png", ".png", files.PNG}, {"json", "application/json", ".json", files.JSON}, {"jwt", "application/jwt", ".jwt", files.JWT}} {
		if x.kind == kind && len(x.data) > 0 {
			return c.File(web.FileName(number)+x.end, x.media, x.data)
		}
	}
	return quiz.Errorf(quiz.NotFound, "the certificate has no such file")
}

// revoke withdraws a certificate, once.
func (p *Pages) revoke(c *web.Context) error {
	page, err := p.certificatePage(c)
	if err != nil {
		return err
	}
	back := "/certified/" + page.Number
	if page.Revocation != nil {
		return c.Go(back) // a second click
	}
	f := c.Form()
	page.Faults = f.Faults
	page.Reason = f.Text("reason", true, maxReason)
	if !f.On("sure") {
		f.Fault("sure", "marks.revoke.sure.fault")
	}
	if !f.OK() {
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "marks-certificate", page)
	}
	if v := f.Int("version", 0, 1<<30, -1); v != page.Version {
		return &quiz.Error{Code: quiz.Conflict, Text: "the certificate was changed in the meantime", Mend: "look at it again"}
	}
	if _, err := p.issuer.Revoke(c.Ctx(), c.Visitor.ID, page.Number, page.Reason); err != nil {
		if x, again := p.store.Certificate(c.Ctx(), page.Number); again == nil && x.Revocation != nil {
			return c.Go(back) // two clicks at once
		}
		return err
	}
	c.Flash(c.T("marks.revoke.done", "Number", page.Number))
	return c.Go(back)
}

// topUp assigns the quiz that renews an outdated certificate; asked for again it
// is the same.
func (p *Pages) topUp(c *web.Context) error {
	page, err := p.certificatePage(c)
	if err != nil {
		return err
	}
	a, err := p.issuer.TopUp(c.Ctx(), c.Visitor.ID, page.Number)
	if err != nil {
		if page.Trouble, err = answered(err); err != nil {
			return err
		}
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "marks-certificate", page)
	}
	c.Flash(c.T("marks.topup.done", "Name", page.Person))
	return c.Go("/assignments/" + a.ID)
}
