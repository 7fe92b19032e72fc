package catalog

import (
	"fmt"
	"strconv"
	"time"
)

// Day counts days since 1970-01-01 (proleptic Gregorian calendar, ISO 8601-1).
type Day int32

// The open ends of a range of days.
const (
	MinDay Day = -1 << 31
	MaxDay Day = 1<<31 - 1
)

// Date is a calendar date at day, month or year precision. The zero Date
// is no date at all: an open limit.
type Date struct {
	Year  int16
	Month int8 // 0: the whole year
	Day   int8 // 0: the whole month
}

// ParseDate reads YYYY-MM-DD, YYYY-MM or YYYY (ISO 8601-1, extended form).
// The empty string is the zero Date.
func ParseDate(s string) (Date, error) {
	if s == "" {
		return Date{}, nil
	}
	bad := func(what string) (Date, error) {
		return Date{}, fmt.Errorf("%q is not a date: %s; write YYYY-MM or YYYY-MM-DD", s, what)
	}
	if len(s) != 4 && len(s) != 7 && len(s) != 10 {
		return bad("wrong length")
	}
	part := func(from, to int) (int, bool) {
		for i := from; i < to; i++ {
			if s[i] < '0' || s[i] > '9' {
				return 0, false
			}
		}
		n, err := strconv.Atoi(s[from:to])
		return n, err == nil
	}
	y, ok := part(0, 4)
	if !ok {
		return bad("the year is not four digits")
	}
	if y < 1900 || y > 2199 {
		return bad("the year is outside 1900 to 2199")
	}
	d := Date{Year: int16(y)}
	if len(s) >= 7 {
		m, ok := part(5, 7)
		if s[4] != '-' || !ok {
			return bad("the month is not two digits after a hyphen")
		}
		if m < 1 || m > 12 {
			return bad("there is no such month")
		}
		d.Month = int8(m)
	}
	if len(s) == 10 {
		n, ok := part(8, 10)
		if s[7] != '-' || !ok {
			return bad("the day is not two digits after a hyphen")
		}
		if n < 1 || n > daysIn(y, int(d.Month)) {
			return bad("that month has no such day")
		}
		d.Day = int8(n)
	}
	return d, nil
}

func daysIn(year, month int) int {
	switch month {
	case 4, 6, 9, 11:
		return 30
	case 2:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	}
	return 31
}

// IsZero tells whether d is no date.
func (d Date) IsZero() bool { return d == Date{} }

// String gives the ISO 8601-1 form at d's own precision, "" for the zero Date.
func (d Date) String() string {
	switch {
	case d.IsZero():
		return ""
	case d.Month == 0:
		return fmt.Sprintf("%04d", d.Year)
	case d.Day == 0:
		return fmt.Sprintf("%04d-%02d", d.Year, d.Month)
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.Year, d.Month, d.Day)
}

// MarshalText and UnmarshalText use the form of [Date.String].
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads what [Date.MarshalText] writes.
func (d *Date) UnmarshalText(b []byte) error {
	x, err := ParseDate(string(b))
	if err == nil {
		*d = x
	}
	return err
}

// First is the first day that d covers; MinDay for the zero Date.
func (d Date) First() Day {
	if d.IsZero() {
		return MinDay
	}
	m, n := max(int(d.Month), 1), max(int(d.Day), 1)
	return dayOf(int(d.Year), m, n)
}

// Last is the last day that d covers; MaxDay for the zero Date.
func (d Date) Last() Day {
	if d.IsZero() {
		return MaxDay
	}
	m, n := int(d.Month), int(d.Day)
	if m == 0 {
		m = 12
	}
	if n == 0 {
		n = daysIn(int(d.Year), m)
	}
	return dayOf(int(d.Year), m, n)
}

// dayOf counts the days to a date that exists. It is the arithmetic that
// time.Date does, for dates alone: years begin in March, so that the day that
// leap years add comes last (Hinnant, "chrono-compatible low-level date
// algorithms", days_from_civil). It is here because every lookup needs it and
// time.Date took a twentieth of the time; a test holds it against time.Date.
func dayOf(y, m, d int) Day {
	if m <= 2 {
		y--
	}
	era := y / 400
	ofEra := y - era*400
	ofYear := (153*((m+9)%12)+2)/5 + d - 1
	return Day(era*146097 + ofEra*365 + ofEra/4 - ofEra/100 + ofYear - 719468)
}

// Date gives the calendar date of a day, at day precision.
func (n Day) Date() Date {
	y, m, d := time.Unix(int64(n)*86400, 0).UTC().Date()
	return Date{Year: int16(y), Month: int8(m), Day: int8(d)}
}

// AddMonths moves a month or day precision date by n months; a day beyond the
// end of the month reached becomes its last. The zero Date stays.
func (d Date) AddMonths(n int) Date {
	if d.IsZero() {
		return d
	}
	if d.Month == 0 {
		d.Month = 1
	}
	k := int(d.Year)*12 + int(d.Month) - 1 + n
	e := Date{Year: int16(k / 12), Month: int8(k%12 + 1)}
	if d.Day != 0 {
		e.Day = min(d.Day, int8(daysIn(int(e.Year), int(e.Month))))
	}
	return e
}

// Days is a closed interval of days.
type Days struct{ From, Through Day }

// AnyDay is the interval that nothing limits.
func AnyDay() Days { return Days{MinDay, MaxDay} }

// Span is the interval that a date covers; the zero Date limits nothing.
func (d Date) Span() Days { return Days{d.First(), d.Last()} }

// Meet is the intersection; it is empty when From > Through.
func (a Days) Meet(b Days) Days { return Days{max(a.From, b.From), min(a.Through, b.Through)} }

// Empty tells whether no day is left.
func (a Days) Empty() bool { return a.From > a.Through }

// Serials is a closed interval of serials; 0 on either side is open.
type Serials struct{ From, Through int64 }

// bounds gives the interval with its open sides made explicit.
func (s Serials) bounds() (lo, hi int64) {
	lo, hi = s.From, s.Through
	if hi == 0 {
		hi = 1<<63 - 1
	}
	return lo, hi
}

// Meet is the intersection of two intervals of serials; ok is false when it is
// empty.
func (s Serials) Meet(t Serials) (m Serials, ok bool) {
	m.From = max(s.From, t.From)
	_, h1 := s.bounds()
	_, h2 := t.bounds()
	hi := min(h1, h2)
	if hi != 1<<63-1 {
		m.Through = hi
	}
	return m, m.From <= hi
}
