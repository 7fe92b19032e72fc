package words

import (
	"go/ast"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
	"rightpage/quiz"
)

// slug makes the end of an ID of a name, as the function word of the templates.
func slug(name string) string { return strings.ReplaceAll(strings.ToLower(name), " ", "-") }

// named lists what the vocabulary names: prefix → names. What is declared as
// constants is read from the source, so that a new one is missed nowhere.
func named(t testing.TB) map[string][]string {
	all := map[string][]string{}
	add := func(prefix string, names ...string) { all[prefix] = append(all[prefix], names...) }
	typed := func(prefix, folder, kind string) {
		list := constants(t, folder, func(_, k string) bool { return k == kind })
		if len(list) == 0 {
			t.Errorf("%s has no constants of type %s any more", folder, kind)
		}
		add(prefix, list...)
	}
	for _, k := range kinds.All() {
		add("kind", k.Name)
		add("skill", k.Skill)
	}
	add("slip", resolver.NoSlip.String())
	for _, s := range resolver.Slips() {
		add("slip", s.String())
	}
	for _, s := range resolver.Steps() {
		add("step", s.String())
	}
	for _, r := range quiz.Roles() {
		add("role", string(r))
	}
	for _, f := range banks.Forms() {
		add("form", string(f))
	}
	for _, d := range banks.Bands() {
		add("difficulty", string(d))
	}
	for _, k := range catalog.CheckKinds() {
		add("finding", k.Code)
	}
	add("severity", catalog.Note.String(), catalog.Warning.String(), catalog.Error.String())
	add("verdict", resolver.RuledOut.String(), resolver.Possible.String(), resolver.Chosen.String())
	typed("verdict", "grading", "Verdict")
	typed("verdict", "quiz/marking", "Verdict")
	typed("state", "quiz/attempt.go", "State")
	typed("state", "quiz/dispute.go", "DisputeState")
	typed("state", "quiz/progress", "State")
	typed("level", "quiz/progress", "Level")
	typed("standing", "quiz/certificate", "State")
	typed("outcome", "grading", "Outcome")
	typed("outcome", "quiz/credential", "Outcome")
	typed("release", "quiz/release.go", "ReleaseWhen")
	typed("medium", "quiz/onpaper.go", "Medium")
	scans := constants(t, "quiz/store", func(name, kind string) bool { return kind == "" && strings.HasPrefix(name, "Scan") })
	notices := constants(t, "quiz/notice.go", func(name, _ string) bool { return strings.HasPrefix(name, "Notice") })
	levels := constants(t, "quiz/issuing", func(name, _ string) bool { return strings.HasPrefix(name, "Level") })
	if len(scans) == 0 || len(notices) == 0 || len(levels) == 0 {
		t.Errorf("states of scanned pages %v, kinds of notice %v, levels on certificates %v", scans, notices, levels)
	}
	add("state", scans...)
	add("level", levels...)
	add("notice", notices...)
	add("hazard", banks.AnyHazard)
	add("hazard", demoHazards(t)...)
	add("audit", auditActions(t)...)
	return all
}

// demoHazards lists the hazard words of the demo catalogs.
func demoHazards(t testing.TB) []string {
	var list []string
	eachFile(t, "testdata", ".yaml", func(path string, data []byte) {
		var meta struct{ Hazards map[string]string }
		if filepath.Base(path) != "catalog.yaml" {
			return
		}
		if err := yaml.Unmarshal(data, &meta); err != nil {
			t.Errorf("%s: %v", path, err)
		}
		list = append(list, sorted(meta.Hazards)...)
	})
	return list
}

// action is the form of the name of an action of the audit log.
var action = regexp.MustCompile(`^[a-z]+\.[a-z]+$`)

