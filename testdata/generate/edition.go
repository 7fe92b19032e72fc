package main

import (
	"fmt"
	"strconv"
	"strings"

	"rightpage/banks/catalog"
)

// series is a publication in all its editions.
type series struct {
	id      string // editions add a letter
	class   catalog.Class
	title   string
	keyed   string
	applies catalog.Pattern
	groups  []string
	shelf   string
	media   string // a letter an edition: f film, p paper, s screen
	byGroup bool   // pages are counted within each group
	breaks  []breakpoint
	parts   []catalog.Pattern // instead of breaks: codes of each edition
	key     string            // what the chapters of tests call the book
}

// breakpoint is where one edition ends and the next begins.
type breakpoint struct {
	date   string // month or day; "" for a break by serial
	serial int64
	super  bool // the older edition is printed without an end; the newer one supersedes it
}

func month(date string) breakpoint      { return breakpoint{date: date} }
func day(date string) breakpoint        { return breakpoint{date: date} }
func bySerial(n int64) breakpoint       { return breakpoint{serial: n} }
func superseded(date string) breakpoint { return breakpoint{date: date, super: true} }

// edition is one edition in the making: its record, the codes of the keying
// unit that it is for, and the next free place on its pages.
type edition struct {
	pub   catalog.Publication
	codes []string // of the keying unit
	book  string
	ends  catalog.Date // where a newer edition supersedes it: the last date before that
	place placer
}

// covers tells whether the edition is about a group. parents maps a group to
// its parent.
func (e *edition) covers(group string, parents map[string]string) bool {
	for g := group; g != ""; g = parents[g] {
		for _, h := range e.pub.Groups {
			if h == g {
				return true
			}
		}
	}
	return len(e.pub.Groups) == 0
}

// editions makes the editions of a series. Each break cuts the last edition in
// two, so that together they share out all vehicles.
func (s series) editions(unit unitLife) ([]*edition, error) {
	n := max(len(s.breaks)+1, len(s.parts))
	if len(s.media) != n {
		return nil, fmt.Errorf("series %s: %d media for %d editions", s.id, len(s.media), n)
	}
	var out []*edition
	r := catalog.Range{}
	for i := range n {
		p := catalog.Publication{
			ID: s.id + "-" + string(rune('A'+i)), Class: s.class, Title: s.title, Series: s.id, Medium: medium(s.media[i]), KeyedBy: s.keyed,
			AppliesTo: s.applies, Groups: s.groups, Shelf: s.shelf + shelfOf(s.media[i]),
		}
		if len(s.parts) > 0 {
			p.AppliesTo = s.parts[i]
		}
		next := r
		if i < len(s.breaks) {
			b := s.breaks[i]
			switch {
			case b.super:
				next.From = must(catalog.ParseDate(b.date))
			case b.date != "":
				next.From = must(catalog.ParseDate(b.date))
				r.Through = dayBefore(next.From)
			default:
				next.Serials.From, r.Serials.Through = b.serial, b.serial-1
			}
		}
		if i > 0 && len(s.breaks) > 0 && s.breaks[i-1].super {
			p.Supersedes = []string{s.id + "-" + string(rune('A'+i-1))}
		}
		if r != (catalog.Range{}) {
			p.Effectivity = catalog.Effectivity{r}
		}
		p.Revision = revisionOf(p)
		e := &edition{pub: p, book: s.key}
		e.place = placer{medium: p.Medium, byGroup: s.byGroup, seed: p.ID, next: 4 + int(hash(p.ID)%17)}
		if i < len(s.breaks) && s.breaks[i].super {
			e.ends = dayBefore(must(catalog.ParseDate(s.breaks[i].date)))
		}
		life := e.life()
		for _, c := range unit.codes {
			if p.AppliesTo.Match(c) && unit.alive(c, life) {
				e.codes = append(e.codes, c)
			}
		}
		if len(e.codes) == 0 {
			return nil, fmt.Errorf("edition %s is for nothing: no %s is built within it", p.ID, s.keyed)
		}
		out = append(out, e)
		r = next
	}
	return out, nil
}

