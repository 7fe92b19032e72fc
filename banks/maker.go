package banks

import (
	"hash/fnv"
	"math/rand/v2"
	"slices"
	"strings"

	"rightpage/banks/resolver"
)

// Maker is the workbench of one goroutine: it holds the question under way and
// the memory that can be used again. A kind's Make fills it in.
type Maker struct {
	*Source
	Q       Question
	Rand    *rand.Rand
	Right   resolver.Answer // the answer to Q.Query, after Ask
	Wrong   resolver.Answer // the answer with a slip, within EachSlip
	Options int             // options that a question of one or several should have

	kind   *Kind
	pcg    *rand.PCG
	keys   []Option
	wrongs []Option
	breaks []resolver.Break
	seen   []int32 // what was chosen at the step already
	weight Weights
}

// NewMaker makes a workbench.
func NewMaker(s *Source, w Weights) *Maker {
	m := &Maker{Source: s, Options: 4, pcg: rand.NewPCG(0, 0), weight: w}
	m.Rand = rand.New(m.pcg)
	return m
}

// Make makes the question of a kind at a site. The same catalog, seed, kind and
// site give the same question, whatever was made before. It tells whether
// there is one.
func (m *Maker) Make(k *Kind, s Site, seed uint64) bool {
	h := fnv.New64a()
	h.Write([]byte(k.Name))
	m.pcg.Seed(seed^h.Sum64(), uint64(uint32(s.Row))<<32|uint64(uint32(s.Card))^uint64(s.Extra)<<17^uint64(s.At)<<61)
	m.kind = k
	m.keys, m.wrongs = m.keys[:0], m.wrongs[:0]
	m.Q = Question{
		Catalog: m.Meta.Title, Revision: m.Meta.Revision, Kind: k.Name, Skill: k.Skill,
		Order: make([]Line, 0, 6), Boundary: s.At != Inside, Made: Made{Site: s, Seed: seed, Options: m.Options},
	}
	if !k.Make(m, s) {
		return false
	}
	if m.Q.Boundary {
		m.Feature("boundary")
	}
	m.Q.About.Within = m.Above(m.Q.About.Group)
	slices.Sort(m.Q.Features)
	m.Q.Features = slices.Compact(m.Q.Features)
	m.Q.Logit = m.weight.Logit(k.Name, m.Q.Form, m.Q.Features)
	return true
}

// Feature notes a rule that the question exercises.
func (m *Maker) Feature(name string) { m.Q.Features = append(m.Q.Features, name) }

// FeatureIf notes a rule where it counts.
func (m *Maker) FeatureIf(when bool, name string) {
	if when {
		m.Feature(name)
	}
}

// Pick chooses one of several wordings.
func (m *Maker) Pick(wordings ...string) string { return wordings[m.Rand.IntN(len(wordings))] }

// Line adds a line to the repair order or plate.
func (m *Maker) Line(label, value string) {
	if value != "" {
		m.Q.Order = append(m.Q.Order, Line{label, value})
	}
}

// Ask resolves Q.Query into m.Right and tells whether the answer is found:
// unique and certain.
func (m *Maker) Ask() bool {
	m.R.Resolve(&m.Q.Query, resolver.Break{}, &m.Right)
	return m.Right.Status == resolver.Found
}

// EachSlip resolves Q.Query with each slip of the list in each of its variants
// and calls f with the result in m.Wrong.
func (m *Maker) EachSlip(slips []resolver.Slip, f func(b resolver.Break)) {
	for _, b := range m.allBreaks(slips) {
		m.R.Resolve(&m.Q.Query, b, &m.Wrong)
		f(b)
	}
}

// SomeSlips is like [Maker.EachSlip], but takes the slips in random order and
// stops when there are wrong options to choose from in plenty.
func (m *Maker) SomeSlips(slips []resolver.Slip, f func(b resolver.Break)) {
	all := m.allBreaks(slips)
	m.Rand.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	for _, b := range all {
		if len(m.wrongs) > m.Options {
			return
		}
		m.R.Resolve(&m.Q.Query, b, &m.Wrong)
		f(b)
	}
}

func (m *Maker) allBreaks(slips []resolver.Slip) []resolver.Break {
	m.breaks = m.breaks[:0]
	for _, s := range slips {
		for v := range s.Variants() {
			m.breaks = append(m.breaks, resolver.Break{Slip: s, Variant: v})
		}
	}
	return m.breaks
}

