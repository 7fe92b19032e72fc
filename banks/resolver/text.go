package resolver

import (
	"slices"
	"strings"
	"unicode"

	"github.com/gertd/go-pluralize"
	edlib "github.com/hbollon/go-edlib"
	"golang.org/x/text/unicode/norm"
)

// filler words carry no meaning in a job, a complaint or a term.
var filler = map[string]bool{
	"a": true, "an": true, "the": true, "of": true, "for": true, "on": true, "in": true, "at": true, "to": true,
	"and": true, "or": true, "with": true, "from": true, "my": true, "its": true, "it": true, "is": true, "are": true,
	"please": true,
}

// wording brings free text to words that can be compared. While the indexes are
// built it remembers singulars, since the same words come up again and again;
// after that it is read-only.
type wording struct {
	plural *pluralize.Client
	known  map[string]string
	sealed bool
}

func newWording() *wording {
	return &wording{plural: pluralize.NewClient(), known: map[string]string{}}
}

// seal ends the building: from now on nothing more is remembered.
func (w *wording) seal() { w.sealed = true }

// words splits text into lower-case words without punctuation, diacritics,
// plural and filler, in the order in which they stand.
func (w *wording) words(text string) []string {
	var out []string
	fields := strings.FieldsFunc(norm.NFKD.String(strings.ToLower(text)), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !unicode.Is(unicode.Mn, r)
	})
	for i, f := range fields {
		f = strings.Map(func(r rune) rune {
			if unicode.Is(unicode.Mn, r) {
				return -1
			}
			return r
		}, f)
		// At the end an “a” is no article but a name: service A.
		if f == "" || filler[f] && (f != "a" || i < len(fields)-1) {
			continue
		}
		out = append(out, w.singular(f))
	}
	return out
}

// singular gives the singular of an English word; words with digits, and
// words of up to three letters, stay as they are ("gas", "bus", "pto").
func (w *wording) singular(word string) string {
	if len(word) <= 3 || strings.ContainsFunc(word, unicode.IsDigit) {
		return word
	}
	if s, ok := w.known[word]; ok {
		return s
	}
	s := w.plural.Singular(word)
	if !w.sealed {
		w.known[word] = s
	}
	return s
}

// bag is the form in which word order does not count.
func bag(words []string) string {
	s := slices.Clone(words)
	slices.Sort(s)
	return strings.Join(s, " ")
}

// closeness tells how a text was matched to a term.
type closeness uint8

const (
	noMatch closeness = iota
	partMatch
	misspelt
	exact
)

func (c closeness) String() string {
	return [...]string{"no match", "part of the term", "misspelt", "exact"}[c]
}

// entry is one term that leads to a value.
type entry struct {
	term  string // as written in the catalog
	words []string
	value int32
}

// vocabulary finds terms; it is read-only once sealed.
type vocabulary struct {
	w       *wording
	entries []entry
	byBag   map[string][]int32 // entries
	byWord  map[string][]int32 // entries that hold the word
}

func newVocabulary(w *wording) *vocabulary {
	return &vocabulary{w: w, byBag: map[string][]int32{}, byWord: map[string][]int32{}}
}

func (v *vocabulary) add(term string, value int32) {
	words := v.w.words(term)
	if len(words) == 0 {
		return
	}
	n := int32(len(v.entries))
	key := bag(words)
	for _, i := range v.byBag[key] {
		if v.entries[i].value == value {
			return // another spelling of the same
		}
	}
	v.entries = append(v.entries, entry{term, words, value})
	v.byBag[key] = append(v.byBag[key], n)
	seen := map[string]bool{}
	for _, w := range words {
		if !seen[w] {
			seen[w] = true
			v.byWord[w] = append(v.byWord[w], n)
		}
	}
}

// match is a term that was found.
type match struct {
	value int32
	term  string
	edits int
}

// find looks words up: exactly; failing that misspelt; failing that as a part
// of longer terms. It returns every match of the best kind, by ascending value,
// one for a value.
func (v *vocabulary) find(words []string) ([]match, closeness) {
	for how := exact; how > noMatch; how-- {
		if m := v.findAs(words, how); len(m) > 0 {
			return m, how
		}
	}
	return nil, noMatch
}

