package grading

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// place is a place in a publication as it is compared: the parts normalised as
// codes, without leading zeros. A chapter of tests is a section.
type place struct {
	publication string
	part        [placeParts]string
	bare        string // what stands there without a label
	side        string // left, right
}

// placePart is a labelled part of a place, in the order in which a bare place
// names them.
type placePart uint8

const (
	sectionPart placePart = iota
	sheetPart
	framePart
	pagePart
	stepPart // of a test; several are joined, sorted
	bulletinPart
	placeParts
	noPart = placeParts
)

func (p placePart) String() string {
	return [...]string{"section", "sheet", "frame", "page", "step", "bulletin"}[p]
}

// placeReading is a way to read the labels of a place.
type placeReading uint8

// The ways, in the order in which they are tried: a group may be called CH or P,
// so that CH 10 is a section before it is chapter 10.
const (
	fullWords placeReading = iota
	shortWords
	gluedWords // p130
	placeReadings
)

// partOf tells which part a word labels.
func partOf(word string, how placeReading) placePart {
	switch word {
	case "section", "sections", "sect", "§", "chapter", "chapters", "chap", "chpt":
		return sectionPart
	case "sheet", "sheets", "fiche":
		return sheetPart
	case "frame", "frames":
		return framePart
	case "page", "pages":
		return pagePart
	case "step", "steps":
		return stepPart
	case "bulletin", "bulletins", "supplement":
		return bulletinPart
	}
	if how == fullWords {
		return noPart
	}
	switch word {
	case "sec", "ch":
		return sectionPart
	case "sht", "sh":
		return sheetPart
	case "frm", "fr":
		return framePart
	case "pg", "pgs", "pp", "p":
		return pagePart
	case "stp", "st":
		return stepPart
	case "sb":
		return bulletinPart
	}
	return noPart
}

// placeFiller is words that say nothing about a place.
func placeFiller(word string) bool {
	switch word {
	case "", "no", "nr", "number", "on", "in", "at", "of", "the", "and", "&", "+", "then", "side", "hand", "column", "=", "see":
		return true
	}
	return false
}

func sideOf(word string) string {
	switch word {
	case "left", "lh", "l/h", "port":
		return "left"
	case "right", "rh", "r/h", "starboard":
		return "right"
	}
	return ""
}

// parsePlace reads a place. The publications are those that it may name.
func parsePlace(text string, publications []string, how placeReading) place {
	var p place
	s := text
	for _, pub := range publications {
		if before, after, ok := cutCode(s, pub); ok {
			p.publication = Normalise(pub, Code)
			s = before + " " + after
			break
		}
	}
	var values [placeParts + 1][]string
	label := noPart
	for _, token := range placeTokens(s) {
		word := strings.ToLower(token)
		if side := sideOf(word); side != "" {
			p.side = side
			continue
		}
		if part := partOf(word, how); part != noPart {
			label = part
			continue
		}
		if placeFiller(word) {
			continue
		}
		if how == gluedWords {
			if part, rest := unglue(word); part != noPart {
				label, token = part, rest
			}
		}
		values[label] = append(values[label], token)
	}
	for part := range placeParts {
		if part == stepPart {
			p.part[part] = placeSet(values[part])
			continue
		}
		p.part[part] = placeCode(values[part]...)
	}
	p.bare = placeCode(values[noPart]...)
	return p
}

// placeTokens parts a place into words and values. Points and hyphens within a
// value stay; those around it go.
func placeTokens(s string) []string {
	tokens := strings.FieldsFunc(norm.NFKC.String(s), func(r rune) bool {
		return unicode.IsSpace(r) || strings.ContainsRune(",;:/\\()[]|", r) || isQuote(r)
	})
	out := tokens[:0]
	for _, t := range tokens {
		if t = strings.TrimFunc(t, func(r rune) bool { return strings.ContainsRune(".-–—_#", r) || unicode.Is(unicode.Cf, r) }); t == "" {
			continue
		}
		if r, ok := strings.CutPrefix(t, "§"); ok && r != "" {
			out = append(out, "§", r)
			continue
		}
		out = append(out, t)
	}
	return out
}

