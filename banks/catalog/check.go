package catalog

import (
	"fmt"
	"slices"
	"strings"
)

// Check finds what is wrong in a catalog that could be read: what contradicts
// itself, what points nowhere, what no lookup can reach. Its findings are those
// that [CheckKinds] lists. A record made in memory is placed in the file of its
// table's name, row 0.
//
// # Lookups
//
// Each finding counts the lookups that it affects. A lookup is a pair of a code
// and a task. The code is one of the keying unit: of the data cards (for a unit
// other than the model, also of the schemes that read its number; where neither
// names an engine or transmission, the exact codes of the applies-to patterns). The task is what may
// be asked for: an action on a component, an operation, a quantity under a
// condition, a system of the guide, a trouble code. So a procedure counts once
// for each code that its own pattern and its publication's both match, and a
// gap between editions counts, for each code affected, the tasks that the
// series describes for that code. A part of a code's build dates or serials
// counts as the whole. A pair counts once in a finding, and may count in
// several findings.
//
// # Build dates and serials
//
// A code was built in the union of the ranges of its data cards. For a unit
// other than the model, only the build dates of the cards count, since their
// serials are the model's; a code on no card has no limits. Where both date and
// serial limit two ranges and one comes before the other in both, the mixed
// combinations (dates before the later begins with serials after the earlier
// ends, and the reverse) are taken not to exist.
//
// Check ends in bounded time for any records, cycles included: when a catalog
// is so tangled that a family of checks would go on for long, the rest of that
// family is left out and a finding of code unfinished says so.
func Check(c *Catalog) Report { return checkWithin(c, checkBudget) }

// checkWithin is Check with a bound on the work of each family.
func checkWithin(c *Catalog, budget int) Report {
	k := newChecker(c)
	for _, f := range families() {
		k.budget = budget
		k.spent = false
		f.run(k)
		if k.spent {
			k.add("unfinished", "catalog.yaml", Origin{}, "", "the check of "+f.name+" was cut short: the catalog is too large or too tangled for it",
				"mend the other findings and check again", 0)
		}
	}
	k.report.Sort()
	return k.report
}

// CheckKind is a kind of finding of [Check].
type CheckKind struct {
	Code     string   `json:"code"`
	Severity Severity `json:"severity"`
	About    string   `json:"about"`
}

// CheckKinds lists every kind of finding of [Check] in order of code.
func CheckKinds() []CheckKind {
	var all []CheckKind
	for _, f := range families() {
		all = append(all, f.kinds...)
	}
	all = append(all, CheckKind{"unfinished", Note, "a family of checks was cut short because it would have taken too long"})
	slices.SortFunc(all, func(a, b CheckKind) int { return strings.Compare(a.Code, b.Code) })
	return all
}

// family is a group of checks that share an index, in one file.
type family struct {
	name  string
	run   func(*checker)
	kinds []CheckKind
}

// families lists all checks.
func families() []family {
	return []family{
		keyChecks(), wordChecks(), referenceChecks(), cycleChecks(), limitChecks(), valueChecks(), schemeChecks(), cardChecks(),
		groupChecks(), termChecks(), editionChecks(), reachChecks(), placeChecks(), scheduleChecks(), testChecks(), bulletinChecks(),
	}
}

// checkBudget bounds the work of one family, in comparisons of two records: a
// few seconds.
const checkBudget = 40_000_000

// checker collects the findings and holds what several families need.
type checker struct {
	c      *Catalog
	t      *Tables
	meta   Meta
	report Report

	severity map[string]Severity
	budget   int
	spent    bool
	hints    int // names that may still be compared for suggestions

	units        map[string]*unitCodes
	comps        map[string]int   // term → first component
	compGrp      []int            // component → group index or -1
	termsOf      map[int][]string // group index → terms of its components
	procsOf      map[string][]int // component term → procedures
	byPub        []pubRecords
	pubTasks     []map[string]codeSet
	pubGroups    []map[string]bool
	tasks        map[string]map[string]codeSet // unit → task → codes
	carried      map[carry]codeSet
	chapters     map[[2]string]*chapter
	supersededBy map[int][]int
	reached      *reachIndex
	alivePubs    []codeSet
	hasCards     bool
}

func newChecker(c *Catalog) *checker {
	k := &checker{c: c, t: &c.t, meta: c.meta, severity: map[string]Severity{}, hints: 2_000_000, units: map[string]*unitCodes{}, carried: map[carry]codeSet{}, hasCards: len(c.t.Models) > 0}
	for _, d := range CheckKinds() {
		k.severity[d.Code] = d.Severity
	}
	k.index()
	return k
}

// add records a finding.
func (k *checker) add(code, table string, at Origin, column, what, mend string, lookups int) {
	if at.File == "" {
		at.File = table
	}
	k.report = append(k.report, Finding{Severity: k.severity[code], Code: code, Origin: at, Column: column, What: what, Mend: mend, Lookups: lookups})
}

// spend uses up n units of the family's budget and tells whether any is left.
func (k *checker) spend(n int) bool {
	k.budget -= n
	if k.budget < 0 {
		k.spent = true
	}
	return !k.spent
}

// suggest words the mend of a name that does not exist: the nearest that does.
func (k *checker) suggest(name string, known []string, otherwise string) string {
	if k.hints -= len(known); k.hints > 0 {
		for _, w := range known {
			if strings.EqualFold(strings.TrimSpace(w), strings.TrimSpace(name)) {
				return fmt.Sprintf("write %q as it stands there", w)
			}
		}
		if w, ok := nearest(name, known); ok {
			return fmt.Sprintf("did you mean %q? Else %s", w, otherwise)
		}
	}
	return otherwise
}

// some lists the first few names, for a message.
func some(names []string) string {
	const most = 4
	if len(names) <= most {
		return strings.Join(names, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(names[:most-1], ", "), len(names)-most+1)
}

// counted words a number of things.
func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
