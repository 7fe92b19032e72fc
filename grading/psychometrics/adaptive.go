package psychometrics

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// Exposure limits how many people see the same question, so that answers do not
// travel around the workshop.
type Exposure struct {
	// Limit is the largest share of people who may see a question, above 0 and
	// at most 1; 0 means no limit.
	Limit float64
	// People is how many people are being served. A question may always be
	// shown to one of them, whatever the share.
	People int
}

// allows says whether a question already shown so often may be shown again.
func (e Exposure) allows(shown int) bool {
	return e.Limit <= 0 || shown < 1 || float64(shown+1) <= e.Limit*float64(e.People)
}

func (e Exposure) validate() error {
	if !(e.Limit >= 0 && e.Limit <= 1) || e.People < 0 {
		return fmt.Errorf("exposure limit %v for %d people; give a share from 0 to 1 and a count: %w", e.Limit, e.People, ErrRange)
	}
	return nil
}

// PracticeQuestion is a question that could be asked next.
type PracticeQuestion struct {
	Skill int
	// Difficulty is relative to the skill's average question, in logits, as in
	// [SkillAnswer].
	Difficulty float64
	// Shown is to how many people it has been shown, Seen whether this person
	// is one of them.
	Shown int
	Seen  bool
}

// PracticeSkill is where a person stands in a skill.
type PracticeSkill struct {
	MasteryParameters
	// Now is the chance that the person knows the skill today, from
	// [MasteryParameters.KnownAt].
	Now float64
}

// PracticeRules governs [NextPractice].
type PracticeRules struct {
	// Target is the chance of knowing a skill that ends its practice, above 0
	// and below 1; 0.95 is the custom (Corbett & Anderson 1995).
	Target float64
	// Among is the number of best questions to pick one from at random, so that
	// two people side by side do not get the same one; 0 means 5.
	Among    int
	Exposure Exposure
}

// PracticeChoice is the result of [NextPractice].
type PracticeChoice struct {
	// Done says that every skill has reached the target.
	Done bool
	// Question is an index into the questions, −1 if Done or if no question of
	// an unfinished skill is left.
	Question, Skill int
	// Information is what the answer is expected to tell about whether the
	// skill is known, in bits (at most 1).
	Information float64
	// OverLimit says that every question left in the skill was shown to as many
	// people as the limit allows, so the one shown least was taken: time to
	// make more questions.
	OverLimit bool
}

// NextPractice picks the next practice question: from the weakest skill, the
// one with the smallest chance of being known among those below the target and
// with questions left, a question that this person has not seen, that not too
// many others have, and whose answer tells most about the skill,
//
//	I = H(P(right)) − Now·H(P(right | known)) − (1 − Now)·H(P(right | not known))
//
// with H the entropy of a yes-or-no outcome in bits (Shannon; the mutual
// information of answer and state). One of the best Among is taken at random
// (Kingsbury & Zara 1989, Applied Measurement in Education 2). Questions that a
// person has seen come again only when nothing else is left in the skill.
//
// All skills at the target: Done. No skills: [ErrEmpty]. A question of a skill
// that is not listed is a [*DataError]; one without a finite difficulty is
// never asked. rng must not be nil.
func NextPractice(skills []PracticeSkill, questions []PracticeQuestion, rules PracticeRules, rng *rand.Rand) (PracticeChoice, error) {
	if len(skills) == 0 {
		return PracticeChoice{}, fmt.Errorf("practice of no skills: %w", ErrEmpty)
	}
	if !(rules.Target > 0 && rules.Target < 1) {
		return PracticeChoice{}, fmt.Errorf("practice aims at a chance of %v; give a value above 0 and below 1: %w", rules.Target, ErrRange)
	}
	if err := rules.Exposure.validate(); err != nil {
		return PracticeChoice{}, err
	}
	for k, s := range skills {
		if err := s.validate(); err != nil {
			return PracticeChoice{}, fmt.Errorf("skill %d: %w", k+1, err)
		}
		if !(s.Now >= 0 && s.Now <= 1) {
			return PracticeChoice{}, fmt.Errorf("skill %d: chance of being known is %v: %w", k+1, s.Now, ErrRange)
		}
	}
	among := rules.Among
	if among < 1 {
		among = 5
	}
	// Three classes: fresh and allowed, fresh, seen.
	type candidates [3][]int
	bySkill := make([]candidates, len(skills))
	for i, q := range questions {
		if q.Skill < 0 || q.Skill >= len(skills) {
			return PracticeChoice{}, &DataError{Row: i + 1, Err: ErrRange,
				Problem: fmt.Sprintf("question is of skill %d of %d", q.Skill, len(skills)),
				Mend:    "count skills from 0, or leave the question out"}
		}
		if !finite(q.Difficulty) {
			continue
		}
		class := 2
		if !q.Seen {
			class = 1
			if rules.Exposure.allows(q.Shown) {
				class = 0
			}
		}
		c := &bySkill[q.Skill]
		c[class] = append(c[class], i)
	}
	choice := PracticeChoice{Done: true, Question: -1, Skill: -1}
	for k, s := range skills {
		if s.Now >= rules.Target {
			continue
		}
		choice.Done = false
		c := &bySkill[k]
		if len(c[0])+len(c[1])+len(c[2]) > 0 && (choice.Skill < 0 || s.Now < skills[choice.Skill].Now) {
			choice.Skill = k
		}
	}
	if choice.Skill < 0 {
		return choice, nil
	}
	skill, c := skills[choice.Skill], &bySkill[choice.Skill]
	list := c[0]
	if len(list) == 0 {
		choice.OverLimit = len(c[1]) > 0
		list = c[1]
		if len(list) == 0 {
			list = c[2]
		}
		// The least shown ones only.
		least := math.MaxInt
		for _, i := range list {
			least = min(least, questions[i].Shown)
		}
		list = slices.DeleteFunc(slices.Clone(list), func(i int) bool { return questions[i].Shown > least })
	}
	choice.Question = pickAmong(list, among, rng, func(i int) float64 { return skill.information(questions[i].Difficulty) })
	choice.Information = skill.information(questions[choice.Question].Difficulty)
	return choice, nil
}

// pickAmong takes one of the n candidates of highest value at random; where
// values tie, the earlier candidate ranks higher.
func pickAmong(candidates []int, n int, rng *rand.Rand, value func(int) float64) int {
	type ranked struct {
		at    int
		value float64
	}
	best := make([]ranked, 0, n+1)
	for _, i := range candidates {
		v := value(i)
		if len(best) == n && v <= best[n-1].value {
			continue
		}
		at := len(best)
		for at > 0 && v > best[at-1].value {
			at--
		}
		best = slices.Insert(best, at, ranked{i, v})
		best = best[:min(len(best), n)]
	}
	return best[rng.IntN(len(best))].at
}

// information is the mutual information of answer and state, in bits.
func (s PracticeSkill) information(difficulty float64) float64 {
	k, u := s.rightIf(difficulty)
	return entropy(s.Now*k+(1-s.Now)*u) - s.Now*entropy(k) - (1-s.Now)*entropy(u)
}

func entropy(p float64) float64 {
	if p <= 0 || p >= 1 {
		return 0
	}
	return -(p*math.Log2(p) + (1-p)*math.Log2(1-p))
}
