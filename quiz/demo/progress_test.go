package demo_test

import (
	"context"
	"math"
	"slices"
	"testing"
	"time"

	"rightpage/banks/kinds"
	"rightpage/grading/psychometrics"
	"rightpage/quiz"
	"rightpage/quiz/progress"
)

func progressOf(t *testing.T) *progress.Progress {
	t.Helper()
	s, _ := filledStore(t)
	return progress.New(s, progress.Options{Now: func() time.Time { return present }})
}

// histories gives the answers of every person in every skill, by staff number,
// so that their order is always the same.
func histories(t *testing.T) (skills []string, of [][]psychometrics.SkillHistory) {
	t.Helper()
	s, d := filledStore(t)
	for _, k := range kinds.All() {
		skills = append(skills, k.Skill)
	}
	slices.Sort(skills)
	skills = slices.Compact(skills)
	people := slices.Clone(d.People)
	slices.SortFunc(people, func(a, b quiz.Person) int {
		if a.Number < b.Number {
			return -1
		}
		return 1
	})
	row := map[string]int{}
	for i, p := range people {
		row[p.ID] = i
	}
	of = make([][]psychometrics.SkillHistory, len(skills))
	for k := range of {
		of[k] = make([]psychometrics.SkillHistory, len(people))
	}
	for o, err := range s.Outcomes(context.Background(), time.Time{}) {
		if err != nil {
			t.Fatal(err)
		}
		k, _ := slices.BinarySearch(skills, o.Score.Skill)
		h := &of[k][row[o.Person]]
		*h = append(*h, psychometrics.SkillAnswer{Right: o.Score.Verdict == "right", Day: float64(o.At.Unix()) / 86400})
	}
	return skills, of
}

// Knowledge tracing with forgetting against a moving average on the
// demonstration, by the log loss of answers of people who took no part in the
// fit: fitted to every other person, tried on the rest, and the other way
// round. The technicians of the demonstration are no mirror of either: see
// their mind. What was found is recorded here and in the README; a coin would
// lose 0.693.
func TestTracingAgainstMovingAverage(t *testing.T) {
	skills, of := histories(t)
	prior := psychometrics.DefaultMasteryPrior()
	tracing, average, answers := 0.0, 0.0, 0
	for k := range skills {
		for part := range 2 {
			var train, held []psychometrics.SkillHistory
			for i, h := range of[k] {
				if i%2 == part {
					train = append(train, h)
				} else {
					held = append(held, h)
				}
			}
			fit, err := psychometrics.FitMastery(train, prior)
			if err != nil {
				t.Fatal(err)
			}
			plain, err := psychometrics.FitMovingAverage(train)
			if err != nil {
				t.Fatal(err)
			}
			a, n := psychometrics.LogLoss(fit.MasteryParameters, held)
			b, _ := psychometrics.LogLoss(plain, held)
			tracing += a * float64(n)
			average += b * float64(n)
			answers += n
		}
	}
	tracing, average = tracing/float64(answers), average/float64(answers)
	t.Logf("%d answers: log loss of tracing %.4f, of the moving average %.4f", answers, tracing, average)
	const recordedTracing, recordedAverage = 0.493, 0.515
	if math.Abs(tracing-recordedTracing) > 0.01 || math.Abs(average-recordedAverage) > 0.01 {
		t.Errorf("recorded were %.4f and %.4f: find out why, and record anew here and in the README", recordedTracing, recordedAverage)
	}
}

