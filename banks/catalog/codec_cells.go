package catalog

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// The kinds of columns. Each is built from an accessor that gives a pointer to
// the field, which serves both directions.

func text[T any](name string, field func(*T) *string) column[T] {
	return column[T]{columnInfo{name: name},
		func(r *T, _ LimitStyle) (string, error) { return *field(r), nil },
		func(r *T, _ *rowInput, cell string) error { *field(r) = cell; return nil }}
}

// word is a column that holds one of a few words, compared without regard to
// case.
func word[T any, S ~string](name string, field func(*T) *S, words ...S) column[T] {
	list := make([]string, len(words))
	for i, w := range words {
		list[i] = string(w)
	}
	return column[T]{columnInfo{name: name},
		func(r *T, _ LimitStyle) (string, error) {
			s := string(*field(r))
			if s == "" {
				return "", nil
			}
			_, err := oneOf(s, list)
			return s, err
		},
		func(r *T, _ *rowInput, cell string) error {
			w, err := oneOf(cell, list)
			*field(r) = S(w)
			return err
		}}
}

func oneOf(cell string, words []string) (string, error) {
	for _, w := range words {
		if strings.EqualFold(cell, w) {
			return w, nil
		}
	}
	return "", cellFault{"word", fmt.Sprintf("%q is none of the words for this column", cell), "write one of: " + strings.Join(words, ", ")}
}

func list[T any](name string, field func(*T) *[]string) column[T] {
	return column[T]{columnInfo{name: name},
		func(r *T, _ LimitStyle) (string, error) { return joinList(*field(r)) },
		func(r *T, _ *rowInput, cell string) error { *field(r) = splitList(cell); return nil }}
}

