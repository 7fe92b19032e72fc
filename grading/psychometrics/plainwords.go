package psychometrics

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Phrase is the stable key of a sentence. A message catalog of another language
// translates phrases; the keys never change once released.
type Phrase string

// Words turns statements into text. [English] is built in; a message catalog
// for another language implements the same method.
type Words interface {
	Render(Statement) string
}

// Statement is one thing said of a score: which sentence, and the values in it.
// It is data, so that it can be stored, sent as JSON, or said in another
// language later.
type Statement struct {
	Phrase Phrase           `json:"phrase"`
	Values map[string]Value `json:"values,omitempty"`
}

// ValueKind says how a value is to be written.
type ValueKind string

const (
	KindCount   ValueKind = "count"   // a whole number of things; templates may give singular and plural
	KindNumber  ValueKind = "number"  // a number with Decimals places
	KindPercent ValueKind = "percent" // a share, 0.85 for 85 %
	KindChance  ValueKind = "chance"  // a probability in words, 0.7 for "7 in 10"
	KindBetween ValueKind = "between" // a range of probabilities, Number to High
	KindRare    ValueKind = "rare"    // a small probability, 0.01 for "1 in 100"
	KindSeconds ValueKind = "seconds" // a duration
	KindDate    ValueKind = "date"    // a day
	KindMonth   ValueKind = "month"   // a month of a year
	KindText    ValueKind = "text"    // a name, never translated
	KindList    ValueKind = "list"    // other statements, one after the other
)

// Value is one value of a statement.
type Value struct {
	Kind     ValueKind   `json:"kind"`
	Number   float64     `json:"number,omitempty"`
	High     float64     `json:"high,omitempty"`
	Decimals int         `json:"decimals,omitempty"`
	Text     string      `json:"text,omitempty"`
	Date     time.Time   `json:"date,omitzero"`
	List     []Statement `json:"list,omitempty"`
}

// CountOf is a whole number of things.
func CountOf(n int) Value { return Value{Kind: KindCount, Number: float64(n)} }

// NumberOf is a number with so many decimals.
func NumberOf(x float64, decimals int) Value {
	return Value{Kind: KindNumber, Number: x, Decimals: decimals}
}

// PercentOf is a share between 0 and 1.
func PercentOf(p float64) Value { return Value{Kind: KindPercent, Number: p} }

// ChanceOf is a probability that is said in words, as so many in ten: people
// judge natural frequencies better than decimals (Gigerenzer & Hoffrage 1995,
// Psychological Review 102).
func ChanceOf(p float64) Value { return Value{Kind: KindChance, Number: p} }

// BetweenOf is a range of probabilities.
func BetweenOf(low, high float64) Value { return Value{Kind: KindBetween, Number: low, High: high} }

// RareOf is a small probability.
func RareOf(p float64) Value { return Value{Kind: KindRare, Number: p} }

// SecondsOf is a duration in seconds.
func SecondsOf(s float64) Value { return Value{Kind: KindSeconds, Number: s} }

// DateOf is a day.
func DateOf(t time.Time) Value { return Value{Kind: KindDate, Date: t} }

// MonthOf is the month that a day lies in.
func MonthOf(t time.Time) Value { return Value{Kind: KindMonth, Date: t} }

// TextOf is a name.
func TextOf(s string) Value { return Value{Kind: KindText, Text: s} }

// ListOf is other statements.
func ListOf(s ...Statement) Value { return Value{Kind: KindList, List: s} }

// say builds a statement from name, value pairs.
func say(p Phrase, pairs ...any) Statement {
	s := Statement{Phrase: p}
	for i := 0; i+1 < len(pairs); i += 2 {
		if s.Values == nil {
			s.Values = map[string]Value{}
		}
		s.Values[pairs[i].(string)] = pairs[i+1].(Value)
	}
	return s
}

// RenderTemplate fills a template: {name} stands for a value as write puts it,
// {name one|many} for a count followed by the word that fits it, as told by
// plural. It is what a catalog needs besides its table of sentences. Names
// without a value stay as they are, so that a mistake in a catalog shows.
func RenderTemplate(template string, s Statement, write func(Value) string, plural func(n float64, forms []string) string) string {
	var b strings.Builder
	for {
		open := strings.IndexByte(template, '{')
		if open < 0 {
			break
		}
		length := strings.IndexByte(template[open:], '}')
		if length < 0 {
			break
		}
		field := template[open+1 : open+length]
		b.WriteString(template[:open])
		template = template[open+length+1:]
		name, forms, counted := strings.Cut(field, " ")
		v, ok := s.Values[name]
		switch {
		case !ok:
			b.WriteString("{" + field + "}")
		case counted:
			b.WriteString(write(v) + " " + plural(v.Number, strings.Split(forms, "|")))
		default:
			b.WriteString(write(v))
		}
	}
	b.WriteString(template)
	return b.String()
}

// English renders statements in plain English. The zero value is ready.
type English struct{}

