package banks

// Weights are the weights of a linear logistic model of difficulty (Fischer
// 1973): the difficulty of a question in logits is the weight of its kind plus
// those of its form and of its features. Missing entries weigh nothing.
type Weights map[string]float64

// StartingWeights are our own guesses, to be used until the organisation has
// answers of its own to fit an LLTM to. Harder is greater; a question of weight
// zero is answered rightly half the time by a technician of ability zero.
func StartingWeights() Weights {
	return Weights{
		"kind:job-class": -1.6, "kind:read-code": -0.8, "kind:factory-code": -0.4, "kind:fitted": -0.9,
		"kind:group": -0.7, "kind:publication": -0.3, "kind:edition": -0.2, "kind:location": -0.1, "kind:due": 0.3,
		"kind:specification": -0.4, "kind:guide": -0.5, "kind:next-step": -0.2, "kind:trouble-code": -0.1,
		"kind:latest": 0.2, "kind:chase": 0.8,
		"form:some": 0.4, "form:typed": 0.3, "form:number": 0.3, "form:order": 0.4,
		"boundary": 0.6, "keyed by another unit": 0.5, "serial limit": 0.2, "both limits": 0.4, "superseded": 0.5,
		"bulletin": 0.6, "synonym": 0.3, "part of a major component": 0.4, "several cards": 0.3, "ambient band": 0.3,
		"condition": 0.2, "two counters": 0.4, "first service": 0.3, "side": 0.2, "another chapter": 0.3, "packed bytes": 0.6,
	}
}

// Logit is the difficulty predicted for a question.
func (w Weights) Logit(kind string, form Form, features []string) float64 {
	sum := w["kind:"+kind] + w["form:"+string(form)]
	for _, f := range features {
		sum += w[f]
	}
	return sum
}