// splitList takes a cell of several values apart; empty ones are left out.
func splitList(cell string) []string {
	var out []string
	for s := range strings.SplitSeq(cell, ";") {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

func joinList(values []string) (string, error) {
	var err error
	for _, v := range values {
		if v == "" || v != strings.TrimSpace(v) || strings.Contains(v, ";") {
			err = fmt.Errorf("the value %q cannot stand in a list: it is empty, begins or ends with a space, or holds a semicolon", v)
		}
	}
	return strings.Join(values, ";"), err
}

func pattern[T any](field func(*T) *Pattern) column[T] {
	return column[T]{columnInfo{name: "applies_to"},
		func(r *T, _ LimitStyle) (string, error) { return string(*field(r)), nil },
		func(r *T, _ *rowInput, cell string) error { *field(r) = Pattern(cell); return nil }}
}

// synonyms holds terms, each with an optional language: "term;de:Begriff". A
// term that itself begins with what looks like a language is written with a
// colon before it.
func synonyms[T any](name string, field func(*T) *[]Synonym) column[T] {
	return column[T]{columnInfo{name: name},
		func(r *T, _ LimitStyle) (string, error) {
			s := *field(r)
			out := make([]string, len(s))
			var fault error
			for i, x := range s {
				if x.Lang != "" && !isLanguage(x.Lang) {
					fault = fmt.Errorf("%q is not a language tag (BCP 47)", x.Lang)
				}
				if x.Term == "" || x.Term != strings.TrimSpace(x.Term) {
					fault = fmt.Errorf("the synonym %q is empty or begins or ends with a space", x.Term)
				}
				head, _, colon := strings.Cut(x.Term, ":")
				switch {
				case x.Lang != "":
					out[i] = x.Lang + ":" + x.Term
				case colon && (head == "" || isLanguage(head)):
					out[i] = ":" + x.Term
				default:
					out[i] = x.Term
				}
			}
			cell, err := joinList(out)
			return cell, cmp.Or(fault, err)
		},
		func(r *T, _ *rowInput, cell string) error {
			for _, s := range splitList(cell) {
				x := Synonym{Term: s}
				if head, rest, ok := strings.Cut(s, ":"); ok && (head == "" || isLanguage(head)) {
					x = Synonym{Lang: head, Term: strings.TrimSpace(rest)}
				}
				if x.Term == "" {
					return cellFault{"synonym", fmt.Sprintf("%q gives no term", s), "write term, or language:term such as de:Begriff"}
				}
				*field(r) = append(*field(r), x)
			}
			return nil
		}}
}

// isLanguage tells whether s has the shape of a language tag: two or three
// letters, then subtags (BCP 47, RFC 5646 section 2.1).
func isLanguage(s string) bool {
	for i, part := range strings.Split(s, "-") {
		if n := len(part); n > 8 || i == 0 && (n < 2 || n > 3) || i > 0 && n < 1 {
			return false
		}
		for _, c := range []byte(part) {
			letter := 'a' <= c|0x20 && c|0x20 <= 'z'
			if !letter && (i == 0 || c < '0' || c > '9') {
				return false
			}
		}
	}
	return true
}

func units[T any](field func(*T) *[]UnitCode) column[T] {
	return column[T]{columnInfo{name: "units"},
		func(r *T, _ LimitStyle) (string, error) {
			u := *field(r)
			out := make([]string, len(u))
			var fault error
			for i, x := range u {
				if x.Unit == "" || x.Code == "" || strings.Contains(x.Unit, "=") || x.Unit != strings.TrimSpace(x.Unit) || x.Code != strings.TrimSpace(x.Code) {
					fault = fmt.Errorf("the unit %q with code %q cannot be written as unit=code", x.Unit, x.Code)
				}
				out[i] = x.Unit + "=" + x.Code
			}
			cell, err := joinList(out)
			return cell, cmp.Or(fault, err)
		},
		func(r *T, _ *rowInput, cell string) error {
			for _, s := range splitList(cell) {
				unit, code, ok := strings.Cut(s, "=")
				unit, code = strings.TrimSpace(unit), strings.TrimSpace(code)
				if !ok || unit == "" || code == "" {
					return cellFault{"unit", fmt.Sprintf("%q is not a unit and its code", s), "write unit=code, such as axle=AX2;loader=L1"}
				}
				*field(r) = append(*field(r), UnitCode{unit, code})
			}
			return nil
		}}
}

func targets[T any](name string, field func(*T) *[]Target) column[T] {
	return column[T]{columnInfo{name: name},
		func(r *T, _ LimitStyle) (string, error) {
			s := *field(r)
			out := make([]string, len(s))
			var fault error
			for i, x := range s {
				if x.Table == "" || x.Key == "" || strings.Contains(x.Table, ":") || x.Table != strings.TrimSpace(x.Table) || x.Key != strings.TrimSpace(x.Key) {
					fault = fmt.Errorf("the target %q cannot be written as table:key", x)
				}
				out[i] = x.String()
			}
			cell, err := joinList(out)
			return cell, cmp.Or(fault, err)
		},
		func(r *T, _ *rowInput, cell string) error {
			for _, s := range splitList(cell) {
				table, key, ok := strings.Cut(s, ":")
				table, key = strings.TrimSpace(table), strings.TrimSpace(key)
				if !ok || table == "" || key == "" {
					return cellFault{"target", fmt.Sprintf("%q does not name a record", s), "write table:key, such as procedure:P-0123"}
				}
				*field(r) = append(*field(r), Target{table, key})
			}
			return nil
		}}
}

// natural is a whole number from 0 up; 0 is written as an empty cell.
func natural[T any](name string, field func(*T) *int) column[T] {
	return column[T]{columnInfo{name: name, kind: kindNumber},
		func(r *T, _ LimitStyle) (string, error) {
			switch n := *field(r); {
			case n < 0:
				return strconv.Itoa(n), fmt.Errorf("%d is less than 0", n)
			case n == 0:
				return "", nil
			default:
				return strconv.Itoa(n), nil
			}
		},
		func(r *T, _ *rowInput, cell string) error {
			n, err := strconv.ParseUint(cell, 10, 31)
			if err != nil {
				return cellFault{"number", fmt.Sprintf("%q is not a whole number", cell), "write digits only"}
			}
			*field(r) = int(n)
			return nil
		}}
}

// counter is a reading or an interval; 0 is written as an empty cell.
func counter[T any](name string, field func(*T) *float64) column[T] {
	return column[T]{columnInfo{name: name, kind: kindNumber},
		func(r *T, _ LimitStyle) (string, error) {
			switch x := *field(r); {
			case x == 0:
				return "", nil
			case x < 0:
				return fmt.Sprint(x), fmt.Errorf("%v is less than 0", x)
			default:
				return formatNumber(x)
			}
		},
		func(r *T, _ *rowInput, cell string) error {
			x, err := parseNumber(cell)
			if err == nil && x < 0 {
				err = cellFault{"number", fmt.Sprintf("%s is less than 0", cell), "write a reading or interval from 0 up"}
			}
			*field(r) = x
			return err
		}}
}

// measure is a number that may be absent.
func measure[T any](name string, field func(*T) **float64) column[T] {
	return column[T]{columnInfo{name: name, kind: kindNumber},
		func(r *T, _ LimitStyle) (string, error) {
			x := *field(r)
			if x == nil {
				return "", nil
			}
			return formatNumber(*x)
		},
		func(r *T, _ *rowInput, cell string) error {
			x, err := parseNumber(cell)
			*field(r) = &x
			return err
		}}
}

func formatNumber(x float64) (string, error) {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return fmt.Sprint(x), errors.New("the number is not finite")
	}
	return strconv.FormatFloat(x, 'f', -1, 64), nil
}

// parseNumber reads a decimal number: a sign, digits, a point. Exponents are
// accepted since spreadsheet programs write them.
func parseNumber(cell string) (float64, error) {
	fault := func(mend string) error {
		return cellFault{"number", fmt.Sprintf("%q is not a number", cell), mend}
	}
	for _, c := range []byte(cell) {
		if (c < '0' || c > '9') && !strings.ContainsRune("+-.eE", rune(c)) {
			if c == ',' {
				return 0, fault("write it with a decimal point and no thousands separator, such as 1250.5")
			}
			return 0, fault("write digits with a decimal point, such as 1250.5; a unit has its own column")
		}
	}
	x, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		return 0, fault("write digits with a decimal point, such as 1250.5")
	}
	return x + 0, nil // -0 becomes 0
}

