package grading

import (
	"fmt"
	"math"

	"rightpage/grading/psychometrics"
)

// Expect says what share of the points to expect of the person on other
// questions of the kind: the 95 % interval of [psychometrics.WilsonInterval], in
// which points that are not whole are rounded. With fewer than
// [psychometrics.MinShareAnswers] answers enough is false, and nothing is to be
// said.
func (p PersonResult) Expect() (low, high float64, enough bool) {
	low, high = psychometrics.WilsonInterval(int(math.Round(p.Points)), p.Of)
	return low, high, p.Of >= psychometrics.MinShareAnswers
}

// ExpectText says [PersonResult.Expect] in a few words: "64 to 95 %", "too few
// to tell".
func (p PersonResult) ExpectText() string {
	low, high, enough := p.Expect()
	if !enough {
		return "too few to tell"
	}
	return fmt.Sprintf("%.0f to %.0f %%", 100*low, 100*high)
}

// Close tells whether a share to pass by lies within what is to be expected, so
// that another set of questions might have decided otherwise. Where there are
// too few answers to tell it always might.
func (p PersonResult) Close(cut float64) bool {
	low, high, enough := p.Expect()
	return !enough || low < cut && cut <= high
}
