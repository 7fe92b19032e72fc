package grading

import (
	"strings"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// expected is a typed answer that is known: a right one, or what a slip leads
// to, or (in a chase) what follows from an earlier slip.
type expected struct {
	text  string
	right bool
	slip  resolver.Slip
}

// typed reads a typed answer. What the question accepts decides how: as a place
// in a publication, as sources (an edition and its bulletins), as a quantity,
// or as a code.
type typed struct {
	charset  Charset
	expected []expected     // right ones first
	none     int            // index of the answer none, -1
	exact    map[string]int // as written, but for case and spaces
	loose    map[string]int // normalised; clash where it could be a right and a wrong one

	how          typedForm
	places       []place // beside expected
	publications []string
	asked        string // publication that the question names, normalised
	measured     measured
	sources      []sources
	editions     []string
	bulletins    []string
}

type typedForm uint8

const (
	asCode typedForm = iota
	asPlace
	asQuantity
	asSources
)

// clash stands for an answer that could be a right one and a wrong one.
const clash = -2

// typedHit is what a typed answer was found to be.
type typedHit struct {
	at      int    // index into expected, -1 for none
	says    string // what else there is to say
	slip    resolver.Slip
	refusal *Refusal
}

// typedQuestion prepares the key of a typed question.
func typedQuestion(q *banks.Question) *typed {
	var list []expected
	for _, a := range q.Key.Accept {
		list = append(list, expected{a, true, resolver.NoSlip})
	}
	for _, s := range q.Slipped {
		list = append(list, expected{s.Value, false, s.Slip})
	}
	t := newTyped(q.Key.Charset, list, q.About.Publication, q.Kind == "latest")
	if q.Kind == "edition" {
		t.addEditions(q)
	}
	return t
}

// newTyped prepares a list of known answers; the first is the right one to
// show.
func newTyped(charset string, list []expected, asked string, fromSources bool) *typed {
	texts := make([]string, len(list))
	for i := range list {
		texts[i] = list[i].text
	}
	t := &typed{
		charset: charsetFor(charset, texts...), expected: list, asked: Normalise(asked, Code), none: -1,
		exact: make(map[string]int, 2*len(list)), loose: make(map[string]int, 2*len(list)),
	}
	if len(list) == 0 {
		return t
	}
	for i := range list {
		t.put(t.exact, Normalise(list[i].text, Text), i)
	}
	switch {
	case fromSources && t.prepareSources():
		t.how = asSources
	case t.preparePlaces(asked):
		t.how = asPlace
	case Charset(charset) == Text && t.prepareQuantities():
		t.how = asQuantity
	default:
		t.prepareCodes()
	}
	return t
}

// put notes a way to write an answer. One that a right and a wrong answer
// share decides nothing.
func (t *typed) put(m map[string]int, key string, i int) {
	if key == "" {
		return
	}
	j, taken := m[key]
	switch {
	case !taken:
		m[key] = i
	case j >= 0 && t.expected[j].right != t.expected[i].right:
		m[key] = clash
	}
}

func (t *typed) preparePlaces(asked string) bool {
	if _, _, ok := placeOf(t.expected[0].text); !ok {
		return false
	}
	seen := map[string]bool{}
	name := func(pub string) {
		if pub != "" && !seen[pub] {
			seen[pub] = true
			t.publications = append(t.publications, pub)
		}
	}
	for i := range t.expected {
		e := &t.expected[i]
		p, pub, ok := placeOf(e.text)
		if !ok {
			// Another way to write the key, without labels: it counts with those
			// of the others, which may be the same.
			p = place{}
			delete(t.exact, Normalise(e.text, Text))
		}
		name(pub)
		t.places = append(t.places, p)
	}
	name(asked)
	// A place without labels is looked for as it is written first: page DH-20
	// of one edition and section DH.20 of another are told apart by their marks.
	bare := map[string]int{}
	for i := range t.expected {
		p := &t.places[i]
		if p.side == "" && p.publication == "" && !(isNumber(p.part[sectionPart]) && countParts(p) == 1) {
			t.put(bare, Normalise(bareOf(t.expected[i].text), Text), i)
		}
	}
	for k, i := range bare {
		if _, taken := t.exact[k]; !taken && i != clash {
			t.exact[k] = i
		}
	}
	return true
}

func (t *typed) prepareQuantities() bool {
	amountOf := func(e *expected) (amount, bool) {
		q, ok := parseQuantity(e.text)
		if ok && !q.unitless {
			if _, known := unitOf(q.unit); !known && strings.ContainsAny(q.unit, "0123456789") {
				ok = false // 10W-40 is no quantity
			}
		}
		return amount{q, e.slip}, ok
	}
	key, ok := amountOf(&t.expected[0])
	if !ok {
		return false
	}
	t.measured.key = key
	for i := 1; i < len(t.expected); i++ {
		if a, ok := amountOf(&t.expected[i]); ok && !t.expected[i].right {
			t.measured.slipped = append(t.measured.slipped, a)
		}
	}
	return true
}

func (t *typed) prepareSources() bool {
	for i := range t.expected {
		s, names, ok := sourcesOf(t.expected[i].text)
		if !ok {
			return false
		}
		t.sources = append(t.sources, s)
		for _, n := range names {
			if Normalise(n, Code) == s.edition {
				t.editions = append(t.editions, n)
			} else {
				t.bulletins = append(t.bulletins, n)
			}
		}
	}
	return true
}

func (t *typed) prepareCodes() {
	for i := range t.expected {
		t.put(t.loose, Normalise(t.expected[i].text, t.looseCharset()), i)
	}
	for i := range t.expected {
		text := t.expected[i].text
		if strings.EqualFold(text, "none") {
			t.none = i
			for _, w := range [...]string{
				"no", "nil", "nothing", "none of them", "neither", "no bulletin", "no bulletins", "no supplement", "no supplements",
				"no bulletin or supplement", "no bulletins or supplements", "not amended", "no amendment", "no amendments", "no change", "no changes", "n/a", "0",
			} {
				t.put(t.loose, Normalise(w, t.looseCharset()), i)
			}
		}
		if head, title, ok := strings.Cut(text, " "); ok && t.charset == Code && isCodeWord(head) {
			// The code of a group or publication, or its title, is enough.
			t.put(t.loose, Normalise(head, Code), i)
			t.put(t.loose, Normalise(title, Code), i)
		}
		// The body that a grade is named after is often left out: 5W-30 for
		// SAE 5W-30, VG 46 for ISO VG 46.
		for _, body := range [...]string{"SAE ", "ISO "} {
			if rest, ok := strings.CutPrefix(text, body); ok && strings.ContainsFunc(rest, func(r rune) bool { return r >= 'A' && r <= 'Z' }) {
				t.put(t.loose, Normalise(rest, t.looseCharset()), i)
			}
		}
	}
}

// isCodeWord tells a code from a word: capitals and digits alone.
func isCodeWord(s string) bool {
	return s != "" && !strings.ContainsFunc(s, func(r rune) bool {
		return (r < 'A' || r > 'Z') && !isDigit(r) && !isSeparator(r)
	})
}

// looseCharset is the charset of the loose form: words are compared like codes,
// so that SAE 5W-30 and SAE 5W30 are one.
func (t *typed) looseCharset() Charset {
	if t.charset == Text || t.charset == "" {
		return Code
	}
	return t.charset
}

// addEditions lets an edition be named by what sets it apart from the others of
// its publication: B for 56-R-245-B, where the question shows 56-R-245.
func (t *typed) addEditions(q *banks.Question) {
	series := ""
	for _, l := range q.Order {
		if l.Label == "Publication" {
			series, _, _ = strings.Cut(l.Value, " ")
		}
	}
	if series = Normalise(series, Code); series == "" {
		return
	}
	for i := range t.expected {
		if rest, ok := strings.CutPrefix(Normalise(t.expected[i].text, Code), series); ok {
			t.put(t.loose, strings.Trim(rest, "-"), i)
		}
	}
}

// find tells what a typed answer is.
func (t *typed) find(given string) typedHit {
	var buf [64]byte
	if i, ok := t.exact[string(appendNormal(buf[:0], given, Text))]; ok && i != clash {
		return t.hit(i)
	}
	if t.none >= 0 && isBlank(given) {
		return t.hit(t.none)
	}
	switch t.how {
	case asPlace:
		return t.findPlace(given)
	case asQuantity:
		return t.findQuantity(given)
	case asSources:
		return t.findSources(given)
	}
	if i, ok := t.loose[string(appendNormal(buf[:0], given, t.looseCharset()))]; ok {
		return t.hit(i)
	}
	if i, ok := t.loose[Normalise(withoutNouns(given), t.looseCharset())]; ok {
		return t.hit(i)
	}
	return typedHit{at: -1}
}

func (t *typed) hit(i int) typedHit {
	if i == clash {
		return typedHit{at: -1, refusal: &Refusal{"the answer can be read as the right one and as a wrong one", "ask which is meant, and write it in full"}}
	}
	return typedHit{at: i, slip: t.expected[i].slip}
}

// withoutNouns drops the words that people write before a code to say what it
// is.
func withoutNouns(given string) string {
	words := strings.Fields(given)
	out := words[:0:0]
	for _, w := range words {
		switch strings.ToLower(strings.Trim(w, ".:#")) {
		case "bulletin", "supplement", "edition", "ed", "publication", "pub", "book", "manual", "model", "engine", "transmission", "code", "number", "no", "nr", "type",
			"spn", "fmi", "sb", "it", "is", "the":
		default:
			out = append(out, w)
		}
	}
	return strings.Join(out, " ")
}

func (t *typed) findPlace(given string) typedHit {
	missing := ""
	for how := range placeReadings {
		g := parsePlace(given, t.publications, how)
		found := -1
		for i := range t.places {
			if t.places[i] == (place{}) {
				continue // a way to write the key without labels: the key stands for it
			}
			same, wants := g.is(&t.places[i], t.asked, t.expected[i].right)
			if wants != "" && t.expected[i].right && missing == "" {
				missing = wants
			}
			switch {
			case !same || found >= 0 && t.expected[found].right == t.expected[i].right:
			case found < 0:
				found = i
			default:
				return typedHit{at: -1, refusal: &Refusal{
					"“" + strings.TrimSpace(given) + "” can be read as " + t.expected[found].text + " and as " + t.expected[i].text,
					"ask which is meant, and write it in full",
				}}
			}
		}
		if found >= 0 {
			return t.hit(found)
		}
	}
	hit := typedHit{at: -1}
	switch missing {
	case "":
	case bareNumber:
		hit.refusal = &Refusal{"“" + strings.TrimSpace(given) + "” does not say whether the number is a page or a section", "ask which is meant, and write page or section before it"}
	default:
		hit.says = "The answer does not say enough: the " + missing + " is missing. " + nextTime + "Write a place so that somebody else finds it."
	}
	return hit
}

func (t *typed) findQuantity(given string) typedHit {
	q, ok := parseQuantity(given)
	if !ok {
		return typedHit{at: -1}
	}
	f := t.measured.find(q)
	hit := typedHit{at: -1, slip: f.slip, refusal: f.refusal, says: f.says(q, t.measured.key.quantity)}
	if f.rank == rightOne {
		hit.at = 0
	}
	return hit
}

func (t *typed) findSources(given string) typedHit {
	s, ok := parseSources(given, t.editions, t.bulletins)
	if !ok {
		return typedHit{at: -1}
	}
	for i := range t.sources {
		if s.is(t.sources[i]) {
			return t.hit(i)
		}
	}
	return typedHit{at: -1}
}

// takesDash tells whether a dash is an answer: it means none.
func (t *typed) takesDash() bool { return t.none >= 0 }
