package catalog

import (
	"archive/zip"
	"bytes"
	"fmt"
	"math/rand"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
)

// book makes a workbook as a spreadsheet program would, with shared strings.
func book(t testing.TB, fill func(f *excelize.File, set func(sheet, cell string, v any, format string))) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	set := func(sheet, cell string, v any, format string) {
		if i, _ := f.GetSheetIndex(sheet); i < 0 {
			if _, err := f.NewSheet(sheet); err != nil {
				t.Fatal(err)
			}
		}
		if err := f.SetCellValue(sheet, cell, v); err != nil {
			t.Fatal(err)
		}
		if format != "" {
			id, err := f.NewStyle(&excelize.Style{CustomNumFmt: &format})
			if err == nil {
				err = f.SetCellStyle(sheet, cell, cell, id)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
	}
	fill(f, set)
	if err := f.DeleteSheet("Sheet1"); err != nil {
		t.Fatal(err)
	}
	b, err := f.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestCellsThatASpreadsheetProgramHasTyped(t *testing.T) {
	day := time.Date(2016, 3, 1, 0, 0, 0, 0, time.UTC)
	b := book(t, func(f *excelize.File, set func(sheet, cell string, v any, format string)) {
		for i, s := range []string{"specification", "quantity", "low", "high", "value", "from", "through", "serial_from"} {
			set("specifications", string(rune('A'+i))+"1", s, "")
		}
		set("specifications", "A2", 12, "")             // a code that looks like a number
		set("specifications", "B2", "oil", "")          //
		set("specifications", "C2", 0.07, "0.0")        // prints 0.1, is 0.07
		set("specifications", "D2", 1234.5, "#,##0.00") // prints 1,234.50
		set("specifications", "E2", 7, "0000")          // prints 0007
		set("specifications", "F2", day, "yyyy\\-mm\\-dd")
		set("specifications", "G2", day, "mmm-yy") // what becomes of 2016-03
		set("specifications", "H2", 120034, "")
		set("specifications", "A3", "S-3", "")
		set("specifications", "B3", true, "")
		set("specifications", "F3", "2016-03", "")
		set("specifications", "G3", day, `[$-407]d. mmmm yyyy;@`)
		if err := f.SetCellRichText("specifications", "E3", []excelize.RichTextRun{{Text: "10W"}, {Text: "-30", Font: &excelize.Font{Bold: true}}}); err != nil {
			t.Fatal(err)
		}
		set("specifications", "A1000", "S-4", "") // after empty rows
		set("specifications", "B1000", "oil", "")
	})
	c, report := readReport(t, workbookPath(t, b), Limits{})
	if len(report) != 0 {
		t.Fatal(lines(report))
	}
	want := []Specification{
		{ID: "12", Quantity: "oil", Low: p(0.07), High: p(1234.5), Value: "0007", KeyedBy: "model", Origin: Origin{"specifications", 2},
			Effectivity: Effectivity{{From: Date{2016, 3, 1}, Through: Date{2016, 3, 0}, Serials: Serials{From: 120034}}}},
		{ID: "S-3", Quantity: "TRUE", Value: "10W-30", KeyedBy: "model", Effectivity: Effectivity{{From: Date{2016, 3, 0}, Through: Date{2016, 3, 1}}}, Origin: Origin{"specifications", 3}},
		{ID: "S-4", Quantity: "oil", KeyedBy: "model", Origin: Origin{"specifications", 1000}},
	}
	if d := cmp.Diff(want, c.Tables().Specifications); d != "" {
		t.Error(d)
	}
}

func TestCellsThatASpreadsheetProgramHasSpoilt(t *testing.T) {
	day := time.Date(2016, 3, 1, 0, 0, 0, 0, time.UTC)
	b := book(t, func(f *excelize.File, set func(sheet, cell string, v any, format string)) {
		for i, s := range []string{"publication", "chapter", "step", "do"} {
			set("tests", string(rune('A'+i))+"1", s, "")
		}
		set("tests", "A2", "A", "")
		set("tests", "B2", 1, "")
		set("tests", "C2", day, "d-mmm") // what becomes of a step 1-3
		set("tests", "D2", day, "yyyy-mm-dd")
		set("tests", "A3", "A", "")
		set("tests", "B3", 12345678901234567, "")
		set("tests", "C3", 1, "")
		if err := f.SetCellFormula("tests", "D3", "B2+1"); err != nil {
			t.Fatal(err)
		}
		for i, s := range []string{"bulletin", "issued", "subject"} {
			set("bulletins", string(rune('A'+i))+"1", s, "")
		}
		set("bulletins", "A2", "B-1", "")
		set("bulletins", "B2", day, "d-mmm")
		set("bulletins", "A3", "B-2", "")
		set("bulletins", "B3", 42430, "")
		set("bulletins", "A4", "B-3", "")
		set("bulletins", "B4", -5, "yyyy-mm-dd")
		set("wether", "A1", "x", "")
	})
	_, report := readReport(t, workbookPath(t, b), Limits{})
	wantFinding(t, report, Error, "date-cell", "tests", 2, "step", "format the column as text")
	wantFinding(t, report, Error, "date-cell", "tests", 2, "do", "has made a date of this cell (2016-03-01)")
	wantFinding(t, report, Error, "number", "tests", 3, "chapter", "keeps only 15 of its digits")
	wantFinding(t, report, Error, "formula", "tests", 3, "do", "the cell is a formula; paste the value")
	wantFinding(t, report, Error, "date-cell", "bulletins", 2, "issued", "a date without a year")
	wantFinding(t, report, Error, "date", "bulletins", 3, "issued", `"42430" is not a date`)
	wantFinding(t, report, Error, "date", "bulletins", 4, "issued", "outside 1900 to 2199")
	wantFinding(t, report, Warning, "unknown-table", "wether", 0, "", "the sheet is not read")
	if len(report) != 8 {
		t.Error(strings.Join(lines(report), "\n"))
	}
}

// Number formats and what they print of a date (ISO/IEC 29500-1, 18.8.30 and
// 18.8.31).
func TestNumberFormatsThatPrintDates(t *testing.T) {
	for code, want := range map[string]dated{
		"General": noDate, "0.00": noDate, "@": noDate, "#,##0": noDate, "0.00E+00": noDate, `0 "days"`: noDate, `0\d`: noDate, "[Red]0": noDate, "0_d": noDate,
		"h:mm": noDate, "[h]:mm:ss": noDate, "mm:ss.0": noDate, `"y"0`: noDate,
		"yyyy-mm-dd": dayDate, "m/d/yy": dayDate, "d. mmmm yyyy": dayDate, "[$-407]d. mmmm yyyy;@": dayDate, "yyyy-mm-dd hh:mm": dayDate, `yyyy"y"mm"m"dd"d"`: dayDate, "DD/MM/YYYY": dayDate,
		"mmm-yy": monthly, "yyyy-mm": monthly, "mmmm yyyy": monthly, "yyyy": yearly, "d-mmm": halfDate, "dd.mm.": halfDate,
	} {
		if got := datedFormat(code); got != want {
			t.Errorf("%s prints %d, want %d", code, got, want)
		}
	}
	for id, want := range map[int]dated{0: noDate, 2: noDate, 14: dayDate, 15: dayDate, 16: halfDate, 17: monthly, 18: noDate, 22: dayDate, 45: noDate, 49: noDate} {
		if got := datedNumber(id); got != want {
			t.Errorf("format %d prints %d, want %d", id, got, want)
		}
	}
}

func TestTheOtherEpochOfWorkbooks(t *testing.T) {
	yes := true
	b := book(t, func(f *excelize.File, set func(sheet, cell string, v any, format string)) {
		if err := f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &yes}); err != nil {
			t.Fatal(err)
		}
		set("bulletins", "A1", "bulletin", "")
		set("bulletins", "B1", "issued", "")
		set("bulletins", "A2", "B", "")
		set("bulletins", "B2", 40968, "yyyy-mm-dd") // 1904-01-01 and 40968 days
	})
	c, report := readReport(t, workbookPath(t, b), Limits{})
	if len(report) != 0 || c.Tables().Bulletins[0].Issued != (Date{2016, 3, 1}) {
		t.Errorf("%v %v", lines(report), c.Tables().Bulletins)
	}
}

