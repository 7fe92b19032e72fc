package words

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
	"testing"
	"text/template"
	"text/template/parse"

	"go.yaml.in/yaml/v3"
)

// text is a message as a file has it: its text under other alone, or one text
// for each plural form.
type text struct {
	forms map[string]string
	file  string
}

func (m text) plural() bool { return len(m.forms) > 1 }

// readMessages gives the messages of every area but the sentences, by language
// and ID.
func readMessages(t testing.TB) map[string]map[string]text {
	t.Helper()
	all := map[string]map[string]text{}
	for _, locale := range Locales() {
		all[locale] = map[string]text{}
	}
	names, err := fs.Glob(messages, "messages/*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		area, locale, _ := strings.Cut(strings.TrimSuffix(path.Base(name), ".yaml"), ".")
		if area == sentencesArea {
			continue
		}
		if all[locale] == nil {
			t.Errorf("%s: the language is none of %v", name, Locales())
			continue
		}
		data, err := fs.ReadFile(messages, name)
		if err != nil {
			t.Fatal(err)
		}
		list := map[string]any{}
		if err := yaml.Unmarshal(data, &list); err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		for id, v := range list {
			if before, ok := all[locale][id]; ok {
				t.Errorf("%s: %s stands in %s too", name, id, before.file)
			}
			m := text{map[string]string{}, path.Base(name)}
			switch v := v.(type) {
			case string:
				m.forms["other"] = v
			case map[string]any:
				for form, text := range v {
					m.forms[form] = fmt.Sprint(text)
				}
			default:
				t.Errorf("%s: %s is neither a text nor its plural forms; put it in quotes", name, id)
				continue
			}
			all[locale][id] = m
		}
	}
	return all
}

