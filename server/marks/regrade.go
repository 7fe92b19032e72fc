package marks

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

// How a regrade is brought about.
const (
	byRevision = "revision"
	byQuestion = "question"
)

// regradePage is the page on which keys are changed and people regraded.
type regradePage struct {
	head
	Revision string // of the form
	Catalogs []store.CatalogInfo
	Columns  []keyed
	Choice   regradeChoice
	Preview  *reportView
	Faults   map[string]string
	Stale    bool
	Trouble  string
}

// regradeChoice is what was chosen, as it was chosen.
type regradeChoice struct {
	By        string
	Catalog   string
	Remedy    grading.Remedy
	Void      grading.VoidRemedy
	N         int
	Key       string
	Tolerance string
	Also      bool
	NoKey     bool // the question is void
	Reason    string
	Seen      string
	Once      string // key of the form
}

// reportView is a regrade report as people read it.
type reportView struct {
	*grading.RegradeReport
	Gain, Lose, Diagnosis, Withdrawn int
	Questions                        []changedQuestion
	People                           []changedAttempt
	Look                             []openAnswer
	NewlyPass, NewlyFail             int
	Seen                             string
}

// Nothing tells whether no score would change.
func (v reportView) Nothing() bool { return len(v.Responses) == 0 }

type changedQuestion struct {
	grading.QuestionChange
	Place string
}

type changedAttempt struct {
	Name, Quiz, Path          string
	Before, BeforeOf          float64
	After, AfterOf            float64
	PassedBefore, PassedAfter bool
	Why                       []changedAnswer
}

// Gains tells whether the person has a higher share than before, Loses a lower.
func (a changedAttempt) Gains() bool {
	return ratio(a.After, a.AfterOf) > ratio(a.Before, a.BeforeOf)+1e-9
}

// Loses tells whether the share is lower than before.
func (a changedAttempt) Loses() bool {
	return ratio(a.After, a.AfterOf) < ratio(a.Before, a.BeforeOf)-1e-9
}

func ratio(x, of float64) float64 {
	if of <= 0 {
		return 0
	}
	return x / of
}

type changedAnswer struct {
	Place, Given, Why string
	Delta             float64
	Withdrawn         bool
}

type openAnswer struct {
	Name, Place, Given, Why, Path string
}

// viewReport makes a report readable: attempt by attempt, with who gains and
// loses, and why.
func (p *Pages) viewReport(c *web.Context, form string, rep *grading.RegradeReport) (*reportView, error) {
	ctx := c.Ctx()
	f, err := p.marker.Form(ctx, form)
	if err != nil {
		return nil, err
	}
	people, err := p.peopleByID(ctx)
	if err != nil {
		return nil, err
	}
	places := map[string]string{}
	for _, q := range f.Questions() {
		at := make([]int, len(f.Variants))
		for v := range f.Variants {
			for i, x := range f.Variants[v].Questions {
				if x.ID == q.ID {
					at[v] = i + 1
				}
			}
		}
		places[q.ID] = placeName(f, at)
	}
	v := &reportView{RegradeReport: rep}
	v.Gain, v.Lose, v.Diagnosis, v.Withdrawn = rep.Sums()
	for _, q := range rep.Questions {
		v.Questions = append(v.Questions, changedQuestion{q, places[q.Question]})
	}
	titles := map[string]string{}
	at := map[string]int{}
	attempt := func(ref string) (quiz.Attempt, string, error) {
		a, err := p.store.Attempt(ctx, ref)
		if err != nil {
			return a, "", err
		}
		if _, ok := titles[a.Assignment]; !ok {
			as, err := p.store.Assignment(ctx, a.Assignment)
			if err != nil {
				return a, "", err
			}
			titles[a.Assignment] = as.Title
		}
		return a, titles[a.Assignment], nil
	}
	for _, r := range rep.Responses {
		i, ok := at[r.Ref]
		if !ok {
			a, title, err := attempt(r.Ref)
			if err != nil {
				return nil, err
			}
			i = len(v.People)
			at[r.Ref] = i
			v.People = append(v.People, changedAttempt{Name: people[a.Person].Name, Quiz: title, Path: attemptPath(a), Before: a.Result.Points, BeforeOf: a.Result.Of,
				After: a.Result.Points, AfterOf: a.Result.Of, PassedBefore: a.Result.Passed})
		}
		x := &v.People[i]
		x.After += r.Delta
		if r.Withdrawn {
			x.AfterOf--
			x.After = x.After - r.Delta - r.Before.Points
		}
		x.Why = append(x.Why, changedAnswer{places[r.Question], r.Given, r.Why, r.Delta, r.Withdrawn})
	}
	for i := range v.People {
		x := &v.People[i]
		x.After = math.Round(x.After*1e6) / 1e6
		x.PassedAfter = f.Passes(x.After, x.AfterOf)
		switch {
		case x.PassedAfter && !x.PassedBefore:
			v.NewlyPass++
		case !x.PassedAfter && x.PassedBefore:
			v.NewlyFail++
		}
	}
	slices.SortStableFunc(v.People, func(a, b changedAttempt) int { return cmp.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name)) })
	for _, o := range rep.Open {
		a, _, err := attempt(o.Ref)
		if err != nil {
			return nil, err
		}
		v.Look = append(v.Look, openAnswer{people[a.Person].Name, places[o.Question], o.Given, o.Why, attemptPath(a)})
	}
	v.Seen, err = digest(rep)
	return v, err
}

