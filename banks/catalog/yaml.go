package catalog

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"maps"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// settings reads catalog.yaml, or what stands for it; an empty name means that
// there is none.
func (r *reader) settings(dir, name string) error {
	if name == "" {
		r.add(Finding{Severity: Error, Code: "no-settings", Origin: Origin{File: SettingsFile}, What: "the settings of the catalog are missing",
			Mend: "write " + SettingsFile + " with at least title, maker and revision beside the tables"})
		return nil
	}
	f, size, err := r.open(filepath.Join(dir, name), name, r.lim.Settings)
	if err != nil || f == nil {
		return err
	}
	defer f.Close()
	b, err := io.ReadAll(io.LimitReader(f, r.lim.Settings+1))
	if err != nil {
		return fmt.Errorf("reading a catalog: %w", err)
	}
	if int64(len(b)) > r.lim.Settings {
		r.add(tooManyBytes(name, size, r.lim.Settings))
		return nil
	}
	r.yaml(name, b)
	return nil
}

// yaml reads the settings from text.
func (r *reader) yaml(name string, b []byte) {
	fault := func(line int, column string, f cellFault) {
		r.add(Finding{Severity: Error, Code: f.code, Origin: Origin{File: name, Row: line}, Column: column, What: f.what, Mend: f.mend})
	}
	if f := foreign(b[:min(len(b), 4096)]); f != nil {
		fault(0, "", cellFault{f.code, f.what, "save the file as UTF-8 text"})
		return
	}
	b = bytes.TrimPrefix(b, []byte("\ufeff"))
	if !utf8.Valid(b) {
		fault(0, "", cellFault{"encoding", "the text is not UTF-8", "save the file as UTF-8 text"})
		return
	}
	dec := yaml.NewDecoder(bytes.NewReader(b))
	dec.KnownFields(true)
	var m Meta
	err := dec.Decode(&m)
	var wrong *yaml.TypeError
	switch {
	case errors.Is(err, io.EOF):
		fault(0, "", cellFault{"no-settings", "the file is empty", "write at least title, maker and revision"})
		return
	case errors.As(err, &wrong):
		for _, s := range wrong.Errors {
			line, column, f := yamlFault(s)
			fault(line, column, f)
		}
	case err != nil:
		line, column, f := yamlFault(strings.TrimPrefix(err.Error(), "yaml: "))
		fault(max(line, 1), column, f) // the library leaves out line 1
		return
	}
	if err := dec.Decode(new(yaml.Node)); !errors.Is(err, io.EOF) {
		fault(0, "", cellFault{"yaml", "the file holds more than one document", "keep one and delete what follows the line ---"})
	}
	var doc yaml.Node
	_ = yaml.Unmarshal(b, &doc) // only for the lines: it has been decoded above
	checkTexts(&doc, "", fault)
	checkMeta(&m, func(column string, f cellFault) {
		if f.code == "empty" && wrong != nil {
			return // it may have been left out for the fault reported above
		}
		fault(yamlLine(&doc, column), column, f)
	})
	r.meta = tidyMeta(m)
}

var (
	yamlAt      = regexp.MustCompile(`^line (\d+): `)
	yamlUnknown = regexp.MustCompile(`^field (.*) not found in type catalog\.(\w+)$`)
	yamlType    = regexp.MustCompile("^cannot unmarshal (!!\\w+)(?: `(.*)`)? into (.*)$")
	yamlTwice   = regexp.MustCompile(`^mapping key "(.*)" already defined`)
)

// yamlFault turns a message of the YAML reader into a finding.
func yamlFault(s string) (line int, column string, f cellFault) {
	s = strings.ToValidUTF8(s, "�")
	if m := yamlAt.FindStringSubmatch(s); m != nil {
		line, _ = strconv.Atoi(m[1])
		s = s[len(m[0]):]
	}
	switch {
	case yamlUnknown.MatchString(s):
		m := yamlUnknown.FindStringSubmatch(s)
		known := yamlKeys(m[2])
		mend := "the settings here are " + strings.Join(known, ", ")
		if n, ok := nearest(m[1], known); ok {
			mend = fmt.Sprintf("did you mean %s?", n)
		}
		return line, clip(m[1]), cellFault{"unknown-setting", "there is no such setting", mend}
	case yamlType.MatchString(s):
		m := yamlType.FindStringSubmatch(s)
		kinds := map[string]string{"!!map": "a mapping", "!!seq": "a list", "!!str": "a text", "!!int": "a number", "!!float": "a number", "!!bool": "true or false", "!!null": "nothing"}
		got, want := kinds[m[1]], "a text"
		switch {
		case strings.HasPrefix(m[3], "[]"):
			want = "a list"
		case strings.HasPrefix(m[3], "map[") || strings.HasPrefix(m[3], "catalog."):
			want = "a mapping"
		}
		if got == "" {
			got = m[1]
		}
		return line, "", cellFault{"yaml", fmt.Sprintf("%s stands where %s is expected", got, want), "write " + want + " here"}
	case yamlTwice.MatchString(s):
		return line, clip(yamlTwice.FindStringSubmatch(s)[1]), cellFault{"twice", "the setting is given twice", "keep one of the two"}
	}
	return line, "", cellFault{"yaml", "the file is not well-formed YAML: " + clip(s), "check the indentation, and put a text that holds a colon between quotation marks"}
}

