package paper

import (
	"fmt"
	"hash/crc32"
	"strconv"
	"strings"
)

// SheetCode is what the square code on an answer sheet says: whose sheet of
// which form variant it is, which of its pages, and the digest of the layout
// it was printed with, so that a sheet is never read by the wrong geometry.
//
// Its text form is
//
//	RP1/quiz/variant/person/page-pages/layout/checksum
//
// layout and checksum being eight upper-case hexadecimal digits, the checksum
// the CRC-32 (IEEE 802.3) of all that stands before its slash.
type SheetCode struct {
	Quiz, Variant, Person string
	Page, Pages           int
	Layout                uint32 // SheetPage.Digest
}

const (
	sheetCodePrefix = "RP1"
	// maxSheetPages keeps the page part of the code at five characters.
	maxSheetPages = 99
	// maxSheetIDs is what a code of codeVersion holds beside its fixed part:
	// 84 bytes at level M (ISO/IEC 18004, table 7) less the 30 of prefix,
	// slashes, pages, layout and checksum.
	maxSheetIDs = 54
	// maxSheetCode bounds what the parser looks at.
	maxSheetCode = 84
)

// SheetCodeError says why a sheet code was not accepted.
type SheetCodeError struct {
	Code string // as read, shortened
	Why  string
}

func (e *SheetCodeError) Error() string {
	return fmt.Sprintf("sheet code %q: %s", e.Code, e.Why)
}

// String is the text form. It does not check the ids; see Validate.
func (c SheetCode) String() string {
	body := fmt.Sprintf("%s/%s/%s/%s/%d-%d/%08X",
		sheetCodePrefix, c.Quiz, c.Variant, c.Person, c.Page, c.Pages, c.Layout)
	return fmt.Sprintf("%s/%08X", body, crc32.ChecksumIEEE([]byte(body)))
}

// Validate reports what keeps c from being printed.
func (c SheetCode) Validate() error {
	for _, id := range []struct{ what, value string }{
		{"quiz id", c.Quiz}, {"variant", c.Variant}, {"person id", c.Person},
	} {
		if id.value == "" {
			return fmt.Errorf("sheet code: the %s is empty", id.what)
		}
		for _, r := range id.value {
			if !sheetIDRune(r) {
				return fmt.Errorf("sheet code: %s %q: %q cannot stand in it: use letters A–Z, digits, '-', '.', '_' and ':'", id.what, id.value, r)
			}
		}
	}
	if n := len(c.Quiz) + len(c.Variant) + len(c.Person); n > maxSheetIDs {
		return fmt.Errorf("sheet code: quiz id, variant and person id have %d characters together, the square code holds %d: use shorter ids", n, maxSheetIDs)
	}
	if c.Pages < 1 || c.Pages > maxSheetPages || c.Page < 1 || c.Page > c.Pages {
		return fmt.Errorf("sheet code: page %d of %d: a form has 1 to %d answer sheets", c.Page, c.Pages, maxSheetPages)
	}
	return nil
}

func sheetIDRune(r rune) bool {
	return r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z' || r >= '0' && r <= '9' ||
		r == '-' || r == '.' || r == '_' || r == ':'
}

// ParseSheetCode reads the text form. The error is a *SheetCodeError and says
// whether it is no sheet code at all or a damaged one.
func ParseSheetCode(s string) (SheetCode, error) {
	bad := func(why string) (SheetCode, error) {
		if len(s) > 100 {
			s = s[:100] + "…"
		}
		return SheetCode{}, &SheetCodeError{Code: s, Why: why}
	}
	if len(s) > maxSheetCode {
		return bad("longer than any answer sheet's")
	}
	if !strings.HasPrefix(s, sheetCodePrefix+"/") {
		return bad("not an answer sheet's code: it does not begin with " + sheetCodePrefix + "/")
	}
	parts := strings.Split(s, "/")
	if len(parts) != 7 {
		return bad(fmt.Sprintf("has %d parts, not 7", len(parts)))
	}
	sum, ok := parseHex8(parts[6])
	if !ok {
		return bad("the checksum is not eight hexadecimal digits")
	}
	body := s[:len(s)-9]
	if crc32.ChecksumIEEE([]byte(body)) != sum {
		return bad("the checksum does not fit: the code is damaged or was retyped wrongly")
	}
	c := SheetCode{Quiz: parts[1], Variant: parts[2], Person: parts[3]}
	if c.Layout, ok = parseHex8(parts[5]); !ok {
		return bad("the layout digest is not eight hexadecimal digits")
	}
	page, pages, _ := strings.Cut(parts[4], "-")
	var err1, err2 error
	c.Page, err1 = strconv.Atoi(page)
	c.Pages, err2 = strconv.Atoi(pages)
	if err1 != nil || err2 != nil {
		return bad("the page is not written as page-pages")
	}
	if err := c.Validate(); err != nil {
		return bad(err.Error())
	}
	if c.String() != s { // leading zeros, signs: never printed by us
		return bad("not written as printed sheets write it")
	}
	return c, nil
}

func parseHex8(s string) (uint32, bool) {
	if len(s) != 8 || strings.ToUpper(s) != s {
		return 0, false
	}
	n, err := strconv.ParseUint(s, 16, 32)
	return uint32(n), err == nil
}
