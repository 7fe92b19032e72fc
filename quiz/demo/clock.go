package demo

import (
	"sync"
	"time"
)

// Clock is the clock of a store that is filled with a history: it stands at
// times past while the history is made and goes on from the present afterwards.
// Safe for concurrent use.
type Clock struct {
	live func() time.Time

	mu    sync.Mutex
	stand time.Time // zero: live
}

// NewClock makes a clock that is live; nil: time.Now. Open the store with its
// Now.
func NewClock(live func() time.Time) *Clock {
	if live == nil {
		live = time.Now
	}
	return &Clock{live: live}
}

// Now is the time that the clock shows.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.stand.IsZero() {
		return c.live()
	}
	return c.stand
}

// set makes the clock stand at a time.
func (c *Clock) set(t time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.stand = t
}

// run lets the clock go on from the present.
func (c *Clock) run() { c.set(time.Time{}) }
