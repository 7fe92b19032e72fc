package marks

import (
	"net/http"
	"slices"
	"strings"

	"rightpage/banks"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/marking"
	"rightpage/server/web"
)

// disputesPage is the queue of disputes.
type disputesPage struct {
	State   string
	States  []string
	Rows    []disputeRow
	Waiting int
	Table   Taken
}

type disputeRow struct {
	marking.DisputeView
	Who string // decided it
}

func (p *Pages) disputes(c *web.Context) error {
	ctx := c.Ctx()
	page := disputesPage{State: c.QueryParam("state"), States: []string{string(quiz.DisputeOpen), string(quiz.DisputeAccepted), string(quiz.DisputeRejected)}}
	if !slices.Contains(page.States, page.State) {
		page.State = string(quiz.DisputeOpen)
	}
	list, err := p.store.Disputes(ctx, quiz.DisputeState(page.State))
	if err != nil {
		return err
	}
	people, err := p.peopleByID(ctx)
	if err != nil {
		return err
	}
	under, err := p.formsUnderWay(c)
	if err != nil {
		return err
	}
	for _, d := range list {
		v, err := p.marker.Dispute(ctx, d.ID)
		if err != nil {
			return err
		}
		if c.Covers(&v.Person) && !under[v.Assignment.Form] {
			page.Rows = append(page.Rows, disputeRow{v, people[d.By].Name})
		}
	}
	if as := c.QueryParam("as"); as != "" {
		t := &web.Table{Name: web.FileName("disputes", page.State), Columns: []string{c.T("marks.dispute.opened"), c.T("marks.name"), c.T("marks.quiz"), c.T("marks.question"), c.T("marks.given"), c.T("marks.key"), c.T("marks.dispute.reason"), c.T("marks.state"), c.T("marks.dispute.by"), c.T("marks.dispute.decided"), c.T("marks.dispute.verdict")}}
		for _, r := range page.Rows {
			t.Rows = append(t.Rows, []any{r.Opened, r.Person.Name, r.Assignment.Title, r.Number, r.Given, r.KeyText, r.Reason, c.Words.Or("state."+string(r.State), string(r.State)), r.Who, r.Decided, r.Verdict})
		}
		return c.Table(t)
	}
	page.Table = taken("/disputes", map[string][]string{"state": {page.State}})
	return c.Page(p.set, "marks-disputes", page)
}

// ownerOfDispute gives who disputes.
func (p *Pages) ownerOfDispute(c *web.Context) (string, error) {
	v, err := p.marker.Dispute(c.Ctx(), c.Param("dispute"))
	return v.Person.ID, err
}

// disputePage is one dispute with all that it takes to decide it.
type disputePage struct {
	marking.DisputeView
	Question  *banks.Question // with the key that holds
	Who       string
	Own       bool // of the visitor, who cannot decide it
	Choice    disputeChoice
	Preview   *reportView
	Faults    map[string]string
	Trouble   string
	Stale     bool
	AtAttempt string
}

type disputeChoice struct {
	Accept    string // "yes", "no" or not chosen
	Key       string
	Tolerance string
	Also      bool
	NoKey     bool
	Verdict   string
	Seen      string
}

// PageTitle names the page.
func (p disputePage) PageTitle() string { return p.Assignment.Title }

// Decided tells whether it was decided.
func (p disputePage) Decided() bool { return p.State != quiz.DisputeOpen }

func (p *Pages) disputePage(c *web.Context) (disputePage, error) {
	ctx := c.Ctx()
	v, err := p.marker.Dispute(ctx, c.Param("dispute"))
	if err != nil {
		return disputePage{}, err
	}
	page := disputePage{DisputeView: v, Own: v.Person.ID == c.Visitor.ID, AtAttempt: attemptPath(v.Attempt)}
	if page.Question, err = p.marker.Current(ctx, v.Assignment.Form, v.Dispute.Question); err != nil {
		return page, err
	}
	if v.By != "" {
		people, err := p.peopleByID(ctx)
		if err != nil {
			return page, err
		}
		page.Who = people[v.By].Name
	}
	return page, nil
}

func (p *Pages) dispute(c *web.Context) error {
	page, err := p.disputePage(c)
	if err != nil {
		return err
	}
	return c.Page(p.set, "marks-dispute", page)
}

// decide shows what accepting a dispute would change, or decides it.
func (p *Pages) decide(c *web.Context) error {
	ctx := c.Ctx()
	page, err := p.disputePage(c)
	if err != nil {
		return err
	}
	if page.Decided() {
		// A second click, or somebody else was quicker: the page says who and how.
		return c.Go("/disputes/" + page.Dispute.ID)
	}
	f := c.Form()
	page.Faults = f.Faults
	k := &page.Choice
	k.Accept = f.Raw("accept")
	k.Key, k.Tolerance, k.Also, k.NoKey = line(f, "key"), strings.TrimSpace(f.Raw("tolerance")), f.On("also"), f.On("nokey")
	k.Seen = f.Raw("seen")
	decide := f.Raw("do") == "decide"
	k.Verdict = f.Lines("verdict", decide, maxReason)
	accept := k.Accept == "yes"
	if !accept && k.Accept != "no" {
		f.Fault("accept", "fault.choice")
	}
	ruling := grading.Ruling{Key: k.Key, Also: k.Also, Void: k.NoKey, Why: k.Verdict, Tolerance: f.Float("tolerance", 0, 1e9, 0)}
	if accept && k.Key == "" && !k.NoKey {
		f.Fault("key", "marks.regrade.key.fault")
	}
	show := func(status int) error { return c.PageStatus(p.set, status, "marks-dispute", page) }
	if !f.OK() {
		return show(http.StatusUnprocessableEntity)
	}
	refuse := func(err error) error {
		if page.Trouble, err = answered(err); err != nil {
			return err
		}
		return show(http.StatusUnprocessableEntity)
	}
	if accept {
		rep, err := p.marker.PreviewDispute(ctx, page.Dispute.ID, ruling)
		if err != nil {
			return refuse(err)
		}
		if page.Preview, err = p.viewReport(c, page.Assignment.Form, rep); err != nil {
			return err
		}
		seen := k.Seen
		k.Seen = page.Preview.Seen
		if !decide {
			return show(http.StatusOK)
		}
		// Nobody decides by a preview that was never shown or is of another key.
		if seen != page.Preview.Seen {
			page.Stale = true
			return show(http.StatusConflict)
		}
	} else {
		if !decide {
			return show(http.StatusOK)
		}
		ruling = grading.Ruling{}
	}
	if _, _, err := p.marker.DecideDispute(ctx, c.Visitor.ID, page.Dispute.ID, ruling, accept, k.Verdict); err != nil {
		if v, again := p.marker.Dispute(ctx, page.Dispute.ID); again == nil && v.State != quiz.DisputeOpen {
			return c.Go("/disputes/" + page.Dispute.ID) // two clicks at once
		}
		return refuse(err)
	}
	if accept {
		c.Flash(c.T("marks.dispute.accepted", "Count", len(page.Preview.People)))
	} else {
		c.Flash(c.T("marks.dispute.rejected"))
	}
	return c.Go("/disputes")
}
