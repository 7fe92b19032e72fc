package qti

import (
	"strconv"
	"strings"
)

// inSet tells whether a value is among those of an option set (see
// banks.OptionSet).
func inSet(set, value string) bool {
	for v := range strings.SplitSeq(set, ";") {
		if v == value {
			return true
		}
	}
	return false
}

// sameUnit reads a wrong number that is written in the unit of the key. Those in
// another unit cannot be told in QTI, which compares bare numbers; the grader
// knows them all the same.
func sameUnit(s, unit string) (float64, bool) {
	num, ok := strings.CutSuffix(s, unit)
	if !ok {
		return 0, false
	}
	f, err := strconv.ParseFloat(strings.TrimSpace(num), 64)
	return f, err == nil
}
