package tryout

import (
	"bytes"
	"encoding/csv"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"rightpage/banks"
	"rightpage/grading"
)

// technician is somebody invented who answers the quiz.
type technician struct {
	name    string
	ability float64 // logits, on the scale of the predicted difficulty
}

// technicians are the twelve of a workshop of the usual size. The first always
// passes, so that there is somebody to certify.
func technicians() []technician {
	return []technician{
		{"Ilse Marrow", 4}, {"Dov Pettigrew", 0.8}, {"Sanna Quill", -0.3}, {"Odile Farthing", 2.2}, {"Bram Hollis", 1.4}, {"Tamsin Reedy", 0.2},
		{"Kasimir Lund", 1.8}, {"Wen Arkwright", 2.9}, {"Noor Thistle", 0.5}, {"Gethin Sallow", -0.8}, {"Ruta Combe", 1.1}, {"Fergal Stook", -0.1},
	}
}

// madeUpAnswers writes a response file as it comes from a spreadsheet: people of
// different skill, spaces and lower case here and there, an empty row, a
// question that does not exist, two marks where one is asked for, and somebody
// who answers twice. A question is answered rightly with the probability of the
// Rasch model; a wrong answer is one that a slip leads to.
func madeUpAnswers(questions []*banks.Question, seed uint64) []byte {
	rng := rand.New(rand.NewPCG(seed, 5))
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write([]string{"person", "question", "answer"})
	people := technicians()
	slip := firstSlip(questions, rng) // the one of the best of them
	one := slices.IndexFunc(questions, func(q *banks.Question) bool { return q.Form == banks.OneOf })
	twice := "" // the first answer of who answers a question twice
	for n, p := range people {
		for i, q := range questions {
			answer := grading.KeyAnswer(q)
			right := rng.Float64() < 1/(1+math.Exp(q.Logit-p.ability))
			if n == 0 {
				right = len(questions) < 10 || i != slip
			}
			switch {
			case right:
			case n == 2 && i == 5:
				answer = "" // left out
			default:
				answer = wrongAnswer(q, rng, answer)
			}
			switch i % 9 {
			case 3:
				answer = " " + answer + " "
			case 6:
				answer = strings.ToLower(answer)
			}
			if n == 2 && i == one {
				twice = answer
			}
			_ = w.Write([]string{p.name, q.ID, answer})
		}
		if n == len(people)/2 {
			_ = w.Write([]string{"", "", ""})
		}
	}
	_ = w.Write([]string{"Sanna Quill", "no-such-question", "B"})
	if one >= 0 {
		other := "A"
		if strings.EqualFold(strings.TrimSpace(twice), other) {
			other = "B"
		}
		_ = w.Write([]string{"sanna  quill", questions[one].ID, other})
		_ = w.Write([]string{"Late Comer", questions[one].ID, "A B"})
	}
	w.Flush()
	return b.Bytes()
}

// firstSlip finds a question in the second half that can be answered wrongly.
func firstSlip(questions []*banks.Question, rng *rand.Rand) int {
	for i := len(questions) / 2; i < len(questions); i++ {
		if key := grading.KeyAnswer(questions[i]); wrongAnswer(questions[i], rng, key) != key {
			return i
		}
	}
	return -1
}

// wrongAnswer chooses a wrong answer that a slip leads to. Where no slip is
// known it stays with the right one.
func wrongAnswer(q *banks.Question, rng *rand.Rand, right string) string {
	if q.Form == banks.Chase {
		return wrongChase(q, rng, right)
	}
	wrong := grading.SlipAnswers(q)
	if len(wrong) == 0 {
		return right
	}
	list := make([]string, 0, len(wrong))
	for a := range wrong {
		list = append(list, a)
	}
	slices.Sort(list)
	return list[rng.IntN(len(list))]
}

// wrongChase answers one step of a chase wrongly and the rest rightly.
func wrongChase(q *banks.Question, rng *rand.Rand, right string) string {
	steps := strings.Split(right, "|")
	if len(steps) != len(q.Steps) {
		return right
	}
	for _, i := range rng.Perm(len(steps)) {
		for j, o := range q.Steps[i].Options {
			if !o.Right {
				steps[i] = " " + banks.Letter(j) + " "
				return strings.TrimSpace(strings.Join(steps, "|"))
			}
		}
	}
	return right
}