// KeyOption adds a right option, once.
func (m *Maker) KeyOption(text, value string) {
	if slices.ContainsFunc(m.keys, func(o Option) bool { return o.Value == value }) {
		return
	}
	m.keys = append(m.keys, Option{Text: text, Value: value, Right: true})
}

// WrongOption adds a wrong option that a slip leads to. One whose value or text
// is that of a key, or of a wrong option already there, is no distractor and
// is left out: a slip may lead to the right answer by accident.
func (m *Maker) WrongOption(text, value string, b resolver.Break) {
	if text == "" || value == "" {
		return
	}
	same := func(o Option) bool { return o.Value == value || strings.EqualFold(o.Text, text) }
	if slices.ContainsFunc(m.keys, same) || slices.ContainsFunc(m.wrongs, same) {
		return
	}
	m.wrongs = append(m.wrongs, Option{Text: text, Value: value, Slip: b.Slip, Variant: b.Variant})
}

// StepOptions adds the key and the wrong options of a question about one step
// of the lookup: what is chosen there, and what is chosen with each slip.
func (m *Maker) StepOptions(step resolver.Step, slips []resolver.Slip) bool {
	value, text, ok := m.R.StepValue(&m.Q.Query, &m.Right, step)
	if !ok {
		return false
	}
	m.KeyOption(text, value)
	m.seen = append(m.seen[:0], m.Right.Path[step])
	m.SomeSlips(slips, func(b resolver.Break) {
		if slices.Contains(m.seen, m.Wrong.Path[step]) {
			return
		}
		if v, t, ok := m.R.StepValue(&m.Q.Query, &m.Wrong, step); ok {
			m.seen = append(m.seen, m.Wrong.Path[step])
			m.WrongOption(t, v, b)
		}
	})
	return true
}

// leastWrong is how many wrong options a question must have. With one alone it
// would be a toss of a coin.
const leastWrong = 2

// OneOf closes a question with one right option among at most Options. Where
// the slips give fewer than two wrong options the question becomes one with a typed answer,
// never one padded with options that no slip leads to; charset says what the
// typed answer is made of, and "" that there is no typed form, so that the site
// has no question.
func (m *Maker) OneOf(charset string) bool {
	if len(m.keys) != 1 {
		return false
	}
	if len(m.wrongs) < leastWrong {
		if charset == "" {
			return false
		}
		return m.Typed(charset, m.keys[0].Text)
	}
	m.Q.Form = OneOf
	m.Q.Options = append([]Option{m.keys[0]}, m.choose(min(m.Options-1, len(m.wrongs)))...)
	m.shuffle(m.Q.Options)
	return true
}

// SomeOf closes a question with one right option or several among at least
// atLeast options in all.
func (m *Maker) SomeOf(atLeast, atMost int) bool {
	if len(m.keys) == 0 || len(m.keys) > atMost-1 || len(m.wrongs) == 0 || len(m.keys)+len(m.wrongs) < atLeast {
		return false
	}
	m.Q.Form = SomeOf
	m.Q.Options = append(slices.Clone(m.keys), m.choose(min(atMost-len(m.keys), len(m.wrongs)))...)
	m.shuffle(m.Q.Options)
	// What somebody marks who makes a slip, of the options that are offered.
	sets := m.Q.Slipped
	m.Q.Slipped = nil
	for _, s := range sets {
		marked := slices.DeleteFunc(strings.Split(s.Value, ";"), func(v string) bool {
			return !slices.ContainsFunc(m.Q.Options, func(o Option) bool { return o.Value == v })
		})
		m.SlipSet(marked, resolver.Break{Slip: s.Slip, Variant: s.Variant})
	}
	return true
}

// SlipSet notes for a question of form SomeOf which options somebody marks who
// makes a slip, unless that is the right set.
func (m *Maker) SlipSet(values []string, b resolver.Break) {
	var right []string
	for _, k := range m.keys {
		right = append(right, k.Value)
	}
	set := OptionSet(values)
	if set == "" || set == OptionSet(right) || slices.ContainsFunc(m.Q.Slipped, func(s Slipped) bool { return s.Value == set }) {
		return
	}
	m.Q.Slipped = append(m.Q.Slipped, Slipped{set, b.Slip, b.Variant})
}