// unglue parts a label from the number that stands against it: p130, pg.130,
// sec5.
func unglue(word string) (placePart, string) {
	i := strings.IndexFunc(word, func(r rune) bool { return !unicode.IsLetter(r) })
	if i <= 0 {
		return noPart, word
	}
	part := partOf(word[:i], gluedWords)
	rest := strings.TrimLeft(word[i:], ".-:")
	if part == noPart || rest == "" || !isDigit(rune(rest[0])) {
		return noPart, word
	}
	return part, rest
}

// placeCode joins the values of a part in the form in which they are compared.
func placeCode(values ...string) string {
	if len(values) == 0 {
		return ""
	}
	code := Normalise(strings.Join(values, " "), Code)
	out := make([]byte, 0, len(code))
	for i := 0; i < len(code); i++ {
		zero := code[i] == '0' && i+1 < len(code) && isDigit(rune(code[i+1])) && (len(out) == 0 || !isDigit(rune(out[len(out)-1])))
		if !zero {
			out = append(out, code[i])
		}
	}
	return string(out)
}

// placeSet joins values that have no order.
func placeSet(values []string) string {
	codes := make([]string, 0, len(values))
	for _, v := range values {
		codes = append(codes, placeCode(v))
	}
	slices.Sort(codes)
	return strings.Join(slices.Compact(codes), "-")
}

// cutCode finds a code in a text, whatever stands between its characters, and
// gives what stands before and after it.
func cutCode(text, code string) (before, after string, found bool) {
	want := lettersAndDigits(code)
	if want == "" {
		return text, "", false
	}
	last := rune(' ')
	for i, r := range text {
		if !unicode.IsLetter(last) && !unicode.IsDigit(last) {
			if rest, ok := cutLetters(text[i:], want); ok {
				return text[:i], rest, true
			}
		}
		last = r
	}
	return text, "", false
}

// cutLetters cuts letters and digits from the beginning of a text, skipping
// separators. The code must end there: no letter or digit follows.
func cutLetters(text, want string) (string, bool) {
	for text != "" {
		r, w := utf8.DecodeRuneInString(text)
		text = text[w:]
		if isSeparator(r) {
			continue
		}
		k, n := utf8.DecodeRuneInString(want)
		if unicode.ToUpper(r) != k {
			return "", false
		}
		if want = want[n:]; want == "" {
			next, _ := utf8.DecodeRuneInString(text)
			return text, text == "" || !unicode.IsLetter(next) && !unicode.IsDigit(next)
		}
	}
	return "", false
}

func lettersAndDigits(code string) string {
	return strings.Map(func(r rune) rune {
		if isSeparator(r) {
			return -1
		}
		return unicode.ToUpper(r)
	}, code)
}

// placeOf reads a place as the catalog's side writes it, such as "section QE.5",
// "60-D-330-A, section 1" or "chapter 3, steps 2 and 4, left side". It tells
// whether the text is a place at all: every part labelled.
func placeOf(text string) (p place, publication string, ok bool) {
	rest := text
	if head, tail, found := strings.Cut(text, ", "); found {
		if t := placeTokens(head); len(t) == 1 && partOf(strings.ToLower(t[0]), fullWords) == noPart {
			publication, rest = head, tail
		}
	}
	p = parsePlace(rest, nil, fullWords)
	if publication != "" {
		p.publication = Normalise(publication, Code)
	}
	labels := 0
	for _, t := range placeTokens(rest) {
		if partOf(strings.ToLower(t), fullWords) != noPart {
			labels++
		}
	}
	filled := 0
	for _, v := range p.part {
		if v != "" {
			filled++
		}
	}
	return p, publication, p.bare == "" && filled > 0 && filled == labels
}

