// Package resolver computes the answer to a lookup: this vehicle, this task,
// which page. It is pure: no I/O, no clock, no randomness. A [Resolver] is
// built once over an immutable catalog and may be used by any number of
// goroutines.
//
// [Resolver.Resolve] gives the answer alone, into memory that the caller may
// use again; [Resolver.Explain] gives the same answer with the trace. Both can
// be told to break one rule ([Break]): the answer is then what somebody would
// find who makes that slip.
//
// # Definitions
//
// These define the answer; everything else is speed.
//
// Known vehicle. A vehicle is known by an interval of build dates and, for each
// of its units, a code and an interval of serials. A build date given at month
// precision is the interval of that month. A serial not given is the interval
// of all serials.
//
// Reading a chassis number. Every chassis scheme reads the number; a scheme
// whose length, whose check digit or whose value table of a field the number
// does not meet drops out (a field with a value table must hold one of its
// values, in a period that is not Outside the known build dates). The field
// year (and, if present, month as 1 to 12) narrows the build dates to that
// calendar year (month) and to the period of its value, before the other fields
// are read; a year with several meanings gives several readings. The field
// model gives the model code (its meaning, or the characters themselves where
// it has no table) and narrows the build dates to the period of its value;
// several meanings give several readings, and a scheme without the field gives
// none. Serial gives the serial of the unit "model"; one that the query gives as
// well must agree, and so must a model code. A field named engine, transmission
// or otherwise like a unit gives that unit's code where the data card has none
// and the known build dates leave it one meaning.
//
// Reading an engine or other unit number. A scheme of that kind reads it the
// same way: the field of the unit's own name gives its code, serial its serial.
// Where the known build dates leave the code several meanings it stays open:
// the unit is known by its serial alone.
// The first scheme (by name) that reads it to a known code counts. A number that
// no scheme reads but that is itself a known code is that code with no serial.
// Known codes of a unit are those on data cards, those written without wildcard
// in an applies-to cell keyed by the unit, and the meanings (values, where they
// have no meaning) of the field of the unit's name in a scheme of its kind or
// of kind chassis. A number or code that is not known ends the lookup at
// [CodeStep], and so does a query that has none at all. Serial in the query
// belongs to the unit model if a model or chassis is given, else to the primary
// unit.
//
// Data card. The cards of the model code whose range is not Outside what is
// known. Each is a branch: built is narrowed to the meet of both; a serial not
// given becomes the card's range; engine, transmission and further units take
// the card's codes, but a unit number given by the query stands (and rules out
// a card of another code). Without a model code there are no cards, and the
// query's numbers alone make the branch.
//
// Fit. A record that names a publication which does not exist, or (procedures,
// operations, specifications, guide rows, trouble codes) none at all, fits
// nothing. Otherwise a record fits a branch by its applies-to pattern on the
// code of its keying unit and by its [catalog.Effectivity] on built and on that
// unit's serials: Outside, Partly or Within. A branch without the keying unit
// fits only as Partly if the pattern is not empty, and the answer says which
// plate to read.
//
// Superseded. A publication is ruled out where another of its class names it in
// supersedes and fits Within the same branch. A procedure is ruled out where
// another names it in replaces and fits Within, and the other's publication fits
// Within too or is the same. Bulletins: see Amendments.
//
// Group cover. A publication covers a group when it lists it or an ancestor of
// it; one that lists no groups covers all.
//
// Words. Text is brought to lower case, without punctuation and diacritics;
// words of more than three letters without digits are brought to the singular
// (English rules); articles and the like (see filler) do not count, but an “a”
// at the end does. Word order does not count. Two texts match exactly when
// their words are the same. They match misspelt when they have as many words,
// up to eight, and each word of the one can be paired with one of the other
// within its allowance: no edit for a word of the catalog up to 3 letters, one
// up to 7, two from 8 (insertion, deletion, substitution, swap of neighbours);
// the fewest edits in all win. They match in part when every word of the query
// occurs in the term. The best kind of match counts (exact, misspelt, part),
// and every term that matches so.
//
// Job. If the text matches exactly the name or title of a service or a job of
// Meta.Jobs or a synonym of it, the task is that service, or all services of
// that title. Otherwise each run of up to four words that matches exactly an
// action or a synonym of one is tried as the action, and the words left over are
// matched to component terms and synonyms (if there is no such run, single words
// that match an action misspelt are tried). The whole text is tried as a
// component too, with every action that some procedure has for it (a component
// that none has an action for is passed over). Those tries stay whose components
// match best (fewest edits among misspelt); at the same closeness a try with an
// action word goes before the one without. Each action and component that stays
// is tried on every branch.
//
// Group. The group of a component is its own, or that of the nearest major
// component above it that has one.
//
// Repair and maintenance jobs. On each branch and for each action and
// component: the group's keyed_by names the unit; candidate publications are
// those of a class of the action, keyed by that unit, that cover the group and
// whose pattern matches its code (code not known: all); editions are the
// candidates that fit and are not superseded; the answer is each procedure of
// the action and the component, in such an edition, that fits and is not
// replaced. The fit of an answer is the worst of those on its way.
//
// A service (by name, or due). The rows of that name (due: the rows of class
// maintenance that are due, see [Reading]) that fit, for the duty of the query:
// a row without duty serves every duty; a row with a duty that the query names
// no duty for fits only Partly. Each operation is located in the publications of
// the row's class that fit, are not superseded and hold it. An operation that
// no such publication holds is listed without a place.
//
// Specification. Quantities and their synonyms are matched as words. The answer
// is every row that fits, whose publication fits and is not superseded, whose
// ambient band contains the temperature (none given: any band), and whose
// condition is the query's (none given: any).
//
// Complaint. Complaints and system names are matched as words. Guide rows that
// fit and whose publication fits and is not superseded give publication and
// chapter. The answer is the chapter's first step for the side asked (a step
// without side serves both; no side asked: any). With [Query.At] and
// [Query.Outcome]: passed leads to the next higher step of the chapter, failed
// to the fail chapter (empty: the same) and its steps (none: its first).
//
// Trouble code. The text is a code of the table as it stands (folded, but with a
// hyphen between digits kept: 1208-3 is not 120-83); failing that, each code of
// the table that the packing of a trouble scheme makes of it; failing that, what
// [catalog.ParseTrouble] makes of it. The answer is every row of those codes
// (and of the system, if the query names one) that fits and whose publication
// fits and is not superseded.
//
// Plate alone. The answer has no places; it is Found when one data card (or
// code of the primary unit) is left, Ambiguous when several are.
//
// Amendments. A bulletin that is not Outside the branch and names a record that
// has a place, its publication, or the service that asks for it, in amends or
// replaces, belongs to the answer. Of the bulletins that replace and fit
// Within, the one issued last (then the greater ID) is the place to read
// instead. One that replaces, is later than that and fits only Partly makes a
// second place, and both are Partly.
//
// Outcome. Places are one when record, edition and bulletin to read instead are
// the same. A place is Partly unless it fits Within on every branch of the
// vehicle (for some action and component on each). Slots are what the question
// asks for: the job, the quantity, the code are one slot; each operation number
// and each test step (chapter and number) is one. Found: every slot has one
// place, none Partly. Ambiguous: a slot has several, or one is Partly.
// NotCovered: nothing with a place; the answer names the step at which the
// branch that reached furthest ended, and the trace what is nearest.
package resolver
