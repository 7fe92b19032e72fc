package catalog

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	edlib "github.com/hbollon/go-edlib"
)

// Limits bound what a catalog may ask of the machine that reads it. A zero
// field stands for the value of [DefaultLimits].
type Limits struct {
	Bytes    int64 // all CSV files together, or a workbook once unpacked
	Packed   int64 // a workbook as it lies on disk
	Ratio    int64 // unpacked to packed size of any part of a workbook
	Rows     int   // of a table, without the header
	Columns  int   // of a table
	Settings int64 // bytes of catalog.yaml
	Findings int   // listed for one file or sheet; the rest are counted
}

// DefaultLimits are generous for a catalog of 100,000 procedures. The ratio is
// the one at which common readers of office documents take a zip part for a
// bomb (common practice, no source).
func DefaultLimits() Limits {
	return Limits{Bytes: 256 << 20, Packed: 64 << 20, Ratio: 100, Rows: 1_000_000, Columns: 200, Settings: 1 << 20, Findings: 1000}
}

func (l Limits) withDefaults() Limits {
	d := DefaultLimits()
	return Limits{Bytes: cmp.Or(l.Bytes, d.Bytes), Packed: cmp.Or(l.Packed, d.Packed), Ratio: cmp.Or(l.Ratio, d.Ratio), Rows: cmp.Or(l.Rows, d.Rows),
		Columns: cmp.Or(l.Columns, d.Columns), Settings: cmp.Or(l.Settings, d.Settings), Findings: cmp.Or(l.Findings, d.Findings)}
}

// SettingsFile is the name of the settings beside the tables.
const SettingsFile = "catalog.yaml"

// Read reads a folder of CSV files or an .xlsx workbook and its settings. The
// error tells only that path could not be opened or is neither; everything
// about the content is a finding, all of them at once, in the order of
// [Report.Sort]. A row with a finding of severity [Error] is left out of the
// catalog, so that catalog is fit for use only if [Report.Err] is nil; what
// several records say together is for [Check]; [Load] does both.
func Read(path string, lim Limits) (*Catalog, Report, error) {
	st, err := os.Stat(path)
	if err != nil {
		return nil, nil, fmt.Errorf("reading a catalog: %w", err)
	}
	r := &reader{lim: lim.withDefaults()}
	r.left = r.lim.Bytes
	switch {
	case st.IsDir():
		err = r.folder(path)
	case strings.EqualFold(filepath.Ext(path), ".xlsx") && st.Mode().IsRegular():
		err = r.workbookFile(path)
	default:
		err = fmt.Errorf("reading a catalog: %s is neither a folder nor an .xlsx workbook; name the folder that holds the CSV files and %s", path, SettingsFile)
	}
	if err != nil {
		return nil, nil, err
	}
	r.report.Sort()
	return New(r.meta, r.t), r.report, nil
}

// Load reads a catalog for use: it is [Read] and [Check], and the error is that
// of [Report.Err] when either finds one. Records that could not be read are
// mended first: Check would take what refers to them for dangling.
func Load(path string) (*Catalog, error) {
	c, report, err := Read(path, Limits{})
	if err == nil {
		err = report.Err()
	}
	if err == nil {
		err = Check(c).Err()
	}
	if err != nil {
		return nil, err
	}
	return c, nil
}

// reader is one reading of one catalog.
type reader struct {
	lim    Limits
	left   int64 // bytes that may still be read
	meta   Meta
	t      Tables
	report Report
}

func (r *reader) add(f Finding) { r.report = append(r.report, f) }

// folder reads the CSV files of a folder.
func (r *reader) folder(dir string) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return fmt.Errorf("reading a catalog: %w", err)
	}
	byName := make(map[string]string)
	settings := ""
	for _, e := range entries {
		name := e.Name()
		lower := strings.ToLower(name)
		if lower == SettingsFile {
			settings = name
		}
		table, ok := strings.CutSuffix(lower, ".csv")
		if !ok {
			continue
		}
		switch other, twice := byName[table], byName[table] != ""; {
		case twice:
			r.add(Finding{Severity: Error, Code: "twice", Origin: Origin{File: name}, What: "the table is also in " + other, Mend: "keep one of the two files"})
		case findCodec(table) == nil:
			r.unknownTable(name, table, "file")
		default:
			byName[table] = name
		}
	}
	if err := r.settings(dir, settings); err != nil {
		return err
	}
	if len(byName) == 0 {
		r.add(Finding{Severity: Error, Code: "no-tables", Origin: Origin{File: filepath.Base(dir)}, What: "the folder holds no table",
			Mend: "put CSV files named " + tableNames(".csv") + " into it"})
	}
	for _, c := range codecs() {
		if name, ok := byName[c.table()]; ok {
			if err := r.csvFile(filepath.Join(dir, name), name, c); err != nil {
				return err
			}
		}
	}
	return nil
}

