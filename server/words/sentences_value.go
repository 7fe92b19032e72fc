package words

import (
	"fmt"
	"math"

	"rightpage/grading/psychometrics"
)

// odds is how a language says probabilities and what is not known. The phrases
// with %s take whole numbers, written as the language writes them.
type odds struct {
	unknown, unknownShare, unknownTime string
	under, over                        string // of a share: 1 %, 99 %
	rare, likely                       string // of a chance: 1 in 20, 19 in 20
	even, about                        string
	near, between                      string
	none, oneIn, million               string
}

func (p *Printer) odds() odds {
	switch p.locale {
	case "de":
		return odds{"unbekannt", "ein unbekannter Anteil", "unbekannter Zeit",
			"unter %s", "über %s", "weniger als 1 von 20", "mehr als 19 von 20", "etwa 1 von 2", "etwa %s von 10",
			"rund %s von 10", "zwischen %s und %s von 10", "niemand", "etwa 1 von %s", "weniger als 1 von 1 Million"}
	case "es":
		return odds{"desconocido", "una proporción desconocida", "un tiempo desconocido",
			"menos del %s", "más del %s", "menos de 1 de cada 20", "más de 19 de cada 20", "alrededor de 1 de cada 2", "alrededor de %s de cada 10",
			"en torno a %s de cada 10", "entre %s y %s de cada 10", "nadie", "alrededor de 1 de cada %s", "menos de 1 por cada millón"}
	default:
		return odds{"inconnu", "une proportion inconnue", "un temps inconnu",
			"moins de %s", "plus de %s", "moins de 1 sur 20", "plus de 19 sur 20", "environ 1 sur 2", "environ %s sur 10",
			"autour de %s sur 10", "entre %s et %s sur 10", "personne", "environ 1 sur %s", "moins de 1 sur 1 million"}
	}
}

// value writes a value of a statement in a language other than English, which
// psychometrics has itself. The limits, and what is rounded how, are those of
// psychometrics.English.
func (p *Printer) value(v psychometrics.Value) string {
	switch v.Kind {
	case psychometrics.KindCount:
		return p.fixed(v.Number, 0)
	case psychometrics.KindNumber:
		if math.IsNaN(v.Number) {
			return p.odds().unknown
		}
		return p.fixed(v.Number, v.Decimals)
	case psychometrics.KindPercent:
		return p.percent(v.Number)
	case psychometrics.KindChance:
		return p.chance(v.Number)
	case psychometrics.KindBetween:
		return p.between(v.Number, v.High)
	case psychometrics.KindRare:
		return p.rare(v.Number)
	case psychometrics.KindSeconds:
		return p.seconds(v.Number)
	case psychometrics.KindDate:
		return p.Day(v.Date)
	case psychometrics.KindMonth:
		return p.ShortMonth(v.Date)
	case psychometrics.KindText:
		return v.Text
	case psychometrics.KindList:
		parts := make([]string, len(v.List))
		for i, s := range v.List {
			parts[i] = p.sentence(s)
		}
		return p.List(parts...)
	}
	return fmt.Sprint(v)
}

func (p *Printer) percent(x float64) string {
	o := p.odds()
	r := math.Round(100 * x)
	switch {
	case math.IsNaN(x):
		return o.unknown
	case r == 0 && x > 0:
		return fmt.Sprintf(o.under, p.Share(0.01))
	case r == 100 && x < 1:
		return fmt.Sprintf(o.over, p.Share(0.99))
	}
	return p.Share(x)
}

func (p *Printer) chance(x float64) string {
	o := p.odds()
	switch {
	case math.IsNaN(x):
		return o.unknown
	case x < 0.05:
		return o.rare
	case x > 0.95:
		return o.likely
	case x > 0.45 && x < 0.55:
		return o.even
	}
	return fmt.Sprintf(o.about, p.fixed(min(max(math.Round(10*x), 1), 9), 0))
}

func (p *Printer) between(low, high float64) string {
	o := p.odds()
	if math.IsNaN(low) || math.IsNaN(high) {
		return o.unknown
	}
	a, b := math.Round(10*low), math.Round(10*high)
	if a == b {
		return fmt.Sprintf(o.near, p.fixed(a, 0))
	}
	return fmt.Sprintf(o.between, p.fixed(a, 0), p.fixed(b, 0))
}

// rare says a small probability as 1 in so many, rounded to one figure.
func (p *Printer) rare(x float64) string {
	o := p.odds()
	switch {
	case math.IsNaN(x):
		return o.unknownShare
	case x <= 0:
		return o.none
	case x >= 0.5:
		return p.chance(x)
	}
	n := 1 / x
	scale := math.Pow(10, math.Floor(math.Log10(n)))
	n = math.Round(n/scale) * scale
	if n > 1e6 {
		return o.million
	}
	return fmt.Sprintf(o.oneIn, p.fixed(n, 0))
}

// seconds writes a duration; the symbols are those of the SI (BIPM, SI Brochure,
// table 8), the same in every language.
func (p *Printer) seconds(s float64) string {
	switch {
	case math.IsNaN(s):
		return p.odds().unknownTime
	case s < 90:
		return p.fixed(s, 0) + nbsp + "s"
	}
	whole := math.Round(s)
	return p.fixed(math.Floor(whole/60), 0) + nbsp + "min" + nbsp + fmt.Sprintf("%02.0f", math.Mod(whole, 60)) + nbsp + "s"
}
