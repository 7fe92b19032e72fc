package catalog

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestDiffTellsWhatChanged(t *testing.T) {
	d := func(s string) Date { return mustDate(t, s) }
	old := New(Meta{Title: "T", Revision: "1", Hazards: map[string]string{"fuel": "No flames.", "lift": "Use stands."}}, Tables{
		Models: []Model{
			{Code: "T410", Engine: "E3", Range: Range{Through: d("2016-02")}},
			{Code: "T410", Engine: "E4", Range: Range{From: d("2016-03")}},
		},
		Groups: []Group{{Code: "9", Title: "Cab"}, {Code: "10", Title: "Engine"}, {Code: "11", Title: "Clutch"}},
		Procedures: []Procedure{
			{ID: "P-1", Job: "Replace filter", Publication: "A", Effectivity: Effectivity{{From: d("2016-03")}}},
			{ID: "P-2", Job: "Adjust valves", Publication: "A", Hazards: []string{"hot", "fuel"}},
		},
		Tests: []TestStep{{Publication: "A", Chapter: "4", Step: "2", Side: "left", Do: "measure"}},
	})
	new := New(Meta{Title: "T", Revision: "2", Hazards: map[string]string{"fuel": "No flames, no sparks."}, Limits: LimitStyle{Style: "arrow-after"}}, Tables{
		Models: []Model{
			{Code: "T410", Engine: "E3", Range: Range{Through: d("2016-04")}},
			{Code: "T410", Engine: "E4", Range: Range{From: d("2016-05")}},
		},
		Groups: []Group{{Code: "10", Title: "Engine and mounts"}, {Code: "11", Title: "Clutch"}, {Code: "100", Title: "Loader"}},
		Procedures: []Procedure{
			{ID: "P-1", Job: "Replace filter", Publication: "B", Effectivity: Effectivity{{From: d("2016-03")}, {Through: d("2014")}}},
			{ID: "P-2", Job: "Adjust valves", Publication: "A", Hazards: []string{"hot", "fuel"}},
		},
		Tests: []TestStep{{Publication: "A", Chapter: "4", Step: "2", Side: "right", Do: "measure"}},
	})
	one := func(column, was, is string) []ColumnChange { return []ColumnChange{{column, was, is}} }
	want := []Change{
		{Kind: Changed, Table: "settings", Key: "hazards.fuel", Columns: one("hazards.fuel", "No flames.", "No flames, no sparks.")},
		{Kind: Removed, Table: "settings", Key: "hazards.lift", Columns: one("hazards.lift", "Use stands.", "")},
		{Kind: Changed, Table: "settings", Key: "limits.style", Columns: one("limits.style", "words", "arrow-after")},
		{Kind: Changed, Table: "settings", Key: "revision", Columns: one("revision", "1", "2")},
		// Of two data cards of one code, each is set against its successor.
		{Kind: Changed, Table: "models", Key: "T410", Columns: one("built_through", "2016-02", "2016-04")},
		{Kind: Changed, Table: "models", Key: "T410", Columns: one("built_from", "2016-03", "2016-05")},
		{Kind: Removed, Table: "groups", Key: "9"},
		{Kind: Changed, Table: "groups", Key: "10", Columns: one("title", "Engine", "Engine and mounts")},
		{Kind: Added, Table: "groups", Key: "100"},
		{Kind: Changed, Table: "procedures", Key: "P-1", Columns: []ColumnChange{{"publication", "A", "B"}, {"from", "2016-03", ""}, {"effectivity", "", "2016-03 →; → 2014"}}},
		{Kind: Removed, Table: "tests", Key: "A/4/2/left"},
		{Kind: Added, Table: "tests", Key: "A/4/2/right"},
	}
	if d := cmp.Diff(want, Diff(old, new)); d != "" {
		t.Error(d)
	}
}

func TestDiffSetsEqualRecordsOfOneKeyAgainstEachOtherFirst(t *testing.T) {
	code := func(meaning string) TroubleCode {
		return TroubleCode{System: "engine", Code: "1208-3", Meaning: meaning}
	}
	old := New(Meta{}, Tables{TroubleCodes: []TroubleCode{code("a"), code("b"), code("b")}})
	new := New(Meta{}, Tables{TroubleCodes: []TroubleCode{code("b"), code("b"), code("b"), code("c")}})
	want := []Change{
		{Kind: Changed, Table: "troublecodes", Key: "engine/1208-3", Columns: []ColumnChange{{"meaning", "a", "b"}}},
		{Kind: Added, Table: "troublecodes", Key: "engine/1208-3"},
	}
	if d := cmp.Diff(want, Diff(old, new)); d != "" {
		t.Error(d)
	}
}

func TestDiffNamesWhereRecordsStand(t *testing.T) {
	old := New(Meta{}, Tables{Groups: []Group{{Code: "1", Origin: Origin{"groups.csv", 2}}, {Code: "2", Title: "a", Origin: Origin{"groups.csv", 3}}}})
	new := New(Meta{}, Tables{Groups: []Group{{Code: "2", Title: "b", Origin: Origin{"groups.csv", 7}}}})
	got := Diff(old, new)
	if len(got) != 2 || got[0].Old != (Origin{"groups.csv", 2}) || got[0].New != (Origin{}) || got[1].Old.Row != 3 || got[1].New.Row != 7 {
		t.Errorf("%+v", got)
	}
}

func TestDiffOfACatalogWithItselfIsEmpty(t *testing.T) {
	if d := Diff(small(), small()); len(d) != 0 {
		t.Errorf("%+v", d)
	}
}

// Every cell of every table takes part: changing any one of them in the file
// shows as that column of that record.
func TestDiffSeesEveryColumn(t *testing.T) {
	c := small()
	empty := New(c.Meta(), Tables{})
	seen := map[string]map[string]bool{}
	for _, ch := range Diff(empty, c) {
		if ch.Kind != Added {
			t.Fatalf("%+v", ch)
		}
	}
	for _, cd := range codecs() {
		seen[cd.table()] = map[string]bool{}
		for i := range cd.count(c.Tables()) {
			cells, err := cd.cells(c.Tables(), i, c.Meta().Limits)
			if err != nil {
				t.Fatal(err)
			}
			for k, h := range cd.header() {
				if cells[k] != "" {
					seen[cd.table()][h.name] = true
				}
			}
		}
		for _, h := range cd.header() {
			if !seen[cd.table()][h.name] {
				t.Errorf("the test catalog leaves %s.%s empty, so nothing is known of it", cd.table(), h.name)
			}
		}
	}
}

// Taking the changes away from the new records must leave the old ones: added
// and removed counts follow from the tables.
func TestDiffAccountsForEveryRecord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		old, new := drawCatalog(t), drawCatalog(t)
		changes := Diff(old, new)
		for _, cd := range codecs() {
			n := cd.count(old.Tables())
			for _, ch := range changes {
				if ch.Table != cd.table() {
					continue
				}
				switch ch.Kind {
				case Added:
					n++
				case Removed:
					n--
				case Changed:
					if len(ch.Columns) == 0 {
						t.Fatalf("%+v changes nothing", ch)
					}
				}
			}
			if n != cd.count(new.Tables()) {
				t.Fatalf("table %s: %d records follow from the changes, there are %d", cd.table(), n, cd.count(new.Tables()))
			}
		}
		back := Diff(new, old)
		if len(back) != len(changes) {
			t.Fatalf("%d changes one way, %d the other", len(changes), len(back))
		}
	})
}
