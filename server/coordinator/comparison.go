package coordinator

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"

	lru "github.com/hashicorp/golang-lru/v2"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
	"rightpage/quiz/library"
)

// comparisons compares revisions of catalogs. Asking every lookup of two large
// revisions takes seconds, so that it is done aside, once for each pair, while
// the page says how far it is.
type comparisons struct {
	mu   sync.Mutex
	jobs *lru.Cache[[2]string, *comparing]
	turn chan struct{} // one comparison at a time
	open int           // begun and not done
}

// comparing is a comparison under way or done.
type comparing struct {
	done, total atomic.Int64
	ready       chan struct{}
	result      *comparison // once ready is closed
	refused     bool        // it is not under way
}

// comparison is what differs from one revision to another. It does not change.
type comparison struct {
	Records []catalog.Change
	Lookups resolver.LookupsChanged
	Alike   []alike
}

// alike is a lookup that changes in the same way for some vehicles.
type alike struct {
	Task, Text, Before, After string
	Units                     []string // each with its stretch of build dates or serials
}

// keptComparisons is how many comparisons are held, and how many may be under way:
// each of those holds two catalogs.
const keptComparisons = 6

func newComparisons() *comparisons {
	jobs, err := lru.New[[2]string, *comparing](keptComparisons)
	if err != nil {
		panic(err) // of a size that is not above zero
	}
	return &comparisons{jobs: jobs, turn: make(chan struct{}, 1)}
}

// start gives the comparison of two revisions, begun if it was not. While too many
// are under way it is not begun: who asks again later finds it so.
func (x *comparisons) start(before, after *library.Entry) *comparing {
	x.mu.Lock()
	defer x.mu.Unlock()
	key := [2]string{before.Info.ID, after.Info.ID}
	if j, ok := x.jobs.Get(key); ok {
		return j
	}
	j := &comparing{ready: make(chan struct{})}
	if x.open >= keptComparisons {
		j.refused = true
		return j
	}
	x.open++
	x.jobs.Add(key, j)
	go func() {
		x.turn <- struct{}{}
		defer func() {
			<-x.turn
			x.mu.Lock()
			x.open--
			x.mu.Unlock()
		}()
		r := &comparison{Records: catalog.Diff(before.Catalog, after.Catalog)}
		r.Lookups = resolver.DiffLookups(before.Resolver, after.Resolver, func(done, total int) {
			j.done.Store(int64(done))
			j.total.Store(int64(total))
		})
		r.Alike = putTogether(r.Lookups.Changes)
		j.result = r
		close(j.ready)
	}()
	return j
}

// wait gives the result, or nil if ctx ends before there is one.
func (j *comparing) wait(ctx context.Context) *comparison {
	if j.refused {
		return nil
	}
	select {
	case <-j.ready:
		return j.result
	case <-ctx.Done():
		return nil
	}
}

// Share is how much is done, 0 to 1.
func (j *comparing) Share() float64 {
	if total := j.total.Load(); total > 0 {
		return float64(j.done.Load()) / float64(total)
	}
	return 0
}

// putTogether puts together the vehicles for which a lookup changes alike: other
// answers first, which is what people get wrong who know the old one, then what
// has no answer any more, then what is new.
func putTogether(changes []resolver.LookupChange) []alike {
	type key struct{ task, text, before, after string }
	at := map[key]int{}
	var out []alike
	for _, c := range changes {
		k := key{c.Task, c.Text, c.Before, c.After}
		i, ok := at[k]
		if !ok {
			i = len(out)
			at[k] = i
			out = append(out, alike{Task: c.Task, Text: c.Text, Before: c.Before, After: c.After})
		}
		unit := c.Unit
		if s := stretch(c); s != "" {
			unit += " (" + s + ")"
		}
		if !slices.Contains(out[i].Units[max(0, len(out[i].Units)-1):], unit) { // stretches that follow one another
			out[i].Units = append(out[i].Units, unit)
		}
	}
	rank := func(a *alike) int {
		switch resolver.NotCovered.String() {
		case a.Before:
			return 2
		case a.After:
			return 1
		}
		return 0
	}
	slices.SortStableFunc(out, func(a, b alike) int { return cmp.Compare(rank(&a), rank(&b)) })
	return out
}

// stretch writes for which build dates or serials a change holds, in the
// notation of ISO 8601-1 and with a dash for what is open.
func stretch(c resolver.LookupChange) string {
	if c.From.IsZero() && c.Until.IsZero() {
		if c.Serial > 1 {
			return "≥ " + strconv.FormatInt(c.Serial, 10)
		}
		return ""
	}
	return strings.TrimSpace(c.From.String() + " – " + c.Until.String())
}

// counts counts the records by what happened to them.
func (r *comparison) counts() (added, changed, removed int) {
	for _, c := range r.Records {
		switch c.Kind {
		case catalog.Added:
			added++
		case catalog.Changed:
			changed++
		case catalog.Removed:
			removed++
		}
	}
	return added, changed, removed
}
