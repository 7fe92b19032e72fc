package banks

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"rightpage/banks/catalog"
)

// Blueprint says what a form is made of. It is written by people as YAML (see
// [ParseBlueprint]) and travels within the form as JSON.
type Blueprint struct {
	Title         string   `json:"title"`
	Questions     int      `json:"questions"`
	Options       int      `json:"options,omitempty"` // most options of a question with one right option; 0: any number
	Seed          uint64   `json:"seed"`
	TimeLimit     int      `json:"time_limit_minutes,omitempty"` // 0: none
	Cut           float64  `json:"cut"`                          // share of the points that passes, 0 to 1
	Book          Book     `json:"book"`
	Order         Sequence `json:"order"`
	PartialCredit bool     `json:"partial_credit"`
	Variants      int      `json:"variants"`
	Quotas        []Quota  `json:"quotas,omitempty"`
}

// Book says whether the literature may be used.
type Book string

// The ways to use the literature.
const (
	OpenBook   Book = "open"
	ClosedBook Book = "closed"
)

// Sequence is the order of the questions of a form.
type Sequence string

// The orders.
const (
	Mixed     Sequence = "mixed"      // pseudo-random
	ByKind    Sequence = "by kind"    // kinds in the order of the blueprint, then of the bank; easier ones first within a kind
	EasyFirst Sequence = "easy first" // by predicted difficulty
)

// Attribute is what a line of a blueprint counts questions by.
type Attribute string

// The attributes. A question has one kind, skill, difficulty, group and model,
// and any number of hazards.
const (
	KindAttribute       Attribute = "kind"
	SkillAttribute      Attribute = "skill"
	DifficultyAttribute Attribute = "difficulty" // easy, medium, hard: see BandOf
	GroupAttribute      Attribute = "group"      // a group covers the groups below it
	ModelAttribute      Attribute = "model"      // a pattern, as in the catalog's applies-to cells
	HazardAttribute     Attribute = "hazard"     // a word of the catalog, or "any"
	BoundaryAttribute   Attribute = "boundary"   // at the first or last month or serial of a limit
)

// Attributes lists the attributes in a fixed order.
func Attributes() []Attribute {
	return []Attribute{KindAttribute, SkillAttribute, DifficultyAttribute, GroupAttribute, ModelAttribute, HazardAttribute, BoundaryAttribute}
}

// AnyHazard is the hazard line that covers every question with a hazard.
const AnyHazard = "any"

// Bound says whether a line asks for a number, or for no less or no more.
type Bound string

// The bounds.
const (
	Exactly Bound = ""
	AtLeast Bound = "at least"
	AtMost  Bound = "at most"
)

// Quota is one line of the shares of a blueprint: how many questions of an
// attribute's value a form has, as a share of the questions or as their number.
type Quota struct {
	By    Attribute `json:"by"`
	Of    string    `json:"of,omitempty"` // empty for boundary
	Bound Bound     `json:"bound,omitempty"`
	Share float64   `json:"share,omitempty"` // 0 to 1; where zero, Count counts
	Count int       `json:"count,omitempty"`
	Line  int       `json:"line,omitempty"` // of the blueprint file
}

// Name says what the line counts, such as kind edition.
func (q *Quota) Name() string {
	if q.Of == "" {
		return string(q.By)
	}
	return string(q.By) + " " + q.Of
}

// Wants says how much the line asks for, as it is written.
func (q *Quota) Wants() string {
	s := strconv.Itoa(q.Count)
	if q.Share > 0 {
		s = strconv.FormatFloat(math.Round(q.Share*1e8)/1e6, 'f', -1, 64) + "%"
	}
	if q.Bound != Exactly {
		s = string(q.Bound) + " " + s
	}
	return s
}