func TestSettingsOfAWorkbook(t *testing.T) {
	b := sheetXML(t, "Groups", row(1, "group", "title")+row(2, "1", "a"), nil)
	dir := t.TempDir()
	path := filepath.Join(dir, "Tarnfell.XLSX")
	write(t, path, string(b))
	_, report := readReport(t, path, Limits{})
	wantFinding(t, report, Error, "no-settings", SettingsFile, 0, "", "")
	write(t, filepath.Join(dir, SettingsFile), "title: shared\nrevision: 1\n")
	c, report := readReport(t, path, Limits{})
	if len(report) != 0 || c.Meta().Title != "shared" || len(c.Tables().Groups) != 1 {
		t.Errorf("%v %+v", lines(report), c.Meta())
	}
	write(t, filepath.Join(dir, "Tarnfell.yaml"), "title: its own\nrevision: 1\n")
	c, _ = readReport(t, path, Limits{})
	if c.Meta().Title != "its own" {
		t.Errorf("%+v", c.Meta())
	}
}

func TestSheetsThatAreNotAsTheyShouldBe(t *testing.T) {
	head := row(1, "group", "title")
	for name, tt := range map[string]struct {
		xml        string
		extra      map[string]string
		code, want string
	}{
		"no rows":                {"", nil, "header", "write the names of the columns"},
		"no row numbers":         {`<row><c t="inlineStr"><is><t>group</t></is></c><c t="inlineStr"><is><t>title</t></is></c></row><row><c t="inlineStr"><is><t>1</t></is></c></row>`, nil, "", ""},
		"rows out of order":      {row(3, "group", "title") + row(2, "1", "a"), nil, "damaged", "the rows are not in order"},
		"row 0":                  {`<row r="0"/>`, nil, "damaged", ""},
		"row beyond the last":    {head + `<row r="1048577"><c r="A1048577"><v>1</v></c></row>`, nil, "damaged", "exceeds maximum limit"},
		"cell of another row":    {head + `<row r="2"><c r="A3"><v>1</v></c></row>`, nil, "damaged", "wrong row"},
		"cells out of order":     {head + `<row r="2"><c r="B2"><v>1</v></c><c r="A2"><v>1</v></c></row>`, nil, "damaged", "not in order"},
		"a cell twice":           {head + `<row r="2"><c r="A2"><v>1</v></c><c r="A2"><v>2</v></c></row>`, nil, "damaged", "not in order"},
		"cell outside a row":     {head + `<c r="A2"/>`, nil, "damaged", "outside a row"},
		"row within a row":       {head + `<row r="2"><row r="3"/></row>`, nil, "damaged", ""},
		"nameless cell":          {head + `<row r="2"><c r="?"><v>1</v></c></row>`, nil, "damaged", ""},
		"far column":             {head + `<row r="2"><c r="XFD2"><v>1</v></c></row>`, nil, "too-large", "used up to column XFD; at most 200"},
		"column beyond the last": {head + `<row r="2"><c r="XFE2"><v>1</v></c></row>`, nil, "damaged", ""},
		"far empty cell":         {head + `<row r="2"><c r="A2"><v>1</v></c><c r="XFD2" s="0"/></row>`, nil, "", ""},
		"far empty row":          {head + row(2, "1", "a") + `<row r="1048576"><c r="A1048576" s="0"/></row>`, nil, "", ""},
		"error value":            {head + `<row r="2"><c r="A2" t="e"><v>#N/A</v></c></row>`, nil, "formula", "the error value #N/A"},
		"formula":                {head + `<row r="2"><c r="A2"><f>1+1</f><v>2</v></c></row>`, nil, "formula", "paste the value"},
		"formula without value":  {head + `<row r="2"><c r="A2"><f>1+1</f></c></row>`, nil, "formula", "paste the value"},
		"no number":              {head + `<row r="2"><c r="A2"><v>abc</v></c></row>`, nil, "number", "marked as a number"},
		"infinity":               {head + `<row r="2"><c r="A2"><v>1e999</v></c></row>`, nil, "number", "marked as a number"},
		"no shared strings":      {head + `<row r="2"><c r="A2" t="s"><v>7</v></c></row>`, nil, "damaged", "a text is missing"},
		"control character":      {head + row(2, "1", "_x0001_"), nil, "control", "U+0001"},
		"unclosed":               {head + `<row r="2"><c r="A2">`, nil, "damaged", ""},
		"long text":              {head + row(2, "1", strings.Repeat("x", cellChars+1)), nil, "too-long", "32767"},
		"ISO 8601 cell":          {head + `<row r="2"><c r="A2" t="d"><v>2016-03-01T00:00:00Z</v></c></row>`, nil, "date-cell", "(2016-03-01)"},
		"missing sheet part":     {"", map[string]string{"xl/worksheets/sheet1.xml": ""}, "damaged", ""},
		"missing relationships":  {"", map[string]string{"xl/_rels/workbook.xml.rels": ""}, "damaged", ""},
		"missing workbook":       {"", map[string]string{"xl/workbook.xml": ""}, "damaged", ""},
		"missing start":          {"", map[string]string{"_rels/.rels": ""}, "damaged", ""},
		"missing content types":  {head, map[string]string{"[Content_Types].xml": ""}, "", ""},
		"broken styles":          {head, map[string]string{"xl/styles.xml": "<styleSheet"}, "damaged", ""},
		"another encoding":       {head, map[string]string{"xl/worksheets/sheet1.xml": `<?xml version="1.0" encoding="UTF-16"?><worksheet/>`}, "damaged", ""},
	} {
		_, report := readReport(t, workbookPath(t, sheetXML(t, "groups", tt.xml, tt.extra)), Limits{})
		if tt.code == "" && len(report) > 0 || tt.code != "" && (len(report) == 0 || report[0].Code != tt.code || !strings.Contains(report[0].Error(), tt.want)) {
			t.Errorf("%s: %v, want %s with %q", name, lines(report), tt.code, tt.want)
		}
	}
}