// open opens a regular file of at most max bytes; a nil file means that a
// finding says why not.
func (r *reader) open(path, name string, max int64) (*os.File, int64, error) {
	st, err := os.Stat(path)
	if err != nil {
		return nil, 0, fmt.Errorf("reading a catalog: %w", err)
	}
	// A device or a pipe could deliver without end.
	if !st.Mode().IsRegular() {
		r.add(Finding{Severity: Error, Code: "file", Origin: Origin{File: name}, What: "this is not a regular file", Mend: "put the file itself here"})
		return nil, 0, nil
	}
	if st.Size() > max {
		r.add(tooManyBytes(name, st.Size(), max))
		return nil, 0, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, 0, fmt.Errorf("reading a catalog: %w", err)
	}
	return f, st.Size(), nil
}

func tooManyBytes(name string, size, max int64) Finding {
	return Finding{Severity: Error, Code: "too-large", Origin: Origin{File: name},
		What: fmt.Sprintf("there are %d bytes to read; at most %d are allowed here", size, max), Mend: "take out what does not belong, or split the catalog"}
}

func findCodec(table string) codec {
	for _, c := range codecs() {
		if c.table() == table {
			return c
		}
	}
	return nil
}

func tableNames(suffix string) string {
	var names []string
	for _, c := range codecs() {
		names = append(names, c.table()+suffix)
	}
	return strings.Join(names, ", ")
}

func (r *reader) unknownTable(origin, table, what string) {
	var names []string
	for _, c := range codecs() {
		names = append(names, c.table())
	}
	mend := fmt.Sprintf("a catalog has the tables %s", strings.Join(names, ", "))
	if n, ok := nearest(table, names); ok {
		mend = fmt.Sprintf("rename it to %s if that is what it holds", n)
	}
	r.add(Finding{Severity: Warning, Code: "unknown-table", Origin: Origin{File: origin}, What: fmt.Sprintf("no table is called %q; the %s is not read", clip(table), what), Mend: mend})
}

// nearest gives the word with the fewest edits to s, if it is near at all.
func nearest(s string, words []string) (string, bool) {
	best, least := "", 1<<30
	if len(s) > 100 {
		return "", false
	}
	for _, w := range words {
		if d := edlib.LevenshteinDistance(s, w); d < least {
			best, least = w, d
		}
	}
	return best, best != "" && least <= max(2, len(best)/3)
}

// rawCell is a cell as a file gives it.
type rawCell struct {
	text   string
	number string     // the exact decimal number of a numeric cell of a workbook, else ""
	date   string     // the ISO 8601-1 date of a date cell of a workbook, else ""
	fault  *cellFault // what is wrong with the cell itself
}

// rowSource gives the rows of a table one by one. Only rows that hold anything
// need be given. The row counts from 1.
type rowSource interface {
	next() (row int, cells []rawCell, err error)
}

// badRow is an error of a rowSource that concerns one row only: reading goes on.
type badRow struct {
	row int
	cellFault
}

// badTable is an error of a rowSource after which the table cannot be read.
type badTable struct {
	row int
	cellFault
}

// tableReader reads one table.
type tableReader struct {
	*reader
	codec    codec
	file     string
	columns  []columnInfo
	place    []int // column of the file → column of the codec, or one of the values below
	listed   int
	unlisted int
	encoding int            // rows that are not UTF-8
	odd      map[string]int // per column, how many cells look like formulas
	oddFirst map[string]int // per column, the first such row
}

const (
	skipped = -1
	unnamed = -2
)

func (t *tableReader) fault(s Severity, row int, column string, f cellFault) {
	if t.listed >= t.lim.Findings {
		t.unlisted++
		return
	}
	t.listed++
	t.add(Finding{Severity: s, Code: f.code, Origin: Origin{File: t.file, Row: row}, Column: column, What: f.what, Mend: f.mend})
}

