package catalog

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"
)

func termChecks() family {
	return family{"terms", checkTerms, []CheckKind{
		{"ambiguous-term", Warning, "one term, without regard to case, punctuation and word order, names two components, quantities, actions or jobs"},
		{"same-complaint", Note, "one complaint leads to two systems of the guide"},
	}}
}

// foldTerm brings a term to the form in which terms are compared: lower case,
// without punctuation, the words in order of the alphabet.
func foldTerm(s string) string {
	words := strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !unicode.IsMark(r) })
	slices.Sort(words)
	return strings.Join(words, " ")
}

// namer finds terms that name two things.
type namer struct {
	k      *checker
	code   string
	table  string
	column string
	owner  map[string]string // folded term → thing
	told   map[[2]string]bool
}

func newNamer(k *checker, code, table, column string) *namer {
	return &namer{k, code, table, column, map[string]string{}, map[[2]string]bool{}}
}

// take notes that a term names a thing, and reports when it already names
// another.
func (n *namer) take(term, thing string, at Origin, lookups func(other string) int) {
	key := foldTerm(term)
	if key == "" {
		return
	}
	other, ok := n.owner[key]
	if !ok {
		n.owner[key] = thing
		return
	}
	if other == thing || n.told[[2]string{key, thing}] {
		return
	}
	n.told[[2]string{key, thing}] = true
	n.k.add(n.code, n.table, at, n.column, fmt.Sprintf("the term %q names both %q and %q", term, other, thing),
		"keep it for one of the two, or add a word that tells them apart", lookups(other))
}

func checkTerms(k *checker) {
	t := k.t
	comps := newNamer(k, "ambiguous-term", "components", "synonyms")
	both := func(term string) func(string) int {
		return func(other string) int { return k.componentLookups(term, other) }
	}
	// The terms themselves go first, so that a finding stands at the synonym.
	for i := range t.Components {
		c := &t.Components[i]
		comps.take(c.Term, c.Term, c.Origin, both(c.Term))
	}
	for i := range t.Components {
		c := &t.Components[i]
		for _, s := range c.Synonyms {
			comps.take(s.Term, c.Term, c.Origin, both(c.Term))
		}
	}
	quantity := map[string]int{}
	for i := range t.Specifications {
		quantity[t.Specifications[i].Quantity] += k.specLookups(i)
	}
	quants := newNamer(k, "ambiguous-term", "specifications", "synonyms")
	for i := range t.Specifications {
		s := &t.Specifications[i]
		quants.take(s.Quantity, s.Quantity, s.Origin, func(other string) int { return quantity[s.Quantity] + quantity[other] })
	}
	for i := range t.Specifications {
		s := &t.Specifications[i]
		for _, y := range s.Synonyms {
			quants.take(y.Term, s.Quantity, s.Origin, func(other string) int { return quantity[s.Quantity] + quantity[other] })
		}
	}
	k.checkActionTerms()
	system := map[string]int{}
	for i := range t.Guide {
		system[t.Guide[i].System] += k.guideLookups(i)
	}
	complaints := newNamer(k, "same-complaint", "guide", "complaints")
	for i := range t.Guide {
		g := &t.Guide[i]
		for _, c := range g.Complaints {
			complaints.take(c.Term, g.System, g.Origin, func(other string) int { return system[g.System] + system[other] })
		}
	}
}

// checkActionTerms checks the words for actions and jobs of catalog.yaml. A
// synonym may carry a language tag, as in de:erneuern.
func (k *checker) checkActionTerms() {
	used := map[string]int{}
	for i := range k.t.Procedures {
		used[k.t.Procedures[i].Action] += k.procLookups(i)
	}
	actions := newNamer(k, "ambiguous-term", "catalog.yaml", "actions")
	lookups := func(a string) func(string) int { return func(b string) int { return used[a] + used[b] } }
	names := slices.Sorted(maps.Keys(k.meta.Actions))
	for _, a := range names {
		actions.take(a, a, Origin{}, lookups(a))
	}
	for _, a := range names {
		for _, s := range k.meta.Actions[a].Synonyms {
			actions.take(withoutLang(s), a, Origin{}, lookups(a))
		}
	}
	jobs := newNamer(k, "ambiguous-term", "catalog.yaml", "jobs")
	none := func(string) int { return 0 }
	names = slices.Sorted(maps.Keys(k.meta.Jobs))
	for _, j := range names {
		jobs.take(j, j, Origin{}, none)
	}
	for _, j := range names {
		for _, s := range k.meta.Jobs[j].Synonyms {
			jobs.take(withoutLang(s), j, Origin{}, none)
		}
	}
}

// withoutLang drops the language tag of a synonym.
func withoutLang(s string) string {
	if lang, term, ok := strings.Cut(s, ":"); ok && isLanguage(strings.TrimSpace(lang)) {
		return term
	}
	return s
}
