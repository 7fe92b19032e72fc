package marking

import (
	"cmp"
	"maps"
	"slices"

	"rightpage/banks"
	"rightpage/banks/resolver"
	"rightpage/grading/psychometrics"
	"rightpage/quiz"
)

// Comparison is of a question between two groups of people of equal standing.
type Comparison struct {
	By        string // ByXxx
	Reference string // name of the group compared with
	Focal     string // and of the one asked about
	Items     []psychometrics.ItemComparison
	Says      []psychometrics.Statement // of what can be told; one that there are too few where nothing can
}

// What groups are made by.
const (
	BySite   = "site"
	ByLocale = "language"
	ByMedium = "medium"
)

// groupings gives, by what and for each group, who is in it; "" is nobody's.
func groupings(d *answered, sites map[string]string) map[string][]string {
	out := map[string][]string{}
	for v, p := range d.people {
		out[BySite] = append(out[BySite], cmp.Or(sites[p.Site], p.Site))
		out[ByLocale] = append(out[ByLocale], p.Locale)
		out[ByMedium] = append(out[ByMedium], string(cmp.Or(d.attempts[v].Medium, quiz.OnScreen)))
	}
	return out
}

// compare looks for questions that are harder for one group than for people of
// equal standing in the others.
func (st *Statistics) compare(d *answered, x scale, sites map[string]string) {
	standing := make([]float64, len(x.abilities))
	for v, a := range x.abilities {
		standing[v] = a.Theta
	}
	if len(standing) != len(d.people) {
		return
	}
	all := groupings(d, sites)
	for _, by := range []string{BySite, ByLocale, ByMedium} {
		of := all[by]
		sizes := map[string]int{}
		for _, g := range of {
			if g != "" {
				sizes[g]++
			}
		}
		if len(sizes) < 2 {
			continue
		}
		names := slices.Sorted(maps.Keys(sizes))
		slices.SortStableFunc(names, func(a, b string) int { return sizes[b] - sizes[a] })
		// With two groups one comparison says it all; of more, each is compared
		// with all the others.
		focal, reference := names, ""
		if len(names) == 2 {
			focal, reference = names[1:], names[0]
		}
		for _, g := range focal {
			st.compareGroup(d, by, g, reference, of, standing)
		}
	}
}

func (st *Statistics) compareGroup(d *answered, by, focal, reference string, of []string, standing []float64) {
	members := make([]psychometrics.Membership, len(of))
	for v, g := range of {
		switch g {
		case "":
		case focal:
			members[v] = psychometrics.Focal
		default:
			members[v] = psychometrics.Reference
		}
	}
	items, err := psychometrics.CompareGroups(d.responses, members, psychometrics.ComparisonOptions{Standing: standing})
	if err != nil {
		st.Notes = append(st.Notes, err.Error())
		return
	}
	if reference == "" {
		reference = "the others"
	}
	c := Comparison{By: by, Reference: reference, Focal: focal, Items: items}
	fewest := 0
	for i, it := range items {
		if it.Class != psychometrics.TooFewToTell {
			c.Says = append(c.Says, psychometrics.SayComparison(it, reference, focal))
		}
		if it.FocalAnswers > items[fewest].FocalAnswers {
			fewest = i
		}
	}
	if len(c.Says) == 0 && len(items) > 0 {
		c.Says = append(c.Says, psychometrics.SayComparison(items[fewest], reference, focal))
	}
	st.Comparisons = append(st.Comparisons, c)
}

