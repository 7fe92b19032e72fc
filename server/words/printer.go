package words

import (
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/goodsign/monday"
	"github.com/nicksnyder/go-i18n/v2/i18n"
	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"
)

// Printer writes in one language. It is safe for concurrent use.
type Printer struct {
	locale    string
	tag       language.Tag
	localizer *i18n.Localizer
	numbers   *message.Printer
	sentences map[string]string
}

// Locale is the language, as a BCP 47 tag.
func (p *Printer) Locale() string { return p.locale }

// Missing is how a message that there is not shows: ⟦its ID⟧.
func Missing(id string) string { return "⟦" + id + "⟧" }

// T gives the message with the ID. Pairs are names and values of what stands in
// it; one named Count chooses the plural form. A message that there is not
// shows as by [Missing].
func (p *Printer) T(id string, pairs ...any) string {
	data := make(map[string]any, len(pairs)/2)
	for i := 0; i+1 < len(pairs); i += 2 {
		data[fmt.Sprint(pairs[i])] = pairs[i+1]
	}
	cfg := i18n.LocalizeConfig{MessageID: id, TemplateData: data}
	if n, ok := data["Count"]; ok {
		cfg.PluralCount = n
		if count, ok := n.(int); ok {
			data["Count"] = p.Count(count)
		}
	}
	text, tag, err := p.localizer.LocalizeWithTag(&cfg)
	if err != nil && text == "" || tag != p.tag {
		return Missing(id)
	}
	return text
}

// Has tells whether there is a message with the ID.
func (p *Printer) Has(id string) bool {
	_, tag, err := p.localizer.LocalizeWithTag(&i18n.LocalizeConfig{MessageID: id, PluralCount: 2})
	return err == nil && tag == p.tag
}

// Or gives the message with the ID, or other if there is none: for words that
// may come from a newer program, such as the name of a slip.
func (p *Printer) Or(id, other string) string {
	if text := p.T(id); text != Missing(id) {
		return text
	}
	return other
}

// layout is how a language writes dates, in the notation of package time. From
// memory of CLDR's long and short formats.
type layout struct {
	locale                   monday.Locale
	day, short, month, clock string
}

func (p *Printer) layout() layout {
	switch p.locale {
	case "de":
		return layout{monday.LocaleDeDE, "2. January 2006", "02.01.2006", "January 2006", "15:04"}
	case "es":
		return layout{monday.LocaleEsES, "2 de January de 2006", "02/01/2006", "January de 2006", "15:04"}
	case "fr":
		return layout{monday.LocaleFrFR, "2 January 2006", "02/01/2006", "January 2006", "15:04"}
	default:
		return layout{monday.LocaleEnGB, "2 January 2006", "2 Jan 2006", "January 2006", "15:04"}
	}
}

func (p *Printer) format(t time.Time, pattern string) string {
	if t.IsZero() {
		return ""
	}
	return monday.Format(t, pattern, p.layout().locale)
}

// Day writes a date: 4 March 2031. The zero time is empty, here and below.
func (p *Printer) Day(t time.Time) string { return p.format(t, p.layout().day) }

// Short writes a date briefly, for tables.
func (p *Printer) Short(t time.Time) string { return p.format(t, p.layout().short) }

// Month writes a month: March 2031.
func (p *Printer) Month(t time.Time) string { return p.format(t, p.layout().month) }

// Time writes a date and the time of day.
func (p *Printer) Time(t time.Time) string {
	return p.format(t, p.layout().day+", "+p.layout().clock)
}

// Clock writes a time of day.
func (p *Printer) Clock(t time.Time) string { return p.format(t, p.layout().clock) }

// Count writes a whole number.
func (p *Printer) Count(n int) string { return p.numbers.Sprint(number.Decimal(n)) }

// Number writes a number with at most so many decimals; one that is not finite
// is a dash.
func (p *Printer) Number(x float64, decimals int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "–"
	}
	return p.numbers.Sprint(number.Decimal(x, number.MaxFractionDigits(decimals)))
}

// Share writes a share of one in per cent, without decimals.
func (p *Printer) Share(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "–"
	}
	return p.numbers.Sprint(number.Percent(x, number.MaxFractionDigits(0)))
}

// Lasting writes a duration to two units: 1 h 5 min, 40 s.
func (p *Printer) Lasting(d time.Duration) string {
	d = d.Round(time.Second)
	if d < 0 {
		d = 0
	}
	days, hours, minutes, seconds := int(d/(24*time.Hour)), int(d/time.Hour)%24, int(d/time.Minute)%60, int(d/time.Second)%60
	parts := []string{}
	add := func(n int, id string) {
		if n > 0 && len(parts) < 2 {
			parts = append(parts, p.T(id, "N", p.Count(n)))
		}
	}
	add(days, "unit.days")
	add(hours, "unit.hours")
	add(minutes, "unit.minutes")
	if days == 0 && hours == 0 {
		add(seconds, "unit.seconds")
	}
	if len(parts) == 0 {
		return p.T("unit.seconds", "N", p.Count(0))
	}
	return strings.Join(parts, " ")
}

// List joins words: a, b and c.
func (p *Printer) List(items ...string) string {
	switch len(items) {
	case 0:
		return ""
	case 1:
		return items[0]
	}
	last := len(items) - 1
	return strings.Join(items[:last], ", ") + " " + p.T("list.and") + " " + items[last]
}
