package coordinator

import (
	"strconv"
	"strings"
	"time"
)

// fieldNumber writes a number for a field; nothing for zero.
func fieldNumber(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// fieldMinutes writes whole minutes for a field; nothing for none.
func fieldMinutes(d time.Duration) string { return fieldNumber(int(d / time.Minute)) }

// parseNumber reads a whole number from 0 to most; nothing is 0.
func parseNumber(s string, most int) (int, bool) {
	s = strings.TrimSpace(s)
	if s == "" {
		return 0, true
	}
	n, err := strconv.Atoi(s)
	return n, err == nil && n >= 0 && n <= most
}

// parseLocal reads what the field datetime-local sends; nothing is the zero time.
func parseLocal(s string, zone *time.Location) (time.Time, bool) {
	s = strings.TrimSpace(s)
	if s == "" {
		return time.Time{}, true
	}
	for _, l := range []string{fieldTime, "2006-01-02 15:04", "2006-01-02T15:04:05"} {
		if t, err := time.ParseInLocation(l, s, zone); err == nil && t.Year() > 1970 && t.Year() < 2200 {
			return t, true
		}
	}
	return time.Time{}, false
}