func dateText(d Date) (string, error) {
	s := d.String()
	if back, err := ParseDate(s); err != nil || back != d {
		return s, fmt.Errorf("%q is not a date that can be written", s)
	}
	return s, nil
}

func parseDateCell(cell string) (Date, error) {
	d, err := ParseDate(cell)
	if err != nil {
		what, mend, _ := strings.Cut(err.Error(), "; ")
		return d, cellFault{"date", what, mend}
	}
	return d, nil
}

func date[T any](name string, field func(*T) *Date) column[T] {
	return column[T]{columnInfo{name: name, kind: kindDate},
		func(r *T, _ LimitStyle) (string, error) { return dateText(*field(r)) },
		func(r *T, _ *rowInput, cell string) (err error) {
			*field(r), err = parseDateCell(cell)
			return err
		}}
}

// spanDate is a date limit, the range being found by get.
func spanDate[T any](name string, get func(*T) Range, side func(*Range) *Date) column[T] {
	return column[T]{columnInfo{name: name, kind: kindDate},
		func(r *T, _ LimitStyle) (string, error) { x := get(r); return dateText(*side(&x)) },
		func(_ *T, in *rowInput, cell string) (err error) {
			in.hasSpan = true
			*side(&in.span), err = parseDateCell(cell)
			return err
		}}
}

// spanSerial is a serial limit, the range being found by get.
func spanSerial[T any](name string, get func(*T) Range, side func(*Range) *int64) column[T] {
	return column[T]{columnInfo{name: name, kind: kindNumber},
		func(r *T, _ LimitStyle) (string, error) {
			x := get(r)
			switch n := *side(&x); {
			case n < 0:
				return strconv.FormatInt(n, 10), fmt.Errorf("%d is less than 0", n)
			case n == 0:
				return "", nil
			default:
				return strconv.FormatInt(n, 10), nil
			}
		},
		func(_ *T, in *rowInput, cell string) (err error) {
			in.hasSpan = true
			*side(&in.span), err = parseSerial(cell)
			return err
		}}
}

func parseSerial(cell string) (int64, error) {
	n, err := strconv.ParseUint(cell, 10, 63)
	switch {
	case err != nil:
		return 0, cellFault{"serial", fmt.Sprintf("%q is not a serial", cell), "write digits only, without separators"}
	case n == 0:
		return 0, cellFault{"serial", "a serial limit of 0 limits nothing", "leave the cell empty for an open side"}
	}
	return int64(n), nil
}

func fromDate(r *Range) *Date       { return &r.From }
func throughDate(r *Range) *Date    { return &r.Through }
func fromSerial(r *Range) *int64    { return &r.Serials.From }
func throughSerial(r *Range) *int64 { return &r.Serials.Through }

