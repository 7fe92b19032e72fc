package catalog

import (
	"bytes"
	"cmp"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"
)

// workbookFile reads a workbook and the settings beside it.
func (r *reader) workbookFile(path string) error {
	dir, name := filepath.Split(path)
	settings := ""
	for _, s := range []string{filepath.Base(workbookSettings(path)), SettingsFile} {
		if isFile(filepath.Join(dir, s)) {
			settings = s
			break
		}
	}
	if err := r.settings(dir, settings); err != nil {
		return err
	}
	f, _, err := r.open(path, name, r.lim.Packed)
	if err != nil || f == nil {
		return err
	}
	defer f.Close()
	b, err := io.ReadAll(io.LimitReader(f, r.lim.Packed+1))
	if err != nil {
		return fmt.Errorf("reading a catalog: %w", err)
	}
	if int64(len(b)) > r.lim.Packed {
		r.add(tooManyBytes(name, int64(len(b)), r.lim.Packed))
		return nil
	}
	r.workbook(name, b)
	return nil
}

// workbook reads the sheets of a workbook.
func (r *reader) workbook(name string, b []byte) {
	fault := func(f cellFault) {
		r.add(Finding{Severity: Error, Code: f.code, Origin: Origin{File: name}, What: f.what, Mend: f.mend})
	}
	// The library has been seen to panic on workbooks whose parts contradict
	// each other; such a file is a finding like any other.
	defer func() {
		if p := recover(); p != nil {
			fault(damaged(fmt.Sprint(p)))
		}
	}()
	pkg, f := openPackage(b, r.lim)
	if f != nil {
		fault(*f)
		return
	}
	book, err := excelize.OpenReader(bytes.NewReader(b), excelize.Options{UnzipSizeLimit: r.lim.Bytes, UnzipXMLSizeLimit: min(r.lim.Bytes, workbookPart)})
	if err != nil {
		fault(damaged(err.Error()))
		return
	}
	defer book.Close()
	if f := checkFormats(book); f != nil {
		fault(*f)
		return
	}
	props, err := book.GetWorkbookProps()
	if err != nil {
		fault(damaged(err.Error()))
		return
	}
	styles := &styles{book: book, texts: pkg.texts, epoch1904: props.Date1904 != nil && *props.Date1904, known: map[int]dated{}}
	sheets := make(map[string]string)
	for _, s := range book.GetSheetList() {
		// Some spreadsheet programs name a sheet after the file that they opened.
		table := strings.TrimSuffix(strings.ToLower(strings.TrimSpace(s)), ".csv")
		switch {
		case findCodec(table) == nil:
			r.unknownTable(s, table, "sheet")
		case sheets[table] != "":
			r.add(Finding{Severity: Error, Code: "twice", Origin: Origin{File: s}, What: "the table is also in the sheet " + sheets[table], Mend: "keep one of the two sheets"})
		default:
			sheets[table] = s
		}
	}
	if len(sheets) == 0 {
		fault(cellFault{"no-tables", "the workbook holds no table", "name its sheets " + tableNames("")})
	}
	for _, c := range codecs() {
		if s, ok := sheets[c.table()]; ok {
			r.sheet(s, c, pkg, styles)
		}
	}
}

func (r *reader) sheet(name string, c codec, pkg *packageParts, st *styles) {
	part, f := pkg.sheet(name)
	if f != nil {
		r.add(Finding{Severity: Error, Code: f.code, Origin: Origin{File: name}, What: f.what, Mend: f.mend})
		return
	}
	defer part.Close()
	rows, err := st.book.Rows(name)
	if err != nil {
		d := damaged(err.Error())
		r.add(Finding{Severity: Error, Code: d.code, Origin: Origin{File: name}, What: d.what, Mend: d.mend})
		return
	}
	defer rows.Close()
	r.table(name, c, &sheetRows{scan: newSheetScan(part, r.lim.Columns), rows: rows, styles: st})
}

// numberFormats and formatChars bound the number formats, which the library
// searches and parses anew for every cell. Common spreadsheet programs stop at
// about 250 formats of 255 characters.
const (
	numberFormats = 1000
	formatChars   = 1000
)

func checkFormats(book *excelize.File) *cellFault {
	if book.Styles == nil || book.Styles.NumFmts == nil {
		return nil
	}
	formats := book.Styles.NumFmts.NumFmt
	long := false
	for _, f := range formats {
		long = long || f != nil && max(len(f.FormatCode), len(f.FormatCode16)) > formatChars
	}
	if long || len(formats) > numberFormats {
		return &cellFault{"too-large", fmt.Sprintf("the workbook has more than %d number formats, or one of more than %d characters", numberFormats, formatChars),
			"format the cells as text"}
	}
	return nil
}

