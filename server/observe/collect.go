package observe

import (
	"context"
	"database/sql"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"rightpage/quiz"
	"rightpage/quiz/store"
)

// work tells what is going on in the database.
type work struct {
	store *store.Store
	now   func() time.Time
	keep  time.Duration

	mu      sync.Mutex
	counted time.Time
	last    counts
}

type counts struct {
	ok         bool
	inProgress int
	late       int
	latest     time.Duration
}

// countTime is how long counting may take.
const countTime = 5 * time.Second

// stillLooked is how long after its end an assignment is looked at for attempts
// that should have ended.
const stillLooked = 7 * 24 * time.Hour

var (
	inProgress = prometheus.NewDesc("rightpage_attempts_in_progress", "Attempts that people are working on.", nil, nil)
	late       = prometheus.NewDesc("rightpage_timers_late", "Attempts whose time is up, grace included, and that are not ended yet.", nil, nil)
	lateness   = prometheus.NewDesc("rightpage_timers_late_seconds", "How long the latest of them should have been ended.", nil, nil)
	counting   = prometheus.NewDesc("rightpage_database_counted", "1 if the database could be asked for these, else 0.", nil, nil)
)

// Describe is of prometheus.Collector.
func (w *work) Describe(ch chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{inProgress, late, lateness, counting} {
		ch <- d
	}
}

// Collect is of prometheus.Collector.
func (w *work) Collect(ch chan<- prometheus.Metric) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if now := time.Now(); w.counted.IsZero() || now.Sub(w.counted) >= w.keep {
		w.last, w.counted = w.count(), now
	}
	gauge := func(d *prometheus.Desc, v float64) { ch <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v) }
	if !w.last.ok {
		gauge(counting, 0)
		return // a number that is not known is not told
	}
	gauge(counting, 1)
	gauge(inProgress, float64(w.last.inProgress))
	gauge(late, float64(w.last.late))
	gauge(lateness, w.last.latest.Seconds())
}

// count looks at the attempts at the assignments that are open, or were not
// long ago.
func (w *work) count() counts {
	ctx, cancel := context.WithTimeout(context.Background(), countTime)
	defer cancel()
	var n counts
	assignments, err := w.store.Assignments(ctx)
	if err != nil {
		return n
	}
	now := w.now()
	for _, a := range assignments {
		if now.Before(a.Open) || over(a, now) {
			continue
		}
		attempts, err := w.store.AttemptsAt(ctx, a.ID)
		if err != nil {
			return counts{}
		}
		for _, t := range attempts {
			if t.State != quiz.Started {
				continue
			}
			n.inProgress++
			if t.Overdue(now) {
				n.inProgress--
				n.late++
				n.latest = max(n.latest, now.Sub(t.Deadline.Add(quiz.Grace)))
			}
		}
	}
	n.ok = true
	return n
}

// over tells whether an assignment closed for everybody long ago.
func over(a quiz.Assignment, now time.Time) bool {
	if a.Close.IsZero() {
		return false
	}
	end := a.Close
	for _, x := range a.Accommodations {
		if x.Close.After(end) {
			end = x.Close
		}
	}
	return now.After(end.Add(stillLooked))
}

// pools tells the state of pools of connections.
type pools func() map[string]sql.DBStats

var poolMetrics = []struct {
	desc  *prometheus.Desc
	kind  prometheus.ValueType
	value func(s sql.DBStats) float64
}{
	{poolDesc("connections_open", "Connections to the database."), prometheus.GaugeValue, func(s sql.DBStats) float64 { return float64(s.OpenConnections) }},
	{poolDesc("connections_in_use", "Connections that are being used."), prometheus.GaugeValue, func(s sql.DBStats) float64 { return float64(s.InUse) }},
	{poolDesc("connections_most", "Most connections that may be open."), prometheus.GaugeValue, func(s sql.DBStats) float64 { return float64(s.MaxOpenConnections) }},
	{poolDesc("waits_total", "How often a connection had to be waited for."), prometheus.CounterValue, func(s sql.DBStats) float64 { return float64(s.WaitCount) }},
	{poolDesc("wait_seconds_total", "How long connections were waited for in all."), prometheus.CounterValue, func(s sql.DBStats) float64 { return s.WaitDuration.Seconds() }},
}

func poolDesc(name, help string) *prometheus.Desc {
	return prometheus.NewDesc("rightpage_database_"+name, help, []string{"pool"}, nil)
}

// Describe is of prometheus.Collector.
func (p pools) Describe(ch chan<- *prometheus.Desc) {
	for _, m := range poolMetrics {
		ch <- m.desc
	}
}

// Collect is of prometheus.Collector.
func (p pools) Collect(ch chan<- prometheus.Metric) {
	for name, s := range p() {
		for _, m := range poolMetrics {
			ch <- prometheus.MustNewConstMetric(m.desc, m.kind, m.value(s), name)
		}
	}
}