// yamlKeys lists the settings of one of the types of [Meta].
func yamlKeys(typ string) []string {
	for _, t := range []reflect.Type{reflect.TypeFor[Meta](), reflect.TypeFor[Units](), reflect.TypeFor[LimitStyle](), reflect.TypeFor[Action](), reflect.TypeFor[Job]()} {
		if t.Name() == typ {
			var keys []string
			for f := range t.Fields() {
				keys = append(keys, f.Tag.Get("yaml"))
			}
			return keys
		}
	}
	return nil
}

// yamlLine finds the line of a setting by its path, or of the part of the path
// that is there.
func yamlLine(n *yaml.Node, path string) int {
	if n.Kind == yaml.DocumentNode && len(n.Content) > 0 {
		n = n.Content[0]
	}
	line := n.Line
	for key := range strings.SplitSeq(path, ".") {
		found := false
		if n.Kind == yaml.MappingNode {
			for i := 0; i+1 < len(n.Content); i += 2 {
				if n.Content[i].Value == key {
					line, n, found = n.Content[i].Line, n.Content[i+1], true
					break
				}
			}
		}
		if !found {
			break
		}
	}
	return line
}

// checkTexts reports characters that no text may hold, with the path of the
// setting.
func checkTexts(n *yaml.Node, path string, fault func(line int, column string, f cellFault)) {
	switch n.Kind {
	case yaml.MappingNode:
		for i := 0; i+1 < len(n.Content); i += 2 {
			checkTexts(n.Content[i], path, fault)
			checkTexts(n.Content[i+1], strings.TrimPrefix(path+"."+n.Content[i].Value, "."), fault)
		}
	case yaml.ScalarNode:
		var f cellFault
		if errors.As(control(n.Value), &f) {
			fault(n.Line, clip(path), f)
		}
	default:
		// An alias has no content of its own, so that cycles end here.
		for _, c := range n.Content {
			checkTexts(c, path, fault)
		}
	}
}

// checkMeta reports what the settings themselves get wrong.
func checkMeta(m *Meta, fault func(column string, f cellFault)) {
	for column, v := range map[string]string{"title": m.Title, "revision": m.Revision} {
		if strings.TrimSpace(v) == "" {
			fault(column, cellFault{"empty", "the setting is missing or empty", "fill it in: certificates and questions name it"})
		}
	}
	if _, err := ParseDate(m.Issued); err != nil {
		var f cellFault
		_, err := parseDateCell(m.Issued)
		errors.As(err, &f)
		fault("issued", f)
	}
	if m.Language != "" && !isLanguage(m.Language) {
		fault("language", cellFault{"language", fmt.Sprintf("%q is not a language tag", clip(m.Language)), "write a BCP 47 tag such as en or de-CH"})
	}
	if err := m.Limits.Check(); err != nil {
		what, mend, _ := strings.Cut(err.Error(), "; ")
		fault("limits", cellFault{"limits", what, mend})
		m.Limits = LimitStyle{}
	}
	var classes []string
	for _, c := range Classes() {
		classes = append(classes, string(c))
	}
	for _, name := range slices.Sorted(maps.Keys(m.Actions)) {
		for i, c := range m.Actions[name].Classes {
			w, err := oneOf(string(c), classes)
			var f cellFault
			if errors.As(err, &f) {
				fault("actions."+name, f)
				continue
			}
			m.Actions[name].Classes[i] = Class(w)
		}
	}
}

// tidyMeta brings what is empty to one form, so that catalogs compare equal. It
// shares no map with m.
func tidyMeta(m Meta) Meta {
	some := func(s []string) []string {
		if len(s) == 0 {
			return nil
		}
		return s
	}
	actions, jobs := m.Actions, m.Jobs
	m.Actions, m.Jobs = nil, nil
	for k, a := range actions {
		if m.Actions == nil {
			m.Actions = make(map[string]Action, len(actions))
		}
		if len(a.Classes) == 0 {
			a.Classes = nil
		}
		a.Synonyms = some(a.Synonyms)
		m.Actions[k] = a
	}
	for k, j := range jobs {
		if m.Jobs == nil {
			m.Jobs = make(map[string]Job, len(jobs))
		}
		j.Synonyms = some(j.Synonyms)
		m.Jobs[k] = j
	}
	if len(m.Hazards) == 0 {
		m.Hazards = nil
	}
	if len(m.Resembles) == 0 {
		m.Resembles = nil
	}
	m.Cautions = some(m.Cautions)
	return m
}

// encodeMeta writes the settings; keys of mappings are in order, so that equal
// settings give equal bytes.
func encodeMeta(m Meta) ([]byte, error) {
	var b bytes.Buffer
	e := yaml.NewEncoder(&b)
	e.SetIndent(2)
	if err := e.Encode(m); err != nil {
		return nil, err
	}
	if err := e.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
