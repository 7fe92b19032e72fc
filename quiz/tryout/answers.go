package tryout

import (
	"bytes"
	"encoding/csv"
	"math/rand/v2"
	"slices"

	"rightpage/banks"
	"rightpage/grading"
)

// madeUpAnswers writes a response file as it comes from a spreadsheet: three
// people of different skill, lower case here and there, an empty row, a
// question that does not exist and an answer that cannot be read.
func madeUpAnswers(questions []*banks.Question, seed uint64) []byte {
	rng := rand.New(rand.NewPCG(seed, 5))
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write([]string{"person", "question", "answer"})
	for _, p := range []struct {
		name  string
		skill float64
	}{{"Ilse Marrow", 0.95}, {"Dov Pettigrew", 0.7}, {"Sanna Quill", 0.45}} {
		for i, q := range questions {
			answer := grading.KeyAnswer(q)
			if p.skill < 0.9 && rng.Float64() > p.skill || p.skill > 0.9 && i == len(questions)/2 {
				if slip, ok := slipAnswer(q, rng); ok {
					answer = slip
				}
			}
			if i%7 == 3 {
				answer = " " + answer + " "
			}
			_ = w.Write([]string{p.name, q.ID, answer})
		}
	}
	_ = w.Write([]string{"", "", ""})
	_ = w.Write([]string{"Sanna Quill", "no-such-question", "B"})
	_ = w.Write([]string{"sanna  quill", questions[0].ID, "A"})
	w.Flush()
	return b.Bytes()
}

// slipAnswer chooses a wrong answer that a slip leads to.
func slipAnswer(q *banks.Question, rng *rand.Rand) (string, bool) {
	wrong := grading.SlipAnswers(q)
	if len(wrong) == 0 {
		return "", false
	}
	list := make([]string, 0, len(wrong))
	for a := range wrong {
		list = append(list, a)
	}
	slices.Sort(list)
	return list[rng.IntN(len(list))], true
}
