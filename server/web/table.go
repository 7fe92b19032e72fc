package web

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"mime"
	"net/http"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/labstack/echo/v4"
	"github.com/xuri/excelize/v2"
)

// Table is a table that can be taken away as a file. Cells are strings, numbers
// (int, float64), bools, times, or nil.
type Table struct {
	Name    string // of the file, without its ending
	Columns []string
	Rows    [][]any
}

// Safe makes a text safe in a spreadsheet: one that would be run as a formula is
// preceded by an apostrophe; some programs take the wide signs of East Asian
// text for the same. OWASP, CSV Injection (from memory).
func Safe(s string) string {
	if first, _ := utf8.DecodeRuneInString(s); s != "" && strings.ContainsRune("=+-@\t\r\n＝＋－＠", first) {
		return "'" + s
	}
	return s
}

func (t *Table) text(v any, zone *time.Location) string {
	switch x := v.(type) {
	case nil:
		return ""
	case string:
		return Safe(x)
	case float64:
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return ""
		}
		return strconv.FormatFloat(x, 'g', -1, 64)
	case time.Time:
		if x.IsZero() {
			return ""
		}
		return x.In(zone).Format("2006-01-02 15:04")
	}
	return Safe(fmt.Sprint(v))
}

// CSV gives the table as RFC 4180 has it, in UTF-8 with a byte order mark, which
// spreadsheets need to see that it is.
func (t *Table) CSV(zone *time.Location) ([]byte, error) {
	var b bytes.Buffer
	b.WriteString("\ufeff")
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	row := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		row[i] = Safe(c)
	}
	if err := w.Write(row); err != nil {
		return nil, err
	}
	for _, cells := range t.Rows {
		row = row[:0]
		for _, v := range cells {
			row = append(row, t.text(v, zone))
		}
		if err := w.Write(row); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

// XLSX gives the table as a workbook of one sheet. Cells are stored as texts and
// numbers and never as formulas.
func (t *Table) XLSX(zone *time.Location) ([]byte, error) {
	f := excelize.NewFile()
	defer f.Close()
	const sheet = "Sheet1"
	s, err := f.NewStreamWriter(sheet)
	if err != nil {
		return nil, err
	}
	bold, err := f.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	if err != nil {
		return nil, err
	}
	row := make([]any, len(t.Columns))
	for i, c := range t.Columns {
		row[i] = excelize.Cell{StyleID: bold, Value: c}
	}
	if err := s.SetRow("A1", row); err != nil {
		return nil, err
	}
	for n, cells := range t.Rows {
		row := make([]any, len(cells))
		for i, v := range cells {
			switch x := v.(type) {
			case time.Time:
				row[i] = t.text(x, zone)
			case float64:
				if !math.IsNaN(x) && !math.IsInf(x, 0) {
					row[i] = x
				}
			default:
				row[i] = v
			}
		}
		at, err := excelize.CoordinatesToCellName(1, n+2)
		if err != nil {
			return nil, err
		}
		if err := s.SetRow(at, row); err != nil {
			return nil, err
		}
	}
	if err := s.Flush(); err != nil {
		return nil, err
	}
	b, err := f.WriteToBuffer()
	if err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// Table answers with a table as a file: CSV, or XLSX if the query says as=xlsx.
func (c *Context) Table(t *Table) error {
	if c.QueryParam("as") == "xlsx" {
		data, err := t.XLSX(c.Zone)
		if err != nil {
			return err
		}
		return c.File(t.Name+".xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", data)
	}
	data, err := t.CSV(c.Zone)
	if err != nil {
		return err
	}
	return c.File(t.Name+".csv", "text/csv; charset=utf-8", data)
}

// FileName makes a plain file name of texts.
func FileName(parts ...string) string {
	s := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '.', r == '-', r == '_':
			return r
		}
		return '-'
	}, strings.Join(parts, "-"))
	return strings.Trim(s[:min(len(s), 80)], "-.")
}

// File answers with a file to be saved.
func (c *Context) File(name, media string, data []byte) error {
	h := c.Response().Header()
	h.Set(echo.HeaderContentDisposition, mime.FormatMediaType("attachment", map[string]string{"filename": name}))
	h.Set(echo.HeaderCacheControl, "no-store")
	return c.Blob(http.StatusOK, media, data)
}
