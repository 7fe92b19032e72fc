package grading

import (
	"slices"
	"strings"
)

// sources is which information somebody works by: an edition, and bulletins
// that count with it or in its place.
type sources struct {
	edition   string   // normalised; empty if not said
	bulletins []string // normalised, sorted
	instead   bool     // a bulletin takes the place of the edition
}

// sourcesOf reads sources as the question kind writes them: "X alone", "X with
// A and B", "bulletin A in place of X with B". names lists what it names, as
// written.
func sourcesOf(text string) (s sources, names []string, ok bool) {
	rest, instead := strings.CutPrefix(text, "bulletin ")
	if instead {
		bulletin, edition, found := strings.Cut(rest, " in place of ")
		if !found {
			return s, nil, false
		}
		s.instead, s.bulletins, names, rest = true, []string{Normalise(bulletin, Code)}, []string{bulletin}, edition
	}
	edition, with, more := strings.Cut(rest, " with ")
	edition, alone := strings.CutSuffix(edition, " alone")
	if !alone && !more && !instead || strings.Contains(edition, " ") {
		return s, nil, false
	}
	s.edition, names = Normalise(edition, Code), append(names, edition)
	if more {
		for b := range strings.SplitSeq(with, " and ") {
			s.bulletins, names = append(s.bulletins, Normalise(b, Code)), append(names, b)
		}
	}
	slices.Sort(s.bulletins)
	return s, names, true
}

// parseSources reads sources as people write them, out of names that can occur:
// the editions and the bulletins. It tells whether every word is accounted for.
func parseSources(text string, editions, bulletins []string) (s sources, ok bool) {
	rest := text
	take := func(names []string) (out []string) {
		// Longer names first: one may begin with another.
		sorted := slices.Clone(names)
		slices.SortFunc(sorted, func(a, b string) int { return len(b) - len(a) })
		for _, n := range sorted {
			if before, after, found := cutCode(rest, n); found {
				out = append(out, Normalise(n, Code))
				rest = before + " ~ " + after
			}
		}
		slices.Sort(out)
		return slices.Compact(out)
	}
	s.bulletins = take(bulletins)
	found := take(editions)
	if len(found) > 1 {
		return s, false
	}
	if len(found) == 1 {
		s.edition = found[0]
	}
	for _, word := range strings.FieldsFunc(strings.ToLower(rest), func(r rune) bool { return isSeparator(r) || r == '~' || r == '+' || r == '&' }) {
		switch word {
		case "alone", "only", "just", "with", "and", "plus", "bulletin", "bulletins", "supplement", "supplements", "sb", "edition", "ed",
			"no", "none", "nothing", "without", "any", "or", "else", "read", "use", "by", "of", "the", "in", "amended", "as":
		case "place", "instead", "replaces", "replacing", "replaced":
			s.instead = true
		default:
			return s, false
		}
	}
	if s.edition == "" && len(s.bulletins) == 1 {
		s.instead = true
	}
	return s, s.edition != "" || s.instead && len(s.bulletins) > 0
}

// is tells whether sources that somebody wrote are these. Who reads a bulletin
// in place of an edition need not name the edition.
func (s sources) is(want sources) bool {
	if s.instead != want.instead || !slices.Equal(s.bulletins, want.bulletins) {
		return false
	}
	return s.edition == want.edition || want.instead && s.edition == ""
}
