package technician

import (
	"errors"
	"math/rand/v2"
	"net/http"
	"net/url"
	"slices"
	"time"

	"rightpage/banks"
	"rightpage/banks/resolver"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/library"
	"rightpage/quiz/marking"
	"rightpage/quiz/progress"
	"rightpage/server/web"
)

// Choice is a skill or step to practise, with how the person does at it.
type Choice struct {
	Name    string
	Mode    string
	Level   progress.Level // of a skill
	Answers int
	Share   float64
	Enough  bool
}

type practicePage struct {
	Catalogs []*library.Entry
	Catalog  string // ID of the one chosen
	Skills   []Choice
	Steps    []Choice
	Weakest  string // name of the weakest step; empty: not known
	Streak   progress.Streak
	Answers  int
}

// catalogs lists the catalogs in force and the ID of the one that the address
// asks for, the first if it asks for none.
func (p *Pages) catalogs(c *web.Context) ([]*library.Entry, *library.Entry, error) {
	all, err := p.deps.Library.InForce(c.Ctx())
	if err != nil || len(all) == 0 {
		return nil, nil, err
	}
	for _, e := range all {
		if e.Info.ID == c.QueryParam("catalog") {
			return all, e, nil
		}
	}
	return all, all[0], nil
}

// practice is where somebody chooses what to practise.
func (p *Pages) practice(c *web.Context) error {
	all, chosen, err := p.catalogs(c)
	if err != nil {
		return err
	}
	v := practicePage{Catalogs: all}
	if chosen == nil {
		return c.Page(p.set, "technician-practice", v)
	}
	v.Catalog = chosen.Info.ID
	bank, err := chosen.Bank(c.Ctx())
	if err != nil {
		return err
	}
	r, err := p.deps.Progress.Released(c.Ctx(), c.Visitor.ID)
	if err != nil {
		return err
	}
	v.Streak, v.Answers = r.Streak, r.Answers
	known := map[string]progress.Skill{}
	for _, s := range r.Skills {
		known[s.Name] = s
	}
	for _, name := range bank.Skills() {
		if name == progress.ChaseSkill {
			continue
		}
		s := known[name]
		level := s.Level
		if level == "" {
			level = progress.TooFew
		}
		v.Skills = append(v.Skills, Choice{Name: name, Mode: progress.Mode{Kind: progress.OneSkill, Skill: name}.String(),
			Level: level, Answers: s.Answers, Share: s.Value(), Enough: s.Enough()})
	}
	for _, s := range r.Steps {
		v.Steps = append(v.Steps, Choice{Name: s.Step.String(), Mode: progress.Mode{Kind: progress.OneStep, Step: s.Step, Chosen: true}.String(),
			Answers: s.Answers, Share: s.Value(), Enough: s.Enough()})
	}
	if step, ok := progress.WeakestStep(r.Steps); ok {
		v.Weakest = step.String()
	}
	return c.Page(p.set, "technician-practice", v)
}

// nextExercise chooses a question and goes to it.
func (p *Pages) nextExercise(c *web.Context) error {
	mode, err := progress.ParseMode(c.QueryParam("mode"))
	if err != nil {
		return err
	}
	_, chosen, err := p.catalogs(c)
	if err != nil {
		return err
	}
	if chosen == nil {
		return c.Go("/practice")
	}
	bank, err := chosen.Bank(c.Ctx())
	if err != nil {
		return err
	}
	avoid, err := p.reserved(c)
	if err != nil {
		return err
	}
	if after, err := p.read(c.QueryParam("after"), c.Visitor.ID); err == nil {
		if q, err := p.find(c, after); err == nil {
			avoid = append(avoid, q.ID)
		}
	}
	rng := rand.New(rand.NewPCG(rand.Uint64(), rand.Uint64()))
	q, _, err := p.deps.Progress.Next(c.Ctx(), c.Visitor.ID, mode, bank, avoid, rng)
	if quiz.ErrorCode(err) == quiz.NotFound {
		c.Flash(c.T("technician.practice.none"))
		return c.Go("/practice")
	}
	if err != nil {
		return err
	}
	at := -1
	for i := range bank.Questions {
		if bank.Questions[i] == q {
			at = i
		}
	}
	if at < 0 {
		return quiz.Errorf(quiz.Internal, "the question chosen is not in the bank")
	}
	return c.Go(exercisePath(p.write(newReference(chosen.Info.ID, at, q.ID, c.Now()), c.Visitor.ID), mode))
}