// Covers tells whether the line counts a question.
func (q *Quota) Covers(x *Question) bool {
	switch q.By {
	case KindAttribute:
		return x.Kind == q.Of
	case SkillAttribute:
		return x.Skill == q.Of
	case DifficultyAttribute:
		return string(BandOf(x.Logit)) == q.Of
	case GroupAttribute:
		return x.About.Group == q.Of || slices.Contains(x.About.Within, q.Of)
	case ModelAttribute:
		return x.About.Model != "" && catalog.Pattern(q.Of).Match(x.About.Model)
	case HazardAttribute:
		return len(x.Hazards) > 0 && (q.Of == AnyHazard || slices.Contains(x.Hazards, q.Of))
	case BoundaryAttribute:
		return x.Boundary
	}
	return false
}

// DifficultyBand is a range of predicted difficulty.
type DifficultyBand string

// The bands.
const (
	Easy   DifficultyBand = "easy"
	Medium DifficultyBand = "medium"
	Hard   DifficultyBand = "hard"
)

// BandLimit parts the bands, in logits: easy is below −BandLimit, hard above
// +BandLimit, medium what lies between, the limits included. By the Rasch model
// a technician of ability zero answers an easy question rightly more than 62
// times in 100, and a hard one fewer than 38 times: 1/(1+exp(±0.5)).
const BandLimit = 0.5

// BandOf gives the band of a difficulty in logits. Difficulties are compared to
// the millionth, so that sums of the same weights in another order fall into
// the same band.
func BandOf(logit float64) DifficultyBand {
	switch l := math.Round(logit * 1e6); {
	case l < -BandLimit*1e6:
		return Easy
	case l > BandLimit*1e6:
		return Hard
	}
	return Medium
}

// Bands lists the bands from easy to hard.
func Bands() []DifficultyBand { return []DifficultyBand{Easy, Medium, Hard} }

// span is how many questions a line allows, both ends included.
type span struct{ lo, hi int }

// spans works the lines out for n questions; overlap tells of which attributes
// the lines can cover one question twice.
//
// Lines that ask for an exact share are rounded together, attribute by
// attribute, by the method of the largest remainder (Hamilton's): each gets its
// share of n rounded down, and what is missing to the rounded sum of the shares
// goes to the lines with the largest remainders, earlier lines first among
// equals. Where the lines of an attribute overlap (hazards, a group within
// another, patterns of models) each is rounded to the nearest number by itself,
// halves up. A line of at least is rounded up, one of at most down. A number of
// questions is taken as it is.
func (b *Blueprint) spans(n int, overlap func(Attribute) bool) []span {
	out := make([]span, len(b.Quotas))
	for i := range b.Quotas {
		q := &b.Quotas[i]
		exact := q.Share * float64(n)
		if q.Share == 0 {
			exact = float64(q.Count)
		}
		switch q.Bound {
		case AtLeast:
			out[i] = span{int(math.Ceil(exact - rounding)), n}
		case AtMost:
			out[i] = span{0, int(math.Floor(exact + rounding))}
		default:
			k := int(math.Floor(exact + 0.5 + rounding))
			out[i] = span{k, k}
		}
	}
	for _, by := range Attributes() {
		var lines []int
		var sum float64
		for i := range b.Quotas {
			if q := &b.Quotas[i]; q.By == by && q.Bound == Exactly && q.Share > 0 {
				lines = append(lines, i)
				sum += q.Share
			}
		}
		if overlap(by) {
			continue
		}
		b.largestRemainder(lines, sum, n, out)
	}
	return out
}

// rounding is what shares may be off by for being binary fractions.
const rounding = 1e-9

func (b *Blueprint) largestRemainder(lines []int, sum float64, n int, out []span) {
	left := int(math.Floor(sum*float64(n) + 0.5 + rounding))
	rest := make([]float64, len(lines))
	for j, i := range lines {
		exact := b.Quotas[i].Share * float64(n)
		k := int(math.Floor(exact + rounding))
		out[i] = span{k, k}
		rest[j] = exact - float64(k)
		left -= k
	}
	for ; left > 0; left-- {
		best := -1
		for j := range rest {
			if best < 0 || rest[j] > rest[best]+rounding {
				best = j
			}
		}
		if best < 0 {
			return
		}
		out[lines[best]].lo++
		out[lines[best]].hi++
		rest[best]--
	}
}

