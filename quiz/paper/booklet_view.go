package paper

import (
	"strconv"
	"strings"
	"time"
)

// ResponseForm is how a question is answered.
type ResponseForm int

// The response forms.
const (
	ChooseOne     ResponseForm = iota // one of Options
	ChooseSeveral                     // one or more of Options
	TypedCode                         // a code or word, written in a box
	NumberUnit                        // a number with its unit, written in a box
	OrderSteps                        // Options put into order
	Chase                             // a whole lookup: Steps, each answered
)

// BoxKind is what a drawn box stands for.
type BoxKind int

// The kinds of box.
const (
	RepairOrder BoxKind = iota // the job as the service desk wrote it
	Plate                      // the identification plate on the unit
)

// Pair is one labelled value of a box, such as "Build date" "2029-06".
type Pair struct {
	Label, Value string
}

// Box is a repair order or an identification plate shown with a question.
type Box struct {
	Kind  BoxKind
	Title string // printed in the head of the box; empty gives the usual title
	Rows  []Pair
}

// MaxOptions is the most options that a question may offer: as many as the
// answer sheet has circles in a row.
const MaxOptions = 8

// MaxSteps is the most steps a chase may have: one letter each.
const MaxSteps = 26

// Question is one question as printed. What may be set depends on Form:
// Options for ChooseOne, ChooseSeveral and OrderSteps, Unit for NumberUnit,
// Steps for Chase.
type Question struct {
	Number   int // as printed, from 1
	Stem     string
	Boxes    []Box
	Cautions []string // hazards of the job, printed with the question
	Form     ResponseForm
	Options  []string // A, B, C… in this order, at most MaxOptions
	Unit     string   // the unit expected; empty: the person writes it too
	Steps    []ChaseStep
	Points   int // printed when above zero
}

// ChaseStep is one step of a chase. Form is any but Chase.
type ChaseStep struct {
	Prompt  string
	Form    ResponseForm
	Options []string
	Unit    string
}

// Booklet is one person's copy of a form, with all that its cover says.
type Booklet struct {
	Quiz         string // short id, part of the sheet code
	Variant      string // form variant, such as "B"; part of the sheet code
	PersonID     string // part of the sheet code
	PersonName   string // empty leaves a line to write on
	Site         string
	Organisation string
	Title        string
	Catalog      string // the catalog and revision that the form was made from
	Instructions []string
	Cautions     []string
	TimeLimit    time.Duration // zero: no limit
	PassMark     string        // as it is to be printed, such as "80 %"
	Questions    []Question
}

// OptionLetter is the letter of option i, from 0: A to H.
func OptionLetter(i int) string { return string(rune('A' + i)) }

// StepLetter is the letter of chase step i, from 0: a, b, c…
func StepLetter(i int) string { return string(rune('a' + i)) }

// minutes prints a time limit as people say it: "45 minutes", "1 h 30 min".
func minutes(d time.Duration) string {
	m := int((d + time.Minute - 1) / time.Minute)
	switch {
	case m == 1:
		return "1 minute"
	case m < 120 && m != 60 && m != 90:
		return strconv.Itoa(m) + " minutes"
	case m == 60:
		return "1 hour"
	case m%60 == 0:
		return strconv.Itoa(m/60) + " hours"
	}
	return strconv.Itoa(m/60) + " h " + strconv.Itoa(m%60) + " min"
}

// heading is the title of a box, or the usual one.
func (b Box) heading() string {
	if t := strings.TrimSpace(b.Title); t != "" {
		return t
	}
	if b.Kind == Plate {
		return "Identification plate"
	}
	return "Repair order"
}