// alike screens pairs of people for answers that are too much alike.
func (st *Statistics) alike(d *answered, x scale) {
	c := psychometrics.OptionChoices{Choices: make([][]int, len(d.scores))}
	var columns []int
	for i, q := range d.questions {
		key := slices.IndexFunc(q.Options, func(o banks.Option) bool { return o.Right })
		if q.Form != banks.OneOf || key < 0 {
			continue
		}
		columns = append(columns, i)
		slips := make([]int, len(q.Options))
		for j, o := range q.Options {
			slips[j] = -1
			if o.Slip != resolver.NoSlip {
				slips[j] = int(o.Slip)
			}
		}
		c.Options, c.Key, c.Difficulty, c.Slips = append(c.Options, len(q.Options)), append(c.Key, key), append(c.Difficulty, x.difficulty[i]), append(c.Slips, slips)
	}
	names := make([]string, len(d.people))
	for v := range d.scores {
		names[v] = cmp.Or(d.people[v].Name, d.people[v].ID)
		for _, i := range columns {
			c.Choices[v] = append(c.Choices[v], max(-1, chosen(d.questions[i], d.scores[v][i])))
		}
	}
	const falseAlarms = 0.05
	var s psychometrics.AlikeScreen
	if len(columns) > 0 && len(d.scores) > 1 {
		var err error
		if s, err = psychometrics.FindAlike(c, falseAlarms); err != nil {
			st.Notes = append(st.Notes, err.Error())
			return
		}
	}
	st.Alike = psychometrics.SayAlike(s, names)
	for i, p := range s.Pairs {
		st.Look = append(st.Look, Look{Reason: LookAlike, People: []quiz.Person{d.people[p.A], d.people[p.B]},
			Attempts: []string{d.attempts[p.A].Attempt.ID, d.attempts[p.B].Attempt.ID}, Says: st.Alike[i]})
	}
}

// Look is something that deserves another look. It is a reason to look, and
// proves nothing.
type Look struct {
	Reason   string                  // LookXxx
	Item     int                     // index into Statistics.Items, for reasons about a question
	People   []quiz.Person           // for reasons about people
	Attempts []string                // theirs
	Says     psychometrics.Statement // what the figures say; its Phrase is empty where the reason says it all
	Count    int                     // of disputes, answers not read, or people who chose the option
	Letter   string                  // of the option
}

// The reasons to look again, those about questions first.
const (
	LookDisputed = "disputed" // there are open disputes about the question
	LookUnread   = "unread"   // answers to it could not be read: is it clear what is to be written?
	LookOption   = "option"   // more people chose a wrong option than the key: is the key right?
	LookSorts    = "sorts"    // able people miss it more than others do
	LookErratic  = "erratic"  // its answers fit the others badly
	LookGroup    = "group"    // it is harder for a group than for people of equal standing
	LookPattern  = "pattern"  // a person missed easy questions and hit hard ones
	LookAlike    = "alike"    // two people's answers are more alike than each on their own would give
)

// look lists what deserves another look.
func (st *Statistics) look() {
	pairs := st.Look
	st.Look = nil
	for i := range st.Items {
		it := &st.Items[i]
		add := func(l Look) {
			l.Item = i
			st.Look = append(st.Look, l)
		}
		if it.Disputes > 0 {
			add(Look{Reason: LookDisputed, Count: it.Disputes})
		}
		if it.Unread > 1 {
			add(Look{Reason: LookUnread, Count: it.Unread})
		}
		if o, n := it.rival(); n > 0 {
			add(Look{Reason: LookOption, Letter: o, Count: n})
		}
		// A correlation whose interval lies below zero altogether.
		if it.Answered >= psychometrics.MinCorrelationPeople && it.Sorts.Values["high"].Number < 0 {
			add(Look{Reason: LookSorts, Says: it.Sorts})
		}
		// Two-sided 1 %.
		if it.OutfitZ > 2.58 {
			add(Look{Reason: LookErratic})
		}
		for _, c := range st.Comparisons {
			if x := c.Items[i]; x.Class == psychometrics.Large {
				add(Look{Reason: LookGroup, Says: psychometrics.SayComparison(x, c.Reference, c.Focal)})
			}
		}
	}
	for _, p := range st.Abilities {
		if p.Pattern.Phrase == psychometrics.PhraseFitLook {
			st.Look = append(st.Look, Look{Reason: LookPattern, People: []quiz.Person{p.Person}, Attempts: []string{p.Attempt.ID}, Says: p.Pattern})
		}
	}
	st.Look = append(st.Look, pairs...)
}

// rival is the wrong option that more people chose than the key, by more than
// chance: the 95 % interval of its share among both lies above one half.
func (it *ItemStatistics) rival() (letter string, count int) {
	key := 0
	for _, o := range it.Options {
		if o.Option.Right {
			key += o.Chosen
		}
	}
	for _, o := range it.Options {
		if o.Option.Right || o.Chosen <= count || o.Chosen+key < psychometrics.MinShareAnswers {
			continue
		}
		if low, _ := psychometrics.WilsonInterval(o.Chosen, o.Chosen+key); low > 0.5 {
			letter, count = o.Letter, o.Chosen
		}
	}
	return letter, count
}