func TestFilesThatAreNoWorkbooks(t *testing.T) {
	sound := sheetXML(t, "groups", row(1, "group", "title"), nil)
	for name, tt := range map[string]struct{ text, code, want string }{
		"empty":                   {"", "binary", "not an .xlsx workbook"},
		"text":                    {"group,title\n", "binary", "save the workbook as .xlsx"},
		"of the old form":         {"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + strings.Repeat("x", 600), "binary", "without a password"},
		"cut off":                 {string(sound[:len(sound)/2]), "damaged", ""},
		"only the mark":           {"PK\x03\x04", "damaged", ""},
		"NULs after the mark":     {"PK\x03\x04" + strings.Repeat("\x00", 1000), "damaged", ""},
		"a zip file of something": {string(zipOf(t, "hello.txt", "x")), "damaged", ""},
	} {
		_, report := readReport(t, workbookPath(t, []byte(tt.text)), Limits{})
		if len(report) != 1 || report[0].Code != tt.code || !strings.Contains(report[0].Error(), tt.want) {
			t.Errorf("%s: %v, want %s with %q", name, lines(report), tt.code, tt.want)
		}
	}
	_, report := readReport(t, workbookPath(t, sheetXML(t, "weather", row(1, "x"), nil)), Limits{})
	wantFinding(t, report, Error, "no-tables", "book.xlsx", 0, "", "name its sheets schemes, models")
}

func zipOf(t testing.TB, name, s string) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	put(t, w, name, s)
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// claiming makes a zip part whose header claims sizes that are not so.
func claiming(t testing.TB, base []byte, name string, packed, unpacked uint64) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	r, err := zip.NewReader(bytes.NewReader(base), int64(len(base)))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range r.File {
		if f.Name == name {
			continue
		}
		if err := w.Copy(f); err != nil {
			t.Fatal(err)
		}
	}
	f, err := w.CreateRaw(&zip.FileHeader{Name: name, Method: zip.Deflate, CompressedSize64: packed, UncompressedSize64: unpacked})
	if err == nil {
		_, err = f.Write(bytes.Repeat([]byte{3, 0}, int(packed/2)))
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestHostileWorkbooksAreRefusedInBoundedMemory(t *testing.T) {
	const mib = 1 << 20
	const sheet = "xl/worksheets/sheet1.xml"
	head := row(1, "group", "title")
	sound := sheetXML(t, "groups", head, nil)
	var noise bytes.Buffer // so that the ratio is small
	rng := rand.New(rand.NewSource(1))
	for noise.Len() < 9*mib/2 {
		noise.WriteByte(byte('a' + rng.Intn(26)))
	}
	for name, tt := range map[string]struct {
		book []byte
		lim  Limits
		code string
		want string
	}{
		"a bomb in the sheet":       {sheetXML(t, "groups", head+strings.Repeat(" ", 16*mib), nil), Limits{}, "too-large", "zip bomb"},
		"a bomb besides":            {sheetXML(t, "groups", head, map[string]string{"xl/media/image1.png": strings.Repeat("\x00", 16*mib)}), Limits{}, "too-large", "zip bomb"},
		"a claim of 10 GB":          {claiming(t, sound, sheet, 100, 10<<30), Limits{}, "too-large", "unpacks to more than 268435456 bytes"},
		"a claim beyond 64 bits":    {claiming(t, sound, sheet, 100, 1<<64-1), Limits{}, "too-large", "unpacks to more than"},
		"a claim too small":         {claiming(t, sound, sheet, 100, 1), Limits{}, "damaged", ""},
		"many small parts":          {manyParts(t, sound, workbookParts+1), Limits{}, "too-large", "parts"},
		"a part twice":              {twice(t, sound), Limits{}, "damaged", "is there twice"},
		"large styles":              {sheetXML(t, "groups", head, map[string]string{"xl/styles.xml": "<styleSheet " + mainNS + "><!--" + noise.String() + "--></styleSheet>"}), Limits{}, "too-large", "at most 4194304 are allowed"},
		"larger than allowed":       {sheetXML(t, "groups", head+"<!--"+noise.String()+"-->", nil), Limits{Bytes: mib}, "too-large", "unpacks to more than 1048576 bytes"},
		"packed larger":             {sheetXML(t, "groups", head+"<!--"+noise.String()+"-->", nil), Limits{Packed: mib}, "too-large", "at most 1048576 are allowed"},
		"too many rows":             {sheetXML(t, "groups", head+manyRows(2000), nil), Limits{Rows: 1000}, "too-large", "more than 1000 rows"},
		"a row without end":         {sheetXML(t, "groups", head+`<row r="2"><c r="A2" t="inlineStr"><is><t>`+noise.String()+`</t></is></c></row>`, nil), Limits{}, "too-large", "the row takes more than"},
		"a shared text without end": {sheetXML(t, "groups", head, map[string]string{"xl/sharedStrings.xml": "<sst " + mainNS + "><si><t>" + noise.String() + noise.String() + "</t></si></sst>"}), Limits{}, "too-long", "32767"},
		"cells in the last column":  {sheetXML(t, "groups", head+lastColumn(5000), nil), Limits{}, "too-large", "column XFD"},
		"many number formats":       {sheetXML(t, "groups", head, map[string]string{"xl/styles.xml": "<styleSheet " + mainNS + "><numFmts>" + strings.Repeat(`<numFmt numFmtId="170" formatCode="0"/>`, numberFormats+1) + "</numFmts></styleSheet>"}), Limits{}, "too-large", "number formats"},
		"a long number format":      {sheetXML(t, "groups", head, map[string]string{"xl/styles.xml": `<styleSheet ` + mainNS + `><numFmts><numFmt numFmtId="170" formatCode="` + strings.Repeat("0", formatChars+1) + `"/></numFmts></styleSheet>`}), Limits{}, "too-large", "number formats"},
		"deep nesting":              {sheetXML(t, "groups", head+strings.Repeat("<a>", 100_000), nil), Limits{}, "damaged", ""},
		"entities":                  {sheetXML(t, "groups", "", map[string]string{sheet: `<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]><worksheet><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>&b;</t></is></c></row></sheetData></worksheet>`}), Limits{}, "damaged", ""},
	} {
		path := workbookPath(t, tt.book)
		var report Report
		mem := allocated(func() { _, report = readReport(t, path, tt.lim) })
		found := false
		for _, f := range report {
			found = found || f.Severity == Error && f.Code == tt.code && strings.Contains(f.Error(), tt.want)
		}
		if !found {
			t.Errorf("%s: %v, want %s with %q", name, lines(report), tt.code, tt.want)
		}
		if mem > 192*mib {
			t.Errorf("%s: %d MiB were allocated", name, mem/mib)
		}
	}
}

// Two million empty shared strings would cost far more memory than file.
func TestSharedStringsAreCounted(t *testing.T) {
	b := sheetXML(t, "groups", row(1, "group", "title"), map[string]string{"xl/sharedStrings.xml": "<sst " + mainNS + ">" + strings.Repeat("<si/>", 1000) + "</sst>"})
	pkg, f := openPackage(b, DefaultLimits())
	if f != nil {
		t.Fatal(f)
	}
	if n, f := pkg.countStrings(1000); f != nil || n != 1000 {
		t.Error(n, f)
	}
	if _, f := pkg.countStrings(999); f == nil || f.code != "too-large" {
		t.Errorf("%v", f)
	}
}

func manyRows(n int) string {
	var b strings.Builder
	for i := range n {
		b.WriteString(row(i+2, fmt.Sprint(i), "a"))
	}
	return b.String()
}

func lastColumn(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, `<row r="%d"><c r="XFD%d"><v>1</v></c></row>`, i+2, i+2)
	}
	return b.String()
}

