package marking

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"rightpage/banks"
	"rightpage/grading"
	"rightpage/grading/psychometrics"
	"rightpage/quiz"
)

// crowd has n people work a form of the questions on paper: each answers rightly
// with the chance of the Rasch model, ability and difficulty drawn at random.
// answer, if not nil, may say what somebody answers instead.
func (x *shop) crowd(as quiz.Assignment, qs []*banks.Question, n int, answer func(v, i int, said string) string) []quiz.Person {
	x.t.Helper()
	rng := rand.New(rand.NewPCG(7, 7))
	difficulty := make([]float64, len(qs))
	for i := range difficulty {
		difficulty[i] = rng.NormFloat64()
	}
	sites := x.sites()
	var people []quiz.Person
	var answers [][]string
	for v := range n {
		p := x.person(fmt.Sprintf("Person %03d", v), sites[v%2])
		ability := 1.2 * rng.NormFloat64()
		var row []string
		for i, q := range qs {
			said := right(q)
			if rng.Float64() > psychometrics.Probability(ability, difficulty[i]) {
				wrongs := []string{}
				for j, o := range q.Options {
					if !o.Right {
						wrongs = append(wrongs, banks.Letter(j))
					}
				}
				said = wrongs[rng.IntN(len(wrongs))]
			}
			if answer != nil {
				said = answer(v, i, said)
			}
			row = append(row, said)
		}
		people, answers = append(people, p), append(answers, row)
	}
	for v, p := range people {
		_, err := x.m.Paper(context.Background(), "", as.ID, p.ID, 0, answers[v])
		x.ok(err)
	}
	return people
}

func near(a, b psychometrics.Number) bool { return math.Abs(float64(a-b)) < 1e-9 }

func number(n psychometrics.Number) bool { return !math.IsNaN(float64(n)) }

// With a handful of people nothing is claimed that they cannot tell.
func TestTooFewToTell(t *testing.T) {
	x := open(t)
	qs := pick(banks.OneOf, 8)
	as := x.assign(x.form("F", qs), nil)
	if st := must(x.m.Statistics(context.Background(), as.ID)); st.People != 0 || len(st.Items) != 8 || len(st.Notes) != 1 {
		t.Errorf("nobody: %+v", st)
	}
	x.crowd(as, qs, 5, nil)
	st := must(x.m.Statistics(context.Background(), as.ID))
	if st.People != 5 || len(st.Variants) != 1 || st.Variants[0].TooFew == "" {
		t.Fatalf("%d people, %+v", st.People, st.Variants)
	}
	v := st.Variants[0]
	if number(v.Alpha) || number(v.SEM) || number(v.Consistency) || v.PassShare.Phrase != psychometrics.PhraseShareFew {
		t.Errorf("variant %+v", v)
	}
	for i, it := range st.Items {
		if it.Answered != 5 || number(it.P) || number(it.ItemRest) || number(it.Difficulty) || number(it.Infit) || it.Median != 0 {
			t.Errorf("question %d: %+v", i, it)
		}
		if it.Share.Phrase != psychometrics.PhraseShareFew || it.Sorts.Phrase != psychometrics.PhraseCorrelationFew {
			t.Errorf("question %d says %s, %s", i, it.Share.Phrase, it.Sorts.Phrase)
		}
		if len(it.Options) != len(it.Question.Options) || slices.ContainsFunc(it.Options, func(o OptionLine) bool { return number(o.Share) || number(o.Sorts) }) {
			t.Errorf("question %d: options %+v", i, it.Options)
		}
	}
	for _, p := range st.Abilities {
		if p.Enough || p.Says.Phrase != psychometrics.PhraseAbilityFew || p.Pattern.Phrase != psychometrics.PhraseFitFew {
			t.Errorf("%s: %s, %s", p.Person.Name, p.Says.Phrase, p.Pattern.Phrase)
		}
	}
	for _, c := range st.Comparisons {
		if len(c.Says) != 1 || c.Says[0].Phrase != psychometrics.PhraseItemFew {
			t.Errorf("by %s: %v", c.By, c.Says)
		}
	}
	if len(st.Alike) != 1 || st.Alike[0].Phrase != psychometrics.PhraseAlikeFew || len(st.Look) != 0 {
		t.Errorf("alike %v, look %v", st.Alike, st.Look)
	}
	if _, err := json.Marshal(st.Items[0].P); err != nil {
		t.Error(err)
	}
}

