package words

import (
	"sync"
	"testing"
	"time"

	"rightpage/grading/psychometrics"
)

// A printer serves every page of a language at once. The race detector looks on
// where the tests run under it.
func TestManyPrintAtOnce(t *testing.T) {
	p := printers(t)["fr"]
	say := func() string {
		return p.T("faults.title", "Count", 1234) + p.Number(1234.5, 1) + p.Share(0.5) + p.Time(time.Unix(0, 0).UTC()) + p.Lasting(time.Hour) +
			p.Render(psychometrics.SayShare(17, 20)) + p.List("a", "b") + p.Notice("assignment.new", map[string]string{"assignment": "x"})
	}
	want := say()
	var wait sync.WaitGroup
	for range 8 {
		wait.Go(func() {
			for range 200 {
				if got := say(); got != want {
					t.Errorf("got %s, want %s", got, want)
					return
				}
			}
		})
	}
	wait.Wait()
}