// reserved lists the questions of quizzes that the visitor has still to do: in
// practice they would show their keys.
func (p *Pages) reserved(c *web.Context) ([]string, error) {
	ctx := c.Ctx()
	all, err := p.app.Store.Assignments(ctx)
	if err != nil {
		return nil, err
	}
	attempts, err := p.app.Store.AttemptsOf(ctx, c.Visitor.ID)
	if err != nil {
		return nil, err
	}
	var list []string
	seen := map[string]bool{}
	for _, a := range all {
		x := itemOf(a, c.Visitor.ID, attempts, c.Now())
		if seen[a.Form] || x.Stand == Done || x.Stand == Missed || x.Made == 0 && !a.For(*c.Visitor) {
			continue
		}
		seen[a.Form] = true
		f, err := p.deps.Marker.Form(ctx, a.Form)
		if err != nil {
			return nil, err
		}
		for _, q := range f.Questions() {
			list = append(list, q.ID)
		}
	}
	return list, nil
}

func exercisePath(ref string, mode progress.Mode) string {
	return "/practice/exercises/" + ref + "?mode=" + url.QueryEscape(mode.String())
}

// find gives the question of a reference.
func (p *Pages) find(c *web.Context, r reference) (*banks.Question, error) {
	e, err := p.deps.Library.Entry(c.Ctx(), r.Catalog)
	if err != nil {
		return nil, goneError()
	}
	bank, err := e.Bank(c.Ctx())
	if err != nil {
		return nil, err
	}
	if int(r.At) >= len(bank.Questions) || checkOf(bank.Questions[r.At].ID) != r.Check {
		return nil, goneError()
	}
	return bank.Questions[r.At], nil
}

type exercisePage struct {
	Fields
	Mode    progress.Mode
	Step    resolver.Step // for OneStep
	Path    string
	Next    string // address of another question
	Outcome *Outcome
	Says    string // how sure it is that the skill is known, now
	Before  bool   // an answer was sent that was not the first
}

// exercise shows a practice question; once it is answered, what came of it.
func (p *Pages) exercise(c *web.Context) error {
	r, q, mode, err := p.asked(c)
	if err != nil {
		return p.gone(c, mode, err)
	}
	ask := marking.AskOf(q, 1)
	v := p.exercisePage(c, r, ask, mode)
	done, ok, err := p.outcome(c, r)
	if err != nil {
		return err
	}
	if ok {
		reserved, err := p.reserved(c)
		if err != nil {
			return err
		}
		if slices.Contains(reserved, q.ID) { // it was answered before the quiz was assigned
			return p.gone(c, mode, goneError())
		}
		o := outcomeOf(q, done.Score, done.Score.Given, done.Spent)
		v.Outcome = &o
		if record, err := p.deps.Progress.Released(c.Ctx(), c.Visitor.ID); err == nil {
			for _, s := range record.Skills {
				if s.Name == q.Skill {
					v.Says = c.Words.Render(s.Says)
				}
			}
		}
	} else {
		v.Fields = newFields(ask, entryOf(ask, ""), nil)
	}
	return c.Page(p.set, "technician-exercise", v)
}

func (p *Pages) exercisePage(c *web.Context, r reference, ask marking.Ask, mode progress.Mode) exercisePage {
	v := exercisePage{Mode: mode, Step: mode.Step, Path: c.Request().URL.RequestURI(), Fields: Fields{Ask: ask}}
	v.Next = "/practice/next?mode=" + url.QueryEscape(mode.String()) + "&catalog=" + url.QueryEscape(r.Catalog) + "&after=" + c.Param("ref")
	return v
}

