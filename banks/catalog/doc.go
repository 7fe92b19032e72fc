// Package catalog holds an organisation's description of its own service
// literature: which publications there are, what each covers, and how the
// codes on a vehicle or engine are read. It is the only thing that people
// maintain; every answer, exercise and certificate follows from it.
//
// # Where it comes from
//
// [Read] takes a folder of UTF-8 CSV files, one a table, named after the
// table (models.csv, groups.csv, …), or one XLSX workbook with a sheet a
// table, and in both cases the settings of catalog.yaml (beside the CSV files;
// for a workbook, the file of the same name with .yaml in place of .xlsx, or
// catalog.yaml beside it). The two forms give the identical catalog. The first
// row of a table names its columns; the order of columns and of rows is free;
// a column named # is a remark and is skipped. [New] builds a catalog from
// records already in memory.
//
// A catalog does not change once it is built and may be read by any number of
// goroutines.
//
// # Lists, patterns and codes
//
// A cell that holds several values separates them with a semicolon. An
// applies-to cell is a [Pattern]: alternatives separated by semicolons, with *
// for any run of characters and ? for one, and a leading ! for an exception;
// an empty cell applies to every code. Codes are compared without regard to
// case, spaces, hyphens, dots and slashes ([Fold]).
//
// # What keys a record
//
// A unit is a thing with a code and a serial of its own: the vehicle itself
// ("model"), its "engine", its "transmission", and any further unit that a data
// card names. Each group says which unit's code its literature is keyed by; a
// publication says so too and the two must agree. A procedure, an operation, a
// test step are keyed by what their publication is keyed by. Specifications,
// guide rows, trouble codes, schedule rows and bulletins have a keyed_by of
// their own; where it is empty their publication's counts, and where they have
// none the primary unit of the catalog ([Meta.Primary], "model" unless
// catalog.yaml says otherwise). An applies-to pattern is matched against the
// code of the keying unit, and a serial limit counts that unit's serials. A
// date limit always means the build date of the whole.
//
// # Effectivity
//
// Limits are inclusive, an open side is empty. A month as from means its first
// day, as through its last (ISO 8601-1 reduced precision; inclusive limits are
// common practice, no source). Where a date and a serial limit are both given
// both must hold. A record with several ranges applies in each of them;
// ranges by date alone, or by serial alone, that join count as one.
//
// # Editions and supersession
//
// Publications of one series are editions of each other: usually they share
// out the build dates or serials among them. A publication that supersedes
// another takes its place wherever both would apply. A procedure that replaces
// another does the same for that one procedure. A bulletin leaves the record in
// its place and amends it, or takes the record's place (replaces).
package catalog
