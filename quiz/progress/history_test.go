package progress

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rightpage/grading"
	"rightpage/quiz/store"
)

// fakeSource is a store of outcomes.
type fakeSource struct {
	list  []store.Outcome
	gone  int64 // counts what took answers away
	err   error
	asked []time.Time // what Outcomes was asked for
}

func (f *fakeSource) Outcomes(_ context.Context, after time.Time) iter.Seq2[store.Outcome, error] {
	f.asked = append(f.asked, after)
	list := slices.Clone(f.list)
	slices.SortStableFunc(list, func(a, b store.Outcome) int { return a.At.Compare(b.At) })
	return func(yield func(store.Outcome, error) bool) {
		if f.err != nil {
			yield(store.Outcome{}, f.err)
			return
		}
		for _, o := range list {
			if o.Known.After(after) && !yield(o, nil) {
				return
			}
		}
	}
}

func (f *fakeSource) lost(_ context.Context, mark int64) (bool, int64, error) {
	return mark != f.gone, f.gone, nil
}

var begin = time.Date(2031, 3, 3, 8, 0, 0, 0, time.UTC)

func exercise(person, key, question string, at time.Time, right bool) store.Outcome {
	s := grading.Score{Question: question, Kind: "edition", Skill: "editions", Verdict: grading.Wrong}
	if right {
		s.Verdict, s.Points = grading.Right, 1
	}
	return store.Outcome{Person: person, Source: store.FromPractice, Ref: key, At: at, Known: at, Spent: 40 * time.Second, Score: s}
}

func (h *history) picture() map[string][]Answer {
	out := map[string][]Answer{}
	for id, p := range h.people {
		if len(p.answers) > 0 {
			out[id] = p.answers
		}
	}
	return out
}

// Whatever is answered, graded late, regraded with questions withdrawn, or
// erased, and however often it is read in between: what is kept is what reading
// everything anew gives.
func TestWhatIsKeptUpToDateIsWhatIsThere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ctx := context.Background()
		src := &fakeSource{gone: 1}
		now := begin
		h := &history{src: src, now: func() time.Time { return now }}
		attempts, keys := 0, 0
		t.Repeat(map[string]func(*rapid.T){
			"time passes": func(t *rapid.T) {
				now = now.Add(time.Duration(rapid.IntRange(1, 600).Draw(t, "minutes")) * time.Minute)
			},
			"an exercise": func(t *rapid.T) {
				keys++
				o := exercise(rapid.SampledFrom([]string{"a", "b"}).Draw(t, "person"), fmt.Sprint("k", keys), fmt.Sprint("q", rapid.IntRange(0, 9).Draw(t, "question")), now, rapid.Bool().Draw(t, "right"))
				src.list = append(src.list, o)
				if rapid.Bool().Draw(t, "noted") {
					h.note(o)
				}
			},
			"an attempt is graded": func(t *rapid.T) {
				attempts++
				for q := range 3 {
					o := exercise("a", fmt.Sprint("attempt ", attempts), fmt.Sprint("q", q), now.Add(-time.Duration(rapid.IntRange(0, 5000).Draw(t, "before"))*time.Minute), true)
					o.Source, o.Known = store.FromQuiz, now
					src.list = append(src.list, o)
				}
			},
			"an attempt is regraded": func(t *rapid.T) {
				if attempts == 0 {
					t.Skip("there is none")
				}
				ref := fmt.Sprint("attempt ", rapid.IntRange(1, attempts).Draw(t, "attempt"))
				now = now.Add(time.Minute)
				// Never the last one: an attempt always counts for something.
				withdrawn := fmt.Sprint("q", rapid.SampledFrom([]int{0, 1, 9}).Draw(t, "withdrawn"))
				src.list = slices.DeleteFunc(src.list, func(o store.Outcome) bool { return o.Ref == ref && o.Score.Question == withdrawn })
				for i := range src.list {
					if src.list[i].Ref == ref {
						src.list[i].Known = now
						src.list[i].Score.Verdict = grading.Wrong
					}
				}
			},
			"a person is erased": func(t *rapid.T) {
				src.list = slices.DeleteFunc(src.list, func(o store.Outcome) bool { return o.Person == "b" })
				src.gone++
			},
			"": func(t *rapid.T) {
				if err := h.update(ctx); err != nil {
					t.Fatal(err)
				}
				anew := &history{src: &fakeSource{list: src.list, gone: 1}, now: h.now}
				if err := anew.update(ctx); err != nil {
					t.Fatal(err)
				}
				if d := cmp.Diff(sorted(anew.picture()), sorted(h.picture())); d != "" {
					t.Fatal(d)
				}
				if h.total != anew.total || len(h.asked) != len(anew.asked) {
					t.Fatalf("%d answers to %d questions, anew %d to %d", h.total, len(h.asked), anew.total, len(anew.asked))
				}
			},
		})
	})
}