// With enough people the figures are those of package psychometrics, and what
// was made wrong on purpose is listed to be looked at again.
func TestStatisticsOfACrowd(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	qs := pick(banks.OneOf, 24)
	as := x.assign(x.form("F", qs), nil)
	const n, keyWrong, unclear, copied, copier = 240, 3, 5, 10, 11
	var sheet []string // of who is copied from
	people := x.crowd(as, qs, n, func(v, i int, said string) string {
		switch {
		case i == keyWrong && v%5 != 0:
			said = other(qs[i]) // nearly everybody takes another option for right
		case i == unclear && v%50 == 3:
			said = "A B"
		case i == 7 && v%4 == 1:
			said = other(qs[i]) // a page that one site does not have
		}
		if v == copied {
			sheet = append(sheet, said)
		}
		if v == copier {
			said = sheet[i]
		}
		return said
	})
	d := must(x.s.OpenDispute(ctx, must(x.s.AttemptsOf(ctx, people[0].ID))[0].ID, qs[9].ID, "no"))
	st := must(x.m.Statistics(ctx, as.ID))
	if st.People != n {
		t.Fatalf("%d people", st.People)
	}
	// Against the figures computed directly from the answers.
	r := psychometrics.New(n, len(qs))
	var points [][]float64
	for v, p := range people {
		a := must(x.s.AttemptsOf(ctx, p.ID))[0]
		row := make([]float64, len(qs))
		for i, s := range must(x.s.Gradings(ctx, a.ID))[0].Scores {
			if s.Verdict != Unread {
				r.Set(v, i, int8(s.Points))
			}
			row[i] = s.Points
		}
		points = append(points, slices.Delete(row, unclear, unclear+1))
	}
	want := must(psychometrics.Summarize(r))
	for i, it := range st.Items {
		w := want.ItemRows[i]
		if it.Answered != w.Answered || it.Right != w.Right || it.P != w.P || !near(it.ItemRest, w.ItemRest) {
			t.Errorf("question %d: %d of %d, %v, %v; want %d of %d, %v, %v", i, it.Right, it.Answered, it.P, it.ItemRest, w.Right, w.Answered, w.P, w.ItemRest)
		}
		if !near(it.Difficulty, w.Difficulty) || !near(it.Infit, w.Infit) {
			t.Errorf("question %d: difficulty %v, infit %v; want %v, %v", i, it.Difficulty, it.Infit, w.Difficulty, w.Infit)
		}
		total := 0
		for _, o := range it.Options {
			total += o.Chosen
			if len(o.ByGroup) != bands || len(it.Groups) != bands {
				t.Errorf("question %d: bands %v", i, o.ByGroup)
			}
		}
		if total != it.Answered {
			t.Errorf("question %d: the options were chosen %d times of %d", i, total, it.Answered)
		}
	}
	alpha := must(psychometrics.AlphaOfScores(points, 0.95))
	v := st.Variants[0]
	if v.Questions != len(qs)-1 || math.Abs(float64(v.Alpha)-alpha.Alpha) > 1e-12 || !number(v.SEM) || !number(v.Consistency) || v.TooFew != "" {
		t.Errorf("variant %+v, want alpha %v", v, alpha)
	}
	has := func(reason string, item int) bool {
		return slices.ContainsFunc(st.Look, func(l Look) bool { return l.Reason == reason && (item < 0 || l.Item == item) })
	}
	for reason, item := range map[string]int{LookOption: keyWrong, LookUnread: unclear, LookDisputed: 9, LookGroup: 7} {
		if !has(reason, item) {
			t.Errorf("question %d is not to be looked at because %s: %+v", item, reason, st.Look)
		}
	}
	alike := slices.IndexFunc(st.Look, func(l Look) bool { return l.Reason == LookAlike })
	if alike < 0 || !slices.ContainsFunc(st.Look[alike].People, func(p quiz.Person) bool { return p.ID == people[copier].ID }) {
		t.Errorf("who copied everything is not found: %v", st.Alike)
	}
	if st.Items[9].Disputes != 1 || d.ID == "" {
		t.Error("the dispute is not counted")
	}
	text := psychometrics.RenderAll(psychometrics.English{}, st.Items[0].Share, st.Items[0].Sorts, st.Variants[0].PassShare)
	if !strings.Contains(text, "%") {
		t.Errorf("in words: %s", text)
	}
	// The same again.
	if again := must(x.m.Statistics(ctx, as.ID)); fmt.Sprint(again.Look) != fmt.Sprint(st.Look) {
		t.Error("asked again, the statistics differ")
	}
}

