package catalog

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/google/go-cmp/cmp"
)

func TestCSVFormsThatSpreadsheetsWrite(t *testing.T) {
	want := []Group{
		{Code: "20", Title: "Engine", KeyedBy: "model"},
		{Code: "21", Parent: "20", Title: "Fuel, tank; lines", KeyedBy: "model"},
	}
	for name, s := range map[string]string{
		"plain":              "group,parent,title\n20,,Engine\n21,20,\"Fuel, tank; lines\"\n",
		"byte order mark":    "\ufeffgroup,parent,title\n20,,Engine\n21,20,\"Fuel, tank; lines\"\n",
		"CRLF":               "group,parent,title\r\n20,,Engine\r\n21,20,\"Fuel, tank; lines\"\r\n",
		"no last line end":   "group,parent,title\n20,,Engine\n21,20,\"Fuel, tank; lines\"",
		"semicolons":         "group;parent;title\n20;;Engine\n21;20;\"Fuel, tank; lines\"\n",
		"tabs":               "group\tparent\ttitle\n20\t\tEngine\n21\t20\tFuel, tank; lines\n",
		"columns moved":      "title,group,parent\nEngine,20,\n\"Fuel, tank; lines\",21,20\n",
		"remarks":            "#,group,parent,#,title\nsee p. 3,20,,x,Engine\n=A1,21,20,,\"Fuel, tank; lines\"\n",
		"a row of remarks":   "#,group,parent,title\nbody work,,,\n,20,,Engine\n,21,20,\"Fuel, tank; lines\"\n",
		"rows moved":         "group,parent,title\n21,20,\"Fuel, tank; lines\"\n20,,Engine\n",
		"blank rows":         "group,parent,title\n\n20,,Engine\n,,\n\n21,20,\"Fuel, tank; lines\"\n\n",
		"space around":       " group , parent,title\n 20 ,,Engine \n21, 20 ,\"Fuel, tank; lines\"\n",
		"names as a heading": "Group,PARENT,Title\n20,,Engine\n21,20,\"Fuel, tank; lines\"\n",
		"short rows":         "group,title,parent\n20,Engine\n21,\"Fuel, tank; lines\",20\n",
		"trailing commas":    "group,parent,title,\n20,,Engine,,\n21,20,\"Fuel, tank; lines\",,\n",
	} {
		c, report := readReport(t, folder(t, map[string]string{"groups.csv": s}), Limits{})
		if len(report) > 0 {
			t.Errorf("%s: %v", name, lines(report))
		}
		if d := cmp.Diff(want, c.Tables().Groups, sameTables); d != "" {
			t.Errorf("%s: %s", name, d)
		}
	}
}

// Rows are counted as a spreadsheet counts them: a text of several lines is one
// row, an empty line is a row.
func TestFindingsNameTheRowOfTheSpreadsheet(t *testing.T) {
	c, report := readReport(t, folder(t, map[string]string{"bulletins.csv": "bulletin,issued,subject\n" + // 1
		"B1,2024-13,bad\n" + // 2
		"\n" + // 3
		"B2,2024-01,\"two\nlines\"\n" + // 4
		"B3,2024-14,\"three\n\nlines\"\n" + // 5
		"\n\n" + // 6, 7
		"B4,2024-15,bad\n" + // 8
		"B5,\"2024-16\n\"x,bad\n" + // 9, a quotation mark in the wrong place
		"B6,2024-17,bad\n" + // 10
		"B7,2024-02,good\n", // 11
	}), Limits{})
	for row, month := range map[int]string{2: "13", 5: "14", 8: "15", 10: "17"} {
		wantFinding(t, report, Error, "date", "bulletins.csv", row, "issued", `"2024-`+month+`" is not a date: there is no such month; write YYYY-MM or YYYY-MM-DD`)
	}
	wantFinding(t, report, Error, "syntax", "bulletins.csv", 9, "", "write each of its own twice")
	if len(report) != 5 {
		t.Errorf("%d findings: %v", len(report), lines(report))
	}
	var rows []int
	for _, b := range c.Tables().Bulletins {
		rows = append(rows, b.Origin.Row)
	}
	if d := cmp.Diff([]int{4, 11}, rows); d != "" {
		t.Errorf("rows of the records read: %s", d)
	}
}

