package words

import (
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"rightpage/grading/psychometrics"
)

func printers(t testing.TB) map[string]*Printer {
	t.Helper()
	all, err := Load()
	if err != nil {
		t.Fatal(err)
	}
	list := map[string]*Printer{}
	for _, locale := range Locales() {
		list[locale] = all.Printer(locale)
	}
	return list
}

var placeholder = regexp.MustCompile(`\{([^}]*)\}`)

// english gives the English sentence of a phrase with its placeholders: said
// without values, they stay.
func english(p psychometrics.Phrase) string {
	return psychometrics.English{}.Render(psychometrics.Statement{Phrase: p})
}

func placeholders(template string) (names []string, counted map[string]string) {
	counted = map[string]string{}
	for _, m := range placeholder.FindAllStringSubmatch(template, -1) {
		name, forms, ok := strings.Cut(m[1], " ")
		if ok {
			counted[name] = forms
		}
		names = append(names, name)
	}
	slices.Sort(names)
	return slices.Compact(names), counted
}

// Every phrase has a sentence in every language with the values of the English
// one, two forms for what is counted, and braces that match.
func TestEveryPhraseInEveryLanguage(t *testing.T) {
	for locale, p := range printers(t) {
		if locale == "en" {
			if len(p.sentences) != 0 {
				t.Error("English has sentences of its own; they belong into psychometrics")
			}
			continue
		}
		known := map[string]bool{}
		for _, phrase := range psychometrics.Phrases() {
			known[string(phrase)] = true
			template, ok := p.sentences[string(phrase)]
			if !ok {
				t.Errorf("%s: %s is missing", locale, phrase)
				continue
			}
			want, _ := placeholders(english(phrase))
			got, counted := placeholders(template)
			if !slices.Equal(got, want) {
				t.Errorf("%s: %s has the values %v, the English sentence %v", locale, phrase, got, want)
			}
			for name, forms := range counted {
				if list := strings.Split(forms, "|"); len(list) != 2 || list[0] == "" || list[1] == "" {
					t.Errorf("%s: %s: %s has the forms %q; give singular|plural", locale, phrase, name, forms)
				}
			}
			if strings.Count(template, "{") != strings.Count(template, "}") {
				t.Errorf("%s: %s: braces do not match: %s", locale, phrase, template)
			}
			// What a sentence ends with says how it is used: alone or within another.
			if end := strings.HasSuffix(template, "."); end != strings.HasSuffix(english(phrase), ".") {
				t.Errorf("%s: %s ends otherwise than the English sentence: %s", locale, phrase, template)
			}
		}
		for phrase := range p.sentences {
			if !known[phrase] {
				t.Errorf("%s: there is no phrase %s", locale, phrase)
			}
		}
	}
}

// In English a printer says what psychometrics says, with no-break spaces.
func TestEnglishIsThatOfPsychometrics(t *testing.T) {
	p := printers(t)["en"]
	for _, s := range []psychometrics.Statement{psychometrics.SayShare(17, 20), psychometrics.SayPass(79.5, 80, 2.55, 1), {Phrase: "unheard.of"}} {
		if got, want := plain(p.Render(s)), (psychometrics.English{}).Render(s); got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}
}

// plain makes no-break spaces plain, to be read here.
func plain(s string) string { return strings.ReplaceAll(s, nbsp, " ") }

