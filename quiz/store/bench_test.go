package store

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"rightpage/quiz"
)

func onEachB(b *testing.B, bench func(b *testing.B, d database)) {
	b.Run("SQLite", func(b *testing.B) { bench(b, sqliteDatabase(b)) })
	b.Run("PostgreSQL", func(b *testing.B) { bench(b, postgresDatabase(b)) })
}

// manyAttempts starts the attempts of n technicians.
func manyAttempts(b *testing.B, x *shop, n int) []quiz.Attempt {
	b.Helper()
	ctx := context.Background()
	x.assignment.Targets = []quiz.Target{{Kind: quiz.ToRole, ID: string(quiz.Technician)}}
	must(b, x.SaveAssignment(ctx, "", &x.assignment))
	attempts := make([]quiz.Attempt, n)
	for i := range attempts {
		p := quiz.Person{Name: fmt.Sprint("Technician ", i), Roles: []quiz.Role{quiz.Technician}}
		must(b, x.SavePerson(ctx, "", &p))
		a, err := x.StartAttempt(ctx, x.assignment.ID, p.ID)
		must(b, err)
		attempts[i] = a
	}
	return attempts
}

const rawInsert = "INSERT INTO responses (attempt_id, question, version, client_key, value, at, spent) VALUES "

// BenchmarkRawInsert is what saving an answer is compared with: the one insert
// alone, prepared, straight through database/sql, a transaction each, on the
// same connections with the same durability.
func BenchmarkRawInsert(b *testing.B) {
	onEachB(b, func(b *testing.B, d database) {
		x := newShopOf(b, d, sampleForm(40))
		a := manyAttempts(b, x, 1)[0]
		pool, err := x.w.DB()
		must(b, err)
		values := "(?, ?, ?, ?, ?, ?, ?)"
		if d.postgres {
			values = "($1, $2, $3, $4, $5, $6, $7)"
		}
		insert, err := pool.Prepare(rawInsert + values)
		must(b, err)
		defer insert.Close()
		for i := 0; b.Loop(); i++ {
			if _, err := insert.Exec(a.ID, "q", i, key(i), "A", 1, 1); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// BenchmarkSaveAnswer saves answers one after the other.
func BenchmarkSaveAnswer(b *testing.B) {
	onEachB(b, func(b *testing.B, d database) {
		x := newShopOf(b, d, sampleForm(40))
		attempts := manyAttempts(b, x, 100)
		ctx := context.Background()
		for i := 0; b.Loop(); i++ {
			a, n := attempts[i%len(attempts)], i/len(attempts)
			save := quiz.Save{Attempt: a.ID, Question: a.Questions[n%len(a.Questions)], Key: key(i), Value: "A", Base: n / len(a.Questions)}
			if _, _, err := x.SaveAnswer(ctx, save); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// BenchmarkSaveAnswerTogether is 500 technicians who answer at once: each
// saves, and saves again as soon as that is acknowledged. It reports the
// median and the 99th percentile of the time until an answer is on disk.
func BenchmarkSaveAnswerTogether(b *testing.B) { together500(b, false) }

// BenchmarkRawInsertTogether is the same with the insert alone.
func BenchmarkRawInsertTogether(b *testing.B) { together500(b, true) }

func together500(b *testing.B, raw bool) {
	onEachB(b, func(b *testing.B, d database) {
		const people = 500
		x := newShopOf(b, d, sampleForm(40))
		attempts := manyAttempts(b, x, people)
		ctx := context.Background()
		pool, err := x.w.DB()
		must(b, err)
		values := "(?, ?, ?, ?, ?, ?, ?)"
		if d.postgres {
			values = "($1, $2, $3, $4, $5, $6, $7)"
		}
		var insert *sql.Stmt
		if raw {
			insert, err = pool.Prepare(rawInsert + values)
			must(b, err)
			defer insert.Close()
		}
		var next atomic.Int64
		var mu sync.Mutex
		var took []time.Duration
		b.ResetTimer()
		together(people, func(i int) {
			a := attempts[i]
			var mine []time.Duration
			for n := 0; next.Add(1) <= int64(b.N); n++ {
				start := time.Now()
				q, base := a.Questions[n%len(a.Questions)], n/len(a.Questions)
				var err error
				if raw {
					_, err = insert.Exec(a.ID, q, base+1, key(n), "A", 1, 1)
				} else {
					_, _, err = x.SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: q, Key: key(n), Value: "A", Base: base})
				}
				if err != nil {
					b.Error(err)
					return
				}
				mine = append(mine, time.Since(start))
			}
			mu.Lock()
			took = append(took, mine...)
			mu.Unlock()
		})
		b.StopTimer()
		slices.Sort(took)
		if len(took) > 0 {
			b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "ms-median")
			b.ReportMetric(float64(took[len(took)*99/100].Microseconds())/1000, "ms-p99")
		}
	})
}