// OptionSet is the form in which a set of option values is compared: sorted,
// each once, joined by semicolons.
func OptionSet(values []string) string {
	v := slices.Clone(values)
	slices.Sort(v)
	return strings.Join(slices.Compact(v), ";")
}

// Typed closes a question with a typed answer; accept are the right answers,
// the one to show first.
func (m *Maker) Typed(charset string, accept ...string) bool {
	m.Q.Form = Typed
	m.Q.Key = Key{Accept: accept, Charset: charset}
	for _, w := range m.wrongs {
		m.Q.Slipped = append(m.Q.Slipped, Slipped{w.Text, w.Slip, w.Variant})
	}
	return true
}

// Number closes a question with a number and its unit.
func (m *Maker) Number(value float64, unit string, tolerance float64) bool {
	m.Q.Form = Number
	m.Q.Key = Key{Number: value, Unit: unit, Tolerance: tolerance}
	for _, w := range m.wrongs {
		m.Q.Slipped = append(m.Q.Slipped, Slipped{w.Value, w.Slip, w.Variant})
	}
	return true
}

// Ordered closes a question whose options are to be put in order: the keys, in
// the order in which they were added.
func (m *Maker) Ordered() bool {
	if len(m.keys) < 3 {
		return false
	}
	m.Q.Form = Ordered
	m.Q.Options = slices.Clone(m.keys)
	for _, k := range m.keys {
		m.Q.Key.Order = append(m.Q.Key.Order, k.Value)
	}
	m.shuffle(m.Q.Options)
	return true
}

// choose takes n wrong options at random, of as many different slips as there
// are.
func (m *Maker) choose(n int) []Option {
	m.shuffle(m.wrongs)
	turn := make([]int, len(m.wrongs))
	for i := range m.wrongs {
		for j := range m.wrongs[:i] {
			if m.wrongs[j].Slip == m.wrongs[i].Slip {
				turn[i]++
			}
		}
	}
	out := make([]Option, 0, max(0, min(n, len(m.wrongs))))
	for round := 0; len(out) < n; round++ {
		for i, w := range m.wrongs {
			if turn[i] == round && len(out) < n {
				out = append(out, w)
			}
		}
	}
	return out
}

func (m *Maker) shuffle(o []Option) {
	m.Rand.Shuffle(len(o), func(i, j int) { o[i], o[j] = o[j], o[i] })
}

// TraceTo writes the short trace of m.Right up to a step, the hazards of what
// was found and their cautions.
func (m *Maker) TraceTo(last resolver.Step) {
	if m.Q.Trace == nil {
		m.Q.Trace = make([]TraceLine, 0, int(last)+1)
	}
	for s := resolver.ClassifyStep; s <= last; s++ {
		if _, text, ok := m.R.StepValue(&m.Q.Query, &m.Right, s); ok {
			m.Q.Trace = append(m.Q.Trace, TraceLine{s, text})
		}
	}
	m.Warn(m.R.Hazards(&m.Right))
}

// Trace adds a line to the short trace.
func (m *Maker) Trace(s resolver.Step, text string) {
	m.Q.Trace = append(m.Q.Trace, TraceLine{s, text})
}

// Warn adds hazard words and their cautions.
func (m *Maker) Warn(hazards []string) {
	for _, h := range hazards {
		if slices.Contains(m.Q.Hazards, h) {
			continue
		}
		m.Q.Hazards = append(m.Q.Hazards, h)
		if c := m.Meta.Hazards[h]; c != "" {
			m.Q.Cautions = append(m.Q.Cautions, c)
		}
	}
}

// Distractors collects wrong options for a step of a chase apart from those of
// the question: each differs from the key and from the others.
func (m *Maker) Distractors(key Option, collect func(add func(text, value string, b resolver.Break))) []Option {
	keys, wrongs := m.keys, m.wrongs
	m.keys, m.wrongs = []Option{key}, nil
	collect(m.WrongOption)
	out := m.wrongs
	m.keys, m.wrongs = keys, wrongs
	return out
}

// Mixed gives the key and up to n of the wrong options, of as many different
// slips as there are, in random order.
func (m *Maker) Mixed(key Option, wrong []Option, n int) []Option {
	wrongs := m.wrongs
	m.wrongs = slices.Clone(wrong)
	out := append([]Option{key}, m.choose(min(n, len(wrong)))...)
	m.wrongs = wrongs
	m.shuffle(out)
	return out
}
