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
// model gives the model code (its meaning, or the characters themselves where
// it has no table); year (and, if present, month as 1 to 12) narrows the build
// dates to that calendar year (month); serial gives the serial of the unit
// "model"; a field named engine, transmission or otherwise like a unit gives
// that unit's code where the data card has none.
//
// Reading an engine or other unit number. A scheme of that kind reads it the
// same way: the field of the unit's own name gives its code, serial its serial.
// A number that no scheme reads, but that is itself the code of a unit of some
// data card or the exact code used by the literature, is that code with no
// serial. Serial in the query belongs to the unit model if a model or chassis
// is given, else to the primary unit.
//
// Data card. The cards of the model code whose range is not Outside what is
// known. Each is a branch: built is narrowed to the meet of both; a serial not
// given becomes the card's range; engine, transmission and further units take
// the card's codes, but a unit number given by the query stands (and rules out
// a card of another code). Where the primary unit is not model there are no
// cards and the query's numbers alone make the branch.
//
// Fit. A record fits a branch by its applies-to pattern on the code of its
// keying unit and by its [catalog.Effectivity] on built and on that unit's
// serials: Outside, Partly or Within. A branch without the keying unit fits
// only as Partly if the pattern is not empty, and the answer says which plate
// to read.
//
// Superseded. A publication is ruled out where another that fits Within the
// same branch names it in supersedes, directly or through a chain of
// supersessions all of which fit Within, and has its class. A procedure is ruled out where another
// that fits Within replaces it. Bulletins: see Amendments.
//
// Group cover. A publication covers a group when it lists it or an ancestor of
// it; one that lists no groups covers all.
//
// Job. The text is brought to lower case without punctuation, and plural
// and word order do not count. If it names a service job (Meta.Jobs or the
// service's own name or title), the task is that service. Otherwise the longest
// action word or synonym found in it is the action, and the rest is matched to
// component terms and synonyms: exactly; failing that with small misspellings
// (per word: one edit from 4 letters, two from 8; all words must be matched;
// the fewest edits win); failing that, components all of whose query words
// occur in their term. Every component that remains is a branch, never only the
// first. No action: every action that has a procedure for the component is a
// branch. The group of a component is its own or that of the nearest major
// component above it that has one.
//
// Repair and maintenance jobs. For each branch (card × component): the group's
// keyed_by names the unit; candidate publications are those of a class of the
// action, keyed by that unit, that cover the group and whose pattern matches;
// editions are the candidates that fit and are not superseded; the answer is
// each procedure of the action and the component, in such an edition, that fits
// and is not replaced.
//
// A service (by name, or due). The rows of that name and class that fit, for
// the duty of the query (a row without duty serves every duty; no duty in the
// query: all). Each operation is located in the editions (class of the row)
// that fit and are not superseded and hold the operation. Due: see [Reading].
//
// Specification. Quantities are matched as components are. The rows that fit,
// whose publication fits and is not superseded, whose ambient band contains the
// temperature (none given: all bands), whose condition equals the query's (none
// given: all).
//
// Complaint. Complaints and system names are matched as components are. Guide
// rows that fit, whose publication fits and is not superseded, give publication
// and chapter; the answer is the chapter's first step (for the side asked, or
// without a side), or, with [Query.At] and [Query.Outcome], the step that follows.
//
// Trouble code. The text is canonical ("1208-3", "P0143"), or "SPN 1208 FMI 3",
// or the bytes as hexadecimal, read by each trouble scheme with a packing. Rows
// of that code (and system, if the query names one) that fit and whose
// publication fits and is not superseded.
//
// Amendments. A bulletin that fits the branch and names the record (or its
// publication, operation, service) in amends or replaces belongs to the answer;
// with replaces the bulletin is where the technician reads instead. Of several
// that replace, the one issued last counts (then the greater ID).
//
// Outcome. Found: for every slot asked (the job, each operation due, the
// quantity, the code) one place, which fits Within in every branch. Ambiguous:
// more than one place for a slot, or one that fits only Partly. NotCovered:
// none; the answer names the step at which the last branch died and what is
// nearest. Branches that end at the same place are one.
package resolver