func manyParts(t testing.TB, base []byte, n int) []byte {
	t.Helper()
	return rewritten(t, base, func(w *zip.Writer) {
		for i := range n {
			put(t, w, fmt.Sprintf("xl/p%d.xml", i), "x")
		}
	})
}

func twice(t testing.TB, base []byte) []byte {
	t.Helper()
	return rewritten(t, base, func(w *zip.Writer) { put(t, w, "XL\\workbook.xml", "<workbook/>") })
}

func rewritten(t testing.TB, base []byte, more func(w *zip.Writer)) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	r, err := zip.NewReader(bytes.NewReader(base), int64(len(base)))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range r.File {
		if err := w.Copy(f); err != nil {
			t.Fatal(err)
		}
	}
	more(w)
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// FuzzXLSX takes a workbook apart: the XML of its sheet, of its shared strings
// and of its styles, or the whole file where these are empty.
func FuzzXLSX(f *testing.F) {
	head := row(1, "group", "title")
	f.Add(head+row(2, "1", "a"), "", "", []byte(nil))
	f.Add(head+`<row r="2"><c r="A2" t="s"><v>0</v></c><c r="B2" s="1"><v>42430</v></c></row>`, `<sst `+mainNS+`><si><t>x</t></si></sst>`,
		`<styleSheet `+mainNS+`><numFmts count="1"><numFmt numFmtId="170" formatCode="yyyy-mm"/></numFmts><cellXfs count="2"><xf/><xf numFmtId="170"/></cellXfs></styleSheet>`, []byte(nil))
	f.Add(head+`<row><c><f>1</f><v>1e3</v></c><c t="b"><v>1</v></c></row><row r="7"><c r="B7" t="e"><v>#N/A</v></c></row>`, "", "", []byte(nil))
	f.Add("", "", "", zipOf(f, "xl/workbook.xml", "<workbook/>"))
	f.Fuzz(func(t *testing.T, sheet, shared, styles string, whole []byte) {
		b := whole
		if sheet != "" {
			b = sheetXML(t, "groups", sheet, map[string]string{"xl/sharedStrings.xml": shared, "xl/styles.xml": styles})
		}
		lim := Limits{Bytes: 1 << 20, Packed: 1 << 20, Rows: 100, Columns: 50, Findings: 20}.withDefaults()
		r := &reader{lim: lim, left: lim.Bytes}
		r.workbook("book.xlsx", b)
		readable(t, findCodec("groups"), r)
	})
}