// First attempts count, of all assignments of the form where it is asked for.
func TestFirstAttemptsCount(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	qs := pick(banks.OneOf, 3)
	form := x.form("F", qs)
	one, two := x.assign(form, nil), x.assign(form, nil)
	p, q := x.person("Ada", ""), x.person("Bo", "")
	x.takes(p, one, allRight(0, 1))
	x.takes(p, one, allRight())
	x.takes(q, two, allRight())
	x.takes(p, two, allRight())
	st := must(x.m.Statistics(ctx, one.ID))
	if st.People != 1 || st.Items[0].Right != 0 || st.Items[2].Right != 1 {
		t.Errorf("one assignment: %d people, right %d and %d", st.People, st.Items[0].Right, st.Items[2].Right)
	}
	all := must(x.m.FormStatistics(ctx, form.ID))
	if all.People != 2 || all.Items[0].Right != 1 || len(all.Assignments) != 2 {
		t.Errorf("the form: %d people, %d right, %d assignments", all.People, all.Items[0].Right, len(all.Assignments))
	}
}

// Questions of every form, two variants, a question withdrawn.
func TestStatisticsOfMixedForms(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	a := mixed()
	b := slices.Clone(a)
	slices.Reverse(b)
	as := x.assign(x.form("F", a, b), nil)
	for i := range 14 {
		x.takes(x.person(fmt.Sprint("P", i), ""), as, func(n int, q *banks.Question) string {
			if (n+i)%3 == 0 {
				return wrong(q)
			}
			return right(q)
		})
	}
	must(x.m.Apply(ctx, "", as.ID, grading.Rulings(grading.Ruling{Question: a[0].ID, Void: true, Why: "w"}), "w", grading.RegradeOptions{}))
	st := must(x.m.Statistics(ctx, as.ID))
	if len(st.Variants) != 2 || st.Variants[0].People+st.Variants[1].People != 14 || st.Variants[0].Questions != len(a)-1 {
		t.Errorf("variants %+v", st.Variants)
	}
	for i, it := range st.Items {
		if i == 0 {
			if it.Answered != 0 {
				t.Error("the withdrawn question counts")
			}
			continue
		}
		if it.Answered != 14 || it.Places[0] == 0 || it.Places[1] == 0 {
			t.Errorf("question %d: answered %d, places %v", i, it.Answered, it.Places)
		}
		if it.Question.Form != banks.OneOf && it.Right < 14 && len(it.Wrong) == 0 && it.Question.Form != banks.Chase {
			t.Errorf("question %d (%s): no wrong answers are listed", i, it.Question.Form)
		}
		if it.Median < 15*time.Second || it.Median > 25*time.Second {
			t.Errorf("question %d: median %s", i, it.Median)
		}
	}
}

func BenchmarkStatistics(b *testing.B) {
	x := open(b)
	qs := pick(banks.OneOf, 30)
	as := x.assign(x.form("F", qs), nil)
	x.crowd(as, qs, 60, nil)
	for b.Loop() {
		if _, err := x.m.Statistics(context.Background(), as.ID); err != nil {
			b.Fatal(err)
		}
	}
}