// stop lists the finding at which reading ends, however many there are.
func (t *tableReader) stop(row int, f cellFault) {
	t.add(Finding{Severity: Error, Code: f.code, Origin: Origin{File: t.file, Row: row}, What: f.what, Mend: f.mend})
}

// table reads the rows of one table into the tables of r.
func (r *reader) table(file string, c codec, rows rowSource) {
	t := &tableReader{reader: r, codec: c, file: file, columns: c.header(), odd: map[string]int{}, oddFirst: map[string]int{}}
	t.read(rows)
	if t.encoding > 1 {
		t.add(Finding{Severity: Error, Code: "encoding", Origin: Origin{File: file}, What: fmt.Sprintf("%d rows are not UTF-8 text", t.encoding), Mend: "save the file as CSV UTF-8"})
	}
	for col, n := range t.odd {
		t.add(Finding{Severity: Note, Code: "formula-like", Origin: Origin{File: file, Row: t.oddFirst[col]}, Column: col,
			What: fmt.Sprintf("%d cells begin with a sign that a spreadsheet program may take for a formula", n), Mend: "put a word before it, or keep the column formatted as text"})
	}
	if t.unlisted > 0 {
		t.add(Finding{Severity: Error, Code: "more", Origin: Origin{File: file}, What: fmt.Sprintf("%d more findings are not listed", t.unlisted), Mend: "mend those that are listed and check again"})
	}
}

func (t *tableReader) read(rows rowSource) {
	head := false
	records := 0
	for {
		row, cells, err := rows.next()
		var bad badRow
		var stop badTable
		switch {
		case errors.Is(err, io.EOF):
			if !head {
				t.fault(Error, 0, "", cellFault{"header", "there is no header row", "write the names of the columns into the first row: " + t.names()})
			}
			return
		case errors.As(err, &bad):
			t.fault(Error, bad.row, "", bad.cellFault)
			if !head {
				return
			}
			continue
		case errors.As(err, &stop):
			t.stop(stop.row, stop.cellFault)
			return
		case err != nil:
			t.stop(0, cellFault{"unreadable", err.Error(), "save the file again"})
			return
		}
		if !head {
			if !t.header(row, cells) {
				return
			}
			head = true
			continue
		}
		if t.blank(cells) {
			continue
		}
		if records++; records > t.lim.Rows {
			t.stop(row, cellFault{"too-large", fmt.Sprintf("the table has more than %d rows; the rest is not read", t.lim.Rows), "split the catalog"})
			return
		}
		t.row(row, cells)
	}
}

func (t *tableReader) names() string {
	var n []string
	for _, c := range t.columns {
		n = append(n, c.name)
	}
	return strings.Join(n, ", ")
}

// header places the columns; false means that no row can be read.
func (t *tableReader) header(row int, cells []rawCell) bool {
	if len(cells) > t.lim.Columns {
		t.fault(Error, row, "", cellFault{"too-large", fmt.Sprintf("the header has %d columns; at most %d are allowed", len(cells), t.lim.Columns), "delete the columns that do not belong to the table"})
		return false
	}
	names := make([]string, len(t.columns))
	for i, c := range t.columns {
		names[i] = c.name
	}
	seen := make([]bool, len(names))
	t.place = make([]int, len(cells))
	ok := true
	for i, cell := range cells {
		if err := legible(cell.text); err != nil || cell.fault != nil {
			f := cellFault{}
			if errors.As(err, &f); cell.fault != nil {
				f = *cell.fault
			}
			t.fault(Error, row, columnLetters(i), f)
			return false
		}
		// Sales Name and sales-name are meant as sales_name.
		name := strings.NewReplacer(" ", "_", "-", "_").Replace(strings.ToLower(tidy(cell.text)))
		k := slices.Index(names, name)
		switch {
		case name == "":
			t.place[i] = unnamed
		case name == "#":
			t.place[i] = skipped
		case k < 0:
			t.place[i] = skipped
			mend := "the columns of " + t.codec.table() + " are " + t.names() + "; call a column # to keep remarks in it"
			if n, near := nearest(name, names); near {
				mend = fmt.Sprintf("did you mean %s? Call the column # if it holds remarks", n)
			}
			t.fault(Error, row, clip(tidy(cell.text)), cellFault{"unknown-column", fmt.Sprintf("the table %s has no such column", t.codec.table()), mend})
		case seen[k]:
			t.place[i] = skipped
			t.fault(Error, row, name, cellFault{"twice", "the column is there twice", "delete or rename one of the two"})
		default:
			seen[k] = true
			t.place[i] = k
		}
	}
	for k, c := range t.columns {
		if c.need != optional && !seen[k] {
			t.fault(Error, row, c.name, cellFault{"missing-column", "the column is missing", "add a column of this name"})
			ok = ok && c.need != filled
		}
	}
	return ok
}

