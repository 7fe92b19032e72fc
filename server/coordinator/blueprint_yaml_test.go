package coordinator

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"rightpage/banks"
)

// What the editor writes, the reader of blueprints reads back the same.
func TestABlueprintIsReadBackAsItWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := banks.NewBlueprint(rapid.StringMatching(`[A-Za-zäéñ0-9][A-Za-zäéñ0-9:,#'"&*!%@ -]{0,40}[a-z]`).Draw(t, "title"), rapid.IntRange(1, 200).Draw(t, "questions"))
		b.Variants = rapid.IntRange(1, 26).Draw(t, "variants")
		b.TimeLimit = rapid.IntRange(0, 1440).Draw(t, "time")
		b.Cut = float64(rapid.IntRange(0, 1000).Draw(t, "cut")) / 1000
		b.Options = rapid.SampledFrom([]int{0, 3, 4, 8}).Draw(t, "options")
		b.Seed = rapid.Uint64().Draw(t, "seed")
		b.Book = rapid.SampledFrom([]banks.Book{banks.OpenBook, banks.ClosedBook}).Draw(t, "book")
		b.Order = rapid.SampledFrom([]banks.Sequence{banks.Mixed, banks.ByKind, banks.EasyFirst}).Draw(t, "order")
		b.PartialCredit = rapid.Bool().Draw(t, "partial")
		names := rapid.SliceOfNDistinct(rapid.StringMatching(`[A-Za-z0-9*?][A-Za-z0-9*?: -]{0,10}[A-Za-z0-9*]|on|yes|null|1e3`), 0, 6, rapid.ID).Draw(t, "names")
		for _, n := range names {
			q := banks.Quota{By: rapid.SampledFrom([]banks.Attribute{banks.GroupAttribute, banks.ModelAttribute, banks.HazardAttribute}).Draw(t, "by"), Of: n,
				Bound: rapid.SampledFrom([]banks.Bound{banks.Exactly, banks.AtLeast, banks.AtMost}).Draw(t, "bound")}
			if rapid.Bool().Draw(t, "share") {
				q.Share = float64(rapid.IntRange(1, 1000).Draw(t, "of 1000")) / 1000
			} else {
				q.Count = rapid.IntRange(0, b.Questions).Draw(t, "count")
			}
			b.Quotas = append(b.Quotas, q)
		}
		if b.Check() != nil {
			t.Skip("no blueprint")
		}
		text, err := writeBlueprint(&b)
		if err != nil {
			t.Fatal(err)
		}
		got, err := banks.ParseBlueprint(text)
		if err != nil {
			t.Fatalf("%v in\n%s", err, text)
		}
		// Attributes are written together, in their order.
		order := banks.Attributes()
		slices.SortStableFunc(b.Quotas, func(x, y banks.Quota) int { return slices.Index(order, x.By) - slices.Index(order, y.By) })
		diff := cmp.Diff(b, got, cmpopts.IgnoreFields(banks.Quota{}, "Line"), cmpopts.EquateEmpty(), cmpopts.EquateApprox(0, 1e-9))
		if diff != "" {
			t.Fatalf("%s\n%s", diff, text)
		}
	})
}

// A report that comes back is somebody else's text: it is read or refused.
func FuzzRefusal(f *testing.F) {
	r := refusal{File: "tractors.zip", Findings: []finding{{Severity: "error", File: "models.csv", Row: 3, What: "x"}}}
	packed, err := r.pack()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(packed)
	f.Add("")
	f.Add("H4sIAAAAAAAA")
	f.Fuzz(func(t *testing.T, s string) {
		got, err := unpackRefusal(s)
		if err != nil {
			return
		}
		if again, err := got.pack(); err != nil {
			t.Error(err)
		} else if _, err := unpackRefusal(again); err != nil {
			t.Errorf("a report that was read cannot be read again: %v", err)
		}
	})
}