func TestFindingsOfHeaders(t *testing.T) {
	_, report := readReport(t, folder(t, map[string]string{
		"groups.csv":       "group,titel,parent,parent,,weather\n1,x,,,,\n2,x,,,y,\n",
		"models.csv":       "modle,engine\nT1,E\n",
		"publications.csv": "",
		"operations.csv":   "operation,title,publication\n1,a,b,c,d\n1,a,b,,\n",
	}), Limits{})
	wantFinding(t, report, Error, "unknown-column", "groups.csv", 1, "titel", "did you mean title?")
	wantFinding(t, report, Error, "unknown-column", "groups.csv", 1, "weather", "the columns of groups are group, parent, division, title, keyed_by; call a column # to keep remarks in it")
	wantFinding(t, report, Error, "missing-column", "groups.csv", 1, "title", "add a column")
	wantFinding(t, report, Error, "twice", "groups.csv", 1, "parent", "delete or rename")
	wantFinding(t, report, Error, "header", "groups.csv", 3, "E", "column without a name")
	wantFinding(t, report, Error, "unknown-column", "models.csv", 1, "modle", "did you mean model?")
	wantFinding(t, report, Error, "missing-column", "models.csv", 1, "model", "")
	wantFinding(t, report, Error, "header", "publications.csv", 0, "", "write the names of the columns into the first row: publication, class")
	wantFinding(t, report, Error, "cells", "operations.csv", 2, "D", "the row has 5 cells, the header 3")
	if len(report) != 9 {
		t.Errorf("%d findings: %v", len(report), lines(report))
	}
}