// The seeds of FuzzXLSX must get past the library's first look.
func TestStylesAndSharedStringsOfTheFixtureAreRead(t *testing.T) {
	b := sheetXML(t, "bulletins", row(1, "bulletin", "issued")+`<row r="2"><c r="A2" t="s"><v>0</v></c><c r="B2" s="1"><v>42430</v></c></row>`, map[string]string{
		"xl/sharedStrings.xml": `<sst ` + mainNS + `><si><t>x</t></si></sst>`,
		"xl/styles.xml":        `<styleSheet ` + mainNS + `><numFmts count="1"><numFmt numFmtId="170" formatCode="yyyy-mm"/></numFmts><cellXfs count="2"><xf/><xf numFmtId="170"/></cellXfs></styleSheet>`,
	})
	c, report := readReport(t, workbookPath(t, b), Limits{})
	if len(report) != 0 || len(c.Tables().Bulletins) != 1 || c.Tables().Bulletins[0].ID != "x" || c.Tables().Bulletins[0].Issued != (Date{2016, 3, 0}) {
		t.Errorf("%v %+v", lines(report), c.Tables().Bulletins)
	}
}

// A spreadsheet program that opens a CSV file makes dates of texts such as the
// revision 2011/3 and names the sheet after the file (seen with Gnumeric 1.12).
// What was typed cannot be known from the date, so it is never guessed.
func TestAWorkbookMadeByOpeningACSVFile(t *testing.T) {
	b := book(t, func(f *excelize.File, set func(sheet, cell string, v any, format string)) {
		for i, s := range []string{"publication", "class", "title", "revision", "from"} {
			set("publications.csv", string(rune('A'+i))+"1", s, "")
		}
		for i, v := range []any{"A", "repair", "Engine", time.Date(2011, 3, 1, 0, 0, 0, 0, time.UTC), time.Date(2011, 3, 1, 0, 0, 0, 0, time.UTC)} {
			format := ""
			if i > 2 {
				format = "yyyy-mm"
			}
			set("publications.csv", string(rune('A'+i))+"2", v, format)
		}
	})
	_, report := readReport(t, workbookPath(t, b), Limits{})
	wantFinding(t, report, Error, "date-cell", "publications.csv", 2, "revision", "(2011-03); format the column as text and type the cell again")
	if len(report) != 1 {
		t.Error(lines(report))
	}
}

// testdata/gnumeric.xlsx is the catalog of [small], written by WriteWorkbook,
// opened in Gnumeric 1.12.55 and saved by it (ssconvert small.xlsx
// gnumeric.xlsx): another program takes our workbook, and we take its.
func TestAWorkbookThatAnotherProgramHasSaved(t *testing.T) {
	c, report := readReport(t, filepath.Join("testdata", "gnumeric.xlsx"), Limits{})
	if len(report) != 0 {
		t.Error(lines(report))
	}
	if d := cmp.Diff(small().Tables(), c.Tables(), sameTables); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(small().Meta(), c.Meta()); d != "" {
		t.Error(d)
	}
}
