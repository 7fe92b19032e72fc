package catalog

// Origin is where a record was read: the file or sheet, and the row counted
// from 1 with the header row included, as a spreadsheet counts. Records made
// in memory have none. It never takes part in comparing records.
type Origin struct {
	File string `json:"file,omitempty"`
	Row  int    `json:"row,omitempty"`
}

// Class is a class of literature.
type Class string

// The classes of literature.
const (
	Maintenance Class = "maintenance"
	Repair      Class = "repair"
	Diagnosis   Class = "diagnosis"
	PreDelivery Class = "pre-delivery"
	BulletinDoc Class = "bulletin"
	Reference   Class = "reference"
)

// Classes lists all classes of literature in a fixed order.
func Classes() []Class {
	return []Class{Maintenance, Repair, Diagnosis, PreDelivery, BulletinDoc, Reference}
}

// The names of units that every catalog knows. Data cards may name more.
const (
	UnitModel        = "model"
	UnitEngine       = "engine"
	UnitTransmission = "transmission"
)

// Location is a place in a publication. What is given depends on the medium:
// a page on paper, a sheet and frame on film, a section on screen.
type Location struct {
	Page    string `json:"page,omitempty"`
	Sheet   string `json:"sheet,omitempty"`
	Frame   string `json:"frame,omitempty"`
	Section string `json:"section,omitempty"`
}

// IsZero tells whether no place is given.
func (l Location) IsZero() bool { return l == Location{} }

// SchemeField is a row of the schemes table: how one field of a code is read,
// or (Value not empty) what one value of it means.
type SchemeField struct {
	Scheme string // name of the scheme
	Kind   string // chassis, model, engine, transmission, trouble, publication, or a further unit's name
	Field  string // model, engine, serial, year, month, check, …
	First  int    // position of the first character, from 1
	Length int    // number of characters; 0 on the last field: all the rest
	Value  string // "" declares the field; otherwise a value of it
	Means  string // meaning of Value
	Range  Range  // build dates in which Value has this meaning
	Check  string // check-digit rule: iso3779, mod10, none
	Pack   string // byte packing of a trouble code: j1939, iso15031; "" for text
	Origin Origin
}

// UnitCode is a further unit on a data card, such as axle or loader.
type UnitCode struct {
	Unit string `json:"unit"`
	Code string `json:"code"`
}

// Model is a data card: what vehicles of a code were built with, in a range of
// build dates and serials. A code may have several cards with disjoint ranges.
type Model struct {
	Code         string
	SalesName    string
	Engine       string
	Transmission string
	Units        []UnitCode
	Range        Range
	Origin       Origin
}

// Group is a group of components, keyed by a unit.
type Group struct {
	Code     string
	Parent   string
	Division string
	Title    string
	KeyedBy  string
	Origin   Origin
}

// Synonym is another term for a component or a quantity; Lang is a BCP 47
// tag, empty for the catalog's own language. In a cell: "de:Kraftstofffilter".
type Synonym struct {
	Lang string
	Term string
}

// Component is a term, the group that it belongs to, and the major component
// that it is a part of. A component without a group takes its major
// component's.
type Component struct {
	Term     string
	Synonyms []Synonym
	Group    string
	PartOf   string
	Origin   Origin
}

// Publication is one edition of one publication.
type Publication struct {
	ID          string
	Class       Class
	Title       string
	Series      string // editions of one another share it; "" means ID
	Medium      string // paper, film, screen
	KeyedBy     string
	AppliesTo   Pattern
	Groups      []string // group codes; a parent covers its children
	Effectivity Effectivity
	Revision    string
	Supersedes  []string // IDs
	Shelf       string   // where it stands
	Origin      Origin
}

// Procedure is a job described in a publication.
type Procedure struct {
	ID          string
	Job         string // as a heading: "Replace fuel filter"
	Action      string // a word of Meta.Actions
	Component   string // a term of the components table
	Publication string
	Location    Location
	AppliesTo   Pattern
	Effectivity Effectivity
	Hazards     []string // words of Meta.Hazards
	Replaces    []string // IDs of procedures
	Origin      Origin
}

// Counters are readings or intervals; 0 means not given.
type Counters struct {
	Distance float64 `json:"distance,omitempty"` // in Meta.Units.Distance
	Hours    float64 `json:"hours,omitempty"`    // of operation
	Months   float64 `json:"months,omitempty"`
}

