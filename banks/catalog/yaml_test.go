package catalog

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestSettings(t *testing.T) {
	c, report := readReport(t, folder(t, map[string]string{"groups.csv": "group,title\n", SettingsFile: `# what a coordinator writes
title: Tarnfell workshop literature
maker: Tarnfell
revision: 2024-05
issued: 2024-05-01
language: de-CH
units:
  distance: km
limits:
  style: arrow-after
actions:
  replace: {classes: [Repair, maintenance], synonyms: [renew, "de:erneuern"]}
jobs:
  delivery inspection:
    service: PD
hazards:
  fuel: "Fuel ignites: no flames."
cautions: [Follow the maker's current literature.]
resembles:
  - ["21", "22"]
`}), Limits{})
	if len(report) != 0 {
		t.Error(lines(report))
	}
	want := Meta{Title: "Tarnfell workshop literature", Maker: "Tarnfell", Revision: "2024-05", Issued: "2024-05-01", Language: "de-CH", Primary: "model",
		Units: Units{"km", "h"}, Limits: LimitStyle{"arrow-after", "from", "through", "no.", "→"},
		Actions: map[string]Action{"replace": {[]Class{Repair, Maintenance}, []string{"renew", "de:erneuern"}}},
		Jobs:    map[string]Job{"delivery inspection": {Service: "PD"}},
		Hazards: map[string]string{"fuel": "Fuel ignites: no flames."}, Cautions: []string{"Follow the maker's current literature."}, Resembles: [][]string{{"21", "22"}}}
	if d := cmp.Diff(want, c.Meta()); d != "" {
		t.Error(d)
	}
}

func TestFindingsOfSettingsNameTheLine(t *testing.T) {
	for name, tt := range map[string]struct {
		text string
		want []Finding
	}{
		"empty":          {"", []Finding{{Code: "no-settings", What: "the file is empty"}}},
		"only a comment": {"# to do\n", []Finding{{Code: "no-settings", What: "the file is empty"}}},
		"unknown settings": {settingsText + "makr: x\nunits:\n  miles: 1\n  distanc: km\nlimits:\n  styl: words\nactions:\n  replace: {clases: [repair]}\n", []Finding{
			{Code: "unknown-setting", Origin: Origin{Row: 3}, Column: "makr", Mend: "did you mean maker?"},
			{Code: "unknown-setting", Origin: Origin{Row: 5}, Column: "miles", Mend: "the settings here are distance, hours"},
			{Code: "unknown-setting", Origin: Origin{Row: 6}, Column: "distanc", Mend: "did you mean distance?"},
			{Code: "unknown-setting", Origin: Origin{Row: 8}, Column: "styl", Mend: "did you mean style?"},
			{Code: "unknown-setting", Origin: Origin{Row: 10}, Column: "clases", Mend: "did you mean classes?"},
		}},
		"wrong kinds": {"title: [a]\nrevision: {a: b}\ncautions: x\nactions: [a]\n", []Finding{
			{Code: "yaml", Origin: Origin{Row: 1}, What: "a list stands where a text is expected"},
			{Code: "yaml", Origin: Origin{Row: 2}, What: "a mapping stands where a text is expected"},
			{Code: "yaml", Origin: Origin{Row: 3}, What: "a text stands where a list is expected"},
			{Code: "yaml", Origin: Origin{Row: 4}, What: "a list stands where a mapping is expected"},
		}},
		"not a mapping":      {"title\n", []Finding{{Code: "yaml", Origin: Origin{Row: 1}, What: "a text stands where a mapping is expected"}}},
		"ill-formed":         {"title: a: b\n", []Finding{{Code: "yaml", Origin: Origin{Row: 1}, What: "not well-formed YAML"}}},
		"given twice":        {"title: a\nrevision: b\ntitle: c\n", []Finding{{Code: "twice", Origin: Origin{Row: 3}, Column: "title"}}},
		"two documents":      {settingsText + "---\ntitle: b\n", []Finding{{Code: "yaml", What: "more than one document"}}},
		"date":               {settingsText + "issued: 01.05.2024\n", []Finding{{Code: "date", Origin: Origin{Row: 3}, Column: "issued", Mend: "write YYYY-MM"}}},
		"language":           {settingsText + "language: german\n", []Finding{{Code: "language", Origin: Origin{Row: 3}, Column: "language"}}},
		"class":              {settingsText + "actions:\n  replace:\n    classes: [novel]\n", []Finding{{Code: "word", Origin: Origin{Row: 4}, Column: "actions.replace", Mend: "write one of: maintenance"}}},
		"style":              {settingsText + "limits: {style: arrows}\n", []Finding{{Code: "limits", Origin: Origin{Row: 3}, Column: "limits", Mend: "write words, arrow-after or arrow-before"}}},
		"words alike":        {settingsText + "limits: {from: ab, through: abwärts}\n", []Finding{{Code: "limits", Origin: Origin{Row: 3}, Column: "limits", Mend: "let neither begin with the other"}}},
		"nothing to name":    {"maker: x\n", []Finding{{Code: "empty", Column: "title", Origin: Origin{Row: 1}}, {Code: "empty", Column: "revision", Origin: Origin{Row: 1}}}},
		"Latin-1":            {"title: K\xfchlung\nrevision: 1\n", []Finding{{Code: "encoding", What: "not UTF-8"}}},
		"UTF-16":             {"\xff\xfet\x00i\x00", []Finding{{Code: "encoding", What: "UTF-16"}}},
		"NUL":                {settingsText + "\x00", []Finding{{Code: "binary", What: "NUL"}}},
		"control":            {settingsText + "maker: \"a\\0b\"\n", []Finding{{Code: "control", Column: "maker", Origin: Origin{Row: 3}}}},
		"tab":                {"title: a\n\trevision: b\n", []Finding{{Code: "yaml", Origin: Origin{Row: 2}}}},
		"an alias in itself": {settingsText + "hazards: &a {x: *a}\n", []Finding{{Code: "yaml", Origin: Origin{Row: 3}}}},
	} {
		_, report := readReport(t, folder(t, map[string]string{"groups.csv": "group,title\n", SettingsFile: tt.text}), Limits{})
		for _, w := range tt.want {
			found := false
			for _, f := range report {
				found = found || f.Severity == Error && f.File == SettingsFile && f.Code == w.Code && f.Row == w.Row && f.Column == w.Column && strings.Contains(f.What, w.What) && strings.Contains(f.Mend, w.Mend)
			}
			if !found {
				t.Errorf("%s: no finding %+v among\n%s", name, w, strings.Join(lines(report), "\n"))
			}
		}
		if len(report) != len(tt.want) {
			t.Errorf("%s: %d findings: %s", name, len(report), strings.Join(lines(report), "\n"))
		}
	}
}

