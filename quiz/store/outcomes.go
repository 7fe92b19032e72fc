package store

import (
	"context"
	"iter"
	"slices"
	"time"

	"rightpage/grading"
)

// The sources of outcomes.
const (
	FromQuiz     = "quiz"
	FromPractice = "practice"
)

// Outcome is one question that somebody answered, and how.
type Outcome struct {
	Person string
	Source string    // FromQuiz or FromPractice
	Ref    string    // ID of the attempt, or key of the exercise; with Person and Score.Question it names the outcome
	At     time.Time // when it was answered; when the attempt ended, if it was not
	Known  time.Time // when it was graded, the last time; At for an exercise
	Spent  time.Duration
	Score  grading.Score
}

// Outcomes gives everything that anybody answered and that became known after
// a time, in order of At: the graded attempts by their last grading, and the
// exercises. An attempt becomes known when it is graded, which is after it was
// answered, and again when it is regraded.
//
// Who keeps outcomes and asks for what is new should ask from a minute before
// the latest Known it has (servers' clocks differ a little, and what is being
// written now is not seen yet), and replace what it has of the same Person,
// Source, Ref and Score.Question.
//
// It reads some at a time, so that it takes little memory and keeps nobody
// waiting. An error ends it.
func (s *Store) Outcomes(ctx context.Context, after time.Time) iter.Seq2[Outcome, error] {
	return func(yield func(Outcome, error) bool) {
		quizzes, stopQuizzes := iter.Pull2(s.quizOutcomes(ctx, micros(after)))
		defer stopQuizzes()
		practice, stopPractice := iter.Pull2(s.practiceOutcomes(ctx, micros(after)))
		defer stopPractice()
		a, errA, okA := quizzes()
		b, errB, okB := practice()
		for okA || okB {
			switch {
			case errA != nil:
				yield(Outcome{}, s.fail("list the outcomes of quizzes", errA))
				return
			case errB != nil:
				yield(Outcome{}, s.fail("list the outcomes of exercises", errB))
				return
			case okA && (!okB || !b.At.Before(a.At)):
				if !yield(a, nil) {
					return
				}
				a, errA, okA = quizzes()
			default:
				if !yield(b, nil) {
					return
				}
				b, errB, okB = practice()
			}
		}
	}
}

// outcomesAtOnce is how many attempts or exercises are read at a time.
const outcomesAtOnce = 500

func (s *Store) practiceOutcomes(ctx context.Context, after int64) iter.Seq2[Outcome, error] {
	return func(yield func(Outcome, error) bool) {
		next := s.read(ctx).Where("at > ?", after)
		for {
			var rows []practiceRow
			if err := next.Order("at, person_id, client_key").Limit(outcomesAtOnce).Find(&rows).Error; err != nil {
				yield(Outcome{}, err)
				return
			}
			for _, r := range rows {
				o := Outcome{Person: r.PersonID, Source: FromPractice, Ref: r.ClientKey, At: instant(r.At), Known: instant(r.At), Spent: time.Duration(r.Spent) * time.Microsecond}
				err := parse(r.Score, &o.Score, "score of an exercise")
				if !yield(o, err) || err != nil {
					return
				}
			}
			if len(rows) < outcomesAtOnce {
				return
			}
			last := rows[len(rows)-1]
			next = s.read(ctx).Where("at > ? OR at = ? AND (person_id > ? OR person_id = ? AND client_key > ?)",
				last.At, last.At, last.PersonID, last.PersonID, last.ClientKey)
		}
	}
}

// gradedRow is a graded attempt with its last grading.
type gradedRow struct {
	ID       string
	PersonID string
	Started  int64
	Ended    int64
	GradedAt int64
	Scores   string
}

func (s *Store) quizOutcomes(ctx context.Context, after int64) iter.Seq2[Outcome, error] {
	return func(yield func(Outcome, error) bool) {
		// Attempts come by when they were started, and nothing in one was
		// answered before that: what is earlier than the next one's start is
		// complete.
		var waiting []Outcome
		flush := func(before int64) bool {
			slices.SortStableFunc(waiting, func(a, b Outcome) int { return a.At.Compare(b.At) })
			n := 0
			for n < len(waiting) && micros(waiting[n].At) < before {
				if !yield(waiting[n], nil) {
					return false
				}
				n++
			}
			waiting = slices.Delete(waiting, 0, n)
			return true
		}
		var last gradedRow
		for first := true; ; first = false {
			q := s.read(ctx).Table("attempts").
				Select("attempts.id, attempts.person_id, attempts.started, attempts.ended, gradings.at AS graded_at, gradings.scores").
				Joins("JOIN gradings ON gradings.attempt_id = attempts.id AND gradings.number = attempts.gradings").
				Where("gradings.at > ?", after).Order("attempts.started, attempts.id").Limit(outcomesAtOnce)
			if !first {
				q = q.Where("attempts.started > ? OR attempts.started = ? AND attempts.id > ?", last.Started, last.Started, last.ID)
			}
			var rows []gradedRow
			if err := q.Find(&rows).Error; err != nil {
				yield(Outcome{}, err)
				return
			}
			answered, err := s.answered(ctx, rows)
			if err != nil {
				yield(Outcome{}, err)
				return
			}
			for _, r := range rows {
				if r.Started != last.Started && !flush(r.Started) {
					return
				}
				var scores []grading.Score
				if err := parse(r.Scores, &scores, "scores of attempt "+r.ID); err != nil {
					yield(Outcome{}, err)
					return
				}
				for _, score := range scores {
					o := Outcome{Person: r.PersonID, Source: FromQuiz, Ref: r.ID, At: instant(r.Ended), Known: instant(r.GradedAt), Score: score}
					if x, ok := answered[answerOf{r.ID, score.Question}]; ok {
						o.At, o.Spent = instant(x.At), time.Duration(x.Spent)*time.Microsecond
					}
					waiting = append(waiting, o)
				}
				last = r
			}
			if len(rows) < outcomesAtOnce {
				break
			}
		}
		flush(1<<63 - 1)
	}
}

// answerOf names an answer.
type answerOf struct{ attempt, question string }

// answeredRow is when an answer was given last, and the time spent on it.
type answeredRow struct {
	AttemptID string
	Question  string
	At        int64
	Spent     int64
}

func (s *Store) answered(ctx context.Context, attempts []gradedRow) (map[answerOf]answeredRow, error) {
	if len(attempts) == 0 {
		return nil, nil
	}
	ids := make([]string, len(attempts))
	for i, a := range attempts {
		ids[i] = a.ID
	}
	var rows []answeredRow
	err := s.read(ctx).Model(&responseRow{}).Select("attempt_id, question, MAX(at) AS at, CAST(SUM(spent) AS BIGINT) AS spent").
		Where("attempt_id IN ?", ids).Group("attempt_id, question").Find(&rows).Error
	of := make(map[answerOf]answeredRow, len(rows))
	for _, r := range rows {
		of[answerOf{r.AttemptID, r.Question}] = r
	}
	return of, err
}
