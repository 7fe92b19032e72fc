package server

import (
	"context"
	"crypto/rand"
	"time"
)

// How often what is due is done.
const (
	sweepEvery  = 2 * time.Second  // attempts whose time is up
	tidyEvery   = 10 * time.Minute // sessions and counts that have expired
	retainEvery = 6 * time.Hour    // people who left long ago
	modelEvery  = 10 * time.Minute // what is known of skills, ahead of those who ask
)

// Work does what is due until ctx ends: it ends and marks attempts whose time
// is up, clears what has expired, and erases people who left longer ago than the
// settings keep them. Every server on a database may do it; each thing is done
// once.
func (s *Server) Work(ctx context.Context) {
	owner := "server " + rand.Text()[:8]
	every := func(d time.Duration, what string, do func(context.Context) error) func() {
		last := time.Time{}
		return func() {
			if now := time.Now(); now.Sub(last) < d {
				return
			} else {
				last = now
			}
			if err := do(ctx); err != nil && ctx.Err() == nil {
				s.log.ErrorContext(ctx, "background work", "what", what, "error", err)
			}
		}
	}
	jobs := []func(){
		every(sweepEvery, "end attempts", func(ctx context.Context) error { _, err := s.Marker.Sweep(ctx, owner); return err }),
		every(tidyEvery, "tidy", s.store.Sweep),
		every(retainEvery, "retention", s.retain),
		every(modelEvery, "fit the models", func(ctx context.Context) error { _, err := s.known.Model(ctx); return err }),
	}
	tick := time.NewTicker(sweepEvery)
	defer tick.Stop()
	for {
		for _, do := range jobs {
			do()
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// retain erases people who left longer ago than the settings say.
func (s *Server) retain(ctx context.Context) error {
	settings, err := s.store.Settings(ctx)
	if err != nil || settings.RetentionMonths == 0 {
		return err
	}
	_, err = s.store.ApplyRetention(ctx, "", s.App.Now().AddDate(0, -settings.RetentionMonths, 0))
	return err
}
