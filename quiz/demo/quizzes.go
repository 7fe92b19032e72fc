package demo

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"rightpage/banks"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/marking"
	"rightpage/quiz/store"
)

// exam is a quiz of the history.
type exam struct {
	title     string
	revision  int // of the catalog
	questions int
	cut       float64
	seed      uint64
	limit     time.Duration
	only      func(*banks.Question) bool // nil: any but chases
	later     int                        // not 0: half of it is what this revision will answer otherwise
	release   quiz.Release

	form       *marking.Form
	assignment quiz.Assignment
	attempts   map[string]quiz.Attempt // by number of staff
	order      []string                // numbers of staff, as they handed in
}

// shown is the usual release: all of it once the attempt is graded.
var shown = quiz.Release{When: quiz.ReleaseAtEnd, Score: true, Answers: true, Key: true, Trace: true}

// set makes the form of an exam and assigns it.
func (f *filler) set(x *exam, open, until time.Time, targets ...quiz.Target) error {
	bank, err := f.revisions[x.revision].Bank(f.ctx)
	if err != nil {
		return err
	}
	var pool []*banks.Question
	for _, q := range bank.Questions {
		if x.only == nil && q.Form != banks.Chase || x.only != nil && x.only(q) {
			pool = append(pool, q)
		}
	}
	b := banks.EvenBlueprint(x.title, x.questions, pool)
	b.Seed, b.Cut, b.TimeLimit, b.PartialCredit = x.seed, x.cut, int(x.limit.Minutes()), true
	form, _, err := banks.Assemble(pool, b, banks.AssembleOptions{})
	var impossible *banks.ImpossibleError
	if errors.As(err, &impossible) {
		// The kinds cannot be spread evenly: leave them to chance.
		b.Quotas = nil
		form, _, err = banks.Assemble(pool, b, banks.AssembleOptions{})
	}
	if err != nil {
		return err
	}
	if err := f.s.AddForm(f.ctx, f.coordinator, form); err != nil {
		return err
	}
	if len(targets) == 0 {
		targets = []quiz.Target{{Kind: quiz.ToRole, ID: string(quiz.Technician)}}
	}
	if x.release == (quiz.Release{}) {
		x.release = shown
	}
	x.assignment = quiz.Assignment{Title: x.title, Form: form.ID, Targets: targets, Open: open, Close: until, Limit: x.limit, Attempts: 1, Release: x.release}
	if err := f.s.SaveAssignment(f.ctx, f.coordinator, &x.assignment); err != nil {
		return err
	}
	x.attempts = map[string]quiz.Attempt{}
	f.out.Assignments[x.title] = x.assignment.ID
	if x.form, err = f.marker.Form(f.ctx, form.ID); err != nil {
		return err
	}
	return f.announce(x)
}

// announce tells people of an assignment.
func (f *filler) announce(x *exam) error {
	var list []quiz.Notice
	for _, p := range f.people {
		if p.ID != "" && x.assignment.For(p.Person) && p.Active(f.clock.Now()) {
			n := quiz.Notice{Person: p.ID, At: f.clock.Now(), Kind: quiz.NoticeAssignment, Subject: "assignment/" + x.assignment.ID,
				Detail: map[string]string{marking.DetailAssignment: x.title}}
			if f.present.Sub(n.At) > 14*24*time.Hour {
				n.Read = n.At.Add(5 * time.Hour)
			}
			list = append(list, n)
		}
	}
	return f.s.AddNotices(f.ctx, list)
}

// sit plans who works on an exam when: one after the other in the hours of
// work, from the day after it opens. Who works on paper hands a sheet to the
// coordinator, who enters them all on one afternoon.
func (f *filler) sit(x *exam, weeks, weekday int, absent ...string) {
	slot := 0
	for _, p := range f.people {
		if !p.Has(quiz.Technician) || p.since > 0 && weeks >= p.since || weeks <= p.left || slices.Contains(absent, p.number) {
			continue
		}
		at := f.day(weeks, weekday+slot/7, 8, 2+75*(slot%7))
		slot++
		if p.login == "" {
			f.at(f.day(weeks, 4, 16, 10+slot), p.Name+"'s sheet for "+x.title, func(at time.Time) error { return f.paper(x, p, at) })
			continue
		}
		f.at(at, p.Name+" at "+x.title, func(at time.Time) error { return f.screen(x, p, at, len(x.form.Variants[0].Questions)) })
	}
}

