package tryout

import (
	"maps"
	"slices"
	"strconv"
	"strings"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// command writes the command that asks a lookup of a catalog, ready to be
// pasted into a shell.
func command(path string, q *resolver.Query, c *catalog.Catalog) string {
	var b strings.Builder
	b.WriteString("rightpage resolve")
	flag := func(name, value string) {
		if value != "" {
			b.WriteString(" --" + name + " " + quoted(value))
		}
	}
	flag("catalog", path)
	v := &q.Vehicle
	flag("chassis", v.Chassis)
	flag("model", v.Model)
	if !v.Built.IsZero() {
		flag("built", v.Built.String())
	}
	if v.Serial > 0 {
		flag("serial", strconv.FormatInt(v.Serial, 10))
	}
	flag("engine", v.Engine)
	flag("transmission", v.Transmission)
	if q.Task == resolver.DueTask {
		flag("due", reading(&q.Due, c.Meta().Units.Distance))
	} else {
		flag(q.Task.String(), q.Text)
	}
	flag("system", q.System)
	flag("duty", q.Duty)
	flag("condition", q.Condition)
	flag("side", q.Side)
	if q.Ambient != nil {
		flag("ambient", number(*q.Ambient))
	}
	at := q.At.Step
	if q.At.Chapter != "" {
		at = q.At.Chapter + "/" + at
	}
	switch q.Outcome {
	case resolver.Passed:
		flag("passed", at)
	case resolver.Failed:
		flag("failed", at)
	}
	return b.String()
}

// reading writes a state of the counters as resolver.ParseReading reads it.
func reading(r *resolver.Reading, distance string) string {
	parts := []string{counterText(r.Now, distance)}
	if r.Last != (catalog.Counters{}) {
		parts = append(parts, "last "+counterText(r.Last, distance))
	}
	for _, name := range slices.Sorted(maps.Keys(r.Done)) {
		parts = append(parts, "done "+name+" "+counterText(r.Done[name], distance))
	}
	return strings.Join(parts, "; ")
}

func counterText(c catalog.Counters, distance string) string {
	var parts []string
	if c.Distance > 0 {
		parts = append(parts, number(c.Distance)+" "+distance)
	}
	if c.Hours > 0 {
		parts = append(parts, number(c.Hours)+" h")
	}
	if c.Months > 0 {
		parts = append(parts, number(c.Months)+" months")
	}
	return strings.Join(parts, ", ")
}

func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// quoted quotes a word for a shell where it needs it. Double quotes serve
// shells of Windows, too; where the word has characters that mean something
// within them it is put in single quotes.
func quoted(word string) string {
	plain := func(r rune) bool {
		return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("-_./:+,@%=\\", r)
	}
	switch {
	case word != "" && strings.IndexFunc(word, func(r rune) bool { return !plain(r) }) < 0 && !strings.Contains(word, "\\"):
		return word
	case !strings.ContainsAny(word, "\"$`\\!"):
		return `"` + word + `"`
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}