// defaults of a blueprint that does not say. The cut is common practice, no
// source: set it from judges or results where it decides anything.
const (
	defaultQuestions = 20
	defaultOptions   = 4
	defaultCut       = 0.8
	maxQuestions     = 1000
	maxVariants      = 26
	maxTimeLimit     = 24 * 60
)

// NewBlueprint is a blueprint without shares.
func NewBlueprint(title string, questions int) Blueprint {
	return Blueprint{
		Title: title, Questions: questions, Options: defaultOptions, Cut: defaultCut,
		Book: OpenBook, Order: Mixed, PartialCredit: true, Variants: 1,
	}
}

// EvenBlueprint is a blueprint of n questions spread evenly over the kinds that
// a bank has. A kind of which there are too few gives what it has, and the
// others make up for it.
func EvenBlueprint(title string, n int, bank []*Question) Blueprint {
	b := NewBlueprint(title, n)
	var names []string
	have := map[string]int{}
	seen := map[string]bool{}
	classes := duplicateClasses(bank)
	for i, q := range bank {
		if !slices.Contains(names, q.Kind) {
			names = append(names, q.Kind)
		}
		if k := q.Kind + "\x00" + strconv.Itoa(classes[i]); !seen[k] {
			seen[k] = true
			have[q.Kind]++
		}
	}
	count := map[string]int{}
	for left, more := n, true; left > 0 && more; {
		more = false
		for _, name := range names {
			if left > 0 && count[name] < have[name] {
				count[name]++
				left--
				more = true
			}
		}
	}
	for _, name := range names {
		if count[name] > 0 {
			b.Quotas = append(b.Quotas, Quota{By: KindAttribute, Of: name, Count: count[name]})
		}
	}
	return b
}

// BlueprintFault is something that is wrong in a blueprint.
type BlueprintFault struct {
	Line int    `json:"line,omitempty"` // of the file, from 1; 0 for none
	What string `json:"what"`
	Mend string `json:"mend"`
}

// BlueprintError holds everything that is wrong in a blueprint.
type BlueprintError struct{ Faults []BlueprintFault }

func (e *BlueprintError) Error() string {
	var s strings.Builder
	for i, f := range e.Faults {
		if i > 0 {
			s.WriteByte('\n')
		}
		if f.Line > 0 {
			fmt.Fprintf(&s, "blueprint line %d: %s; %s", f.Line, f.What, f.Mend)
		} else {
			fmt.Fprintf(&s, "blueprint: %s; %s", f.What, f.Mend)
		}
	}
	return s.String()
}

// Check finds what is wrong with a blueprint in itself, whatever the bank:
// numbers out of range, names that do not exist, lines that exceed the whole.
// The error is a [*BlueprintError].
func (b *Blueprint) Check() error {
	var e BlueprintError
	add := func(line int, mend, what string, args ...any) {
		e.Faults = append(e.Faults, BlueprintFault{line, fmt.Sprintf(what, args...), mend})
	}
	if b.Questions < 1 || b.Questions > maxQuestions {
		add(0, fmt.Sprintf("write a number from 1 to %d", maxQuestions), "questions is %d", b.Questions)
	}
	if b.Options != 0 && (b.Options < leastWrong+1 || b.Options > 8) {
		add(0, fmt.Sprintf("write a number from %d to 8", leastWrong+1), "options is %d", b.Options)
	}
	if b.Variants < 1 || b.Variants > maxVariants {
		add(0, fmt.Sprintf("write a number from 1 to %d", maxVariants), "variants is %d", b.Variants)
	}
	if b.TimeLimit < 0 || b.TimeLimit > maxTimeLimit {
		add(0, "write a time up to 24h, such as 45m", "the time limit is %d minutes", b.TimeLimit)
	}
	if !(b.Cut >= 0 && b.Cut <= 1) {
		add(0, "write a share of the points such as 80%", "the cut is %v", b.Cut)
	}
	if b.Book != OpenBook && b.Book != ClosedBook {
		add(0, "write open or closed", "book is %q", b.Book)
	}
	if b.Order != Mixed && b.Order != ByKind && b.Order != EasyFirst {
		add(0, "write mixed, by kind or easy first", "order is %q", b.Order)
	}
	b.checkQuotas(add)
	if len(e.Faults) > 0 {
		return &e
	}
	return nil
}

