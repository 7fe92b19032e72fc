package grading

import (
	"math"
	"strconv"
	"strings"

	"rightpage/banks"
)

// gradeNumber reads a number and its unit, converts it exactly to the unit of
// the key, and compares within the tolerance of the key.
func gradeNumber(q *banks.Question, given string, s *Score) error {
	s.Given = strings.TrimSpace(given)
	value, unit, err := parseQuantity(given)
	if err != nil {
		return err
	}
	if unit == "" && q.Key.Unit != "" {
		settle(s, 0)
		s.Says = "The unit is missing."
		return nil
	}
	inKey, err := Convert(value, unit, q.Key.Unit)
	if err != nil {
		settle(s, 0)
		return nil
	}
	if near(inKey, q.Key.Number, q.Key.Tolerance) {
		settle(s, 1)
		return nil
	}
	settle(s, 0)
	for _, sl := range q.Slipped {
		v, u, err := parseQuantity(sl.Value)
		if err != nil {
			continue
		}
		if v, err = Convert(v, u, q.Key.Unit); err == nil && near(inKey, v, q.Key.Tolerance) {
			recognise(s, sl.Slip)
			return nil
		}
	}
	return nil
}

// near compares two numbers within a tolerance; the small relative term is for
// what conversion in binary floating point leaves.
func near(a, b, tolerance float64) bool {
	return math.Abs(a-b) <= tolerance+1e-9*math.Max(1, math.Abs(b))
}

// parseQuantity reads "34 N·m", "0,8 mm", "-15°C". A comma is a decimal mark
// when it stands alone in the number and is not followed by exactly three
// digits; a comma followed by three digits could be either and is refused.
func parseQuantity(text string) (float64, string, error) {
	t := strings.TrimSpace(text)
	t = strings.ReplaceAll(t, "−", "-")
	end := 0
	for end < len(t) && (t[end] >= '0' && t[end] <= '9' || t[end] == '.' || t[end] == ',' || end == 0 && (t[end] == '-' || t[end] == '+')) {
		end++
	}
	num, unit := t[:end], strings.TrimSpace(t[end:])
	if i := strings.IndexByte(num, ','); i >= 0 {
		if strings.Count(num, ",") > 1 || strings.Contains(num, ".") || len(num)-i-1 == 3 {
			return 0, "", &Refusal{"“" + strings.TrimSpace(text) + "” can be read in two ways", "write the number with a point for the decimals and no other mark"}
		}
		num = strings.Replace(num, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(num, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, "", &Refusal{"“" + strings.TrimSpace(text) + "” is no number", "write a number and its unit, for example 34 N·m"}
	}
	return v, unit, nil
}
