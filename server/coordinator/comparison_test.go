package coordinator

import (
	"context"
	"strconv"
	"testing"

	"rightpage/quiz/library"
	"rightpage/quiz/store"
)

// Who asks for one comparison after another makes no heap of work: what is too
// much is begun when there is room.
func TestComparisonsUnderWayAreBounded(t *testing.T) {
	x := newComparisons()
	x.turn <- struct{}{} // somebody is at it, for as long as the test
	entry := func(n int) *library.Entry {
		return &library.Entry{Info: store.CatalogInfo{ID: strconv.Itoa(n)}}
	}
	for n := range keptComparisons {
		if x.start(entry(n), entry(-1)).refused {
			t.Fatalf("comparison %d is refused", n+1)
		}
	}
	if x.start(entry(0), entry(-1)).refused {
		t.Error("one that is under way is refused")
	}
	more := x.start(entry(keptComparisons), entry(-1))
	if !more.refused || more.wait(context.Background()) != nil {
		t.Error("one more is begun")
	}
}