// maxQuotas bounds the lines of a blueprint.
const maxQuotas = 200

func (b *Blueprint) checkQuotas(add func(line int, mend, what string, args ...any)) {
	if len(b.Quotas) > maxQuotas {
		add(b.Quotas[maxQuotas].Line, fmt.Sprintf("keep no more than %d", maxQuotas), "there are %d lines of shares", len(b.Quotas))
		return
	}
	type key struct {
		by Attribute
		of string
		bd Bound
	}
	seen := map[key]int{}
	for i := range b.Quotas {
		q := &b.Quotas[i]
		k := key{q.By, q.Of, q.Bound}
		if j, twice := seen[k]; twice {
			add(q.Line, fmt.Sprintf("keep one of the two (the other stands in line %d)", b.Quotas[j].Line), "%s is given twice", q.Name())
		}
		seen[k] = i
		switch {
		case !slices.Contains(Attributes(), q.By):
			add(q.Line, "shares can be by "+joinTexts(Attributes(), func(a Attribute) string { return string(a) }, ", "), "there are no shares by %q", q.By)
			continue
		case q.By == BoundaryAttribute && q.Of != "", q.By != BoundaryAttribute && strings.TrimSpace(q.Of) == "":
			add(q.Line, "write kind: {edition: 30%} or boundary: 30%", "%s has no name to count by, or boundary has one", q.By)
		case q.By == DifficultyAttribute && !slices.Contains(Bands(), DifficultyBand(q.Of)):
			add(q.Line, "write easy, medium or hard", "there is no difficulty %q", q.Of)
		case q.Bound != Exactly && q.Bound != AtLeast && q.Bound != AtMost:
			add(q.Line, "write at least or at most, or leave it out", "there is no bound %q", q.Bound)
		}
		if !(q.Share >= 0 && q.Share <= 1) {
			add(q.Line, "write a share from 0% to 100%", "%s: the share is %v", q.Name(), q.Share)
		}
		if q.Count < 0 || q.Count > b.Questions {
			add(q.Line, fmt.Sprintf("write a number from 0 to %d, or a share with %%", b.Questions), "%s: %d questions of %d", q.Name(), q.Count, b.Questions)
		}
	}
	// A question has one kind, skill and difficulty: their lines cannot make up
	// more than the whole.
	for _, by := range [...]Attribute{KindAttribute, SkillAttribute, DifficultyAttribute} {
		var sum float64
		for i := range b.Quotas {
			q := &b.Quotas[i]
			if q.By != by || q.Bound == AtMost {
				continue
			}
			before := sum
			sum += max(q.Share, float64(q.Count)/float64(max(1, b.Questions)))
			if before <= 1+rounding && sum > 1+rounding {
				add(q.Line, "lower one of the shares; together they may be 100% at most", "the shares by %s come to %s with this line", by, percent(b.sum(by)))
			}
		}
	}
}

// sum adds the shares of an attribute that must be met.
func (b *Blueprint) sum(by Attribute) float64 {
	var sum float64
	for i := range b.Quotas {
		if q := &b.Quotas[i]; q.By == by && q.Bound != AtMost {
			sum += max(q.Share, float64(q.Count)/float64(max(1, b.Questions)))
		}
	}
	return sum
}

func percent(share float64) string {
	return strconv.FormatFloat(math.Round(share*1e4)/1e2, 'f', -1, 64) + "%"
}
