//go:build long

package scan

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"
)

var update = flag.Bool("update", false, "write the table of distortions to testdata/scan/distortion.md")

const tableNotes = `
Made by ` + "`go test -tags long -run DistortionTable -timeout 60m ./quiz/paper/scan -update`" + `:
%d sheets for each line, filled in by %d hands (pen, light pencil, hasty pencil), of %d rows each.
One row in eight is spoilt: left blank, filled twice, rubbed out badly, ticked, or crossed out.
Right: read as meant on a row reported clear. Flagged, rightly: on a spoilt row. Flagged, needlessly: on a row that a person would have no doubt about.
Wrong: on a row reported clear, and not as meant; a rubbed-out mark that the picture does not show at all counts as right where the other mark is read.
Turns and lights are random within the numbers given.
`

// TestDistortionTable prints, fills in, distorts and reads 30 distortions × 3
// hands × 8 sheets, holds the moderate ones against what is promised, and
// with -update writes the table that the README shows:
//
//	go test -tags long -run DistortionTable -timeout 60m ./quiz/paper/scan -update
func TestDistortionTable(t *testing.T) {
	const sheets = 8
	results := make([]tally, len(distortions))
	var mu sync.Mutex
	t.Run("read", func(t *testing.T) {
		for i, d := range distortions {
			t.Run(d.name, func(t *testing.T) {
				t.Parallel()
				for h, hand := range hands {
					for n := range sheets {
						got, _ := trial(t, d.distortion, hand.write, 8, uint64(1000*h+n))
						mu.Lock()
						results[i].add(got)
						mu.Unlock()
					}
				}
				if d.level == moderate && (results[i].wrong > 0 || results[i].refused > 0) {
					t.Errorf("%v\n%s", results[i], strings.Join(results[i].examples, "\n"))
				}
				if results[i].wrong > 0 {
					t.Logf("%v\n%s", results[i], strings.Join(results[i].examples, "\n"))
				}
			})
		}
	})
	var b strings.Builder
	fmt.Fprintf(&b, "| distortion | sheets | refused | circles read | right | flagged, rightly | flagged, needlessly | wrong |\n| --- | --: | --: | --: | --: | --: | --: | --: |\n")
	line := func(name string, r tally) {
		share := func(n int) string {
			if r.bubbles == 0 {
				return "–"
			}
			return fmt.Sprintf("%.2f %%", 100*float64(n)/float64(r.bubbles))
		}
		fmt.Fprintf(&b, "| %s | %d | %d | %d | %s | %s | %s | %d |\n", name, r.sheets, r.refused, r.bubbles, share(r.right), share(r.flagged), share(r.needless), r.wrong)
	}
	var total [2]tally
	for i, d := range distortions {
		total[d.level].add(results[i])
	}
	for level, name := range []string{"moderate: what an office scanner or a careful photo does", "severe: what should rather be scanned again"} {
		fmt.Fprintf(&b, "| **%s** | | | | | | | |\n", name)
		for i, d := range distortions {
			if int(d.level) == level {
				line(d.name, results[i])
			}
		}
		line("*together*", total[level])
	}
	fmt.Fprintf(&b, tableNotes, sheets*len(hands), len(hands), len(fullPage().Rows))
	t.Log("\n" + b.String())
	m := total[moderate]
	if ok := m.right + m.flagged + m.needless; float64(ok) < 0.999*float64(m.bubbles) {
		t.Errorf("%d of %d circles right or flagged at moderate distortion", ok, m.bubbles)
	}
	if *update && !t.Failed() {
		if err := os.MkdirAll("../../../testdata/scan", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile("../../../testdata/scan/distortion.md", []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
