package web

import (
	"fmt"
	"html/template"
	"strings"
	"time"

	"rightpage/server/words"
)

// functions are what templates can call besides what html/template has:
//
//	t "id" "Name" value …   a message
//	day, short, time, clock, month   a time in the visitor's zone
//	stamp                   a time for the attribute datetime
//	count, number, share, lasting    numbers and durations
//	asset "name"            the address of a file
//	key                     a new key for a form that must count once
//	label "name"            how the page labels a field; empty if it does not
//	csrf .                  the hidden field that every form with POST needs
//	dict "name" value …     a map, to hand several values to a part
//	svg                     a chart, as it is
func (a *App) functions(p *words.Printer, zone *time.Location) template.FuncMap {
	in := func(write func(time.Time) string) func(time.Time) string {
		return func(t time.Time) string {
			if t.IsZero() {
				return ""
			}
			return write(t.In(zone))
		}
	}
	return template.FuncMap{
		"t":     p.T,
		"word":  func(prefix string, id any) string { return p.Or(prefix+"."+Slug(fmt.Sprint(id)), fmt.Sprint(id)) },
		"day":   in(p.Day),
		"short": in(p.Short),
		"time":  in(p.Time),
		"clock": in(p.Clock),
		"month": in(p.Month),
		"date":  p.Day, // of a date, which is the same everywhere
		"stamp": func(t time.Time) string { return t.UTC().Format(time.RFC3339) },
		"local": func(t time.Time) string {
			if t.IsZero() {
				return ""
			}
			return t.In(zone).Format("2006-01-02T15:04")
		},
		"zone":    func() string { return zone.String() },
		"count":   p.Count,
		"number":  p.Number,
		"share":   p.Share,
		"lasting": p.Lasting,
		"lang":    p.Locale,
		"asset": func(name string) (string, error) {
			f, ok := a.assets[name]
			if !ok {
				return "", fmt.Errorf("there is no asset %s", name)
			}
			return f.path, nil
		},
		"label": func(string) string { return "" }, // each page has its own: see labels
		"key":   NewKey,
		"csrf": func(v View) template.HTML {
			return template.HTML(`<input type="hidden" name="` + csrfField + `" value="` + template.HTMLEscapeString(v.CSRF) + `">`)
		},
		"dict": func(pairs ...any) (map[string]any, error) {
			if len(pairs)%2 != 0 {
				return nil, fmt.Errorf("dict: %d values are no pairs", len(pairs))
			}
			m := map[string]any{}
			for i := 0; i < len(pairs); i += 2 {
				m[fmt.Sprint(pairs[i])] = pairs[i+1]
			}
			return m, nil
		},
		"list": func(values ...any) []any { return values },
		"add":  func(a, b int) int { return a + b },
		"slug": Slug,
		"join": func(sep string, list []string) string { return strings.Join(list, sep) },
		// Charts are drawn by our own code, which escapes what it is given.
		"svg": func(s []byte) template.HTML { return template.HTML(s) },
	}
}

// Slug makes the end of a message ID of a name: "limit off by one" is
// limit-off-by-one.
func Slug(name string) string { return strings.ReplaceAll(strings.ToLower(name), " ", "-") }