func damaged(why string) cellFault {
	return cellFault{"damaged", "the workbook is damaged: " + clip(strings.ToValidUTF8(why, "�")), "open it in a spreadsheet program and save it again"}
}

// sheetRows is the rowSource of a sheet. The library gives the text of cells;
// a scan that runs ahead of it row by row tells what the library does not:
// which cells are formulas, numbers and dates, and that the row is sound.
type sheetRows struct {
	scan   *sheetScan
	rows   *excelize.Rows
	at     int // row of the library
	styles *styles
	cells  []rawCell
}

func (s *sheetRows) next() (int, []rawCell, error) {
	for {
		row, info, err := s.scan.next()
		if err != nil {
			return 0, nil, err
		}
		if len(info) == 0 {
			continue
		}
		for s.at < row {
			if !s.rows.Next() {
				return 0, nil, badTable{row, damaged("a row cannot be found again")}
			}
			s.at++
		}
		texts, err := s.rows.Columns()
		if err != nil {
			return 0, nil, badTable{row, damaged(err.Error())}
		}
		s.cells = s.cells[:0]
		for _, t := range texts {
			s.cells = append(s.cells, rawCell{text: t})
		}
		for _, c := range info {
			for len(s.cells) <= c.column {
				s.cells = append(s.cells, rawCell{})
			}
			s.styles.judge(&s.cells[c.column], c)
		}
		return row, s.cells, nil
	}
}

// cellInfo is what a scan tells of a cell that holds anything.
type cellInfo struct {
	column  int // from 0
	kind    string
	style   int
	value   string
	formula bool
}

// dated tells how far a number format prints a date.
type dated uint8

const (
	noDate   dated = iota
	dayDate        // year, month and day
	monthly        // year and month
	yearly         // year
	halfDate       // day and month without the year
)

// styles knows the number formats of a workbook.
type styles struct {
	book      *excelize.File
	texts     int // number of shared strings
	epoch1904 bool
	known     map[int]dated
}

// judge completes a cell by its type and format.
func (s *styles) judge(cell *rawCell, c cellInfo) {
	fault := func(code, what, mend string) { cell.fault = &cellFault{code, what, mend} }
	switch {
	case c.formula:
		fault("formula", "the cell is a formula", "paste the value in its place")
	case c.kind == "e":
		fault("formula", "the cell holds the error value "+clip(c.value), "type the value")
	case c.kind == "s":
		// The library gives no text for a string that is not there.
		if n, err := strconv.Atoi(strings.TrimSpace(c.value)); c.value != "" && (err != nil || n < 0 || n >= s.texts) {
			f := damaged("a text is missing")
			cell.fault = &f
		}
	case c.kind == "d":
		if d, err := ParseDate(c.value[:min(len(c.value), 10)]); err == nil {
			cell.date = d.String()
		}
	case c.kind == "" || c.kind == "n":
		x, err := strconv.ParseFloat(strings.TrimSpace(c.value), 64)
		if err != nil || math.IsInf(x, 0) || math.IsNaN(x) {
			if strings.TrimSpace(c.value) != "" {
				fault("number", fmt.Sprintf("the cell is marked as a number but holds %q", clip(c.value)), "type it again")
			}
			return
		}
		switch d := s.dated(c.style); d {
		case noDate:
			if math.Abs(x) >= 1e15 {
				fault("number", "the spreadsheet program has made a number of this cell and keeps only 15 of its digits", "format the column as text and type the cell again")
				return
			}
			// 15 significant digits are what a spreadsheet shows and keeps.
			y, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 15, 64), 64)
			cell.number = strconv.FormatFloat(y, 'f', -1, 64)
		case halfDate:
			fault("date-cell", fmt.Sprintf("the spreadsheet program has made a date without a year of this cell (%s)", clip(cell.text)), "format the column as text and type the cell again")
		default:
			t, err := excelize.ExcelDateToTime(math.Floor(x), s.epoch1904)
			if err != nil || t.Year() < 1900 || t.Year() > 2199 {
				fault("date", "the date is outside 1900 to 2199", "write YYYY-MM or YYYY-MM-DD")
				return
			}
			cell.date = t.Format(map[dated]string{dayDate: time.DateOnly, monthly: "2006-01", yearly: "2006"}[d])
		}
	}
}

func (s *styles) dated(id int) dated {
	if id == 0 {
		return noDate
	}
	d, ok := s.known[id]
	if !ok {
		if st, err := s.book.GetStyle(id); err == nil && st != nil {
			if st.CustomNumFmt != nil {
				d = datedFormat(*st.CustomNumFmt)
			} else {
				d = datedNumber(st.NumFmt)
			}
		}
		s.known[id] = d
	}
	return d
}

// datedNumber judges the built-in number formats (ISO/IEC 29500-1, 18.8.30).
func datedNumber(id int) dated {
	switch {
	case id == 14 || id == 15 || id == 22 || id >= 27 && id <= 31 || id == 36 || id >= 50 && id <= 58:
		return dayDate
	case id == 16:
		return halfDate
	case id == 17:
		return monthly
	}
	return noDate
}