// sorted brings answers of the same instant into one order.
func sorted(of map[string][]Answer) map[string][]Answer {
	for id, list := range of {
		list = slices.Clone(list)
		slices.SortFunc(list, func(a, b Answer) int {
			switch {
			case !a.At.Equal(b.At):
				return a.At.Compare(b.At)
			case a.Ref+a.Question < b.Ref+b.Question:
				return -1
			}
			return 1
		})
		of[id] = list
	}
	return of
}

func TestOnlyWhatIsNewIsRead(t *testing.T) {
	ctx := context.Background()
	src := &fakeSource{gone: 1, list: []store.Outcome{exercise("a", "k1", "q1", begin, true)}}
	now := begin.Add(time.Hour)
	h := &history{src: src, now: func() time.Time { return now }, every: 2 * time.Second}
	for range 3 { // the second and third find it fresh
		if err := h.update(ctx); err != nil {
			t.Fatal(err)
		}
	}
	now = now.Add(3 * time.Second)
	if err := h.update(ctx); err != nil {
		t.Fatal(err)
	}
	want := []time.Time{{}, begin.Add(-overlap)}
	if d := cmp.Diff(want, src.asked); d != "" {
		t.Error(d)
	}
}

func TestAReadingThatFailsChangesNothing(t *testing.T) {
	ctx := context.Background()
	src := &fakeSource{gone: 1, list: []store.Outcome{exercise("a", "k1", "q1", begin, true)}}
	h := &history{src: src, now: func() time.Time { return begin }}
	if err := h.update(ctx); err != nil {
		t.Fatal(err)
	}
	src.err = errors.New("the database is away")
	src.gone++
	if err := h.update(ctx); !errors.Is(err, src.err) {
		t.Errorf("the error is %v", err)
	}
	if len(h.of("a")) != 1 {
		t.Error("what was read before is lost")
	}
	src.err, src.list = nil, nil
	if err := h.update(ctx); err != nil || len(h.of("a")) != 0 {
		t.Errorf("%d answers, %v; want them gone", len(h.of("a")), err)
	}
}

func TestToHowManyAQuestionWasGiven(t *testing.T) {
	src := &fakeSource{gone: 1, list: []store.Outcome{
		exercise("a", "k1", "q1", begin, true), exercise("a", "k2", "q1", begin.Add(time.Hour), true), exercise("b", "k3", "q1", begin, false), exercise("b", "k4", "q2", begin, false)}}
	h := &history{src: src, now: func() time.Time { return begin }}
	if err := h.update(context.Background()); err != nil {
		t.Fatal(err)
	}
	shown, seen, people := h.shown("a", []string{"q1", "q2", "q3"})
	if !slices.Equal(shown, []int{2, 1, 0}) || !slices.Equal(seen, []bool{true, false, false}) || people != 2 {
		t.Errorf("shown %v, seen %v, people %d", shown, seen, people)
	}
}