// digest names what a preview said, so that who applies it after somebody else
// changed something sees the new one first.
func digest(rep *grading.RegradeReport) (string, error) {
	data, err := json.Marshal(struct {
		A any
		B any
		C any
		D int
	}{rep.Questions, rep.Responses, rep.Open, rep.Examined})
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:8]), err
}

func (p *Pages) regradePageOf(c *web.Context) (regradePage, error) {
	h, err := p.head(c, "regrade")
	if err != nil {
		return regradePage{}, err
	}
	page := regradePage{head: h, Choice: regradeChoice{Remedy: grading.Either, Void: grading.Withdraw, Once: h.Key}}
	r, err := p.marker.Results(c.Ctx(), h.Assignment.ID)
	if err != nil {
		return page, err
	}
	page.Revision = r.Form.Catalog + " " + r.Form.Revision
	all, err := p.store.Catalogs(c.Ctx())
	if err != nil {
		return page, err
	}
	for _, k := range all {
		if k.Title == r.Form.Catalog {
			page.Catalogs = append(page.Catalogs, k)
			if k.InForce {
				page.Choice.Catalog = k.ID
			}
		}
	}
	for i, x := range r.Columns {
		page.Columns = append(page.Columns, keyed{Question: x.Question, Number: i + 1, Place: placeName(r.Form, x.Places), Touched: x.Touched})
	}
	if n, ok := parseInt(c.QueryParam("n"), 1, len(page.Columns)); ok {
		page.Choice.By, page.Choice.N = byQuestion, n
	}
	return page, nil
}

func (p *Pages) regradePage(c *web.Context) error {
	page, err := p.regradePageOf(c)
	if err != nil {
		return err
	}
	return c.Page(p.set, "marks-regrade", page)
}