// auditActions lists the actions that the program writes into the audit log:
// what is handed over to the functions that write it, and what is declared as
// an action.
func auditActions(t testing.TB) []string {
	var list []string
	for _, folder := range []string{"quiz", "server", "cmd"} {
		for _, f := range sources(t, folder) {
			ast.Inspect(f.File, func(n ast.Node) bool {
				c, ok := n.(*ast.CallExpr)
				if !ok {
					return true
				}
				switch called(c) {
				case "entry", "RecordAudit", "changeCertificate":
					for _, arg := range c.Args {
						if s, ok := literal(arg); ok && action.MatchString(s) {
							list = append(list, s)
						}
					}
				}
				return true
			})
		}
		list = append(list, constants(t, folder, func(name, _ string) bool {
			return strings.HasSuffix(name, "Action") || strings.HasPrefix(name, "Action")
		})...)
	}
	if len(list) < 20 {
		t.Errorf("only %d actions of the audit log were found: %v", len(list), list)
	}
	return list
}

// Whatever the program names by a fixed word has a message, and the vocabulary
// names nothing that there is not.
func TestVocabulary(t *testing.T) {
	all := readMessages(t)
	known := map[string]bool{}
	for prefix, names := range named(t) {
		slices.Sort(names)
		for _, name := range slices.Compact(names) {
			id := prefix + "." + slug(name)
			known[id] = true
			for _, locale := range Locales() {
				if m, ok := all[locale][id]; !ok {
					t.Errorf("%s %q has no message: add %s to vocabulary.%s.yaml", prefix, name, id, locale)
				} else if !strings.HasPrefix(m.file, "vocabulary.") {
					t.Errorf("%s stands in %s", id, m.file)
				}
			}
		}
	}
	for id, m := range all["en"] {
		if strings.HasPrefix(m.file, "vocabulary.") && !known[id] {
			t.Errorf("the vocabulary has %s, but there is nothing of that name", id)
		}
	}
}

// Names that stand beside each other differ, or nobody can choose.
func TestVocabularyTellsThingsApart(t *testing.T) {
	all := readMessages(t)
	for _, locale := range Locales() {
		first := map[string]string{}
		for _, id := range sorted(all[locale]) {
			m := all[locale][id]
			prefix, _, _ := strings.Cut(id, ".")
			if !strings.HasPrefix(m.file, "vocabulary.") {
				continue
			}
			k := prefix + " " + strings.ToLower(m.forms["other"])
			if before, ok := first[k]; ok {
				t.Errorf("%s: %s and %s are both %q", locale, before, id, m.forms["other"])
			}
			first[k] = id
		}
	}
}

// Words of service literature, where a general dictionary leads astray. From
// memory of the usage of the trade; common practice, no source.
func TestTermsOfTheTrade(t *testing.T) {
	all := printers(t)
	for id, want := range map[string][3]string{
		"skill.trouble-codes": {"Fehlercodes", "códigos de avería", "codes défaut"},
		"step.group":          {"Baugruppe", "grupo constructivo", "groupe de construction"},
		"hazard.pto":          {"Zapfwelle", "toma de fuerza", "prise de force"},
		"hazard.refrigerant":  {"Kältemittel", "gas refrigerante", "fluide frigorigène"},
		"standing.revoked":    {"widerrufen", "revocado", "révoqué"},
	} {
		for i, locale := range Locales()[1:] {
			if got := all[locale].T(id); got != want[i] {
				t.Errorf("%s %s: got %s, want %s", locale, id, got, want[i])
			}
		}
	}
}