func TestSentences(t *testing.T) {
	date := time.Date(2026, time.May, 3, 0, 0, 0, 0, time.UTC)
	skills := []string{"Datenkarte", "Ausgaben"}
	plan := psychometrics.SayPlan(psychometrics.PracticePlan{Skills: []psychometrics.PlannedPractice{{Skill: 0, Questions: 9}, {Skill: 1, Questions: 5}},
		Questions: 14, Low: 11, High: 19, After: 0.81, Reached: true}, skills)
	one := func(s psychometrics.Statement) []psychometrics.Statement { return []psychometrics.Statement{s} }
	all := printers(t)
	for _, c := range []struct {
		locale string
		said   []psychometrics.Statement
		want   string
	}{
		{"de", one(psychometrics.SayShare(17, 20)), "17 von 20 richtig (85 %). Bei anderen Fragen dieser Art ist zwischen 64 % und 95 % zu erwarten."},
		{"de", one(psychometrics.SayPass(79.5, 80, 2.55, 1)), "79,5, plus oder minus 5,0: unter der Bestehensgrenze von 80,0, aber so knapp, dass andere Fragen anders hätten entscheiden können."},
		{"de", one(psychometrics.SayMastery("data card", 0.97, 14)), "Datenkarte: sitzt sehr wahrscheinlich (mehr als 19 von 20, nach 14 Antworten)."},
		{"de", one(psychometrics.SayMastery("Ähren", 0.9, 1)), "Ähren: zu wenig für eine Aussage, bisher 1 Antwort; 5 sind nötig."},
		{"de", psychometrics.SayReadiness(psychometrics.Readiness{Probability: 0.71, Low: 0.52, High: 0.83, Enough: true, Skills: []psychometrics.SkillReadiness{{Skill: 1, Answers: 9}}}, date, skills),
			"Chance, die Anforderung am 3. Mai 2026 zu erfüllen: etwa 7 von 10 (zwischen 5 und 8 von 10)."},
		{"de", plan, "Etwa 14 Übungsfragen (zwischen 11 und 19): 9 zu Datenkarte und 5 zu Ausgaben. Das bringt die Chance auf etwa 8 von 10."},
		{"de", one(psychometrics.SayCorrelation(-0.1, 60)), "Ob jemand beim Rest besser ist, sagt nichts Sicheres über diese Frage (−0,10, zwischen −0,35 und 0,16)."},
		{"de", one(psychometrics.SayChange(0, 0, 15, 20)), "Von unbekannt auf 75 %. Zu wenig für eine Aussage: 12 Antworten sind jedes Mal nötig."},
		{"es", one(psychometrics.SayShare(17, 20)), "17 de 20 correctas (85 %). En otras preguntas de este tipo cabe esperar entre 64 % y 95 %."},
		{"es", one(psychometrics.SayFading(psychometrics.MasteryParameters{})), "Sin práctica, cerca de la mitad se pierde en 3650 días."},
		{"es", one(psychometrics.SayMastery("ítems", 0.9, 1)), "Ítems: muy pocas respuestas para saberlo, 1 respuesta hasta ahora; 5 son necesarias."},
		{"fr", one(psychometrics.SayShare(0, 0)), "0 sur 0 justes. Trop peu pour conclure : il faut 12 réponses."},
		{"fr", one(psychometrics.SayMastery("éditions", 0.9, 0)), "Éditions : trop peu pour conclure, 0 réponse jusqu’ici ; il en faut 5."},
		{"fr", one(psychometrics.SayForecasts(psychometrics.ForecastCheck{Count: 1900, Error: 0.031, Floor: 0.004})),
			"Les prévisions passées se sont vérifiées : sur 1 900 prévisions, l’annoncé et l’advenu diffèrent de 3 % en moyenne ; le hasard seul donnerait moins de 1 %."},
		{"fr", psychometrics.SayFluency(psychometrics.Fluency{Speed: psychometrics.Speed{Answers: 12}, Typical: 47, Low: 39, High: 121, Within: 0.81, Enough: true}, 60),
			"Trouve la réponse en 47 s environ (entre 39 s et 2 min 01 s). Chance de la trouver en 60 s : environ 8 sur 10."},
	} {
		if got := plain(psychometrics.RenderAll(all[c.locale], c.said...)); got != c.want {
			t.Errorf("%s:\ngot  %s\nwant %s", c.locale, got, c.want)
		}
	}
	// No line of French begins with a mark that stands apart.
	for _, s := range all["fr"].sentences {
		if strings.ContainsAny(s, ":;?!»") && regexp.MustCompile(` [:;?!»]|« `).MatchString(s) {
			t.Errorf("a line could break in: %s", s)
		}
	}
	// What a newer program has stored is not lost.
	unknown := psychometrics.Statement{Phrase: "new.one", Values: map[string]psychometrics.Value{"b": psychometrics.CountOf(2)}}
	if got := all["de"].Render(unknown); got != "[new.one: b: 2]" {
		t.Errorf("got %s", got)
	}
}