// regrade shows what a change of keys would do, or does it.
func (p *Pages) regrade(c *web.Context) error {
	ctx := c.Ctx()
	page, err := p.regradePageOf(c)
	if err != nil {
		return err
	}
	f := c.Form()
	page.Faults = f.Faults
	k := &page.Choice
	k.By = f.One("by", byRevision, byQuestion)
	k.Void = grading.VoidRemedy(f.One("void", string(grading.Withdraw), string(grading.Credit)))
	k.Seen = f.Raw("seen")
	if once := f.Raw("once"); quiz.CheckKey(once) == nil {
		k.Once = once
	}
	apply := f.Raw("do") == "apply"
	k.Reason = f.Text("reason", apply || k.By == byQuestion, maxReason)
	var preview, do func(context.Context) (*grading.RegradeReport, error)
	if k.By == byRevision {
		k.Remedy = grading.Remedy(f.One("remedy", string(grading.Either), string(grading.NewKey)))
		k.Catalog = f.Raw("catalog")
		if !slices.ContainsFunc(page.Catalogs, func(x store.CatalogInfo) bool { return x.ID == k.Catalog }) {
			f.Fault("catalog", "fault.choice")
		}
		opt := grading.RegradeOptions{Remedy: k.Remedy, Void: k.Void}
		preview = func(ctx context.Context) (*grading.RegradeReport, error) {
			return p.marker.PreviewRevision(ctx, page.Assignment.ID, k.Catalog, opt)
		}
		do = func(ctx context.Context) (*grading.RegradeReport, error) {
			rep, err := p.marker.ApplyRevision(ctx, c.Visitor.ID, page.Assignment.ID, k.Catalog, opt)
			if err != nil {
				return rep, err
			}
			// The cause that people read names the revision; why it was applied
			// stands in the audit log beside it.
			return rep, p.store.RecordAudit(ctx, c.Visitor.ID, "assignment.regrade", "assignment/"+page.Assignment.ID, map[string]any{"reason": k.Reason, "catalog": k.Catalog})
		}
	} else {
		ruling := p.ruling(f, &page)
		opt := grading.RegradeOptions{Remedy: grading.NewKey, Void: k.Void}
		preview = func(ctx context.Context) (*grading.RegradeReport, error) {
			return p.marker.Preview(ctx, page.Assignment.ID, grading.Rulings(ruling), k.Reason, opt)
		}
		do = func(ctx context.Context) (*grading.RegradeReport, error) {
			return p.marker.Apply(ctx, c.Visitor.ID, page.Assignment.ID, grading.Rulings(ruling), k.Reason, opt)
		}
	}
	show := func(status int) error { return c.PageStatus(p.set, status, "marks-regrade", page) }
	if !f.OK() {
		return show(http.StatusUnprocessableEntity)
	}
	forget := func() error { return nil }
	if apply {
		// A second click finds it done, and no preview that fits any more.
		first, undo, err := p.once(ctx, "regrade "+page.Assignment.ID, k.Once)
		if err != nil {
			return err
		}
		if !first {
			return c.Go(page.At("regrade"))
		}
		forget = undo
	}
	done, err := p.carryOut(c, &page, apply, preview, do)
	if err != nil || !done {
		if again := forget(); again != nil {
			return again
		}
	}
	switch {
	case err != nil:
		if page.Trouble, err = answered(err); err != nil {
			return err
		}
		return show(http.StatusUnprocessableEntity)
	case done:
		c.Flash(c.T("marks.regrade.done", "Count", len(page.Preview.People)))
		return c.Go(page.At("regrade"))
	case page.Stale:
		return show(http.StatusConflict)
	case !f.OK():
		return show(http.StatusUnprocessableEntity)
	}
	return show(http.StatusOK)
}

// carryOut makes the preview and, if it is the one that was looked at, does what
// it says.
func (p *Pages) carryOut(c *web.Context, page *regradePage, apply bool, preview, do func(context.Context) (*grading.RegradeReport, error)) (bool, error) {
	ctx, k := c.Ctx(), &page.Choice
	rep, err := preview(ctx)
	if err != nil {
		return false, err
	}
	view, err := p.viewReport(c, page.Assignment.Form, rep)
	if err != nil {
		return false, err
	}
	for _, q := range view.Questions {
		if k.By == byQuestion && q.Outcome == grading.NeedsPerson {
			page.Faults["key"] = q.Why
			return false, nil
		}
	}
	page.Preview = view
	seen := k.Seen
	k.Seen = view.Seen
	if !apply {
		return false, nil
	}
	if seen != view.Seen {
		page.Stale = true
		return false, nil
	}
	_, err = do(ctx)
	return err == nil, err
}

// ruling reads the correction of one question.
func (p *Pages) ruling(f *web.Form, page *regradePage) grading.Ruling {
	k := &page.Choice
	k.N = f.Int("n", 1, len(page.Columns), 0)
	k.Key, k.Tolerance, k.Also, k.NoKey = line(f, "key"), strings.TrimSpace(f.Raw("tolerance")), f.On("also"), f.On("nokey")
	r := grading.Ruling{Key: k.Key, Also: k.Also, Void: k.NoKey, Why: k.Reason, Tolerance: f.Float("tolerance", 0, 1e9, 0)}
	if k.Key == "" && !k.NoKey {
		f.Fault("key", "marks.regrade.key.fault")
	}
	if k.N == 0 {
		f.Fault("n", "fault.required")
		return r
	}
	r.Question = page.Columns[k.N-1].Question.ID
	return r
}

func parseInt(s string, least, most int) (int, bool) {
	n, err := strconv.Atoi(s)
	return n, err == nil && n >= least && n <= most
}
