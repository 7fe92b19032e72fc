package technician

import (
	"math/rand/v2"
	"net/http"
	"net/url"
	"slices"
	"time"

	"rightpage/banks"
	"rightpage/grading"
	"rightpage/grading/psychometrics"
	"rightpage/quiz"
	"rightpage/quiz/library"
	"rightpage/quiz/marking"
	"rightpage/quiz/progress"
	"rightpage/server/web"
)

type checkChoicePage struct {
	Catalogs []*library.Entry
	Catalog  string // ID of the one chosen
	Skills   []string
	Least    int // questions that a check takes
	Most     int
}

// leastInCheck is the fewest questions that reach [progress.CheckStopSE]: each
// tells at most a quarter.
const leastInCheck = int(4 / (progress.CheckStopSE * progress.CheckStopSE))

// checkChoice is where somebody chooses what to be checked in.
func (p *Pages) checkChoice(c *web.Context) error {
	all, chosen, err := p.catalogs(c)
	if err != nil {
		return err
	}
	v := checkChoicePage{Catalogs: all, Least: leastInCheck, Most: progress.CheckMost}
	if chosen != nil {
		v.Catalog = chosen.Info.ID
		bank, err := chosen.Bank(c.Ctx())
		if err != nil {
			return err
		}
		for _, s := range bank.Skills() {
			if s != progress.ChaseSkill {
				v.Skills = append(v.Skills, s)
			}
		}
	}
	return c.Page(p.set, "technician-check", v)
}

// startCheck begins a check. Nothing is kept before the first answer.
func (p *Pages) startCheck(c *web.Context) error {
	_, chosen, err := p.catalogs(c)
	if err != nil {
		return err
	}
	if chosen == nil {
		return c.Go("/practice/check")
	}
	bank, err := chosen.Bank(c.Ctx())
	if err != nil {
		return err
	}
	skill := c.QueryParam("skill")
	if skill != "" && !slices.Contains(bank.Skills(), skill) {
		return quiz.Errorf(quiz.NotFound, "there is no such skill to check")
	}
	k := checking{r: newCheckReference(chosen.Info.ID, skill, c.Now()), bank: bank}
	if k.reserved, err = p.reserved(c); err != nil {
		return err
	}
	return p.goOn(c, k)
}

func checkPath(ref string) string { return "/practice/checks/" + ref }

// checking is a check as a request finds it.
type checking struct {
	r        checkReference
	bank     *library.Bank
	asked    []*banks.Question
	outcomes []quiz.Practice // of those that were answered, in their order
	reserved []string        // see [Pages.reserved]
}

// open is the question that waits for an answer, nil if none does.
func (k checking) open() *banks.Question {
	if len(k.asked) > len(k.outcomes) && !k.r.Stopped {
		return k.asked[len(k.outcomes)]
	}
	return nil
}

// state says how the check goes on.
func (p *Pages) state(c *web.Context, k checking) (progress.CheckState, error) {
	given := make([]progress.CheckAnswer, len(k.outcomes))
	for i, x := range k.outcomes {
		given[i] = progress.CheckAnswer{Question: k.asked[i], Right: x.Score.Verdict == grading.Right}
	}
	rng := rand.New(rand.NewPCG(k.r.seed(len(given))))
	return p.deps.Progress.Check(c.Ctx(), c.Visitor.ID, k.r.Skill, k.bank, given, k.reserved, rng)
}

// goOn goes to the next question of a check of which every question is
// answered, or to its end.
func (p *Pages) goOn(c *web.Context, k checking) error {
	s, err := p.state(c, k)
	if quiz.ErrorCode(err) == quiz.NotFound {
		c.Flash(c.T("technician.practice.none"))
		return c.Go("/practice/check")
	}
	if err != nil {
		return err
	}
	if s.Next != nil {
		at := slices.Index(k.bank.Questions, s.Next)
		if at < 0 {
			return quiz.Errorf(quiz.Internal, "the question chosen is not in the bank")
		}
		k.r.List = append(k.r.List, askedInCheck{At: uint32(at), Check: checkOf(s.Next.ID)})
		k.r.Asked = c.Now()
	}
	return c.Go(checkPath(p.writeCheck(k.r, c.Visitor.ID)))
}

// findCheck reads the check of an address.
func (p *Pages) findCheck(c *web.Context) (checking, error) {
	var k checking
	var err error
	if k.r, err = p.readCheck(c.Param("ref"), c.Visitor.ID); err != nil {
		return k, err
	}
	e, err := p.deps.Library.Entry(c.Ctx(), k.r.Catalog)
	if err != nil {
		return k, checkGone()
	}
	if k.bank, err = e.Bank(c.Ctx()); err != nil {
		return k, err
	}
	list, err := p.app.Store.PracticeOf(c.Ctx(), c.Visitor.ID, k.r.Started.Add(-time.Minute))
	if err != nil {
		return k, err
	}
	byKey := make(map[string]quiz.Practice, len(list))
	for _, x := range list {
		byKey[x.Key] = x
	}
	for i, a := range k.r.List {
		if int(a.At) >= len(k.bank.Questions) || checkOf(k.bank.Questions[a.At].ID) != a.Check {
			return k, checkGone()
		}
		k.asked = append(k.asked, k.bank.Questions[a.At])
		x, answered := byKey[k.r.key(a)]
		switch {
		case answered:
			k.outcomes = append(k.outcomes, x)
		case i < len(k.r.List)-1: // taken away since
			return k, checkGone()
		}
	}
	k.reserved, err = p.reserved(c)
	return k, err
}

