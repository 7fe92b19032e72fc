package catalog

import (
	"fmt"
	"slices"
)

func bulletinChecks() family {
	return family{"bulletins", checkBulletins, []CheckKind{
		{"no-target", Note, "a bulletin amends and replaces nothing, so that no lookup shows it"},
		{"undated", Warning, "a bulletin has no date of issue, so that nobody can tell which of two is the later"},
		{"twice-named", Warning, "a bulletin both amends and replaces a record"},
	}}
}

func checkBulletins(k *checker) {
	for i := range k.t.Bulletins {
		b := &k.t.Bulletins[i]
		n := k.bulletinLookups(i)
		if len(b.Amends)+len(b.Replaces) == 0 {
			k.add("no-target", "bulletins", b.Origin, "amends", fmt.Sprintf("bulletin %s amends and replaces nothing", b.ID),
				"name the records that it concerns, such as procedure:P-0123 or publication:TR-20", n)
		}
		if b.Issued.IsZero() {
			k.add("undated", "bulletins", b.Origin, "issued", fmt.Sprintf("bulletin %s has no date of issue", b.ID), "fill it in", n)
		}
		for _, g := range b.Amends {
			if slices.Contains(b.Replaces, g) {
				k.add("twice-named", "bulletins", b.Origin, "replaces", fmt.Sprintf("bulletin %s both amends and replaces %s", b.ID, g),
					"keep it in one of the two columns", n)
			}
		}
	}
}