// datedFormat judges a number format code by the letters of its first section
// that are not quoted (ISO/IEC 29500-1, 18.8.31).
func datedFormat(code string) dated {
	var y, m, d bool
	letters := ""
	for i := 0; i < len(code); i++ {
		switch c := code[i]; c {
		case '"':
			if k := strings.IndexByte(code[i+1:], '"'); k >= 0 {
				i += k + 1
			}
		case '[':
			if k := strings.IndexByte(code[i:], ']'); k >= 0 {
				i += k
			}
		case '\\', '_', '*':
			i++
		case ';':
			i = len(code)
		default:
			letters += strings.ToLower(string(rune(c)))
		}
	}
	if strings.Contains(letters, "general") {
		return noDate
	}
	y, d = strings.Contains(letters, "y"), strings.Contains(letters, "d")
	// m stands for minutes where hours or seconds are printed.
	m = strings.Contains(letters, "m") && !strings.ContainsAny(letters, "hs") || strings.Contains(letters, "mmm") || y && d
	switch {
	case y && d && m:
		return dayDate
	case y && m:
		return monthly
	case y:
		return yearly
	case m && d:
		return halfDate
	}
	return noDate
}

// xlsxRowBytes bounds the XML of one row and of one shared string.
const xlsxRowBytes = 2 << 20

// maxSheetRows and maxSheetColumns are those of a workbook (ISO/IEC 29500; the
// limits of common spreadsheet programs).
const (
	maxSheetRows    = 1 << 20
	maxSheetColumns = 1 << 14
)

// sheetScan reads the XML of a sheet row by row.
type sheetScan struct {
	dec     *xml.Decoder
	guard   *byteGuard
	columns int
	row     int
	done    bool
	cells   []cellInfo
}

func newSheetScan(part io.Reader, columns int) *sheetScan {
	g := &byteGuard{in: part, left: math.MaxInt64, run: xlsxRowBytes}
	return &sheetScan{dec: xml.NewDecoder(g), guard: g, columns: columns}
}

// next gives the cells of the next row that hold anything, in order.
func (s *sheetScan) next() (int, []cellInfo, error) {
	s.cells = s.cells[:0]
	open := false
	for !s.done {
		tok, err := s.dec.Token()
		switch {
		case errors.Is(err, io.EOF):
			s.done = true
			continue
		case errors.Is(err, errRunBytes):
			return 0, nil, badTable{s.row, cellFault{"too-large", fmt.Sprintf("the row takes more than %d bytes", xlsxRowBytes), "shorten it"}}
		case err != nil:
			return 0, nil, badTable{s.row, damaged(err.Error())}
		}
		switch el := tok.(type) {
		case xml.StartElement:
			switch el.Name.Local {
			case "row":
				s.guard.run = xlsxRowBytes
				n, err := attribute(el, "r")
				if n == 0 {
					n = s.row + 1
				}
				if err != nil || open || n <= s.row || n > maxSheetRows {
					return 0, nil, badTable{s.row, damaged("the rows are not in order")}
				}
				s.row, open = n, true
			case "c":
				if !open {
					return 0, nil, badTable{s.row, damaged("a cell stands outside a row")}
				}
				if err := s.cell(el); err != nil {
					return 0, nil, err
				}
			}
		case xml.EndElement:
			switch el.Name.Local {
			case "sheetData":
				s.done = true
			case "row":
				return s.row, s.cells, nil
			}
		}
	}
	return 0, nil, io.EOF
}

// cell reads one cell up to its end.
func (s *sheetScan) cell(el xml.StartElement) error {
	c := cellInfo{column: -1}
	if n := len(s.cells); n > 0 {
		c.column = s.cells[n-1].column
	}
	before := c.column
	c.column++
	for _, a := range el.Attr {
		var err error
		switch a.Name.Local {
		case "r":
			var row int
			c.column, row, err = excelize.CellNameToCoordinates(a.Value)
			c.column--
			if err == nil && row != s.row {
				err = errors.New("a cell stands in the wrong row")
			}
		case "s":
			c.style, err = strconv.Atoi(a.Value)
		case "t":
			c.kind = a.Value
		}
		if err != nil {
			return badTable{s.row, damaged(err.Error())}
		}
	}
	held := false
	var value strings.Builder
	depth, inValue := 1, false
	for depth > 0 {
		tok, err := s.dec.Token()
		if err != nil {
			if errors.Is(err, errRunBytes) {
				return badTable{s.row, cellFault{"too-large", fmt.Sprintf("the row takes more than %d bytes", xlsxRowBytes), "shorten it"}}
			}
			return badTable{s.row, damaged(err.Error())}
		}
		switch t := tok.(type) {
		case xml.StartElement:
			if depth == 1 {
				held = true
				inValue = t.Name.Local == "v"
				c.formula = c.formula || t.Name.Local == "f"
			}
			depth++
		case xml.EndElement:
			depth--
			inValue = inValue && depth > 1
		case xml.CharData:
			if inValue {
				value.Write(t)
			}
		}
	}
	c.value = value.String()
	if !held {
		return nil
	}
	switch {
	case c.column <= before || c.column >= maxSheetColumns:
		return badTable{s.row, damaged("the cells are not in order")}
	case c.column >= s.columns:
		return badTable{s.row, cellFault{"too-large", fmt.Sprintf("the sheet is used up to column %s; at most %d columns are allowed", columnLetters(c.column), s.columns), "delete the columns that do not belong to the table"}}
	}
	s.cells = append(s.cells, c)
	return nil
}

