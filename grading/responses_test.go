package grading

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"slices"

	"rightpage/banks"
)

// sampleFile writes a response file in the form with one answer a row.
func sampleFile(d *demo, people, questions int) ([]byte, func(string) (*banks.Question, bool)) {
	rng := rand.New(rand.NewPCG(5, 1))
	byID := map[string]*banks.Question{}
	for _, q := range d.bank {
		byID[q.ID] = q
	}
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write([]string{"person", "question", "answer"})
	for p := range people {
		for _, q := range d.bank[:questions] {
			given := KeyAnswer(q)
			var wrong []string
			for a := range SlipAnswers(q) {
				wrong = append(wrong, a)
			}
			slices.Sort(wrong)
			if len(wrong) > 0 && rng.IntN(3) == 0 {
				given = wrong[rng.IntN(len(wrong))]
			}
			_ = w.Write([]string{fmt.Sprintf("Person %03d", p), q.ID, given})
		}
	}
	w.Flush()
	return b.Bytes(), func(id string) (*banks.Question, bool) { q, ok := byID[id]; return q, ok }
}