// bareOf is a place without labels, as people write it.
func bareOf(text string) string {
	if _, tail, found := strings.Cut(text, ", "); found {
		if p, pub, ok := placeOf(text); ok && pub != "" && p.publication != "" {
			text = tail
		}
	}
	var out []string
	for _, t := range placeTokens(text) {
		if w := strings.ToLower(t); partOf(w, fullWords) == noPart && !placeFiller(w) && sideOf(w) == "" {
			out = append(out, t)
		}
	}
	return strings.Join(out, " ")
}

// is compares a place that somebody wrote with one that it may be. Parts that
// are labelled must agree; what is bare must be the rest of the place, in its
// order. A page may stand for the section that it lies in. asked is the
// publication that the question itself names. Where the place is right as far
// as it goes, but says too little to tell it from others, missing says what is
// wanting.
func (g *place) is(want *place, asked string, right bool) (same bool, missing string) {
	pub := want.publication
	if pub == "" && right {
		pub = asked
	}
	if g.publication != "" && pub != "" && g.publication != pub {
		return false, ""
	}
	if g.side != "" && g.side != want.side {
		return false, ""
	}
	given := g.part
	// "sheet 1 F5" and "chapter 3/2" label the first part alone.
	for _, pair := range [...][2]placePart{{sheetPart, framePart}, {sectionPart, stepPart}, {sectionPart, pagePart}} {
		a, b := pair[0], pair[1]
		if want.part[a] != "" && want.part[b] != "" && given[b] == "" && given[a] != want.part[a] && given[a] == placeCode(want.part[a], want.part[b]) {
			given[a], given[b] = want.part[a], want.part[b]
		}
	}
	var rest []placePart
	for part := range placeParts {
		switch {
		case given[part] != "":
			if given[part] != want.part[part] {
				return false, ""
			}
		case want.part[part] != "":
			rest = append(rest, part)
		}
	}
	bare := g.bare
	if bare != "" && !right && want.publication == "" && g.publication == "" && len(rest) < countParts(want) {
		bare = "" // it names a publication of its own
	}
	if bare != "" {
		left := matchBare(bare, rest, want)
		if left == nil {
			return false, ""
		}
		if countParts(want) == 1 && bare == want.part[sectionPart] && isNumber(bare) {
			return false, bareNumber
		}
		rest = *left
	}
	if want.part[pagePart] != "" && !slices.Contains(rest, pagePart) {
		rest = slices.DeleteFunc(slices.Clone(rest), func(p placePart) bool { return p == sectionPart })
	}
	if want.part[bulletinPart] == "" && want.publication != "" && g.publication == "" {
		return false, "publication"
	}
	if len(rest) > 0 {
		return false, rest[0].String()
	}
	if want.side != "" && g.side == "" {
		return false, "side"
	}
	return true, ""
}

// bareNumber says that a number could be a section or a page: books of tests
// have both. Without a label it is a page.
const bareNumber = "bare number"

func isNumber(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }

func countParts(p *place) int {
	n := 0
	for _, v := range p.part {
		if v != "" {
			n++
		}
	}
	return n
}

// matchBare finds the parts that a bare place names: all that are left, or the
// page alone, or the first ones. It gives those that are still left then, nil
// if the bare place is none of these.
func matchBare(bare string, rest []placePart, want *place) *[]placePart {
	code := func(parts []placePart) string {
		values := make([]string, len(parts))
		for i, p := range parts {
			values[i] = want.part[p]
		}
		return placeCode(values...)
	}
	for n := len(rest); n > 0; n-- {
		if code(rest[:n]) == bare {
			left := rest[n:]
			return &left
		}
	}
	for i, p := range rest {
		if want.part[p] == bare {
			left := slices.Delete(slices.Clone(rest), i, i+1)
			return &left
		}
	}
	return nil
}