// findAs looks words up in one way only.
func (v *vocabulary) findAs(words []string, how closeness) []match {
	if len(words) == 0 {
		return nil
	}
	switch how {
	case exact:
		return v.collect(v.byBag[bag(words)], 0)
	case misspelt:
		return v.collect(v.misspelt(words))
	case partMatch:
		return v.collect(v.partly(words), 0)
	}
	return nil
}

func (v *vocabulary) collect(hits []int32, edits int) []match {
	var out []match
	for _, i := range hits {
		e := &v.entries[i]
		if !slices.ContainsFunc(out, func(m match) bool { return m.value == e.value }) {
			out = append(out, match{e.value, e.term, edits})
		}
	}
	slices.SortFunc(out, func(a, b match) int { return int(a.value) - int(b.value) })
	return out
}

// allowance is how many edits a word of so many letters may have.
func allowance(word string) int {
	switch n := len([]rune(word)); {
	case n >= 8:
		return 2
	case n >= 4:
		return 1
	}
	return 0
}

func (v *vocabulary) misspelt(words []string) (hits []int32, best int) {
	best = 1 << 30
	for i := range v.entries {
		e := &v.entries[i]
		if len(e.words) != len(words) {
			continue
		}
		cost, ok := assign(words, e.words, best)
		if !ok || cost > best || cost == 0 { // without an edit it is exact
			continue
		}
		if cost < best {
			best, hits = cost, hits[:0]
		}
		hits = append(hits, int32(i))
	}
	return hits, best
}

// assign pairs each word of the query with a different word of the term at the
// least total of edits, none beyond its allowance, and not more than limit.
func assign(query, term []string, limit int) (int, bool) {
	used := make([]bool, len(term))
	best, found := limit, false
	var try func(i, cost int)
	try = func(i, cost int) {
		if cost > best {
			return
		}
		if i == len(query) {
			best, found = cost, true
			return
		}
		for j, t := range term {
			if used[j] {
				continue
			}
			d, ok := edits(query[i], t)
			if !ok {
				continue
			}
			used[j] = true
			try(i+1, cost+d)
			used[j] = false
		}
	}
	// Beyond eight words a permutation is no misspelling any more, and the
	// search would no longer be bounded.
	if len(query) <= 8 {
		try(0, 0)
	}
	return best, found
}

// edits counts insertions, deletions, substitutions and swaps of neighbours
// that turn one word into the other; ok is false beyond the allowance of the
// catalog's word.
func edits(query, term string) (int, bool) {
	if query == term {
		return 0, true
	}
	allow := allowance(term)
	if d := len(query) - len(term); allow == 0 || d > 4*allow || -d > 4*allow {
		return 0, false
	}
	d := edlib.OSADamerauLevenshteinDistance(query, term)
	return d, d <= allow
}

func (v *vocabulary) partly(words []string) []int32 {
	rarest := v.byWord[words[0]]
	for _, w := range words[1:] {
		if l := v.byWord[w]; len(l) < len(rarest) {
			rarest = l
		}
	}
	var hits []int32
	for _, i := range rarest {
		e := &v.entries[i]
		if !slices.ContainsFunc(words, func(w string) bool { return !slices.Contains(e.words, w) }) {
			hits = append(hits, i)
		}
	}
	return hits
}

// nearest gives up to n terms that share most words with a text, or are fewest
// edits away from it: what to offer when nothing matched.
func (v *vocabulary) nearest(words []string, n int) []string {
	type scored struct {
		term string
		far  int
	}
	var all []scored
	text := bag(words)
	for i := range v.entries {
		e := &v.entries[i]
		far := edlib.OSADamerauLevenshteinDistance(text, bag(e.words))
		for _, w := range words {
			if slices.Contains(e.words, w) {
				far -= len(w)
			}
		}
		all = append(all, scored{e.term, far})
	}
	slices.SortStableFunc(all, func(a, b scored) int { return a.far - b.far })
	var out []string
	for _, s := range all {
		if len(out) == n {
			break
		}
		if !slices.Contains(out, s.term) {
			out = append(out, s.term)
		}
	}
	return out
}
