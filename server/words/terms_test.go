package words

import (
	"regexp"
	"strings"
	"testing"
)

// term is a word agreed on for a thing: where English says it, the other languages
// do not say what they might as well, and English says nothing else.
type term struct {
	english string            // expression that finds the thing in English
	other   string            // expression that English does not say
	not     map[string]string // language → expression that it does not say for the thing
}

// terms are the words agreed on: above each what the languages say, in it what they
// do not.
var terms = []term{
	// de Test, es cuestionario, fr questionnaire
	{"quiz", "", map[string]string{"de": `Quiz|Prüfung|Fragebogen|Klausur`, "es": `\bpruebas?\b|\btest\b|examen`, "fr": `quiz|épreuve|\btest\b|examen`}},
	// de Standort, es sede, fr site
	{`\bsites?\b`, `\bbranch offices?\b`, map[string]string{"de": `Niederlassung|Betrieb\b|Filiale`, "es": `\bcentros?\b|\bsitios?\b`, "fr": `établissement|agence`}},
	// de Fehlercode, es código de avería, fr code défaut
	{"trouble codes?", "fault codes?|error codes?", map[string]string{"de": "Störungscode|Diagnosecode", "es": "código(s)? de (fallo|error)", "fr": "codes? de panne|code(s)? d.(erreur|anomalie)"}},
	// de Zertifikat, es certificado, fr certificat
	{"certificates?", `\bdiplomas?\b`, map[string]string{"de": "Nachweis|Zeugnis|Bescheinigung|Urkunde", "es": "diploma|constancia", "fr": "attestation|diplôme"}},
	// de Stand, es revisión, fr révision
	{`\brevisions?\b`, "", map[string]string{"de": "Revision|Fassung|Version", "es": "versión|versiones", "fr": `\bversions?\b`}},
	// de Nachtrag, es suplemento, fr supplément
	{"supplements?", "", map[string]string{"de": "Ergänzung|Anhang", "es": "adenda|anexo", "fr": "avenant|annexe"}},
	// de Bauplan, es plan, fr plan
	{"blueprints?", `\btemplates?\b`, map[string]string{"de": "Vorlage|Blaupause|Testplan", "es": `\bplanos?\b|plantilla|esquema`, "fr": "gabarit|modèle|schéma"}},
	// de Zuweisung, es asignación, fr attribution
	{"assign", "", map[string]string{"de": "Zuteilung|zuteilen|Auftrag", "es": "tarea|atribu", "fr": "affect|devoir"}},
	// de Versuch, es intento, fr tentative
	{"attempts?", "", map[string]string{"de": "Durchgang|Durchlauf", "es": `tentativa|ensayo`, "fr": `\bessais?\b|passage`}},
	// de Heft, es cuadernillo, fr livret
	{"booklets?", "brochure", map[string]string{"de": "Broschüre", "es": "folleto", "fr": `cahiers?|brochure`}},
	// de Fehlgriff, es desliz, fr faux pas
	{`\bslips?\b`, `\bmisconceptions?\b`, map[string]string{"de": `Fehler\b|Irrtum|Patzer|Ausrutscher`, "es": `error|fallo`, "fr": `erreur|écart`}},
	// de Schritt, es paso, fr étape
	{`\bsteps?\b`, "", map[string]string{"de": "Etappe|Stufe", "es": "etapa", "fr": ""}},
	// de Suche, es búsqueda, fr recherche
	{`\blookups?\b`, `\bchases?\b`, map[string]string{"de": "Nachschlageweg|Suchweg|Fundstelle", "es": `consulta`, "fr": `consultation|quête`}},
	// de Lösung, es solución, fr corrigé, of a question; what signs and opens has a key as well
	{`answer key|\bthe key\b|\bkey was corrected|\b(their|its|old|another) keys?\b`, "", map[string]string{"de": "Schlüssel", "es": "claves?", "fr": `\bclés?\b`}},
	// de Einspruch, es reclamación, fr contestation
	{"disput", `\bobjections?\b|\bchallenge`, map[string]string{"de": "[Bb]eanstand|Widerspr|[Aa]nfecht|[Aa]ngefocht", "es": "[Ii]mpugn|objeci", "fr": "réclamation|litige"}},
	// de Fertigkeit, es habilidad, fr compétence
	{`\bskills?\b`, "", map[string]string{"de": "Fähigkeit|Kompetenz", "es": "destreza|competencia|aptitud", "fr": "savoir-faire"}},
	// de Literatur, es documentación, fr documentation
	{"literature", "", map[string]string{"de": "Unterlagen|Dokumentation", "es": "literatura", "fr": "littérature"}},
	// de überholt, es desactualizado, fr dépassé
	{"outdated", "", map[string]string{"de": "veraltet", "es": "anticuad|caducad|obsolet", "fr": "périmé|obsolète"}},
	// de Auffrischungstest, es cuestionario de actualización, fr questionnaire de mise à jour
	{"top-up", "", map[string]string{"de": "Nachtest|Ergänzungstest", "es": "repaso|puesta al día", "fr": "rappel|rattrapage"}},
	// de neu bewertet, es recalificado, fr noté de nouveau
	{"regrad", "", map[string]string{"de": "erneut bewertet|nachbewertet", "es": "calificad[oa]s? de nuevo|vuelto a calificar", "fr": "à nouveau|renoté"}},
	// de abgegeben, es entregado, fr remis
	{"hand(ed)? in", "submit", map[string]string{"de": "eingereicht", "es": "enviado", "fr": "rendu|soumis"}},
	// de Bestehensgrenze, es nota de corte, fr seuil
	{"pass mark", "cut score|pass score", map[string]string{"de": "Mindestpunkt", "es": "mínimo", "fr": "note de passage"}},
	// de Rückmeldung, es comentarios, fr retour
	{"feedback", "", map[string]string{"de": "Feedback", "es": "retroaliment|feedback", "fr": "rétroaction|feedback"}},
}

