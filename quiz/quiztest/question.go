package quiztest

import (
	"rightpage/banks"
	"rightpage/banks/resolver"
)

// Sealed encodes a question made up by a test, which sets its ID, and checks it.
func Sealed(q *banks.Question) *banks.Question {
	q.Catalog, q.Revision = "Made up", "1"
	if _, err := banks.Encode(q); err != nil {
		panic(err)
	}
	if err := q.Check(); err != nil {
		panic(err)
	}
	return q
}

// Choices makes options of texts, of which the one at key is right; none if key is
// negative.
func Choices(key int, texts ...string) []banks.Option {
	list := make([]banks.Option, len(texts))
	for i, t := range texts {
		list[i] = banks.Option{Text: t, Value: "value " + t, Slip: resolver.LimitOffByOne}
		if i == key {
			list[i].Right, list[i].Slip = true, resolver.NoSlip
		}
	}
	return list
}