// IsZero tells whether no counter is given.
func (c Counters) IsZero() bool { return c == Counters{} }

// Service is a row of the schedule: a service or an extra set of operations
// with intervals of its own. With no Every it is done once, at First. With no
// First it is first due after one Every.
type Service struct {
	Name        string
	Title       string
	Class       Class // maintenance, or pre-delivery: asked for by name, never due by a reading
	KeyedBy     string
	AppliesTo   Pattern
	Duty        string // "" for every duty
	First       Counters
	Every       Counters
	Operations  []string // operation numbers
	Effectivity Effectivity
	Origin      Origin
}

// Operation is the place where one publication describes an operation. The
// same number may stand in several publications.
type Operation struct {
	Number      string
	Title       string
	Publication string
	Location    Location
	Hazards     []string
	Origin      Origin
}

// Specification is a value, or a range of values, under a condition.
type Specification struct {
	ID          string
	Quantity    string
	Synonyms    []Synonym
	Value       string   // a number or a text such as a grade; "" where Low and High are given
	Low, High   *float64 // inclusive; either may be nil
	Unit        string   // UCUM-like symbol: L, bar, N·m, mm, °C, V, A, Ohm
	Ambient     Band     // °C
	Condition   string   // "with filter"; "" for none
	Group       string
	KeyedBy     string
	AppliesTo   Pattern
	Effectivity Effectivity
	Publication string
	Location    Location
	Origin      Origin
}

// Band is a range of ambient temperature in °C, inclusive; nil is open.
type Band struct{ Low, High *float64 }

// Contains tells whether t lies in the band.
func (b Band) Contains(t float64) bool {
	return (b.Low == nil || t >= *b.Low) && (b.High == nil || t <= *b.High)
}

// IsOpen tells whether the band limits nothing.
func (b Band) IsOpen() bool { return b.Low == nil && b.High == nil }

// GuideEntry sends a complaint about a system to a publication and chapter.
type GuideEntry struct {
	System      string
	Complaints  []Synonym // as customers and drivers word them
	KeyedBy     string
	AppliesTo   Pattern
	Effectivity Effectivity
	Publication string
	Section     string // chapter of the tests table
	Origin      Origin
}

// TestStep is one step of a test chapter.
type TestStep struct {
	Publication string
	Chapter     string
	Step        string // "1", "2", "2a": compared as numbers first
	Tests       string // what is tested
	Do          string
	Expect      string
	FailChapter string   // where to go if the outcome is not as expected; "" for the same chapter
	FailSteps   []string // steps there; empty: from its first
	Side        string   // "", "left", "right"
	Hazards     []string
	Origin      Origin
}

// TroubleCode is a code that a control unit stores.
type TroubleCode struct {
	System      string
	Code        string // canonical text: "1208-3", "P0143"
	Meaning     string
	Scheme      string // scheme of kind trouble that reads it; "" for text
	KeyedBy     string
	AppliesTo   Pattern
	Effectivity Effectivity
	Publication string
	Location    Location // section: chapter of the tests table, where there is one
	Read        string   // how codes are read out
	Clear       string   // how they are cleared
	Origin      Origin
}

// Bulletin amends or replaces records for some vehicles. A supplement is one
// that the maker folds into the publication at its next edition.
type Bulletin struct {
	ID          string
	Issued      Date
	Kind        string // bulletin, supplement
	Subject     string
	KeyedBy     string
	AppliesTo   Pattern
	Effectivity Effectivity
	Amends      []Target
	Replaces    []Target
	Instruction string
	Shelf       string
	Origin      Origin
}

// Target names a record of another table, written table:key, such as
// procedure:P-0123, specification:S-0004, operation:120 (in every publication),
// publication:TR-20, trouble:engine/1208-3, test:TD-31/4/2, service:B.
type Target struct {
	Table string `json:"table"`
	Key   string `json:"key"`
}

// String writes the target as a cell holds it.
func (t Target) String() string { return t.Table + ":" + t.Key }

// Tables are the records of a catalog.
type Tables struct {
	Schemes        []SchemeField
	Models         []Model
	Groups         []Group
	Components     []Component
	Publications   []Publication
	Procedures     []Procedure
	Schedule       []Service
	Operations     []Operation
	Specifications []Specification
	Guide          []GuideEntry
	Tests          []TestStep
	TroubleCodes   []TroubleCode
	Bulletins      []Bulletin
}
