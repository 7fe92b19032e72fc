package words

import (
	"fmt"
	"math"
	"strconv"
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

// layout is how a language writes dates, in the notation of package time, and
// its months in brief: CLDR 48, formats long, yMMMM, yMMM and Hm. The short date
// is that of CLDR's medium format in English and dd, MM and yyyy elsewhere, so
// that columns line up.
type layout struct {
	locale                   monday.Locale
	day, short, month, clock string
	months                   [12]string
}

func (p *Printer) layout() layout {
	switch p.locale {
	case "de":
		return layout{monday.LocaleDeDE, "2. January 2006", "02.01.2006", "January 2006", "15:04",
			[12]string{"Jan.", "Feb.", "März", "Apr.", "Mai", "Juni", "Juli", "Aug.", "Sept.", "Okt.", "Nov.", "Dez."}}
	case "es":
		return layout{monday.LocaleEsES, "2 de January de 2006", "02/01/2006", "January de 2006", "15:04",
			[12]string{"ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sept", "oct", "nov", "dic"}}
	case "fr":
		return layout{monday.LocaleFrFR, "2 January 2006", "02/01/2006", "January 2006", "15:04",
			[12]string{"janv.", "févr.", "mars", "avr.", "mai", "juin", "juil.", "août", "sept.", "oct.", "nov.", "déc."}}
	default:
		return layout{monday.LocaleEnGB, "2 January 2006", "2 Jan 2006", "January 2006", "15:04",
			[12]string{"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"}}
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

// ShortMonth writes a month briefly, as on the axis of a chart: Mar 2031.
func (p *Printer) ShortMonth(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return p.layout().months[t.Month()-1] + " " + strconv.Itoa(t.Year())
}

// Time writes a date and the time of day.
func (p *Printer) Time(t time.Time) string {
	return p.format(t, p.layout().day+", "+p.layout().clock)
}

// Clock writes a time of day.
func (p *Printer) Clock(t time.Time) string { return p.format(t, p.layout().clock) }

// Count writes a whole number.
func (p *Printer) Count(n int) string { return p.decimal(n, math.Abs(float64(n))) }

// Number writes a number with at most so many decimals; one that is not finite
// is a dash.
func (p *Printer) Number(x float64, decimals int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "–"
	}
	x = rounded(x, decimals)
	return p.decimal(x, math.Abs(x), number.MaxFractionDigits(decimals))
}

// fixed writes a finite number with so many decimals, no more and no less.
func (p *Printer) fixed(x float64, decimals int) string {
	x = rounded(x, decimals)
	return p.decimal(x, math.Abs(x), number.Scale(decimals))
}

// rounded rounds as package fmt does, so that a number reads the same in a
// sentence in English and in every other place; never to minus nothing.
func rounded(x float64, decimals int) float64 {
	x, _ = strconv.ParseFloat(strconv.FormatFloat(x, 'f', decimals, 64), 64)
	if x == 0 {
		return 0
	}
	return x
}

func (p *Printer) decimal(x any, size float64, options ...number.Option) string {
	// CLDR's minimumGroupingDigits of Spanish is 2: 3000, but 10.000. The
	// library does not know of it.
	if p.locale == "es" && size < 9999.5 {
		options = append(options, number.NoSeparator())
	}
	return strings.Replace(p.numbers.Sprint(number.Decimal(x, options...)), "-", "−", 1) // U+2212, which is as wide as a digit
}

// Share writes a share of one in per cent, without decimals, half upwards. A space
// that does not break stands before the sign in every language, in English too, as
// the sentences about scores write it (BIPM, SI Brochure, 9th edition, 5.4.7).
func (p *Printer) Share(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "–"
	}
	return p.fixed(math.Round(100*x), 0) + nbsp + "%"
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
	last := items[len(items)-1]
	and := p.T("list.and")
	if p.locale == "es" && soundsAsI(last) {
		and = "e"
	}
	return strings.Join(items[:len(items)-1], ", ") + " " + and + " " + last
}

// soundsAsI tells whether a Spanish word begins with the sound i, before which
// and is e rather than y: i or hi, but not where a diphthong follows, as in
// hielo (CLDR, list patterns of Spanish).
func soundsAsI(word string) bool {
	w := strings.ToLower(word)
	w, h := strings.CutPrefix(w, "h")
	w, i := strings.CutPrefix(w, "i")
	if !i {
		return strings.HasPrefix(w, "í")
	}
	return !h || !strings.ContainsAny(w[:min(len(w), 1)], "ae")
}

// Notice writes what a notice of a kind tells, from its details, which are the
// fields of the message notice.KIND. Points are written as the language writes
// numbers; a detail that is not there is empty. Of a kind that only a newer
// program has, it tells no more than that there was something.
func (p *Printer) Notice(kind string, detail map[string]string) string {
	fields := map[string]string{"assignment": "", "quiz": "", "number": "", "reason": "", "verdict": "", "state": "", "passed": "",
		"before": "", "before_of": "", "after": "", "after_of": "", "changed": "", "total": ""}
	for name, text := range detail {
		if strings.HasPrefix(name, "before") || strings.HasPrefix(name, "after") {
			if x, err := strconv.ParseFloat(text, 64); err == nil {
				text = p.Number(x, 2)
			}
		}
		fields[name] = text
	}
	pairs := make([]any, 0, 2*len(fields))
	for name, text := range fields {
		pairs = append(pairs, name, text)
	}
	id := "notice." + kind
	if text := p.T(id, pairs...); text != Missing(id) {
		return text
	}
	return p.T("notices.other", "Kind", kind)
}
