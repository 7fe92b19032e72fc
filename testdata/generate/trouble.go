package main

import (
	"fmt"
	"strconv"
	"strings"

	"rightpage/banks/catalog"
)

// writeTroubleCodes puts the codes of a vocabulary into every edition of the
// books that explain them. words stand for patterns; reading tells, for a
// system, the scheme that reads its codes and how they are read and cleared.
func (b *builder) writeTroubleCodes(name string, words map[string]catalog.Pattern, reading func(system string) (scheme, read, clear string)) error {
	rows, err := readVocabulary(name, 8)
	if err != nil {
		return err
	}
	for _, r := range rows {
		c := r.cells
		on, ok := words[c[2]]
		if !ok {
			on = catalog.Pattern(c[2])
		}
		scheme, read, clear := reading(c[0])
		type code struct{ text, means string }
		codes := []code{{c[3], c[4]}}
		if c[5] != "" {
			codes = nil
			for _, f := range strings.Fields(c[5]) {
				n, err := strconv.Atoi(f)
				if err != nil || n < 0 || n >= len(failureModes) || failureModes[n] == "" {
					return r.errorf("failure mode %q is not known", f)
				}
				codes = append(codes, code{c[3] + "-" + f, c[4] + ": " + failureModes[n]})
			}
		}
		// "book until 2020-01": the unit was given up then.
		book, until, _ := strings.Cut(c[6], " until ")
		var limits catalog.Effectivity
		if until != "" {
			limits = catalog.Effectivity{{Through: dayBefore(must(catalog.ParseDate(until)))}}
		}
		found := false
		for _, e := range b.editions {
			if !strings.Contains(" "+e.book+" ", " "+book+" ") || e.pub.KeyedBy != c[1] {
				continue
			}
			life := e.life()
			if len(limits) > 0 && !within(&life, limits[0]) {
				continue
			}
			have := wanted(e, on)
			if len(have) == 0 {
				continue
			}
			chapter := b.chapters[e.pub.ID][c[7]]
			if chapter == "" {
				return r.errorf("chapter %q is not in %s", c[7], e.pub.ID)
			}
			found = true
			for _, k := range codes {
				b.t.TroubleCodes = append(b.t.TroubleCodes, catalog.TroubleCode{
					System: c[0], Code: k.text, Meaning: k.means, Scheme: scheme, KeyedBy: c[1], AppliesTo: patternFor(e.codes, have, on), Effectivity: limits,
					Publication: e.pub.ID, Location: catalog.Location{Section: chapter}, Read: read, Clear: clear,
				})
			}
		}
		if !found {
			return fmt.Errorf("%s: no book explains %s", r.at, c[3])
		}
	}
	return nil
}