// effectivity gives the five columns of an effectivity: one range in the first
// four, several as the literature prints them in the fifth.
func effectivity[T any](field func(*T) *Effectivity) []column[T] {
	one := func(r *T) Range {
		if e := *field(r); len(e) == 1 {
			return e[0]
		}
		return Range{}
	}
	return []column[T]{
		spanDate("from", one, fromDate),
		spanDate("through", one, throughDate),
		spanSerial("serial_from", one, fromSerial),
		spanSerial("serial_through", one, throughSerial),
		{columnInfo{name: "effectivity"},
			func(r *T, style LimitStyle) (string, error) {
				e := *field(r)
				if len(e) < 2 {
					return "", nil
				}
				cell := style.Format(e)
				if len(e) > maxRanges {
					return cell, fmt.Errorf("there are %d ranges; at most %d can be read", len(e), maxRanges)
				}
				for _, x := range e {
					_, err1 := dateText(x.From)
					_, err2 := dateText(x.Through)
					if err := cmp.Or(err1, err2); err != nil {
						return cell, err
					}
					if x.Serials.From < 0 || x.Serials.Through < 0 {
						return cell, errors.New("a serial is less than 0")
					}
				}
				return cell, style.Check()
			},
			func(_ *T, in *rowInput, cell string) error {
				e, err := in.style.Parse(cell)
				if err != nil {
					what, mend, _ := strings.Cut(err.Error(), "; ")
					return cellFault{"limit", what, mend}
				}
				in.printed, in.hasPrint = e, true
				return nil
			}},
	}
}

func location[T any](field func(*T) *Location) []column[T] {
	return []column[T]{
		text("page", func(r *T) *string { return &field(r).Page }),
		text("sheet", func(r *T) *string { return &field(r).Sheet }),
		text("frame", func(r *T) *string { return &field(r).Frame }),
		text("section", func(r *T) *string { return &field(r).Section }),
	}
}

// cellChars is the longest text that a cell of an XLSX workbook can hold
// (ISO/IEC 29500 leaves it open; the limit of common spreadsheet programs).
const cellChars = 32767

// tidy brings the text of a cell to the form in which it is kept: without
// space at either end and with \n for every line end.
func tidy(cell string) string {
	if strings.Contains(cell, "\r") {
		cell = strings.ReplaceAll(strings.ReplaceAll(cell, "\r\n", "\n"), "\r", "\n")
	}
	return strings.TrimSpace(cell)
}

// legible reports what no cell may hold, in the file or in memory.
func legible(cell string) error {
	if len(cell) > cellChars && utf16Len(cell) > cellChars {
		return cellFault{"too-long", fmt.Sprintf("the text is longer than %d characters", cellChars), "shorten it; the text of the literature belongs in the literature"}
	}
	if strings.HasPrefix(cell, "=") {
		return cellFault{"formula", "the text begins with =, which a spreadsheet program takes for a formula", "paste the value in its place"}
	}
	return control(cell)
}

// control reports bytes that are no text and characters that print nothing.
func control(s string) error {
	for i := 0; i < len(s); {
		r, n := rune(s[i]), 1
		bad := r < ' ' && r != '\n' && r != '\t' || r == 0x7f
		if r >= utf8.RuneSelf {
			if r, n = utf8.DecodeRuneInString(s[i:]); r == utf8.RuneError && n == 1 {
				return cellFault{"encoding", "the text is not UTF-8", "save the file as CSV UTF-8"}
			}
			bad = unicode.Is(unicode.Cc, r) || unicode.Is(unicode.Noncharacter_Code_Point, r)
		}
		if bad {
			return cellFault{"control", fmt.Sprintf("the text holds the control character U+%04X", r), "delete it: type the text again"}
		}
		i += n
	}
	return nil
}

// writable tells why a text could not be read back from a file as it is.
func writable(cell string) error {
	if err := legible(cell); err != nil {
		return err
	}
	if tidy(cell) != cell {
		return errors.New("the text begins or ends with white space or holds a carriage return, which would be lost")
	}
	return nil
}

func utf16Len(s string) int {
	n := 0
	for _, r := range s {
		if n++; r > 0xffff {
			n++
		}
	}
	return n
}