func attribute(el xml.StartElement, name string) (int, error) {
	for _, a := range el.Attr {
		if a.Name.Local == name {
			n, err := strconv.Atoi(a.Value)
			if err == nil && n < 1 {
				err = fmt.Errorf("%d is less than 1", n)
			}
			return n, err
		}
	}
	return 0, nil
}

// encodeWorkbook writes the sheets of a catalog.
func encodeWorkbook(c *Catalog) ([]byte, error) {
	book := excelize.NewFile()
	defer book.Close()
	// The library would leave its author's name.
	props := &excelize.DocProperties{Title: c.meta.Title, Creator: cmp.Or(c.meta.Maker, "rightpage"), Version: c.meta.Revision}
	if d, err := ParseDate(c.meta.Issued); err == nil && !d.IsZero() {
		at := d.First().Date().String() + "T00:00:00Z"
		props.Created, props.Modified = at, at
	}
	if err := book.SetDocProps(props); err != nil {
		return nil, err
	}
	if err := book.SetAppProps(&excelize.AppProperties{Application: "rightpage"}); err != nil {
		return nil, err
	}
	bold, err := book.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}, NumFmt: 49})
	if err != nil {
		return nil, err
	}
	plain, err := book.NewStyle(&excelize.Style{NumFmt: 49})
	if err != nil {
		return nil, err
	}
	for i, cd := range codecs() {
		if i == 0 {
			err = book.SetSheetName(book.GetSheetName(0), cd.table())
		} else {
			_, err = book.NewSheet(cd.table())
		}
		if err == nil {
			err = encodeSheet(book, cd, c, bold, plain)
		}
		if err != nil {
			return nil, err
		}
	}
	var b bytes.Buffer
	if err := book.Write(&b); err != nil {
		return nil, err
	}
	return inOrder(b.Bytes())
}

// columnWidths fits the columns to what stands in the first rows, within reason.
func columnWidths(cd codec, c *Catalog) []float64 {
	const rows, narrowest, widest = 300, 8, 40
	h := cd.header()
	widths := make([]float64, len(h))
	widen := func(k int, s string) {
		for line := range strings.SplitSeq(s, "\n") {
			widths[k] = max(widths[k], min(widest, float64(utf8.RuneCountInString(line)+2)))
		}
	}
	for k := range h {
		widths[k] = narrowest
		widen(k, h[k].name)
	}
	for i := range min(rows, cd.count(&c.t)) {
		cells, _ := cd.cells(&c.t, i, c.meta.Limits) // faults are reported where the cells are written
		for k, s := range cells {
			widen(k, s)
		}
	}
	return widths
}

func encodeSheet(book *excelize.File, cd codec, c *Catalog, bold, plain int) error {
	w, err := book.NewStreamWriter(cd.table())
	if err != nil {
		return err
	}
	h := cd.header()
	for i, n := range columnWidths(cd, c) {
		if err := w.SetColWidth(i+1, i+1, n); err != nil {
			return err
		}
	}
	if err := w.SetColStyle(1, len(h), plain); err != nil {
		return err
	}
	if err := w.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	row := make([]any, len(h))
	for i := range h {
		row[i] = excelize.Cell{StyleID: bold, Value: h[i].name}
	}
	if err := w.SetRow("A1", row); err != nil {
		return err
	}
	if n := cd.count(&c.t); n >= maxSheetRows {
		return fmt.Errorf("table %s has %d records; a sheet holds at most %d", cd.table(), n, maxSheetRows-1)
	}
	for i := range cd.count(&c.t) {
		cells, err := cd.cells(&c.t, i, c.meta.Limits)
		if err != nil {
			return err
		}
		for k, s := range cells {
			row[k] = nil
			if s != "" {
				row[k] = excelize.Cell{StyleID: plain, Value: s}
			}
		}
		if err := w.SetRow("A"+strconv.Itoa(i+2), row); err != nil {
			return err
		}
	}
	return w.Flush()
}