func sorted[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

// Every message stands in every language, and no language has one more.
func TestEveryMessageInEveryLanguage(t *testing.T) {
	all := readMessages(t)
	for _, locale := range Locales()[1:] {
		for _, id := range sorted(all["en"]) {
			if _, ok := all[locale][id]; !ok {
				t.Errorf("%s is missing in %s (%s)", id, locale, strings.Replace(all["en"][id].file, ".en.", "."+locale+".", 1))
			}
		}
		for _, id := range sorted(all[locale]) {
			if m, ok := all["en"][id]; !ok {
				t.Errorf("%s stands in %s, but not in English", id, all[locale][id].file)
			} else if all[locale][id].file != strings.Replace(m.file, ".en.", "."+locale+".", 1) {
				t.Errorf("%s stands in %s, but in %s", id, m.file, all[locale][id].file)
			}
		}
	}
}

// A message is filled with the same fields in every language.
func TestSameFieldsInEveryLanguage(t *testing.T) {
	all := readMessages(t)
	for _, id := range sorted(all["en"]) {
		en := all["en"][id]
		want, err := fieldsOf(en.forms["other"])
		if err != nil {
			t.Errorf("en %s: %v", id, err)
			continue
		}
		for _, locale := range Locales() {
			m, ok := all[locale][id]
			if !ok {
				continue
			}
			for _, form := range sorted(m.forms) {
				got, err := fieldsOf(m.forms[form])
				if err != nil {
					t.Errorf("%s %s (%s): %v", locale, id, form, err)
					continue
				}
				if form == "one" { // "one answer" needs no number
					got, want := slices.DeleteFunc(slices.Clone(got), isCount), slices.DeleteFunc(slices.Clone(want), isCount)
					if !slices.Equal(got, want) {
						t.Errorf("%s %s (%s): fields %v, in English %v", locale, id, form, got, want)
					}
				} else if !slices.Equal(got, want) {
					t.Errorf("%s %s (%s): fields %v, in English %v", locale, id, form, got, want)
				}
			}
		}
	}
}

func isCount(field string) bool { return field == "Count" }

// A message that counts has the plural forms of its language, and counts in
// every language. The forms are those of CLDR's plural rules for cardinal
// numbers (CLDR 48).
func TestPluralForms(t *testing.T) {
	forms := map[string][]string{"en": {"one", "other"}, "de": {"one", "other"}, "es": {"many", "one", "other"}, "fr": {"many", "one", "other"}}
	all := readMessages(t)
	for _, locale := range Locales() {
		for _, id := range sorted(all[locale]) {
			m := all[locale][id]
			if en, ok := all["en"][id]; ok && en.plural() != m.plural() {
				t.Errorf("%s %s: it counts in one of the languages alone", locale, id)
			}
			if _, ok := m.forms["other"]; !ok {
				t.Errorf("%s %s has no form other", locale, id)
			}
			if m.plural() && !slices.Equal(sorted(m.forms), forms[locale]) {
				t.Errorf("%s %s has the forms %v; %s needs %v", locale, id, sorted(m.forms), locale, forms[locale])
			}
		}
	}
}

// What somebody forgot to translate is as long as in English and the same.
func TestNothingIsLeftInEnglish(t *testing.T) {
	const sentence = 30 // shorter ones, such as names and symbols, may agree
	all := readMessages(t)
	for _, locale := range Locales()[1:] {
		for _, id := range sorted(all[locale]) {
			m := all[locale][id]
			if text := m.forms["other"]; len(text) > sentence && text == all["en"][id].forms["other"] {
				t.Errorf("%s %s is English: %s", locale, id, text)
			}
			for form, text := range m.forms {
				if text != strings.Trim(text, " ") || strings.Contains(text, "  ") || strings.Contains(text, nbsp) || text == "" {
					t.Errorf("%s %s (%s) is empty or has spaces to mend: %q", locale, id, form, text)
				}
			}
		}
	}
}

// fieldsOf lists the fields that a template is filled with.
func fieldsOf(text string) ([]string, error) {
	t, err := template.New("").Parse(text)
	if err != nil {
		return nil, err
	}
	found := map[string]bool{}
	walk(t.Root, func(n parse.Node) {
		switch n := n.(type) {
		case *parse.FieldNode:
			found[n.Ident[0]] = true
		case *parse.VariableNode:
			if n.Ident[0] == "$" && len(n.Ident) > 1 {
				found[n.Ident[1]] = true
			}
		}
	})
	return sorted(found), nil
}

// walk visits a node of a template and all within it.
func walk(n parse.Node, visit func(parse.Node)) {
	visit(n)
	list := func(l *parse.ListNode) {
		if l != nil {
			walk(l, visit)
		}
	}
	branch := func(b *parse.BranchNode) {
		walk(b.Pipe, visit)
		list(b.List)
		list(b.ElseList)
	}
	switch n := n.(type) {
	case *parse.ListNode:
		for _, x := range n.Nodes {
			walk(x, visit)
		}
	case *parse.ActionNode:
		walk(n.Pipe, visit)
	case *parse.TemplateNode:
		if n.Pipe != nil {
			walk(n.Pipe, visit)
		}
	case *parse.IfNode:
		branch(&n.BranchNode)
	case *parse.RangeNode:
		branch(&n.BranchNode)
	case *parse.WithNode:
		branch(&n.BranchNode)
	case *parse.PipeNode:
		for _, c := range n.Cmds {
			walk(c, visit)
		}
	case *parse.CommandNode:
		for _, a := range n.Args {
			walk(a, visit)
		}
	case *parse.ChainNode:
		walk(n.Node, visit)
	}
}

// A file that is broken is named.
func TestBrokenFilesAreNamed(t *testing.T) {
	for name, data := range map[string]string{
		"messages/noarea.yaml":       "a: b",
		"messages/base.en.yaml":      "a: [",
		"messages/sentences.de.yaml": "- a",
		"messages/sentences.fr.yaml": "a: [",
		"messages/base.xx.yaml":      "a: b",
	} {
		_, err := load(mapFS{name: data})
		if err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := load(mapFS{}); err != nil {
		t.Errorf("no files: %v", err)
	}
	if _, err := load(failingFS{}); !errors.Is(err, fs.ErrPermission) {
		t.Errorf("a file that cannot be read: %v", err)
	}
}
