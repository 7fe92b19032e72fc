package resolver

import "fmt"

// Slip is a rule applied wrongly (a "mal-rule": Sleeman 1984, Brown and Burton
// 1978). Resolve can be told to make one; what it then finds is the wrong
// answer of somebody who does.
type Slip uint8

// The slips, in the order of the steps in which they are made.
const (
	NoSlip Slip = iota
	SalesNameAsCode
	WrongDigits
	NeighbourCard
	ModelForEngine
	SiblingGroup
	ParentForComponent
	WrongSideLimit
	LimitOffByOne
	SupersededEdition
	BulletinIgnored
	WrongClass
	WrongZero
	OneCounter
	WrongAmbient
	UnitMixed
	OtherSide
	ChapterForStep
	slipCount
)

// Break says which rule to break, and how where there are several ways
// (Variant 0, 1, 2 …: the next neighbour, the other direction).
type Break struct {
	Slip    Slip
	Variant int
}

type slipText struct {
	name, does, next string
	step             Step
	variants         int
}

// slipTexts is the one list of slips: name, what somebody does who makes it,
// what to do next time, the step at which it is made, and how many variants
// there are to try.
var slipTexts = [slipCount]slipText{
	NoSlip:             {"none", "", "", ClassifyStep, 0},
	SalesNameAsCode:    {"sales name used as code", "took the name on the bonnet for the model code", "Read the model code from the plate; the sales name does not tell one model from another.", CodeStep, 3},
	WrongDigits:        {"wrong digits read", "read the code at the wrong position", "Count the positions of the code from the left, and check them against the scheme.", CodeStep, 4},
	NeighbourCard:      {"neighbouring model's data card", "took the data card of a neighbouring model", "Compare the whole model code and the build date with the data card before reading on.", CardStep, 4},
	ModelForEngine:     {"model used where another unit keys it", "looked it up by the model where the literature is keyed by the engine or another unit", "See what the group is keyed by before you open a book: model, engine or transmission.", KeyStep, 3},
	SiblingGroup:       {"near or sibling group", "went to a neighbouring group", "Look the component up in the component list instead of guessing its group.", GroupStep, 6},
	ParentForComponent: {"component taken for its parent", "took the component for the one it is a part of, or the other way round", "Look the exact component up; a part can belong to another group than the whole.", ComponentStep, 4},
	WrongSideLimit:     {"limit read on the wrong side", "read a from limit as a through limit, or the other way round", "Say the limit aloud: from this date on, or up to and with this date.", EditionStep, 1},
	LimitOffByOne:      {"limit off by one", "took the vehicle at the limit for one beyond it", "Limits include the month or serial that is printed; the next edition begins the one after.", EditionStep, 2},
	SupersededEdition:  {"superseded edition", "used an edition that another one has superseded, or the edition before or after", "Check for a later edition before you use the one at hand.", EditionStep, 3},
	BulletinIgnored:    {"bulletin ignored", "did not look for later bulletins and supplements", "After you have found the page, look for bulletins and supplements that change it.", AmendStep, 1},
	WrongClass:         {"wrong class of literature", "looked in the wrong class of literature", "Ask first what the job is: maintenance, repair, diagnosis or pre-delivery.", ClassifyStep, 5},
	WrongZero:          {"interval counted from the wrong zero", "counted the interval from the wrong start", "Count from new unless the sheet says otherwise, and mind that the first service may come sooner.", LocationStep, 3},
	OneCounter:         {"only one of the two counters", "watched only one of the counters", "Compare hours or distance and months; whichever comes first governs.", LocationStep, 3},
	WrongAmbient:       {"wrong ambient band", "took the value of another ambient temperature band", "Read the condition beside the value before the value.", LocationStep, 4},
	UnitMixed:          {"unit mixed up", "took a number in one unit for a number in another", "Write the unit beside every number that you read.", LocationStep, 1},
	OtherSide:          {"other side's column", "used the column of the other side", "Left and right are seen from the driver's seat in the direction of travel; check the column heading.", LocationStep, 1},
	ChapterForStep:     {"chapter taken for step", "mixed up the chapter and the step", "Read the reference as chapter first, step second.", LocationStep, 2},
}

// Slips lists all slips in order, without NoSlip.
func Slips() []Slip {
	s := make([]Slip, 0, slipCount-1)
	for i := NoSlip + 1; i < slipCount; i++ {
		s = append(s, i)
	}
	return s
}

// String gives the slip's fixed name.
func (s Slip) String() string { return slipTexts[s].name }

// Does says, after "somebody who …", what the slip is.
func (s Slip) Does() string { return slipTexts[s].does }

// NextTime says in one sentence what to do instead.
func (s Slip) NextTime() string { return slipTexts[s].next }

// Step is the step of a lookup at which the slip is made.
func (s Slip) Step() Step { return slipTexts[s].step }

// Variants is how many values of Break.Variant can lead to different answers.
func (s Slip) Variants() int { return slipTexts[s].variants }

// MarshalText writes the name.
func (s Slip) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads what MarshalText writes.
func (s *Slip) UnmarshalText(b []byte) error {
	for i := range slipTexts {
		if slipTexts[i].name == string(b) {
			*s = Slip(i)
			return nil
		}
	}
	return fmt.Errorf("there is no slip %q", b)
}