// revisionOf is the print code on the title page: the year in which the edition
// came out, and a running letter.
func revisionOf(p catalog.Publication) string {
	year := 2011
	if len(p.Effectivity) > 0 && !p.Effectivity[0].From.IsZero() {
		year = int(p.Effectivity[0].From.Year)
	}
	return fmt.Sprintf("%d/%d", year, 1+hash(p.ID+"print")%3)
}

func medium(letter byte) string {
	return map[byte]string{'f': "film", 'p': "paper", 's': "screen"}[letter]
}

func shelfOf(letter byte) string {
	return map[byte]string{'f': ", film cabinet", 'p': ", literature room", 's': ", workshop screen"}[letter]
}

// dayBefore is the last moment before d, at d's own precision.
func dayBefore(d catalog.Date) catalog.Date {
	if d.Day == 0 {
		return d.AddMonths(-1)
	}
	return (d.First() - 1).Date()
}

// unitLife tells which codes of a unit were built and when.
type unitLife struct {
	codes []string // in order
	span  map[string][]catalog.Range
}

func (u *unitLife) add(code string, r catalog.Range) {
	if u.span == nil {
		u.span = map[string][]catalog.Range{}
	}
	if len(u.span[code]) == 0 {
		u.codes = append(u.codes, code)
	}
	u.span[code] = append(u.span[code], r)
}

// alive tells whether some unit of the code may lie in r.
func (u *unitLife) alive(code string, r catalog.Range) bool {
	for _, s := range u.span[code] {
		if _, ok := s.Serials.Meet(r.Serials); ok && !s.Days().Meet(r.Days()).Empty() {
			return true
		}
	}
	return false
}

// placer gives out places in a publication one after another.
type placer struct {
	medium  string
	byGroup bool
	seed    string // the publication, so that no two number alike
	next    int
	group   string
	counts  map[string]int // group → next page or section, where counted by group
}

// place gives the place of the next piece, of so many pages.
func (p *placer) place(group string, pages int) catalog.Location {
	byGroup := func(step int) int {
		if p.counts == nil {
			p.counts = map[string]int{}
		}
		n, ok := p.counts[group]
		if !ok {
			n = 1 + int(hash(p.seed+group)%6)
		}
		p.counts[group] = n + step
		return n
	}
	if p.medium == "screen" {
		return catalog.Location{Section: fmt.Sprintf("%s.%d", group, byGroup(1))}
	}
	if p.byGroup && p.medium == "paper" {
		return catalog.Location{Page: fmt.Sprintf("%s-%d", group, byGroup(pages))}
	}
	if p.group != group { // a group begins on a new page
		p.group = group
		p.next++
	}
	at := p.next
	p.next += pages
	if p.medium == "film" {
		// A sheet holds 7 rows (A to G) of 14 frames; a frame holds two pages.
		frame := at / 2
		return catalog.Location{Sheet: strconv.Itoa(1 + frame/98), Frame: fmt.Sprintf("%c%d", 'A'+frame%98/14, 1+frame%14)}
	}
	return catalog.Location{Page: strconv.Itoa(at)}
}

// patternFor is the shortest pattern that, among the codes of an edition, picks
// the wanted ones: nothing where all are wanted, else what is left of the given
// pattern, else the codes one by one.
func patternFor(codes, wanted []string, given catalog.Pattern) catalog.Pattern {
	if len(codes) == len(wanted) {
		return ""
	}
	var kept []string
	for _, alt := range split(string(given), ";") {
		for _, c := range codes {
			if strings.HasPrefix(alt, "!") || catalog.Pattern(alt).Match(c) {
				kept = append(kept, alt)
				break
			}
		}
	}
	p := catalog.Pattern(strings.Join(kept, ";"))
	n := 0
	for _, c := range codes {
		if p.Match(c) {
			n++
		}
	}
	ok := n == len(wanted) && len(kept) > 0
	for _, w := range wanted {
		ok = ok && p.Match(w)
	}
	if ok {
		return p
	}
	return shortest(codes, wanted)
}

// hash is a fixed scatter of names (FNV-1a, 64 bits folded to 32).
func hash(s string) uint32 {
	h := uint64(14695981039346656037)
	for i := 0; i < len(s); i++ {
		h = (h ^ uint64(s[i])) * 1099511628211
	}
	return uint32(h>>32) ^ uint32(h)
}

// must is for values written in this program, which a test of it would show to
// be wrong.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}