// columnLetters names a column by its place, as a spreadsheet does.
func columnLetters(i int) string {
	s := ""
	for i++; i > 0; i = (i - 1) / 26 {
		s = string(rune('A'+(i-1)%26)) + s
	}
	return s
}

// blank tells whether a row has nothing but remarks.
func (t *tableReader) blank(cells []rawCell) bool {
	for i, c := range cells {
		if i < len(t.place) && t.place[i] == skipped {
			continue
		}
		if c.fault != nil || strings.TrimSpace(c.text) != "" {
			return false
		}
	}
	return true
}

// row decodes one row.
func (t *tableReader) row(row int, cells []rawCell) {
	ok, encoding := true, false
	fail := func(column string, f cellFault) {
		ok = false
		if f.code == "encoding" {
			// One finding says it for the whole file.
			if !encoding {
				t.encoding++
				encoding = true
			}
			if t.encoding > 1 {
				return
			}
		}
		t.fault(Error, row, column, f)
	}
	in := make([]cellAt, 0, len(t.place))
	for i, k := range t.place {
		if k == skipped {
			continue
		}
		var c rawCell
		if i < len(cells) {
			c = cells[i]
		}
		column := columnLetters(i)
		if k >= 0 {
			column = t.columns[k].name
		}
		if c.fault != nil {
			fail(column, *c.fault)
			continue
		}
		s := c.text
		if k >= 0 {
			switch {
			case c.date != "" && t.columns[k].kind == kindDate:
				s = c.date
			case c.date != "":
				fail(column, cellFault{"date-cell", fmt.Sprintf("the spreadsheet program has made a date of this cell (%s)", c.date), "format the column as text and type the cell again"})
				continue
			case c.number != "" && t.columns[k].kind != kindText:
				s = c.number
			}
		}
		s = tidy(s)
		var f cellFault
		if err := legible(s); errors.As(err, &f) {
			fail(column, f)
			continue
		}
		if k == unnamed {
			if s != "" {
				fail(column, cellFault{"header", "the cell stands in a column without a name", "name the column in the header row, or # for remarks"})
			}
			continue
		}
		if formulaLike(s) {
			if t.odd[column]++; t.odd[column] == 1 {
				t.oddFirst[column] = row
			}
		}
		in = append(in, cellAt{k, s})
	}
	for i := len(t.place); i < len(cells); i++ {
		if c := cells[i]; c.fault != nil || strings.TrimSpace(c.text) != "" {
			fail(columnLetters(i), cellFault{"cells", fmt.Sprintf("the row has %d cells, the header %d", len(cells), len(t.place)), "put a text with commas between double quotes, or delete what is too much"})
			break
		}
	}
	if !ok {
		// Decode into nothing, to report the other faults of the row too.
		for _, f := range t.codec.decode(new(Tables), t.meta.Limits, Origin{}, in) {
			t.fault(Error, row, f.column, f.cellFault)
		}
		return
	}
	for _, f := range t.codec.decode(&t.t, t.meta.Limits, Origin{t.file, row}, in) {
		t.fault(Error, row, f.column, f.cellFault)
	}
}

// formulaLike tells whether a spreadsheet program that opens the text from a
// CSV file might calculate it (OWASP, CSV Injection). A number with its sign
// is none.
func formulaLike(s string) bool {
	if s == "" {
		return false
	}
	if s[0] == '@' {
		return true
	}
	return (s[0] == '+' || s[0] == '-') && len(s) > 1 && (s[1] == '(' || 'a' <= s[1]|0x20 && s[1]|0x20 <= 'z')
}