// Which of the two is kept follows the loss, skill by skill: tracing where it
// wins by more than a standard error, the moving average elsewhere.
func TestTheChoiceFollowsTheLoss(t *testing.T) {
	m, err := progressOf(t).Model(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	kept := map[psychometrics.MasteryMethod]int{}
	for k, x := range m.Mastery {
		want := psychometrics.MethodAverage
		if x.AverageLoss-x.TracingLoss > x.SE {
			want = psychometrics.MethodTracing
		}
		if x.Method != want || m.Readiness.Skills[k].Method != want {
			t.Errorf("%s: losses %.4f and %.4f, SE %.4f; kept is the %v", m.Skills[k], x.TracingLoss, x.AverageLoss, x.SE, x.Method)
		}
		kept[x.Method]++
		t.Logf("%-20s tracing %.4f  average %.4f  gain %+.4f ± %.4f  %4d answers: %v", m.Skills[k], x.TracingLoss, x.AverageLoss, x.Gain, x.SE, x.Answers, x.Method)
	}
	if kept[psychometrics.MethodTracing] == 0 || kept[psychometrics.MethodAverage] == 0 {
		t.Errorf("kept: %v; the demonstration is to show both", kept)
	}
}

// The record shows what the technician was invented with: the editions go
// wrong.
func TestTheRecordFindsTheWeakness(t *testing.T) {
	_, d := filledStore(t)
	p := progressOf(t)
	for _, l := range d.Logins {
		r, err := p.Of(context.Background(), l.Person.ID)
		if err != nil {
			t.Fatal(err)
		}
		if l.Role != quiz.Technician {
			if r.Answers != 0 || len(r.Skills) == 0 || r.Skills[0].Level != progress.TooFew {
				t.Errorf("%s has %d answers, %d skills", l.Login, r.Answers, len(r.Skills))
			}
			continue
		}
		if r.Answers < 150 || len(r.Weeks) < 20 || len(r.Months) < 6 || r.Streak.Longest < 2 || len(r.Slips) < 5 {
			t.Errorf("record of %d answers in %d weeks, %d months, streak %+v, %d slips", r.Answers, len(r.Weeks), len(r.Months), r.Streak, len(r.Slips))
		}
		if weakest, ok := progress.WeakestStep(r.Steps); !ok || weakest.String() != "edition" {
			t.Errorf("the weakest step is %v, want edition", weakest)
		}
		n := 0
		for _, s := range r.Skills {
			n += s.Answers
			if s.Answers >= psychometrics.MinTimedAnswers && (!s.Fluency.Enough || s.Fluency.Typical < 10 || s.Fluency.Typical > 600 || s.Usual <= 0) {
				t.Errorf("%s: fluency %+v, usual %v", s.Name, s.Fluency, s.Usual)
			}
		}
		if n != r.Answers {
			t.Errorf("skills have %d answers, the record %d", n, r.Answers)
		}
	}
}

func TestTheReadinessBoardHasAllStates(t *testing.T) {
	s, d := filledStore(t)
	ctx := context.Background()
	p := progressOf(t)
	states := map[progress.State]int{}
	for _, req := range get(s.Requirements(ctx, present))(t) {
		var people []quiz.Person
		for _, x := range d.People {
			if req.For(x) && x.Active(present) {
				people = append(people, x)
			}
		}
		board, err := p.Readiness(ctx, req, people, present)
		if err != nil {
			t.Fatal(err)
		}
		if len(board) != len(people) {
			t.Fatalf("%d of %d people", len(board), len(people))
		}
		for i, b := range board {
			states[b.State]++
			f := b.Forecast
			switch {
			case b.Person.ID != people[i].ID:
				t.Errorf("place %d is %s, want %s", i, b.Person.Name, people[i].Name)
			case !(f.Low <= f.Probability && f.Probability <= f.High):
				t.Errorf("%s: %.2f outside %.2f to %.2f", b.Person.Name, f.Probability, f.Low, f.High)
			case len(b.Reason) == 0 || len(b.Skills) != len(req.Skills):
				t.Errorf("%s has no reason", b.Person.Name)
			case b.State == progress.Ready && (b.Questions > 0 || f.Probability < 0.7):
				t.Errorf("%s is ready by %.2f with a plan of %d questions", b.Person.Name, f.Probability, b.Questions)
			case b.State != progress.Ready && (len(b.PlanSays) == 0 || b.After < f.Probability):
				t.Errorf("%s is %s and has no plan", b.Person.Name, b.State)
			}
		}
	}
	for _, state := range []progress.State{progress.Ready, progress.AtRisk, progress.NotReady, progress.CannotBeTold} {
		if states[state] == 0 {
			t.Errorf("nobody is %s: %v", state, states)
		}
	}
}

// Nobody who opted out or left is named.
func TestRecognitionOfTheLastMonth(t *testing.T) {
	p := progressOf(t)
	ctx := context.Background()
	named := 0
	for back := range 4 {
		r, err := p.Recognition(ctx, present.AddDate(0, -back, 0))
		if err != nil {
			t.Fatal(err)
		}
		if r.Over != (back > 0) || r.Month.Day() != 1 || r.Apart != 2 || r.People < 18 {
			t.Errorf("month %v, over %v: %d took part, %d opted out", r.Month, r.Over, r.People, r.Apart)
		}
		check := func(who quiz.Person) {
			named++
			if who.Apart || !who.Active(present) || who.Name == "" {
				t.Errorf("%q is named", who.Name)
			}
		}
		for _, x := range r.Improved {
			check(x.Person)
			if x.After.Value() <= x.Before.Value() {
				t.Errorf("%s went from %.2f to %.2f", x.Person.Name, x.Before.Value(), x.After.Value())
			}
			t.Logf("%s: %s, %v: %.0f %% to %.0f %%", r.Month.Format("2006-01"), x.Person.Name, x.Step, 100*x.Before.Value(), 100*x.After.Value())
		}
		for _, x := range r.Quicker {
			check(x.Person)
			t.Logf("%s: %s, lookups in %v after %v", r.Month.Format("2006-01"), x.Person.Name, x.After, x.Before)
		}
		for _, x := range r.Steady {
			check(x.Person)
		}
		t.Logf("%s: %d practised each week", r.Month.Format("2006-01"), len(r.Steady))
	}
	if named == 0 {
		t.Error("nobody is named in four months")
	}
}