// asked gives the question that an address refers to.
func (p *Pages) asked(c *web.Context) (reference, *banks.Question, progress.Mode, error) {
	mode, err := progress.ParseMode(c.QueryParam("mode"))
	if err != nil {
		mode = progress.Mode{Kind: progress.ByNeed}
	}
	r, err := p.read(c.Param("ref"), c.Visitor.ID)
	if err != nil {
		return r, nil, mode, err
	}
	q, err := p.find(c, r)
	return r, q, mode, err
}

// gone answers for a question that is not under way any more with a word and
// the choice of what to practise.
func (p *Pages) gone(c *web.Context, _ progress.Mode, err error) error {
	if quiz.ErrorCode(err) != quiz.Closed || c.WantsJSON() {
		return err
	}
	c.Flash(c.T("technician.practice.gone"))
	return c.Go("/practice")
}

// outcome finds what came of a question that was answered.
func (p *Pages) outcome(c *web.Context, r reference) (quiz.Practice, bool, error) {
	list, err := p.app.Store.PracticeOf(c.Ctx(), c.Visitor.ID, r.Asked.Add(-time.Minute))
	if err != nil {
		return quiz.Practice{}, false, err
	}
	for _, x := range list {
		if x.Key == r.key() {
			return x, true, nil
		}
	}
	return quiz.Practice{}, false, nil
}

// answerExercise takes the answer to a practice question. The first counts.
func (p *Pages) answerExercise(c *web.Context) error {
	r, q, mode, err := p.asked(c)
	if err != nil {
		return p.gone(c, mode, err)
	}
	reserved, err := p.reserved(c)
	if err != nil {
		return err
	}
	if slices.Contains(reserved, q.ID) { // it was asked before the quiz was assigned
		return p.gone(c, mode, goneError())
	}
	ask := marking.AskOf(q, 1)
	form := c.Form()
	entry := entryFrom(form, ask)
	value := entry.value(ask.Form)
	show := form.Raw("go") == "show"
	if show {
		value = ""
	} else if value == "" && form.OK() {
		form.Fault(firstField(ask), "technician.fault.blank")
	}
	score, err := graded(form, ask, q, value)
	if err != nil {
		return err
	}
	if !form.OK() {
		v := p.exercisePage(c, r, ask, mode)
		v.Fields = newFields(ask, entry, form.Faults)
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "technician-exercise", v)
	}
	_, kept, err := p.keepPractice(c, r.key(), r.Asked, score)
	if err != nil {
		return err
	}
	if !kept {
		c.Flash(c.T("technician.practice.before"))
	}
	return c.Go(exercisePath(c.Param("ref"), mode))
}

// graded scores an answer, unless the form has faults. One that cannot be read is
// a fault of the form.
func graded(form *web.Form, ask marking.Ask, q *banks.Question, value string) (grading.Score, error) {
	if !form.OK() {
		return grading.Score{}, nil
	}
	score, err := grading.Grade(q, value, grading.Rules{})
	var refusal *grading.Refusal
	if errors.As(err, &refusal) {
		form.Fault(firstField(ask), "technician.fault.unread")
		return grading.Score{}, nil
	}
	return score, err
}

// keepPractice keeps the outcome of an exercise that was asked at a time. Kept is
// false if the exercise has an outcome already, which stays.
func (p *Pages) keepPractice(c *web.Context, key string, asked time.Time, score grading.Score) (x quiz.Practice, kept bool, err error) {
	x = quiz.Practice{Person: c.Visitor.ID, Key: key, At: c.Now(), Score: score}
	// Longer than that was a break; how long the lookup took is not known then.
	if d := c.Now().Sub(asked); d > 0 && d <= maxSpent {
		x.Spent = d
	}
	repeated, err := p.app.Store.SavePractice(c.Ctx(), x)
	if repeated || quiz.ErrorCode(err) == quiz.Conflict {
		return x, false, nil
	}
	if err != nil {
		return x, false, err
	}
	p.deps.Progress.Note(x)
	return x, true, nil
}

// firstField is the name of the first field of a question.
func firstField(ask marking.Ask) string {
	switch ask.Form {
	case banks.Number:
		return "number"
	case banks.Ordered:
		return "place1"
	case banks.Chase:
		return "step1"
	}
	return "answer"
}
