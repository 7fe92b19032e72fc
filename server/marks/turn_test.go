package marks

import (
	"context"
	"testing"

	"rightpage/quiz"
)

// Scans are read one upload after the other, and nobody waits for ever.
func TestScansAreReadInTurn(t *testing.T) {
	p := &Pages{turn: make(chan struct{}, 1)}
	inside, leave, left := make(chan struct{}), make(chan struct{}), make(chan error)
	go func() {
		left <- p.inTurn(context.Background(), func() error { close(inside); <-leave; return nil })
	}()
	<-inside
	gone, cancel := context.WithCancel(context.Background())
	cancel()
	if err := p.inTurn(gone, func() error { t.Error("two at a time"); return nil }); quiz.ErrorCode(err) != quiz.Unavailable {
		t.Errorf("%v", err)
	}
	close(leave)
	if err := <-left; err != nil {
		t.Error(err)
	}
	did := false
	if err := p.inTurn(context.Background(), func() error { did = true; return nil }); err != nil || !did {
		t.Errorf("the next: %v", err)
	}
}