func TestHostileSettingsAreRefusedInBoundedMemory(t *testing.T) {
	// Ten lists of ten of the one before: 10^9 texts, if they were unfolded.
	var laughs strings.Builder
	laughs.WriteString(settingsText + "resembles: &a0 [[x]]\n")
	names := "abcdefghi"
	for i := range len(names) - 1 {
		laughs.WriteString("x" + names[i:i+1] + ": &" + names[i+1:i+2] + " [" + strings.Repeat("*"+names[i:i+1]+",", 9) + "*" + names[i:i+1] + "]\n")
	}
	for name, tt := range map[string]struct{ text, code string }{
		"too long":      {settingsText + "cautions: [" + strings.Repeat("x,", 1<<20) + "]\n", "too-large"},
		"deep":          {settingsText + "cautions: " + strings.Repeat("[", 100_000), "yaml"},
		"many aliases":  {laughs.String(), "yaml"},
		"aliases laugh": {settingsText + "resembles:\n- &a [x,x,x,x,x,x,x,x,x,x]\n" + strings.Repeat("- *a\n", 100_000), "yaml"},
	} {
		var report Report
		mem := allocated(func() {
			_, report = readReport(t, folder(t, map[string]string{"groups.csv": "group,title\n", SettingsFile: tt.text}), Limits{})
		})
		found := false
		for _, f := range report {
			found = found || f.Code == tt.code && f.File == SettingsFile
		}
		if !found {
			t.Errorf("%s: no finding %s among %s", name, tt.code, strings.Join(lines(report), "\n"))
		}
		if mem > 256<<20 {
			t.Errorf("%s: %d MiB were allocated", name, mem>>20)
		}
	}
}