func TestValuesOfSentences(t *testing.T) {
	all := printers(t)
	nan := math.NaN()
	may := time.Date(2026, time.August, 3, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		value      psychometrics.Value
		de, es, fr string
	}{
		{psychometrics.CountOf(12345), "12.345", "12.345", "12 345"},
		{psychometrics.CountOf(3650), "3.650", "3650", "3 650"},
		{psychometrics.NumberOf(0.25, 1), "0,2", "0,2", "0,2"},
		{psychometrics.NumberOf(-0.04, 1), "0,0", "0,0", "0,0"},
		{psychometrics.NumberOf(-0.4, 1), "−0,4", "−0,4", "−0,4"},
		{psychometrics.NumberOf(72, 0), "72", "72", "72"},
		{psychometrics.NumberOf(nan, 1), "unbekannt", "desconocido", "inconnu"},
		{psychometrics.PercentOf(0), "0 %", "0 %", "0 %"},
		{psychometrics.PercentOf(0.004), "unter 1 %", "menos del 1 %", "moins de 1 %"},
		{psychometrics.PercentOf(0.855), "86 %", "86 %", "86 %"},
		{psychometrics.PercentOf(0.997), "über 99 %", "más del 99 %", "plus de 99 %"},
		{psychometrics.PercentOf(1), "100 %", "100 %", "100 %"},
		{psychometrics.PercentOf(nan), "unbekannt", "desconocido", "inconnu"},
		{psychometrics.ChanceOf(0.01), "weniger als 1 von 20", "menos de 1 de cada 20", "moins de 1 sur 20"},
		{psychometrics.ChanceOf(0.05), "etwa 1 von 10", "alrededor de 1 de cada 10", "environ 1 sur 10"},
		{psychometrics.ChanceOf(0.47), "etwa 1 von 2", "alrededor de 1 de cada 2", "environ 1 sur 2"},
		{psychometrics.ChanceOf(0.95), "etwa 9 von 10", "alrededor de 9 de cada 10", "environ 9 sur 10"},
		{psychometrics.ChanceOf(0.951), "mehr als 19 von 20", "más de 19 de cada 20", "plus de 19 sur 20"},
		{psychometrics.ChanceOf(nan), "unbekannt", "desconocido", "inconnu"},
		{psychometrics.BetweenOf(0.01, 0.33), "zwischen 0 und 3 von 10", "entre 0 y 3 de cada 10", "entre 0 et 3 sur 10"},
		{psychometrics.BetweenOf(0.68, 0.72), "rund 7 von 10", "en torno a 7 de cada 10", "autour de 7 sur 10"},
		{psychometrics.BetweenOf(nan, 1), "unbekannt", "desconocido", "inconnu"},
		{psychometrics.RareOf(0.05), "etwa 1 von 20", "alrededor de 1 de cada 20", "environ 1 sur 20"},
		{psychometrics.RareOf(0.0003), "etwa 1 von 3.000", "alrededor de 1 de cada 3000", "environ 1 sur 3 000"},
		{psychometrics.RareOf(1e-9), "weniger als 1 von 1 Million", "menos de 1 por cada millón", "moins de 1 sur 1 million"},
		{psychometrics.RareOf(0), "niemand", "nadie", "personne"},
		{psychometrics.RareOf(0.7), "etwa 7 von 10", "alrededor de 7 de cada 10", "environ 7 sur 10"},
		{psychometrics.RareOf(nan), "ein unbekannter Anteil", "una proporción desconocida", "une proportion inconnue"},
		{psychometrics.SecondsOf(8.4), "8 s", "8 s", "8 s"},
		{psychometrics.SecondsOf(119.7), "2 min 00 s", "2 min 00 s", "2 min 00 s"},
		{psychometrics.SecondsOf(nan), "unbekannter Zeit", "un tiempo desconocido", "un temps inconnu"},
		{psychometrics.DateOf(may), "3. August 2026", "3 de agosto de 2026", "3 août 2026"},
		{psychometrics.MonthOf(may), "Aug. 2026", "ago 2026", "août 2026"},
		{psychometrics.TextOf("data card"), "data card", "data card", "data card"},
		{psychometrics.ListOf(), "", "", ""},
	} {
		for locale, want := range map[string]string{"de": c.de, "es": c.es, "fr": c.fr} {
			if got := plain(all[locale].value(c.value)); got != want {
				t.Errorf("%s: %+v: got %q, want %q", locale, c.value, got, want)
			}
		}
	}
	// A number and its unit are not torn apart.
	for _, v := range []psychometrics.Value{psychometrics.PercentOf(0.5), psychometrics.SecondsOf(150)} {
		for _, locale := range Locales()[1:] {
			if got := all[locale].value(v); strings.Contains(got, " ") || !strings.Contains(got, nbsp) {
				t.Errorf("%s: %q", locale, got)
			}
		}
	}
}
