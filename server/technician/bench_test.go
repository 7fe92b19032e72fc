package technician_test

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"rightpage/banks"
	"rightpage/quiz"
	"rightpage/quiz/quiztest"
	"rightpage/server/web/webtest"
)

// Saving an answer by script, over HTTP to a database on disk. At pace, each of 500
// technicians saves an answer every two seconds: ten times as often as people who
// look things up do. Without, each saves the next as soon as the one before is
// acknowledged, which tells how many saves there can be.
func BenchmarkSaveAnswer(b *testing.B) {
	for _, load := range []struct {
		people int
		pace   time.Duration
	}{{1, 0}, {100, 0}, {500, 2 * time.Second}} {
		people, name := load.people, fmt.Sprintf("%d at once", load.people)
		if load.pace > 0 {
			name += " at pace"
		}
		b.Run(name, func(b *testing.B) {
			x := open(b)
			var list []*banks.Question
			for i := range 40 {
				q := oneOf(0)
				q.Stem = fmt.Sprintf("Which edition holds for number %d?", i)
				list = append(list, quiztest.Sealed(q))
			}
			a := x.assign(x.form("Load", list...), nil)
			type writer struct {
				b         *webtest.Browser
				id, token string
			}
			var writers []writer
			for i := range people {
				p := webtest.Person(b, x.app, "Tech "+strconv.Itoa(i), "", quiz.Technician)
				w := writer{b: webtest.As(b, x.app, x.srv, p)}
				w.b.Client.Transport = &http.Transport{MaxIdleConnsPerHost: 1}
				w.id, w.token = x.attempt(w.b, a), url.QueryEscape(w.b.CSRF())
				writers = append(writers, w)
			}
			var next atomic.Int64
			took := make([][]time.Duration, people)
			var wg sync.WaitGroup
			b.ResetTimer()
			for i, w := range writers {
				wg.Go(func() {
					time.Sleep(load.pace * time.Duration(i) / time.Duration(people)) // not all in step
					for base := 0; next.Add(1) <= int64(b.N); base++ {
						if base > 0 {
							time.Sleep(load.pace)
						}
						// An answer has so many versions at most.
						n, version := base/400, base%400
						body := fmt.Sprintf("csrf=%s&key=k%d-0000000&base=%d&answer=%s", w.token, base, version, string(rune('A'+base%3)))
						req, _ := http.NewRequest("POST", x.srv.URL+question(w.id, n+1), strings.NewReader(body))
						req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
						req.Header.Set("Accept", "application/json")
						start := time.Now()
						if got := w.b.Do(req); got.Status != http.StatusOK {
							b.Errorf("status %d: %s", got.Status, got.Body)
							return
						}
						took[i] = append(took[i], time.Since(start))
					}
				})
			}
			wg.Wait()
			b.StopTimer()
			all := slices.Sorted(slices.Values(slices.Concat(took...)))
			if len(all) > 0 {
				b.ReportMetric(float64(all[len(all)/2].Microseconds())/1000, "p50-ms")
				b.ReportMetric(float64(all[len(all)*99/100].Microseconds())/1000, "p99-ms")
				b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "saves/s")
			}
		})
	}
}