// Each language has one word for a thing on every page.
func TestOneWordForAThing(t *testing.T) {
	all := readMessages(t)
	for _, term := range terms {
		english, other := regexp.MustCompile(`(?i)`+term.english), regexp.MustCompile(`(?i)`+term.other)
		found := 0
		for _, id := range sorted(all["en"]) {
			en := spoken(all["en"][id])
			if term.other != "" && other.MatchString(en) {
				t.Errorf("en %s says %q for %s: %s", id, other.FindString(en), term.english, en)
			}
			if !english.MatchString(en) {
				continue
			}
			found++
			for locale, not := range term.not {
				if text := spoken(all[locale][id]); not != "" {
					if word := regexp.MustCompile(`(?i)` + not).FindString(text); word != "" {
						t.Errorf("%s %s says %q for %s: %s", locale, id, word, english.FindString(en), text)
					}
				}
			}
		}
		if found == 0 {
			t.Errorf("nothing says %s any more", term.english)
		}
	}
}

// spoken is what a message says in all its forms, without what it is filled with.
func spoken(m text) string {
	var parts []string
	for _, form := range sorted(m.forms) {
		parts = append(parts, actions.ReplaceAllString(m.forms[form], " "))
	}
	return strings.Join(parts, " / ")
}

var actions = regexp.MustCompile(`\{\{[^}]*\}\}`)

// Each language has one sort of quotation marks and of apostrophe, and addresses
// people politely.
func TestMarksAndAddress(t *testing.T) {
	marks := map[string]string{
		"en": `[„«»‚‹›]|\pL'\pL|"`,
		"de": `[”«»‹›'"]`,
		"es": `[“”„‹›'"]`,
		"fr": `[“”„‹›'"]|«[^ ]|[^ ]»`,
	}
	familiar := map[string]string{
		"de": `du|dich|dir|dein\pL*|euch|euer|eure\pL*`,
		"es": `tú|tu|tus|te|ti|tuy[oa]s?|vosotros|os|vuestr[oa]s?`,
		"fr": `tu|te|toi|ton|ta|tes|tien|tienne`,
	}
	all := readMessages(t)
	for _, locale := range Locales() {
		wrong := []*regexp.Regexp{regexp.MustCompile(marks[locale])}
		if words := familiar[locale]; words != "" {
			wrong = append(wrong, regexp.MustCompile(`(?i)(?:^|[^\pL])(?:`+words+`)(?:[^\pL]|$)`)) // \b knows ASCII alone
		}
		check := func(id, text string) {
			for _, w := range wrong {
				if w.MatchString(text) {
					t.Errorf("%s %s: %q in %s", locale, id, w.FindString(text), text)
				}
			}
		}
		for _, id := range sorted(all[locale]) {
			check(id, spoken(all[locale][id]))
		}
		for phrase, text := range printers(t)[locale].sentences {
			check(phrase, plain(text))
		}
	}
}
