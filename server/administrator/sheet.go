package administrator

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"rightpage/quiz"
)

// The bounds of a list that is imported.
const (
	maxRows      = 2000
	maxColumns   = 50
	maxCell      = 300 // characters
	maxUnzipped  = 64 << 20
	maxUnzipPart = 16 << 20
	maxCells     = 1 << 20 // empty ones too: one in the last column makes 16,384 of them
)

// row is a row of a list, with the number that a spreadsheet shows beside it.
type row struct {
	Number int      `json:"n"`
	Cells  []string `json:"c"`
}

// readSheet reads a list of a CSV file (RFC 4180; with commas, semicolons or tabs)
// or of the first sheet of a workbook. Rows that are empty are left out. An error
// says what is wrong with the file as a whole.
func readSheet(name string, data []byte) ([]row, error) {
	switch {
	case bytes.HasPrefix(data, []byte("PK\x03\x04")):
		return readWorkbook(data)
	case bytes.HasPrefix(data, []byte{0xd0, 0xcf, 0x11, 0xe0}):
		return nil, wrongFile("the workbook is protected by a password or of the old binary form", "save it as .xlsx without a password")
	case !utf8.Valid(data) || bytes.IndexByte(data, 0) >= 0:
		return nil, wrongFile("the file is neither CSV in UTF-8 nor an .xlsx workbook", "save it as “CSV UTF-8” or as .xlsx")
	}
	switch ext := strings.ToLower(path.Ext(name)); ext {
	case ".csv", ".txt", ".tsv", "":
		return readCSV(data)
	default:
		return nil, wrongFile("a file "+ext+" cannot be read", "save it as “CSV UTF-8” or as .xlsx")
	}
}

func wrongFile(text, mend string) error {
	return &quiz.Error{Code: quiz.Invalid, Text: text, Mend: mend}
}

func readCSV(data []byte) ([]row, error) {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	r := csv.NewReader(bytes.NewReader(data))
	r.Comma = separator(data)
	r.FieldsPerRecord = -1
	r.TrimLeadingSpace = true
	var rows []row
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			return rows, nil
		}
		if err != nil {
			return nil, wrongFile("the file is no CSV: "+err.Error(), "open it in a spreadsheet program and save it again")
		}
		line, _ := r.FieldPos(0)
		if rows, err = addRow(rows, line, cells); err != nil {
			return nil, err
		}
	}
}

// separator gives what stands between the cells of the first line.
func separator(data []byte) rune {
	first, _, _ := bytes.Cut(data, []byte("\n"))
	best, most := ',', 0
	for _, c := range ",;\t" {
		if n := bytes.Count(first, []byte(string(c))); n > most {
			best, most = c, n
		}
	}
	return best
}

func addRow(rows []row, number int, cells []string) ([]row, error) {
	empty := true
	for i, s := range cells {
		// An apostrophe before what would be a formula is how lists are made safe
		// for spreadsheets, this server's own too.
		s = strings.TrimSpace(s)
		if len(s) > 1 && s[0] == '\'' && strings.ContainsRune("=+-@", rune(s[1])) {
			s = s[1:]
		}
		cells[i] = s
		empty = empty && s == ""
	}
	if empty {
		return rows, nil
	}
	if len(rows) > maxRows {
		return nil, wrongFile(fmt.Sprintf("the list has more than %d rows", maxRows), "import it in parts")
	}
	if len(cells) > maxColumns {
		return nil, wrongFile(fmt.Sprintf("row %d has %d columns", number, len(cells)), "keep only those that are needed")
	}
	return append(rows, row{number, cells}), nil
}

// readWorkbook reads the first sheet of a workbook, within bounds. Of a formula it
// takes the value that the workbook holds.
func readWorkbook(data []byte) (rows []row, err error) {
	damaged := func(err error) error {
		return &quiz.Error{Code: quiz.Invalid, Text: "the workbook is damaged or too large", Err: err, Mend: "open it in a spreadsheet program, keep the list alone, and save it again"}
	}
	// The library has been seen to panic on workbooks whose parts contradict
	// each other.
	defer func() {
		if p := recover(); p != nil {
			rows, err = nil, damaged(fmt.Errorf("%v", p))
		}
	}()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, damaged(err)
	}
	left := uint64(maxUnzipped)
	for _, f := range z.File {
		if f.UncompressedSize64 > left {
			return nil, damaged(errors.New("it unpacks to too much"))
		}
		left -= f.UncompressedSize64
	}
	book, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{UnzipSizeLimit: maxUnzipped, UnzipXMLSizeLimit: maxUnzipPart})
	if err != nil {
		return nil, damaged(err)
	}
	defer book.Close()
	sheets := book.GetSheetList()
	if len(sheets) == 0 {
		return nil, damaged(errors.New("it has no sheet"))
	}
	it, err := book.Rows(sheets[0])
	if err != nil {
		return nil, damaged(err)
	}
	defer it.Close()
	total := 0
	for n := 1; it.Next(); n++ {
		cells, err := it.Columns()
		if err != nil {
			return nil, damaged(err)
		}
		if total += len(cells); total > maxCells {
			return nil, damaged(errors.New("it has too many empty cells"))
		}
		if rows, err = addRow(rows, n, cells); err != nil {
			return nil, err
		}
		if n > 100*maxRows {
			return nil, damaged(errors.New("it has too many empty rows"))
		}
	}
	if err := it.Error(); err != nil {
		return nil, damaged(err)
	}
	return rows, nil
}
