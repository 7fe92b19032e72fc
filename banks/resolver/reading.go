package resolver

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"rightpage/banks/catalog"
)

func number(f float64) string { return strconv.FormatFloat(f, 'f', -1, 64) }

func (r *Resolver) countersText(c catalog.Counters) string {
	var parts []string
	if c.Hours > 0 {
		parts = append(parts, number(c.Hours)+" "+r.meta.Units.Hours)
	}
	if c.Distance > 0 {
		parts = append(parts, number(c.Distance)+" "+r.meta.Units.Distance)
	}
	if c.Months > 0 {
		parts = append(parts, number(c.Months)+" months")
	}
	if len(parts) == 0 {
		return "new"
	}
	return strings.Join(parts, ", ")
}

func (r *Resolver) readingText(d Reading) string {
	text := r.countersText(d.Now)
	if !d.Last.IsZero() {
		text += "; last reading " + r.countersText(d.Last)
	}
	names := make([]string, 0, len(d.Done))
	for n := range d.Done {
		names = append(names, n)
	}
	slices.Sort(names)
	for _, n := range names {
		text += "; " + n + " done at " + r.countersText(d.Done[n])
	}
	return text
}

// ParseReading reads the state of the counters as a shop writes it:
//
//	1250 h, 14 months
//	1250 h, 14 months; last 1000 h, 12 months
//	1263 h; done B 1000 h, 8 months; done C 500 h
//
// The units are h, hours, mo, months, years, and the catalog's unit of
// distance (km, mi) where it has one. A number with a point has decimals; no
// separator of thousands is read.
func (r *Resolver) ParseReading(text string) (Reading, error) {
	var d Reading
	for i, part := range strings.Split(text, ";") {
		part = strings.TrimSpace(part)
		word, rest, _ := strings.Cut(part, " ")
		var err error
		switch strings.ToLower(word) {
		case "last":
			d.Last, err = r.parseCounters(rest)
		case "done":
			name, at, ok := strings.Cut(strings.TrimSpace(rest), " ")
			if _, known := r.serviceID[name]; !ok || !known {
				return d, fmt.Errorf("reading %q: after “done” there must be the name of a service of the schedule (%s) and a reading", part, joinOr(r.serviceNm))
			}
			if d.Done == nil {
				d.Done = map[string]catalog.Counters{}
			}
			d.Done[name], err = r.parseCounters(at)
		default:
			if i > 0 {
				return d, fmt.Errorf("reading %q: after a semicolon there must be “last” or “done SERVICE” and a reading", part)
			}
			d.Now, err = r.parseCounters(part)
		}
		if err != nil {
			return d, err
		}
	}
	if d.Now.IsZero() {
		return d, fmt.Errorf("reading %q says nothing; write for example 1250 h, 14 months", text)
	}
	return d, nil
}

func (r *Resolver) parseCounters(text string) (catalog.Counters, error) {
	var c catalog.Counters
	for part := range strings.SplitSeq(text, ",") {
		part = strings.TrimSpace(part)
		at := strings.IndexFunc(part, func(q rune) bool { return (q < '0' || q > '9') && q != '.' })
		if at <= 0 {
			return c, fmt.Errorf("reading %q: write a number and its unit, for example 1250 h", part)
		}
		n, err := strconv.ParseFloat(part[:at], 64)
		if err != nil || n < 0 || n > 1e9 {
			return c, fmt.Errorf("reading %q: %q is no number that a counter can show", part, part[:at])
		}
		switch unit := strings.ToLower(strings.TrimSpace(part[at:])); {
		case unit == "h" || unit == "hours" || unit == "hour":
			c.Hours = n
		case unit == "mo" || unit == "month" || unit == "months":
			c.Months = n
		case unit == "year" || unit == "years":
			c.Months = 12 * n
		case unit != "" && unit == strings.ToLower(r.meta.Units.Distance):
			c.Distance = n
		default:
			known := "h, months, years"
			if r.meta.Units.Distance != "" {
				known += ", " + r.meta.Units.Distance
			}
			return c, fmt.Errorf("reading %q: %q is no unit of this catalog; it has %s", part, unit, known)
		}
	}
	return c, nil
}