// noCheck answers for a check that is not under way any more.
func (p *Pages) noCheck(c *web.Context, err error) error {
	if quiz.ErrorCode(err) != quiz.Closed || c.WantsJSON() {
		return err
	}
	c.Flash(c.T("technician.checking.gone"))
	return c.Go("/practice/check")
}

type checkingPage struct {
	Fields
	Skill       string
	Path        string
	Number      int
	Least, Most int
}

type checkedPage struct {
	Skill    string
	Catalog  string
	Result   string // in words, with its uncertainty
	Asked    int
	Right    int
	End      string // why it ended: precise, long, exhausted, stopped
	Outcomes []Outcome
}

// check shows the question of a check that waits for an answer, or what came of
// a check that has ended. Until then nothing tells which answers were right.
func (p *Pages) check(c *web.Context) error {
	k, err := p.findCheck(c)
	if err != nil {
		return p.noCheck(c, err)
	}
	if q := k.open(); q != nil {
		if slices.Contains(k.reserved, q.ID) { // assigned since
			return p.without(c, k)
		}
		ask := marking.AskOf(q, 1)
		v := checkingPageOf(c, k)
		v.Fields = newFields(ask, entryOf(ask, ""), nil)
		return c.Page(p.set, "technician-checking", v)
	}
	s, err := p.state(c, k)
	if err != nil {
		return err
	}
	if !s.Ended() && !k.r.Stopped { // gone back to
		return p.goOn(c, k)
	}
	v := checkedPage{Skill: k.r.Skill, Catalog: k.r.Catalog, Result: c.Words.Render(s.Says()), Asked: len(k.outcomes)}
	switch {
	case s.End == psychometrics.CheckPrecise:
		v.End = "precise"
	case s.End == psychometrics.CheckLongEnough:
		v.End = "long"
	case s.End == psychometrics.CheckExhausted:
		v.End = "exhausted"
	default:
		v.End = "stopped"
	}
	for i, x := range k.outcomes {
		o := outcomeOf(k.asked[i], x.Score, x.Score.Given, x.Spent)
		if slices.Contains(k.reserved, k.asked[i].ID) { // its key is not to be told
			o = Outcome{Ask: o.Ask, Given: o.Given}
		}
		if x.Score.Verdict == grading.Right {
			v.Right++
		}
		v.Outcomes = append(v.Outcomes, o)
	}
	return c.Page(p.set, "technician-checked", v)
}

// without goes on with another question than the last.
func (p *Pages) without(c *web.Context, k checking) error {
	n := len(k.outcomes)
	k.asked, k.r.List = k.asked[:n], k.r.List[:n]
	return p.goOn(c, k)
}

func checkingPageOf(c *web.Context, k checking) checkingPage {
	return checkingPage{Skill: k.r.Skill, Path: c.Request().URL.RequestURI(), Number: len(k.outcomes) + 1, Least: leastInCheck, Most: progress.CheckMost}
}

// answerCheck takes the answer to a question of a check. The first counts.
func (p *Pages) answerCheck(c *web.Context) error {
	k, err := p.findCheck(c)
	if err != nil {
		return p.noCheck(c, err)
	}
	q := k.open()
	form := c.Form()
	switch does := form.Raw("go"); {
	case q == nil: // sent twice
		return p.goOn(c, k)
	case slices.Contains(k.reserved, q.ID):
		return p.without(c, k)
	case does == "stop" && len(k.outcomes) == 0:
		return c.Go("/practice")
	case does == "stop":
		n := len(k.outcomes)
		k.r.List, k.r.Stopped = k.r.List[:n], true
		return c.Go(checkPath(p.writeCheck(k.r, c.Visitor.ID)))
	}
	ask := marking.AskOf(q, 1)
	entry := entryFrom(form, ask)
	value := entry.value(ask.Form)
	if form.Raw("go") == "unknown" {
		value = ""
	} else if value == "" && form.OK() {
		form.Fault(firstField(ask), "technician.checking.blank")
	}
	score, err := graded(form, ask, q, value)
	if err != nil {
		return err
	}
	if !form.OK() {
		v := checkingPageOf(c, k)
		v.Fields = newFields(ask, entry, form.Faults)
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "technician-checking", v)
	}
	x, kept, err := p.keepPractice(c, k.r.key(k.r.List[len(k.outcomes)]), k.r.Asked, score)
	if err != nil {
		return err
	}
	if !kept { // from another window, in between: what stands there counts
		return c.Go(c.Request().URL.RequestURI())
	}
	k.outcomes = append(k.outcomes, x)
	return p.goOn(c, k)
}

// Again is the address to begin another check like it.
func (v checkedPage) Again() string {
	return "/practice/check/start?skill=" + url.QueryEscape(v.Skill) + "&catalog=" + url.QueryEscape(v.Catalog)
}

// Practise is the address to practise what was checked.
func (v checkedPage) Practise() string {
	mode := progress.Mode{Kind: progress.ByNeed}
	if v.Skill != "" {
		mode = progress.Mode{Kind: progress.OneSkill, Skill: v.Skill}
	}
	return "/practice/next?mode=" + url.QueryEscape(mode.String()) + "&catalog=" + url.QueryEscape(v.Catalog)
}