// screen lets somebody work on an exam on a screen. With fewer answers than
// there are questions the attempt is left unfinished.
func (f *filler) screen(x *exam, p *person, at time.Time, most int) error {
	a, err := f.marker.Begin(f.ctx, x.assignment.ID, p.ID)
	if err != nil {
		return err
	}
	questions := x.form.Variants[a.Variant].Questions
	for i, q := range questions[:most] {
		s := p.mind.answers(q, at)
		at = at.Add(s.spent)
		if a.Overdue(at) {
			break
		}
		f.clock.set(at)
		save := quiz.Save{Attempt: a.ID, Question: q.ID, Key: fmt.Sprintf("answer-%s-%d-%02d", p.number, at.Unix(), i), Value: s.given, Spent: s.spent}
		if _, _, err := f.s.SaveAnswer(f.ctx, save); err != nil {
			return fmt.Errorf("question %d answered with %q: %w", i+1, s.given, err)
		}
	}
	if most < len(questions) {
		f.out.Unfinished = a.ID
		return nil
	}
	if a, err = f.finish(a, p, at); err != nil {
		return err
	}
	return f.marked(x, p, a, at)
}

// finish hands an attempt in, or lets the program end it if its time is up.
func (f *filler) finish(a quiz.Attempt, p *person, at time.Time) (quiz.Attempt, error) {
	at = at.Add(40 * time.Second)
	f.clock.set(at)
	if !a.Overdue(at) {
		return f.marker.HandIn(f.ctx, a.ID, fmt.Sprintf("hand-in-%s-%d", p.number, at.Unix()))
	}
	if _, err := f.marker.Sweep(f.ctx, "demo"); err != nil {
		return a, err
	}
	return f.s.Attempt(f.ctx, a.ID)
}

// paper enters what somebody answered on paper.
func (f *filler) paper(x *exam, p *person, at time.Time) error {
	questions := x.form.Variants[0].Questions
	answers := make([]string, len(questions))
	for i, q := range questions {
		answers[i] = p.mind.answers(q, at).given
	}
	a, err := f.marker.Paper(f.ctx, f.coordinator, x.assignment.ID, p.ID, 0, answers)
	if err != nil {
		return err
	}
	return f.marked(x, p, a, at)
}

// marked notes a graded attempt, and what the person learns from it.
func (f *filler) marked(x *exam, p *person, a quiz.Attempt, at time.Time) error {
	if a.State != quiz.Graded {
		return fmt.Errorf("the attempt is %s, not graded", a.State)
	}
	x.attempts[p.number] = a
	x.order = append(x.order, p.number)
	f.out.Attempts++
	g, err := f.s.Gradings(f.ctx, a.ID)
	if err != nil {
		return err
	}
	for _, s := range last(g).Scores {
		if q, ok := x.form.ByID(s.Question); ok {
			p.learn(q, s, at, 0.4) // not everybody reads all of it
		}
	}
	return nil
}

func last(g []store.Grading) store.Grading { return g[len(g)-1] }

// wrong finds the first question of an attempt that a person got wrong, of the
// skills given (none: any).
func (f *filler) wrong(x *exam, p *person, but ...string) (grading.Score, error) {
	a, ok := x.attempts[p.number]
	if !ok {
		return grading.Score{}, fmt.Errorf("%s did not work on %s", p.Name, x.title)
	}
	g, err := f.s.Gradings(f.ctx, a.ID)
	if err != nil {
		return grading.Score{}, err
	}
	for _, s := range last(g).Scores {
		if s.Verdict == grading.Wrong && !slices.Contains(but, s.Question) {
			return s, nil
		}
	}
	return grading.Score{}, fmt.Errorf("%s has nothing wrong in %s", p.Name, x.title)
}
