package resolver

import "fmt"

// Status is the kind of answer.
type Status uint8

// The kinds of answer.
const (
	NotCovered Status = iota
	Found
	Ambiguous
)

// String names the status.
func (s Status) String() string { return [...]string{"not covered", "found", "ambiguous"}[s] }

// MarshalText writes the name.
func (s Status) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// Step is a step of a lookup.
type Step uint8

// The steps of a lookup, in the order in which they are taken.
const (
	ClassifyStep    Step = iota // which class of literature the job belongs to
	CodeStep                    // read the code on the plate
	CardStep                    // data card
	ComponentStep               // component, quantity, system or service meant
	GroupStep                   // group of the component
	KeyStep                     // which unit's code keys the literature
	PublicationStep             // which publication (series)
	EditionStep                 // which edition for the build date or serial
	LocationStep                // place in the edition
	AmendStep                   // bulletins and supplements
	stepCount
)

// Steps lists all steps in order.
func Steps() []Step {
	s := make([]Step, stepCount)
	for i := range s {
		s[i] = Step(i)
	}
	return s
}

var stepNames = [stepCount]string{"classify", "read code", "data card", "component", "group", "key", "publication", "edition", "location", "amendment"}

// String names the step.
func (s Step) String() string { return stepNames[s] }

// MarshalText writes the name.
func (s Step) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads what MarshalText writes.
func (s *Step) UnmarshalText(b []byte) error {
	for i, n := range stepNames {
		if n == string(b) {
			*s = Step(i)
			return nil
		}
	}
	return fmt.Errorf("there is no step %q of a lookup", b)
}

// Table tells which table of the catalog a row number belongs to.
type Table uint8

// The tables in which answers lie.
const (
	NoTable Table = iota
	ProcedureTable
	OperationTable
	SpecificationTable
	TestTable
	TroubleTable
	BulletinTable
)

// Item is one place that answers the lookup (or may, where the answer is
// ambiguous). Numbers are indexes into the tables of the catalog, -1 for none.
type Item struct {
	Table       Table
	Row         int32
	Publication int32  // edition
	Bulletin    int32  // the bulletin to read instead
	Service     int32  // row of the schedule that asks for the operation
	Operation   string // operation number, where the item is one
	Partly      bool   // applies to a part only of what the vehicle may be
}

// Amendment says that a bulletin amends an item.
type Amendment struct {
	Item     int32 // index into Answer.Items
	Bulletin int32
	Replaces bool // the bulletin takes the record's place
	Partly   bool // it applies to a part only of those that the item is for
}

// Answer is the answer to a lookup. Its slices may be used again by handing it
// to Resolve once more.
type Answer struct {
	Status     Status
	Items      []Item
	Amendments []Amendment
	Services   []int32 // rows of the schedule that are due or were asked for
	Unsure     bool    // one of the services fits only a part of what the vehicle may be
	FailedAt   Step    // with NotCovered: the step at which the last branch died
	Path       Path    // values along the way

	work work
}

// Path holds, for each step, what was chosen there on the first branch that
// reached furthest: an index whose table depends on the step (class, data
// card, component, group, unit, publication of the series, edition, record,
// bulletin), or -1 where the step was not reached or does not occur.
type Path [stepCount]int32