func TestFindingsOfCells(t *testing.T) {
	c, report := readReport(t, folder(t, map[string]string{
		SettingsFile:         settingsText + "limits: {style: arrow-after}\n",
		"publications.csv":   "publication,class,title,from,through,serial_from,serial_through,effectivity\nA,Repair,t,,,,,\n,repair,t,,,,,\nB,novel,t,,,,,\nC,repair,t,2018-03,2018-02,,,\nD,repair,t,,,20,10,\nE,repair,t,2018,,,,2019 →\nF,repair,t,,,,,from 2019\nG,repair,t,,,,,2018 → 2017\nH,repair,t,2018-03,2018-03,7,7,\nI,repair,t,03/2018,soon,-1,0,\n",
		"specifications.csv": "specification,quantity,synonyms,low,high,unit\n1,q,de:x;,0.5,1e3,L\n2,q,de:,\"0,5\",1 l,L\n3,q,,NaN,0x10,L\n4,q,,1.2.3,-5,L\n",
		"schedule.csv":       "service,every_hours,operations\nA,-5,1\nB,5,1; 2 ;;3\n",
		"models.csv":         "model,units,built_from,built_through\nM1,axle=A;loader = L,,\nM2,axle,,\nM3,,2018,2017\n",
		"bulletins.csv":      "bulletin,issued,amends\nB1,2024,procedure:P1; test:TD/4/2\nB2,2024,P1\n",
		"schemes.csv":        "scheme,field,first,length,check\nS,year,10,1,ISO3779\nS,year,x,-1,luhn\n",
		"tests.csv":          "publication,chapter,step,side\nA,1,1,Left\nA,1,2,both\n",
	}), Limits{})
	for _, tt := range []struct {
		code, file string
		row        int
		column     string
		text       string
	}{
		{"empty", "publications.csv", 3, "publication", "every row of publications needs it"},
		{"word", "publications.csv", 4, "class", `"novel" is none of the words for this column; write one of: maintenance, repair, diagnosis, pre-delivery, bulletin, reference`},
		{"inverted", "publications.csv", 5, "from", "from 2018-03 is after through 2018-02"},
		{"inverted", "publications.csv", 6, "from", "from serial 20 is after through serial 10"},
		{"twice", "publications.csv", 7, "effectivity", "keep one of the two"},
		{"limit", "publications.csv", 8, "effectivity", `"from 2019" is not a limit`},
		{"limit", "publications.csv", 8, "effectivity", `write it like "2016-03 → 2018-02, no. 1200 →"`},
		{"inverted", "publications.csv", 9, "effectivity", "from 2018 is after through 2017"},
		{"date", "publications.csv", 11, "from", "write YYYY-MM"},
		{"date", "publications.csv", 11, "through", "write YYYY-MM"},
		{"serial", "publications.csv", 11, "serial_from", "digits only"},
		{"serial", "publications.csv", 11, "serial_through", "leave the cell empty"},
		{"synonym", "specifications.csv", 3, "synonyms", "de:Begriff"},
		{"number", "specifications.csv", 3, "low", "decimal point and no thousands separator"},
		{"number", "specifications.csv", 3, "high", "a unit has its own column"},
		{"number", "specifications.csv", 4, "low", "not a number"},
		{"number", "specifications.csv", 4, "high", "not a number"},
		{"number", "specifications.csv", 5, "low", "not a number"},
		{"number", "schedule.csv", 2, "every_hours", "less than 0"},
		{"unit", "models.csv", 3, "units", "axle=AX2;loader=L1"},
		{"inverted", "models.csv", 4, "built_from", "from 2018 is after through 2017"},
		{"target", "bulletins.csv", 3, "amends", "procedure:P-0123"},
		{"number", "schemes.csv", 3, "first", "digits only"},
		{"number", "schemes.csv", 3, "length", "digits only"},
		{"word", "schemes.csv", 3, "check", "write one of: iso3779, mod10, none"},
		{"word", "tests.csv", 3, "side", "write one of: left, right"},
	} {
		wantFinding(t, report, Error, tt.code, tt.file, tt.row, tt.column, tt.text)
	}
	if n := 25; len(report) != n {
		t.Errorf("%d findings, want %d: %s", len(report), n, strings.Join(lines(report), "\n"))
	}
	// What is sound has been read, and nothing else.
	tb := c.Tables()
	var got []string
	for _, p := range tb.Publications {
		got = append(got, p.ID+" "+string(p.Class))
	}
	if d := cmp.Diff([]string{"A repair", "H repair"}, got); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]UnitCode{{"axle", "A"}, {"loader", "L"}}, tb.Models[0].Units); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]string{"1", "2", "3"}, tb.Schedule[0].Operations); d != "" {
		t.Error(d)
	}
	if len(tb.Specifications) != 1 || *tb.Specifications[0].High != 1000 || tb.Schemes[0].Check != "iso3779" || tb.Tests[0].Side != "left" {
		t.Errorf("%+v", tb)
	}
}

func TestTextThatASpreadsheetMayTakeForAFormula(t *testing.T) {
	_, report := readReport(t, folder(t, map[string]string{"tests.csv": "publication,chapter,step,do,expect\n" +
		"A,1,1,=SUM(A1),x\n" +
		"A,1,2,@cmd,-5 °C\n" +
		"A,1,3,-cmd|'/c calc'!A0,+5 V\n" +
		"A,1,4,- measure,-\n"}), Limits{})
	wantFinding(t, report, Error, "formula", "tests.csv", 2, "do", "paste the value")
	wantFinding(t, report, Note, "formula-like", "tests.csv", 3, "do", "2 cells begin with a sign")
	if len(report) != 2 {
		t.Errorf("%v", lines(report))
	}
}

func utf16Text(s string, order binary.AppendByteOrder, mark bool) string {
	var b []byte
	if mark {
		b = order.AppendUint16(b, 0xfeff)
	}
	for _, u := range utf16.Encode([]rune(s)) {
		b = order.AppendUint16(b, u)
	}
	return string(b)
}

