package main

import (
	"fmt"
	"io"
	"sort"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// mostShown bounds the lists of the text output; the JSON output holds all.
const mostShown = 40

func printDiff(w io.Writer, before, after *catalog.Catalog, changes []catalog.Change, lookups resolver.LookupsChanged) {
	fmt.Fprintf(w, "%s: revision %s → %s\n", after.Meta().Title, before.Meta().Revision, after.Meta().Revision)
	counts := map[string]int{}
	for _, c := range changes {
		counts[c.Kind]++
	}
	fmt.Fprintf(w, "%d records added, %d removed, %d changed\n", counts["added"], counts["removed"], counts["changed"])
	for i, c := range changes {
		if i == mostShown {
			fmt.Fprintf(w, "  … and %d more (--format json lists all)\n", len(changes)-i)
			break
		}
		fmt.Fprintf(w, "  %-8s %s %s\n", c.Kind, c.Table, c.Key)
		for _, col := range c.Columns {
			fmt.Fprintf(w, "           %s: %q → %q\n", col.Column, col.Old, col.New)
		}
	}
	fmt.Fprintf(w, "%d of %d lookups answer differently\n", lookups.Differ, lookups.Compared)
	sort.SliceStable(lookups.Changes, func(i, j int) bool { return lookups.Changes[i].Task < lookups.Changes[j].Task })
	for i, c := range lookups.Changes {
		if i == mostShown {
			fmt.Fprintf(w, "  … and %d more stretches (--format json lists all)\n", len(lookups.Changes)-i)
			break
		}
		fmt.Fprintf(w, "  %s, %s “%s”%s\n      before: %s\n      after:  %s\n", c.Unit, c.Task, c.Text, stretch(c), c.Before, c.After)
	}
}

func stretch(c resolver.LookupChange) string {
	switch {
	case c.From.IsZero() && c.Serial > 0:
		return fmt.Sprintf(", from serial %d", c.Serial)
	case c.From.IsZero():
		return ""
	case c.Until.IsZero():
		return fmt.Sprintf(", built from %s", c.From)
	}
	return fmt.Sprintf(", built %s to %s", c.From, c.Until)
}
