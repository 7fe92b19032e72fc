package resolver_test

import (
	"slices"
	"strings"
	"unicode"

	"github.com/gertd/go-pluralize"
	"golang.org/x/text/unicode/norm"

	"rightpage/banks/catalog"
)

var fillers = strings.Fields("a an the of for on in at to and or with from my its it is are please")

// words brings a text to the words that count.
func (n *naive) words(text string) []string {
	if w, ok := n.memo[text]; ok {
		return w
	}
	plain := strings.Map(func(r rune) rune {
		switch {
		case unicode.Is(unicode.Mn, r):
			return -1
		case unicode.IsLetter(r) || unicode.IsDigit(r):
			return unicode.ToLower(r)
		}
		return ' '
	}, norm.NFD.String(text))
	words := []string{}
	all := strings.Fields(plain)
	for i, w := range all {
		if slices.Contains(fillers, w) && (w != "a" || i < len(all)-1) {
			continue
		}
		if len([]rune(w)) > 3 && !strings.ContainsFunc(w, unicode.IsDigit) {
			w = singulars.Singular(w)
		}
		words = append(words, w)
	}
	n.memo[text] = words
	return words
}

var singulars = pluralize.NewClient()

// match is how close two texts are: in what way, and for misspelt ones the edits.
type match struct{ kind, edits int }

// The ways of matching, from worst to best; 0 is none.
const (
	inPart = 1 + iota
	misspelt
	exactly
)

// better orders matches.
func (m match) better(o match) bool { return m.kind > o.kind || m.kind == o.kind && m.edits < o.edits }

// compare compares the words of a query with those of a term of the catalog.
func compare(query, term []string) match {
	if len(query) == 0 || len(term) == 0 {
		return match{}
	}
	if len(query) == len(term) {
		switch edits, ok := pair(query, term); {
		case ok && edits == 0:
			return match{kind: exactly}
		case ok && len(query) <= 8:
			return match{misspelt, edits}
		}
	}
	for _, w := range query {
		if !slices.Contains(term, w) {
			return match{}
		}
	}
	return match{kind: inPart}
}

// pair finds the pairing of words with the fewest edits.
func pair(query, term []string) (edits int, ok bool) {
	if len(query) == 0 {
		return 0, true
	}
	for j, w := range term {
		e := osa(query[0], w)
		if e > allowance(w) {
			continue
		}
		rest, fits := pair(query[1:], slices.Concat(term[:j], term[j+1:]))
		if fits && (!ok || e+rest < edits) {
			edits, ok = e+rest, true
		}
	}
	return edits, ok
}

func allowance(w string) int {
	switch n := len([]rune(w)); {
	case n <= 3:
		return 0
	case n <= 7:
		return 1
	}
	return 2
}

// osa counts insertions, deletions, substitutions and swaps of neighbours
// (optimal string alignment: no part of a word is edited twice).
func osa(s, t string) int {
	if s == t {
		return 0
	}
	a, b := []rune(s), []rune(t)
	if len(a)-len(b) > 2 || len(b)-len(a) > 2 {
		return 99 // more than any allowance
	}
	d := make([][]int, len(a)+1)
	for i := range d {
		d[i] = make([]int, len(b)+1)
		d[i][0] = i
	}
	for j := range d[0] {
		d[0][j] = j
	}
	for i := 1; i <= len(a); i++ {
		for j := 1; j <= len(b); j++ {
			change := 1
			if a[i-1] == b[j-1] {
				change = 0
			}
			d[i][j] = min(d[i-1][j]+1, d[i][j-1]+1, d[i-1][j-1]+change)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				d[i][j] = min(d[i][j], d[i-2][j-2]+1)
			}
		}
	}
	return d[len(a)][len(b)]
}

// bestOf gives the rows that have the best match among their terms.
func (n *naive) bestOf(query []string, rows int, terms func(i int) []string) (match, []int) {
	var best match
	var hits []int
	for i := range rows {
		var m match
		for _, term := range terms(i) {
			if k := compare(query, n.words(term)); k.better(m) {
				m = k
			}
		}
		switch {
		case m.kind == 0:
		case m.better(best):
			best, hits = m, []int{i}
		case m == best:
			hits = append(hits, i)
		}
	}
	return best, hits
}

func termsOf(first string, more []catalog.Synonym) []string {
	terms := []string{first}
	for _, s := range more {
		terms = append(terms, s.Term)
	}
	return terms
}

// plainTerm takes the language off a synonym of the settings: "de:erneuern".
func plainTerm(s string) string {
	if _, term, ok := strings.Cut(s, ":"); ok {
		return term
	}
	return s
}