func TestNotices(t *testing.T) {
	all := printers(t)
	regraded := map[string]string{"assignment": "Woche 10", "reason": "Nachtrag 2025-2", "before": "7.5", "before_of": "20", "after": "8", "after_of": "20", "passed": "false"}
	dispute := map[string]string{"assignment": "Week 10", "state": "accepted", "verdict": "The bulletin says so.", "number": "4", "attempt": "x"}
	for _, c := range []struct {
		locale, kind string
		detail       map[string]string
		want         string
	}{
		{"en", quiz.NoticeRegraded, regraded, "“Woche 10” was regraded: 8 of 20 points instead of 7.5 of 20, not passed. Reason: Nachtrag 2025-2"},
		{"de", quiz.NoticeRegraded, regraded, "„Woche 10“ wurde neu bewertet: 8 von 20 Punkten statt 7,5 von 20, nicht bestanden. Grund: Nachtrag 2025-2"},
		{"fr", quiz.NoticeRegraded, regraded, "« Woche 10 » a été noté de nouveau : 8 points sur 20 au lieu de 7,5 sur 20, non réussi. Motif : Nachtrag 2025-2"},
		{"en", quiz.NoticeDispute, dispute, "Your dispute of question 4 in “Week 10” was accepted. Reason: The bulletin says so."},
		{"es", quiz.NoticeDispute, map[string]string{"assignment": "Semana 10", "state": "rejected", "number": "4"}, "Su reclamación de la pregunta 4 de «Semana 10» fue rechazada."},
		{"de", quiz.NoticeCertificate, map[string]string{"number": "WEX-2031-0042"}, "Das Zertifikat WEX-2031-0042 wurde für Sie ausgestellt."},
		{"en", quiz.NoticeCertificate, map[string]string{"number": "WEX-2031-0042", "quiz": "Week 10"}, "Certificate WEX-2031-0042 was issued to you. You earned it with “Week 10”."},
		{"fr", quiz.NoticeOutdated, map[string]string{"number": "X-1", "changed": "3", "total": "20", "reason": "in English"}, "Le certificat X-1 est dépassé : 3 recherches certifiées sur 20 mènent ailleurs aujourd’hui. Un court questionnaire sur ce qui a changé le renouvelle."},
		{"en", quiz.NoticeOutdated, map[string]string{"number": "X-1"}, "Certificate X-1 is outdated: the literature has changed since. A short quiz on what changed renews it."},
		{"de", "of.a.newer.program", nil, "Es ist etwas geschehen: of.a.newer.program"},
	} {
		if got := plain(all[c.locale].Notice(c.kind, c.detail)); got != c.want {
			t.Errorf("%s %s:\ngot  %s\nwant %s", c.locale, c.kind, got, c.want)
		}
	}
	// Whatever is missing, no text of the template shows.
	for _, kind := range constants(t, "quiz/notice.go", func(name, _ string) bool { return strings.HasPrefix(name, "Notice") }) {
		for _, locale := range Locales() {
			if got := all[locale].Notice(kind, nil); strings.ContainsAny(got, "<>{}⟦") || got == all[locale].T("notices.other", "Kind", kind) {
				t.Errorf("%s %s: %s", locale, kind, got)
			}
		}
	}
}

// The details of notices that are written are those that their texts use.
func TestDetailsOfNotices(t *testing.T) {
	details := constants(t, "quiz", func(name, _ string) bool { return strings.HasPrefix(name, "Detail") })
	if len(details) == 0 {
		t.Error("no details of notices were found")
	}
	have := map[string]bool{}
	for _, d := range details {
		have[d] = true
	}
	for id, m := range readMessages(t)["en"] {
		if !strings.HasPrefix(id, "notice.") {
			continue
		}
		fields, err := fieldsOf(m.forms["other"])
		if err != nil {
			t.Error(err)
		}
		for _, f := range fields {
			if !have[f] {
				t.Errorf("%s uses %s, which no notice has (%v)", id, f, details)
			}
		}
	}
}

// Names that are said in more ways than one, such as what somebody did who made
// a slip and what to do next time, are said so for every one of them: where a
// prefix has some of the slips, kinds, skills, steps or standings, it has all.
func TestFamiliesAreWhole(t *testing.T) {
	all := readMessages(t)["en"]
	members := map[string]map[string]bool{} // prefix → what follows it
	for id := range all {
		if i := strings.LastIndex(id, "."); i > 0 {
			if members[id[:i]] == nil {
				members[id[:i]] = map[string]bool{}
			}
			members[id[:i]][id[i+1:]] = true
		}
	}
	vocabulary := named(t)
	for _, domain := range []string{"slip", "skill", "kind", "step", "standing"} {
		names := vocabulary[domain]
		for prefix, have := range members {
			if vocabulary[prefix] != nil {
				continue // has a list of its own
			}
			var missing []string
			shared := 0
			for _, name := range names {
				switch {
				case have[slug(name)]:
					shared++
				case name != resolver.NoSlip.String():
					missing = append(missing, prefix+"."+slug(name))
				}
			}
			if 2*shared >= len(names) && len(missing) > 0 {
				t.Errorf("%s has %d words for each %s, but not %v", prefix, shared, domain, missing)
			}
		}
	}
}
