package progress

import (
	"context"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"rightpage/grading"
	"rightpage/grading/psychometrics"
	"rightpage/quiz"
	"rightpage/quiz/store"
)

// workshop gives the answers of twelve people in two skills: half of them know
// them, half learn them slowly.
func workshop() [][]Answer {
	var all [][]Answer
	for p := range 12 {
		var list []Answer
		for i := range 24 {
			skill, kind := "editions", "edition"
			if i%2 == 1 {
				skill, kind = "groups", "group"
			}
			right := p%2 == 0 && i%11 != 3 || p%2 == 1 && (i*7+p)%10 < 2+i/5
			list = append(list, Answer{At: begin.Add(time.Duration(20*i+p) * time.Hour), Skill: skill, Kind: kind, Right: right, Spent: 30 * time.Second})
		}
		all = append(all, list)
	}
	return all
}

func course(level float64, days int, skills ...string) quiz.Requirement {
	r := quiz.Requirement{ID: "r", Course: "away", Date: begin.AddDate(0, 0, days), Targets: []quiz.Target{{Kind: quiz.ToRole, ID: "technician"}}}
	for _, s := range skills {
		r.Skills = append(r.Skills, quiz.SkillLevel{Skill: s, Level: level})
	}
	return r
}

func TestReadinessOfAWorkshop(t *testing.T) {
	all := workshop()
	at := begin.AddDate(0, 0, 21)
	m, err := fit(context.Background(), all, at)
	if err != nil {
		t.Fatal(err)
	}
	f := forecast{m: m, req: course(0.6, 30, "editions", "groups"), aim: 0.8, at: at, questions: 20, draws: 100}
	knows, err := f.of(quiz.Person{ID: "knows"}, all[0])
	if err != nil {
		t.Fatal(err)
	}
	learns, err := f.of(quiz.Person{ID: "learns"}, all[1])
	if err != nil {
		t.Fatal(err)
	}
	fresh, err := f.of(quiz.Person{ID: "new"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !(knows.Forecast.Probability > fresh.Forecast.Probability && fresh.Forecast.Probability > learns.Forecast.Probability) {
		t.Errorf("chances: knows %.2f, new %.2f, learns %.2f", knows.Forecast.Probability, fresh.Forecast.Probability, learns.Forecast.Probability)
	}
	if fresh.State != CannotBeTold || learns.State == Ready || learns.State == CannotBeTold {
		t.Errorf("states: new %s, learns %s", fresh.State, learns.State)
	}
	if len(learns.Skills) != 2 || learns.Skills[0].Skill != "editions" || learns.Skills[0].Answers != 12 {
		t.Errorf("skills %+v", learns.Skills)
	}
	again, err := f.of(quiz.Person{ID: "learns"}, all[1])
	if err != nil || again.Forecast.Low != learns.Forecast.Low || again.Low != learns.Low {
		t.Error("the same question has another answer the second time")
	}
}

// What is answered after the time asked about does not count, and a course that
// is over is judged as of its date.
func TestReadinessAsOfATime(t *testing.T) {
	all := workshop()
	m, err := fit(context.Background(), all, begin)
	if err != nil {
		t.Fatal(err)
	}
	early := forecast{m: m, req: course(0.6, 60, "editions"), aim: 0.8, at: begin.Add(50 * time.Hour), questions: 20}
	x, err := early.of(quiz.Person{ID: "p"}, all[0])
	if err != nil || x.Skills[0].Answers != 2 || x.State != CannotBeTold {
		t.Errorf("%d answers count, %v; want the two of the first 50 hours", x.Skills[0].Answers, err)
	}
	over := forecast{m: m, req: course(0.6, 5, "editions"), aim: 0.8, at: begin.AddDate(1, 0, 0), questions: 20}
	if x, err = over.of(quiz.Person{ID: "p"}, all[0]); err != nil || x.Skills[0].Answers != 4 {
		t.Errorf("%d answers count, %v; want the four until the course", x.Skills[0].Answers, err)
	}
}

// The longer the level is asked for, or the higher it is, the less likely.
func TestHigherLevelsAreLessLikely(t *testing.T) {
	all := workshop()
	m, err := fit(context.Background(), all, begin)
	if err != nil {
		t.Fatal(err)
	}
	last := 1.1
	for _, level := range []float64{0.3, 0.5, 0.7, 0.8, 0.9, 1} {
		f := forecast{m: m, req: course(level, 30, "editions", "groups"), aim: 0.8, at: begin.AddDate(0, 0, 21), questions: 20}
		x, err := f.of(quiz.Person{ID: "p"}, all[2])
		if err != nil {
			t.Fatal(err)
		}
		if x.Forecast.Probability > last+1e-9 {
			t.Errorf("level %.1f has chance %.3f, more than the level below, %.3f", level, x.Forecast.Probability, last)
		}
		last = x.Forecast.Probability
	}
}

func TestASkillThatNobodyTrains(t *testing.T) {
	m, err := fit(context.Background(), workshop(), begin)
	if err != nil {
		t.Fatal(err)
	}
	f := forecast{m: m, req: course(0.6, 30, "welding"), aim: 0.8, at: begin, questions: 20}
	if _, err := f.of(quiz.Person{ID: "p"}, nil); quiz.ErrorCode(err) != quiz.Invalid {
		t.Errorf("%v, want it invalid", err)
	}
}

// The same answers give the same model, and nobody's answers give one, too.
func TestModels(t *testing.T) {
	ctx := context.Background()
	a, err := fit(ctx, workshop(), begin)
	if err != nil {
		t.Fatal(err)
	}
	b, err := fit(ctx, workshop(), begin)
	if err != nil {
		t.Fatal(err)
	}
	for k := range a.Skills {
		if a.Mastery[k].Method != b.Mastery[k].Method || a.Mastery[k].Tracing.MasteryParameters != b.Mastery[k].Tracing.MasteryParameters {
			t.Errorf("%s differs", a.Skills[k])
		}
	}
	none, err := fit(ctx, nil, begin)
	if err != nil {
		t.Fatal(err)
	}
	r := none.Record("p", nil, time.UTC, begin)
	if len(r.Skills) < 10 || r.Answers != 0 || r.Skills[0].Level != TooFew || r.Skills[0].Known <= 0 {
		t.Errorf("a record of nothing: %+v", r)
	}
	stopped, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := fit(stopped, workshop(), begin); err == nil {
		t.Error("a fit goes on after it was cancelled")
	}
}

// Old models serve while new ones are fitted.
func TestModelsAreFittedAgain(t *testing.T) {
	ctx := context.Background()
	p := practising(series("a", "editions", times9(true)...)...)
	first, err := p.Model(ctx)
	if err != nil || first.Answers != 9 {
		t.Fatalf("%+v, %v", first, err)
	}
	src := p.h.src.(*fakeSource)
	p.fitting.Lock() // somebody fits
	for i := range 4 {
		for _, o := range series([]string{"b", "c", "d", "e"}[i], "editions", times9(false)...) {
			o.At, o.Known = o.At.Add(24*time.Hour), o.Known.Add(24*time.Hour)
			src.list = append(src.list, o)
		}
	}
	if m, err := p.Model(ctx); err != nil || m != first {
		t.Errorf("while somebody fits there is another model: %v", err)
	}
	p.fitting.Unlock()
	for range 2000 {
		m, err := p.Model(ctx)
		if err != nil {
			t.Fatal(err)
		}
		if m.Answers == 45 {
			return
		}
		time.Sleep(5 * time.Millisecond)
	}
	t.Error("the models were never fitted again")
}

// Over a real store: what was practised is in the record, at once and later.
func TestOverAStore(t *testing.T) {
	ctx := context.Background()
	now := begin
	clock := func() time.Time { return now }
	s, err := store.Open(ctx, filepath.Join(t.TempDir(), "p.db"), store.Options{Now: clock})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.Migrate(ctx); err != nil {
		t.Fatal(err)
	}
	site := quiz.Site{Name: "Yard", Zone: "Europe/London"}
	if err := s.SaveSite(ctx, "", &site); err != nil {
		t.Fatal(err)
	}
	who := quiz.Person{Name: "Noor Haldane", Site: site.ID, Roles: []quiz.Role{quiz.Technician}}
	if err := s.SavePerson(ctx, "", &who); err != nil {
		t.Fatal(err)
	}
	p := New(s, Options{Now: clock})
	if _, err := p.Of(ctx, "nobody"); quiz.ErrorCode(err) != quiz.NotFound {
		t.Errorf("somebody who is not there: %v", err)
	}
	if r, err := p.Of(ctx, who.ID); err != nil || r.Answers != 0 {
		t.Fatalf("%+v, %v", r, err)
	}
	for i := range 6 {
		now = now.Add(time.Minute)
		x := quiz.Practice{Person: who.ID, Key: "practice-key-" + string(rune('a'+i)), At: now, Spent: 30 * time.Second,
			Score: grading.Score{Question: "q", Kind: "edition", Skill: "editions", Verdict: grading.Right, Points: 1}}
		if _, err := s.SavePractice(ctx, x); err != nil {
			t.Fatal(err)
		}
		if i == 5 { // the last is told, those before are read
			p.Note(x)
		}
	}
	r, err := p.Of(ctx, who.ID)
	if err != nil || r.Answers != 6 || !r.Streak.ThisWeek {
		t.Fatalf("%d answers, %+v, %v; want 6", r.Answers, r.Streak, err)
	}
	k := slices.IndexFunc(r.Skills, func(s Skill) bool { return s.Name == "editions" })
	if x := r.Skills[k]; x.Right != 6 || x.Level == TooFew || x.Says.Phrase == psychometrics.PhraseMasteryFew {
		t.Errorf("editions: %+v", x)
	}
	if err := s.ErasePerson(ctx, "", who.ID); err != nil {
		t.Fatal(err)
	}
	now = now.Add(time.Minute)
	if r, err := p.Of(ctx, who.ID); err != nil || r.Answers != 0 {
		t.Errorf("after erasure %d answers, %v", r.Answers, err)
	}
	board, err := p.Readiness(ctx, course(0.7, 40, "editions"), []quiz.Person{who}, now)
	if err != nil || len(board) != 1 || board[0].State != CannotBeTold {
		t.Errorf("readiness: %+v, %v", board, err)
	}
	month, err := p.Recognition(ctx, now)
	if err != nil || len(month.Improved)+len(month.Quicker)+len(month.Steady) > 0 {
		t.Errorf("recognition: %+v, %v", month, err)
	}
}