func TestContentThatIsNoUTF8Text(t *testing.T) {
	const good = "group,title\n20,Engine\n"
	for name, tt := range map[string]struct{ text, code, want string }{
		"UTF-16, little-endian":            {utf16Text(good, binary.LittleEndian, true), "encoding", "the text is UTF-16, not UTF-8; save the file as CSV UTF-8"},
		"UTF-16, big-endian":               {utf16Text(good, binary.BigEndian, true), "encoding", "the text is UTF-16, not UTF-8"},
		"UTF-16, little-endian, unmarked":  {utf16Text(good, binary.LittleEndian, false), "encoding", "the text is UTF-16, not UTF-8"},
		"UTF-16, big-endian, unmarked":     {utf16Text(good, binary.BigEndian, false), "encoding", "the text is UTF-16, not UTF-8"},
		"a workbook":                       {"PK\x03\x04\x14\x00\x06\x00", "binary", "give it the ending .xlsx"},
		"an old workbook":                  {"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "binary", "save it as CSV UTF-8"},
		"a picture":                        {"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "binary", "the file holds NUL bytes"},
		"nothing but NULs":                 {strings.Repeat("\x00", 10000), "binary", "the file holds NUL bytes"},
		"Latin-1 in the header":            {"group,title,\xfcber\n", "encoding", "save the file as CSV UTF-8"},
		"control character in the header":  {"group,ti\x01tle\n", "control", "U+0001"},
		"random bytes":                     {"\x8f\x03\xfe\x99\xff\x80\x81\xa0\xb4", "encoding", "not UTF-8"},
		"quotation mark that never closes": {"group,title\n20,\"Engine\n21,Fuel\n", "syntax", "not well-formed"},
	} {
		_, report := readReport(t, folder(t, map[string]string{"groups.csv": tt.text}), Limits{})
		if len(report) != 1 || report[0].Code != tt.code || !strings.Contains(report[0].Error(), tt.want) {
			t.Errorf("%s: %v, want %s: %s", name, lines(report), tt.code, tt.want)
		}
	}
}

func TestLatin1IsSaidOnceForTheFile(t *testing.T) {
	var b strings.Builder
	b.WriteString("group,title\n1,good\n")
	for i := range 5000 {
		fmt.Fprintf(&b, "%d,K\xfchlung\n", i+2)
	}
	b.WriteString("9999,a\x00b\n")
	c, report := readReport(t, folder(t, map[string]string{"groups.csv": b.String()}), Limits{})
	wantFinding(t, report, Error, "encoding", "groups.csv", 3, "title", "save the file as CSV UTF-8")
	wantFinding(t, report, Error, "encoding", "groups.csv", 0, "", "5000 rows are not UTF-8 text")
	wantFinding(t, report, Error, "control", "groups.csv", 5003, "title", "U+0000")
	if len(report) != 3 || len(c.Tables().Groups) != 1 {
		t.Errorf("%v, %d groups", lines(report), len(c.Tables().Groups))
	}
}

func TestFoldersAndTheirFiles(t *testing.T) {
	c, report := readReport(t, folder(t, map[string]string{"Groups.CSV": "group,title\n1,a\n", "modells.csv": "x\n", "weather.csv": "x\n", "README.txt": "x", "notes.yaml": "x"}), Limits{})
	wantFinding(t, report, Warning, "unknown-table", "modells.csv", 0, "", "rename it to models")
	wantFinding(t, report, Warning, "unknown-table", "weather.csv", 0, "", "a catalog has the tables schemes, models")
	if len(report) != 2 || len(c.Tables().Groups) != 1 || c.Tables().Groups[0].Origin != (Origin{"Groups.CSV", 2}) {
		t.Errorf("%v %+v", lines(report), c.Tables().Groups)
	}
	_, report = readReport(t, folder(t, map[string]string{"groups.csv": "group,title\n", "GROUPS.csv": "group,title\n"}), Limits{})
	wantFinding(t, report, Error, "twice", "groups.csv", 0, "", "the table is also in GROUPS.csv")
	_, report = readReport(t, folder(t, nil), Limits{})
	if len(report) != 1 || report[0].Code != "no-tables" || !strings.Contains(report[0].Mend, "schemes.csv, models.csv") {
		t.Error(lines(report))
	}
	empty := t.TempDir()
	_, report = readReport(t, empty, Limits{})
	wantFinding(t, report, Error, "no-settings", SettingsFile, 0, "", "title, maker and revision")
	for _, path := range []string{filepath.Join(empty, "missing"), filepath.Join(empty, "missing.xlsx")} {
		if _, _, err := Read(path, Limits{}); !os.IsNotExist(errorsUnwrap(err)) {
			t.Errorf("%v", err)
		}
	}
	write(t, filepath.Join(empty, "models.csv"), "model\n")
	if _, _, err := Read(filepath.Join(empty, "models.csv"), Limits{}); err == nil || !strings.Contains(err.Error(), "name the folder") {
		t.Errorf("%v", err)
	}
}

func errorsUnwrap(err error) error {
	for {
		u, ok := err.(interface{ Unwrap() error })
		if !ok || os.IsNotExist(err) {
			return err
		}
		err = u.Unwrap()
	}
}

// endless delivers the same bytes over and over and counts them.
type endless struct {
	head, body string
	read       int64
}

func (e *endless) Read(p []byte) (int, error) {
	n := 0
	for n < len(p) {
		s := e.body
		if at := e.read; at < int64(len(e.head)) {
			s = e.head[at:]
		} else {
			s = s[(at-int64(len(e.head)))%int64(len(s)):]
		}
		k := copy(p[n:], s)
		n += k
		e.read += int64(k)
	}
	return n, nil
}

// However much there is to read, reading stops soon and holds little.
func TestEndlessTextIsRefusedInBoundedMemory(t *testing.T) {
	const mib = 1 << 20
	for name, tt := range map[string]struct {
		head, body string
		lim        Limits
		most       int64 // bytes read
		want       string
	}{
		"one header without end":             {"", "group,", Limits{}, 2 * mib, "the row is longer than 1048576 bytes"},
		"a quotation mark that never closes": {"group,title\n1,\"", "x\n", Limits{}, 2 * mib, "close the quotation mark"},
		"a row without end":                  {"group,title\n", "x,", Limits{}, 2 * mib, "the row is longer than 1048576 bytes"},
		"rows without end":                   {"group,title\n", "1,x\n", Limits{Rows: 1000}, mib, "more than 1000 rows"},
		"faulty rows without end":            {"group,title\n", ",x\n", Limits{Rows: 10000, Findings: 100}, mib, "9900 more findings are not listed"},
		"blank rows without end":             {"group,title\n", "\n", Limits{}, 2 * mib, "the row is longer"},
		"rows of remarks without end":        {"#,group,title\n", "x,,\n", Limits{Bytes: 4 * mib}, 5 * mib, "the file is longer than is allowed"},
		"ill-formed rows without end":        {"group,title\n", "a\"b\n", Limits{Bytes: mib, Findings: 100}, 2 * mib, "the file is longer than is allowed"},
	} {
		in := &endless{head: tt.head, body: tt.body}
		r := &reader{lim: tt.lim.withDefaults()}
		r.left = r.lim.Bytes
		mem := allocated(func() { r.csv("groups.csv", findCodec("groups"), in) })
		if !slices.ContainsFunc(r.report, func(f Finding) bool { return strings.Contains(f.Error(), tt.want) }) {
			t.Errorf("%s: %v, want %q", name, lines(r.report), tt.want)
		}
		if in.read > tt.most {
			t.Errorf("%s: %d bytes were read, at most %d are needed", name, in.read, tt.most)
		}
		if mem > 256*mib {
			t.Errorf("%s: %d MiB were allocated", name, mem/mib)
		}
		if len(r.report) > r.lim.Findings+3 {
			t.Errorf("%s: %d findings", name, len(r.report))
		}
	}
}

func TestTooManyColumnsAndTooLongCells(t *testing.T) {
	_, report := readReport(t, folder(t, map[string]string{
		"groups.csv":     "group,title" + strings.Repeat(",x", 100_000) + "\n1,a\n",
		"models.csv":     "model\nM1" + strings.Repeat(",", 100_000) + "\n",
		"operations.csv": "operation,title,publication\n1," + strings.Repeat("é", cellChars) + ",A\n2," + strings.Repeat("é", cellChars+1) + ",A\n",
	}), Limits{})
	wantFinding(t, report, Error, "too-large", "groups.csv", 1, "", "the header has 100002 columns; at most 200 are allowed")
	wantFinding(t, report, Error, "too-long", "operations.csv", 3, "title", "longer than 32767 characters")
	if len(report) != 2 { // empty cells too many do no harm
		t.Error(lines(report))
	}
}

// A file that claims 10 GB, here by a hole, is refused by its size.
func TestAFileOfTenGigabytesIsNotRead(t *testing.T) {
	dir := folder(t, map[string]string{"groups.csv": "group,title\n1,a\n"})
	f, err := os.Create(filepath.Join(dir, "models.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Truncate(10 << 30); err != nil {
		t.Skip("no sparse files here: ", err)
	}
	f.Close()
	var report Report
	mem := allocated(func() { _, report = readReport(t, dir, Limits{}) })
	wantFinding(t, report, Error, "too-large", "models.csv", 0, "", "there are 10737418240 bytes to read")
	if mem > 16<<20 {
		t.Errorf("%d bytes were allocated", mem)
	}
	// The limit is for all files together.
	_, report = readReport(t, folder(t, map[string]string{"groups.csv": "group,title\n" + strings.Repeat("1,a\n", 100), "models.csv": "model\n" + strings.Repeat("a\n", 100)}), Limits{Bytes: 500})
	wantFinding(t, report, Error, "too-large", "groups.csv", 0, "", "")
}

// The reader follows no reference, so that cycles cannot keep it; that they are
// wrong is for Check to say.
func TestCyclesDoNotKeepTheReader(t *testing.T) {
	c, report := readReport(t, folder(t, map[string]string{
		"groups.csv":       "group,parent,title\n1,2,a\n2,1,b\n3,3,c\n",
		"components.csv":   "term,group,part_of\na,,b\nb,,a\n",
		"publications.csv": "publication,class,title,supersedes\nA,repair,t,B\nB,repair,t,A\n",
	}), Limits{})
	if len(report) != 0 || len(c.Tables().Groups) != 3 {
		t.Error(lines(report))
	}
}

func FuzzCSV(f *testing.F) {
	for _, s := range []string{
		"group,parent,title\n20,,Engine\n21,20,\"Fuel, tank; lines\"\n",
		"\ufeffpublication;class;title;effectivity\r\nA;repair;\"a\"\"b\";\"through 2014; from 2016-03\"\r\n",
		"#,specification,quantity,low,synonyms\nx,1,q,-0.5,de:x;y\n",
		"model,units\nM,axle=A;loader=L\n\n\"M2\nx\",\n",
		"group,title\n1,\"open\n",
		"g\x00r\xff\xfe,\n",
	} {
		for i := range codecs() {
			if i%4 == 0 || strings.HasPrefix(s, "group") && i == 2 {
				f.Add(i, []byte(s))
			}
		}
	}
	f.Fuzz(func(t *testing.T, table int, b []byte) {
		all := codecs()
		c := all[uint(table)%uint(len(all))]
		lim := Limits{Bytes: 1 << 16, Rows: 100, Columns: 50, Findings: 20}.withDefaults()
		r := &reader{lim: lim, left: lim.Bytes}
		r.csv(c.table()+".csv", c, io.LimitReader(bytes.NewReader(b), 1<<16))
		readable(t, c, r)
	})
}

// readable holds what was read to be written and read back the same.
func readable(t *testing.T, c codec, r *reader) {
	t.Helper()
	for _, f := range r.report {
		if f.What == "" || f.Mend == "" {
			t.Fatalf("%+v", f)
		}
	}
	if len(r.report) > r.lim.Findings+50 {
		t.Fatalf("%d findings", len(r.report))
	}
	var out bytes.Buffer
	if err := writeCSV(&out, c, &r.t, LimitStyle{}); err != nil {
		t.Fatalf("what was read cannot be written: %v", err)
	}
	again := &reader{lim: DefaultLimits(), left: 1 << 30}
	again.csv(c.table()+".csv", c, &out)
	for _, f := range again.report {
		if f.Severity == Error {
			t.Fatalf("what was written is not sound: %v\n%s", f, out.String())
		}
	}
	if d := cmp.Diff(r.t, again.t, sameTables); d != "" {
		t.Fatal(d)
	}
}
