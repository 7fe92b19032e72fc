package technician

import (
	"cmp"
	"errors"
	"slices"
	"strings"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/progress"
	"rightpage/server/web"
)

// The most notices and finished quizzes that the page of what is due shows.
const (
	noticesShown = 8
	doneShown    = 10
)

// NoticeLine is a notice in words.
type NoticeLine struct {
	ID   string
	At   time.Time
	Text string
	Path string // of what it is about; may be empty
	New  bool
}

// Suggestion is what to practise next.
type Suggestion struct {
	Mode string // as progress.ParseMode reads it
	Name string // of the skill or step
	Says string // how the person does at it
}

type duePage struct {
	UnderWay, ToDo, Coming, Past []Item
	Notices, Read                []NoticeLine // new ones, and those that were read
	Skill, Step                  *Suggestion
	Streak                       progress.Streak
	CanPractise                  bool
}

// due is what is due: the first page of a technician.
func (p *Pages) due(c *web.Context) error {
	ctx := c.Ctx()
	all, err := p.app.Store.Assignments(ctx)
	if err != nil {
		return err
	}
	attempts, err := p.app.Store.AttemptsOf(ctx, c.Visitor.ID)
	if err != nil {
		return err
	}
	var v duePage
	for _, a := range all {
		x := itemOf(a, c.Visitor.ID, attempts, c.Now())
		// What closed before somebody came was never theirs.
		before := !a.Close.IsZero() && a.Close.Before(c.Visitor.Created)
		if x.Made == 0 && (!a.For(*c.Visitor) || before) {
			continue
		}
		switch x.Stand {
		case UnderWay:
			v.UnderWay = append(v.UnderWay, x)
		case ToDo:
			v.ToDo = append(v.ToDo, x)
		case Coming:
			v.Coming = append(v.Coming, x)
		case Done, Again, Missed:
			v.Past = append(v.Past, x)
		}
	}
	slices.SortStableFunc(v.UnderWay, byClosing)
	slices.SortStableFunc(v.ToDo, byClosing)
	slices.SortStableFunc(v.Coming, func(a, b Item) int { return a.Assignment.Open.Compare(b.Assignment.Open) })
	slices.SortStableFunc(v.Past, func(a, b Item) int { return b.ended().Compare(a.ended()) })
	v.Past = v.Past[:min(len(v.Past), doneShown)]
	list, err := p.app.Store.Notices(ctx, c.Visitor.ID, noticesShown)
	if err != nil {
		return err
	}
	for _, n := range list {
		if line := (NoticeLine{n.ID, n.At, c.Words.Notice(n.Kind, n.Detail), web.NoticePath(n), n.Read.IsZero()}); line.New {
			v.Notices = append(v.Notices, line)
		} else {
			v.Read = append(v.Read, line)
		}
	}
	if v.CanPractise, err = p.suggest(c, &v); err != nil {
		return err
	}
	return c.Page(p.set, "technician-due", v)
}

// byClosing orders what closes first before the rest; what never closes is last.
func byClosing(a, b Item) int {
	if a.Closes.IsZero() != b.Closes.IsZero() {
		if a.Closes.IsZero() {
			return 1
		}
		return -1
	}
	return cmp.Or(a.Closes.Compare(b.Closes), strings.Compare(a.Assignment.Title, b.Assignment.Title))
}

// ended is when the last attempt ended, or the assignment closed.
func (x Item) ended() time.Time {
	if x.Attempt != nil && !x.Attempt.Ended.IsZero() {
		return x.Attempt.Ended
	}
	return x.Closes
}

// suggest finds what to practise next: the skill least likely to be known, and
// the step of the lookup that goes wrong most.
func (p *Pages) suggest(c *web.Context, v *duePage) (bool, error) {
	_, entry, err := p.catalogs(c)
	if err != nil || entry == nil {
		return false, err
	}
	r, err := p.deps.Progress.Released(c.Ctx(), c.Visitor.ID)
	if err != nil {
		return false, err
	}
	v.Streak = r.Streak
	var weakest *progress.Skill
	for i := range r.Skills {
		s := &r.Skills[i]
		if s.Name != progress.ChaseSkill && s.Level != progress.TooFew && s.Level != progress.Mastered && (weakest == nil || s.Known < weakest.Known) {
			weakest = s
		}
	}
	if weakest != nil {
		v.Skill = &Suggestion{progress.Mode{Kind: progress.OneSkill, Skill: weakest.Name}.String(), weakest.Name, c.Words.Render(weakest.Says)}
	}
	if step, ok := progress.WeakestStep(r.Steps); ok {
		for _, s := range r.Steps {
			if s.Step == step && s.Right < s.Answers {
				v.Step = &Suggestion{progress.Mode{Kind: progress.OneStep, Step: step, Chosen: true}.String(), step.String(), c.Words.Render(s.Says())}
			}
		}
	}
	return true, nil
}

// readNotice notes that a notice was read, and goes to what it is about.
func (p *Pages) readNotice(c *web.Context) error {
	list, err := p.app.Store.Notices(c.Ctx(), c.Visitor.ID, 0)
	if err != nil {
		return err
	}
	for _, n := range list {
		if n.ID != c.FormValue("notice") {
			continue
		}
		if err := p.app.Store.ReadNotice(c.Ctx(), c.Visitor.ID, n.ID); err != nil && !errors.Is(err, &quiz.Error{Code: quiz.NotFound}) {
			return err
		}
		if path := web.NoticePath(n); path != "" && c.Form().On("open") {
			return c.Go(path)
		}
		return c.Go("/due")
	}
	return quiz.Errorf(quiz.NotFound, "there is no such notice")
}