// Render gives the sentence of a statement. A phrase that it does not know is
// shown by its key and values, so that nothing said is ever lost.
func (e English) Render(s Statement) string {
	text := e.sentence(s)
	if text == "" {
		return ""
	}
	// A sentence may begin with a value in words or a name.
	first, size := utf8.DecodeRuneInString(text)
	return string(unicode.ToUpper(first)) + text[size:]
}

func (e English) sentence(s Statement) string {
	template, ok := englishSentence(s.Phrase)
	if !ok {
		names := make([]string, 0, len(s.Values))
		for name, v := range s.Values {
			names = append(names, name+": "+e.value(v))
		}
		slices.Sort(names)
		return fmt.Sprintf("[%s: %s]", s.Phrase, strings.Join(names, ", "))
	}
	return RenderTemplate(template, s, e.value, func(n float64, forms []string) string {
		if n == 1 || len(forms) < 2 {
			return forms[0]
		}
		return forms[1]
	})
}

// RenderAll gives several statements as one paragraph.
func RenderAll(w Words, statements ...Statement) string {
	parts := make([]string, len(statements))
	for i, s := range statements {
		parts[i] = w.Render(s)
	}
	return strings.Join(parts, " ")
}

func (e English) value(v Value) string {
	switch v.Kind {
	case KindCount:
		return fmt.Sprintf("%.0f", v.Number)
	case KindNumber:
		if math.IsNaN(v.Number) {
			return "unknown"
		}
		// U+2212 instead of a hyphen; no "−0.0".
		text := fmt.Sprintf("%.*f", v.Decimals, v.Number)
		if rest, negative := strings.CutPrefix(text, "-"); negative {
			if strings.Trim(rest, "0.") == "" {
				return rest
			}
			return "−" + rest
		}
		return text
	case KindPercent:
		return percentText(v.Number)
	case KindChance:
		return chanceText(v.Number)
	case KindBetween:
		return betweenText(v.Number, v.High)
	case KindRare:
		return rareText(v.Number)
	case KindSeconds:
		return secondsText(v.Number)
	case KindDate:
		return v.Date.Format("2 January 2006")
	case KindMonth:
		return v.Date.Format("Jan 2006")
	case KindText:
		return v.Text
	case KindList:
		parts := make([]string, len(v.List))
		for i, s := range v.List {
			parts[i] = e.sentence(s)
		}
		if len(parts) > 1 {
			return strings.Join(parts[:len(parts)-1], ", ") + " and " + parts[len(parts)-1]
		}
		return strings.Join(parts, "")
	}
	return fmt.Sprint(v)
}

// percentText rounds to whole per cents but keeps 0 % and 100 % for what is
// exactly that.
func percentText(p float64) string {
	r := math.Round(100 * p)
	switch {
	case math.IsNaN(p):
		return "unknown"
	case r == 0 && p > 0:
		return "under 1 %"
	case r == 100 && p < 1:
		return "over 99 %"
	}
	return fmt.Sprintf("%.0f %%", r)
}

// chanceText says a probability as so many in ten.
func chanceText(p float64) string {
	switch {
	case math.IsNaN(p):
		return "unknown"
	case p < 0.05:
		return "less than 1 in 20"
	case p > 0.95:
		return "more than 19 in 20"
	case p > 0.45 && p < 0.55:
		return "about even"
	}
	return fmt.Sprintf("about %.0f in 10", min(max(math.Round(10*p), 1), 9))
}

func betweenText(low, high float64) string {
	if math.IsNaN(low) || math.IsNaN(high) {
		return "unknown"
	}
	a, b := math.Round(10*low), math.Round(10*high)
	if a == b {
		return fmt.Sprintf("close to %.0f in 10", a)
	}
	return fmt.Sprintf("between %.0f and %.0f in 10", a, b)
}

// rareText says a small probability as 1 in so many, rounded to one figure.
func rareText(p float64) string {
	switch {
	case math.IsNaN(p):
		return "an unknown share"
	case p <= 0:
		return "none"
	case p >= 0.5:
		return chanceText(p)
	}
	n := 1 / p
	scale := math.Pow(10, math.Floor(math.Log10(n)))
	n = math.Round(n/scale) * scale
	if n > 1e6 {
		return "fewer than 1 in a million"
	}
	return "about 1 in " + thousands(n)
}

// thousands groups digits by threes.
func thousands(n float64) string {
	t := fmt.Sprintf("%.0f", n)
	for i := len(t) - 3; i > 0; i -= 3 {
		t = t[:i] + "," + t[i:]
	}
	return t
}

func secondsText(s float64) string {
	switch {
	case math.IsNaN(s):
		return "an unknown time"
	case s < 90:
		return fmt.Sprintf("%.0f s", s)
	}
	return fmt.Sprintf("%.0f min %02.0f s", math.Floor(math.Round(s)/60), math.Mod(math.Round(s), 60))
}
