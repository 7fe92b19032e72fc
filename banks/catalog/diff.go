package catalog

import (
	"bytes"
	"cmp"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// The words for [Change.Kind].
const (
	Removed = "removed"
	Changed = "changed"
	Added   = "added"
)

// SettingsTable is the table under which [Diff] lists what has changed in
// catalog.yaml; the key is the path of the setting, such as limits.style.
const SettingsTable = "settings"

// Change is one record that differs between two revisions of a catalog.
type Change struct {
	Kind    string         `json:"kind"` // removed, changed, added
	Table   string         `json:"table"`
	Key     string         `json:"key"`               // natural key, its parts joined by slashes
	Columns []ColumnChange `json:"columns,omitempty"` // of a changed record, those that differ
	Old     Origin         `json:"old,omitzero"`      // where the record stands in the old revision
	New     Origin         `json:"new,omitzero"`      // and in the new one
}

// ColumnChange is a cell that differs, printed as in the CSV file.
type ColumnChange struct {
	Column string `json:"column"`
	Old    string `json:"old"`
	New    string `json:"new"`
}

// Diff lists the records removed, changed and added from one revision of a
// catalog to the next: first the settings, then table by table in the order of
// [Columns], in each by key. Records are matched by natural key. Where a key
// has several records, those that are equal are set against each other first
// and the rest in the order of the catalog, so that a limit that has moved
// shows as a change. Limits are printed in the style of the new revision in
// both. Equal catalogs have no changes.
func Diff(old, new *Catalog) []Change {
	changes := diffSettings(old.meta, new.meta)
	for _, c := range codecs() {
		changes = diffTable(changes, c, old, new)
	}
	return changes
}

// printed is a record as a row of cells.
type printed struct {
	cells []string
	at    Origin
}

// whole is the row as one text; no cell holds a NUL.
func (p printed) whole() string { return strings.Join(p.cells, "\x00") }

func diffTable(changes []Change, c codec, old, new *Catalog) []Change {
	style := new.meta.Limits
	rows := func(k *Catalog) map[string][]printed {
		m := make(map[string][]printed)
		for i := range c.count(&k.t) {
			cells, _ := c.cells(&k.t, i, style) // what cannot be read back can be compared
			key := c.key(&k.t, i)
			m[key] = append(m[key], printed{cells, c.at(&k.t, i)})
		}
		return m
	}
	before, after := rows(old), rows(new)
	keys := make([]string, 0, len(before))
	for k := range before {
		keys = append(keys, k)
	}
	for k := range after {
		if _, ok := before[k]; !ok {
			keys = append(keys, k)
		}
	}
	slices.SortFunc(keys, func(a, b string) int { return cmp.Or(CompareSteps(a, b), cmp.Compare(a, b)) })
	header := c.header()
	for _, key := range keys {
		a, b := unmatched(before[key], after[key])
		for i := range max(len(a), len(b)) {
			ch := Change{Table: c.table(), Key: key}
			switch {
			case i >= len(b):
				ch.Kind, ch.Old = Removed, a[i].at
			case i >= len(a):
				ch.Kind, ch.New = Added, b[i].at
			default:
				ch.Kind, ch.Old, ch.New = Changed, a[i].at, b[i].at
				for k, h := range header {
					if x, y := a[i].cells[k], b[i].cells[k]; x != y {
						ch.Columns = append(ch.Columns, ColumnChange{h.name, x, y})
					}
				}
			}
			changes = append(changes, ch)
		}
	}
	return changes
}

// unmatched leaves out the records that have their equal on the other side.
func unmatched(a, b []printed) (onlyA, onlyB []printed) {
	there := make(map[string]int, len(b))
	for _, y := range b {
		there[y.whole()]++
	}
	matched := make(map[string]int, len(b))
	for _, x := range a {
		if w := x.whole(); there[w] > 0 {
			there[w]--
			matched[w]++
			continue
		}
		onlyA = append(onlyA, x)
	}
	for _, y := range b {
		if w := y.whole(); matched[w] > 0 {
			matched[w]--
			continue
		}
		onlyB = append(onlyB, y)
	}
	return onlyA, onlyB
}

func diffSettings(old, new Meta) []Change {
	a, b := flatten(old), flatten(new)
	var changes []Change
	for k, x := range a {
		y, ok := b[k]
		switch {
		case !ok:
			changes = append(changes, Change{Kind: Removed, Table: SettingsTable, Key: k, Columns: []ColumnChange{{k, x, ""}}})
		case x != y:
			changes = append(changes, Change{Kind: Changed, Table: SettingsTable, Key: k, Columns: []ColumnChange{{k, x, y}}})
		}
	}
	for k, y := range b {
		if _, ok := a[k]; !ok {
			changes = append(changes, Change{Kind: Added, Table: SettingsTable, Key: k, Columns: []ColumnChange{{k, "", y}}})
		}
	}
	slices.SortFunc(changes, func(a, b Change) int { return cmp.Compare(a.Key, b.Key) })
	return changes
}

// flatten gives the settings by path; lists are joined by semicolons.
func flatten(m Meta) map[string]string {
	flat := make(map[string]string)
	var doc yaml.Node
	b, err := encodeMeta(tidyMeta(m))
	if err != nil || yaml.NewDecoder(bytes.NewReader(b)).Decode(&doc) != nil {
		return flat // no value of Meta fails to be written
	}
	var text func(n *yaml.Node, between string) string
	text = func(n *yaml.Node, between string) string {
		if n.Kind != yaml.SequenceNode {
			return n.Value
		}
		parts := make([]string, len(n.Content))
		for i, c := range n.Content {
			parts[i] = text(c, " + ")
		}
		return strings.Join(parts, between)
	}
	var walk func(path string, n *yaml.Node)
	walk = func(path string, n *yaml.Node) {
		switch n.Kind {
		case yaml.DocumentNode:
			walk(path, n.Content[0])
		case yaml.MappingNode:
			for i := 0; i+1 < len(n.Content); i += 2 {
				walk(strings.TrimPrefix(path+"."+n.Content[i].Value, "."), n.Content[i+1])
			}
		default:
			if s := text(n, "; "); s != "" {
				flat[path] = s
			}
		}
	}
	walk("", &doc)
	return flat
}
