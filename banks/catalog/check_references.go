package catalog

import (
	"fmt"
	"maps"
	"slices"
)

func referenceChecks() family {
	return family{"references", checkReferences, []CheckKind{
		{"dangling", Error, "a record points to one that does not exist"},
	}}
}

// refs knows which records can be pointed to.
type refs struct {
	k       *checker
	known   map[string]map[string]bool // table or word list → key
	keyList map[string][]string        // the same, listed for suggestions
}

func newRefs(k *checker) *refs {
	t := k.t
	r := &refs{k: k, known: map[string]map[string]bool{}, keyList: map[string][]string{}}
	put := func(what string, n int, key func(i int) string) {
		m := make(map[string]bool, n)
		for i := range n {
			m[key(i)] = true
		}
		r.known[what] = m
	}
	put("group", len(t.Groups), func(i int) string { return t.Groups[i].Code })
	put("component", len(t.Components), func(i int) string { return t.Components[i].Term })
	put("publication", len(t.Publications), func(i int) string { return t.Publications[i].ID })
	put("procedure", len(t.Procedures), func(i int) string { return t.Procedures[i].ID })
	put("operation", len(t.Operations), func(i int) string { return t.Operations[i].Number })
	put("specification", len(t.Specifications), func(i int) string { return t.Specifications[i].ID })
	put("service", len(t.Schedule), func(i int) string { return t.Schedule[i].Name })
	put("trouble", len(t.TroubleCodes), func(i int) string { return t.TroubleCodes[i].System + "/" + t.TroubleCodes[i].Code })
	put("test", len(t.Tests), func(i int) string { return t.Tests[i].Publication + "/" + t.Tests[i].Chapter + "/" + t.Tests[i].Step })
	r.known["action"] = map[string]bool{}
	for a := range k.meta.Actions {
		r.known["action"][a] = true
	}
	r.known["hazard"] = map[string]bool{}
	for h := range k.meta.Hazards {
		r.known["hazard"][h] = true
	}
	r.known["trouble scheme"] = map[string]bool{}
	for _, d := range k.c.Decoders(KindTrouble) {
		r.known["trouble scheme"][d.Name()] = true
	}
	return r
}

// homes says where a thing that can be pointed to stands.
var homes = map[string]string{
	"group": "the groups table", "component": "the components table", "publication": "the publications table",
	"procedure": "the procedures table", "operation": "the operations table", "specification": "the specifications table",
	"service": "the schedule table", "trouble": "the troublecodes table", "test": "the tests table",
	"action": "the actions of catalog.yaml", "hazard": "the hazards of catalog.yaml", "trouble scheme": "the schemes table, as a scheme of kind trouble",
}

func (r *refs) list(what string) []string {
	if r.keyList[what] == nil {
		r.keyList[what] = slices.Sorted(maps.Keys(r.known[what]))
	}
	return r.keyList[what]
}

// to checks one reference; an empty one points to nothing.
func (r *refs) to(what, key, table string, at Origin, column string, lookups func() int) {
	if key == "" || r.known[what][key] {
		return
	}
	r.k.add("dangling", table, at, column, fmt.Sprintf("there is no %s %q in %s", what, key, homes[what]),
		r.k.suggest(key, r.list(what), "add it there, or correct the cell"), lookups())
}

// must is to where the reference may not be missing either.
func (r *refs) must(what, key, table string, at Origin, column string, lookups func() int) {
	if key == "" {
		r.k.add("dangling", table, at, column, "the cell names no "+what, "name one of "+homes[what], lookups())
		return
	}
	r.to(what, key, table, at, column, lookups)
}

func checkReferences(k *checker) {
	t, r := k.t, newRefs(k)
	for i := range t.Groups {
		r.to("group", t.Groups[i].Parent, "groups", t.Groups[i].Origin, "parent", func() int { return k.groupLookups(i) })
	}
	for i := range t.Components {
		c := &t.Components[i]
		n := func() int { return k.componentLookups(c.Term) }
		r.to("group", c.Group, "components", c.Origin, "group", n)
		r.to("component", c.PartOf, "components", c.Origin, "part_of", n)
	}
	for i := range t.Publications {
		p := &t.Publications[i]
		n := func() int { return k.pubLookups(i) }
		for _, g := range p.Groups {
			r.to("group", g, "publications", p.Origin, "groups", n)
		}
		for _, s := range p.Supersedes {
			r.to("publication", s, "publications", p.Origin, "supersedes", n)
		}
	}
	r.procedures()
	for i := range t.Schedule {
		s := &t.Schedule[i]
		codes := func() int { return k.matched(k.unit(s.KeyedBy), s.AppliesTo).count() }
		for _, o := range s.Operations {
			r.to("operation", o, "schedule", s.Origin, "operations", codes)
		}
	}
	for i := range t.Operations {
		o := &t.Operations[i]
		n := func() int { return k.operationLookups(i) }
		r.must("publication", o.Publication, "operations", o.Origin, "publication", n)
		r.hazards(o.Hazards, "operations", o.Origin, n)
	}
	for i := range t.Specifications {
		s := &t.Specifications[i]
		n := func() int { return k.specLookups(i) }
		r.to("group", s.Group, "specifications", s.Origin, "group", n)
		r.to("publication", s.Publication, "specifications", s.Origin, "publication", n)
	}
	for i := range t.Guide {
		g := &t.Guide[i]
		n := func() int { return k.guideLookups(i) }
		r.must("publication", g.Publication, "guide", g.Origin, "publication", n)
		if g.Section != "" && r.known["publication"][g.Publication] && k.chapterOf(g.Publication, g.Section) == nil {
			k.add("dangling", "guide", g.Origin, "section", fmt.Sprintf("publication %s has no chapter %s in the tests table", g.Publication, g.Section),
				"add the chapter's steps there, or correct the cell", n())
		}
	}
	for i := range t.Tests {
		s := &t.Tests[i]
		n := func() int { return k.testLookups(i) }
		r.must("publication", s.Publication, "tests", s.Origin, "publication", n)
		r.hazards(s.Hazards, "tests", s.Origin, n)
	}
	for i := range t.TroubleCodes {
		c := &t.TroubleCodes[i]
		n := func() int { return k.troubleLookups(i) }
		r.to("publication", c.Publication, "troublecodes", c.Origin, "publication", n)
		r.to("trouble scheme", c.Scheme, "troublecodes", c.Origin, "scheme", n)
	}
	for i := range t.Bulletins {
		b := &t.Bulletins[i]
		codes := func() int { return k.matched(k.unit(b.KeyedBy), b.AppliesTo).count() }
		for _, g := range b.Amends {
			r.target(g, b, "amends", codes)
		}
		for _, g := range b.Replaces {
			r.target(g, b, "replaces", codes)
		}
	}
	none := func() int { return 0 }
	for _, name := range slices.Sorted(maps.Keys(k.meta.Jobs)) {
		r.must("service", k.meta.Jobs[name].Service, "catalog.yaml", Origin{}, "jobs."+name, none)
	}
	for _, set := range k.meta.Resembles {
		for _, g := range set {
			if !r.known["component"][g] {
				r.to("group", g, "catalog.yaml", Origin{}, "resembles", none)
			}
		}
	}
}

func (r *refs) hazards(words []string, table string, at Origin, lookups func() int) {
	for _, h := range words {
		r.to("hazard", h, table, at, "hazards", lookups)
	}
}

// procedures checks the references of procedures. An action that does not
// exist is reported once, since one missing line of catalog.yaml may make every
// procedure dangle.
func (r *refs) procedures() {
	k, t := r.k, r.k.t
	type missing struct{ first, rows, lookups int }
	actions := map[string]*missing{}
	for i := range t.Procedures {
		p := &t.Procedures[i]
		n := func() int { return k.procLookups(i) }
		r.must("publication", p.Publication, "procedures", p.Origin, "publication", n)
		r.must("component", p.Component, "procedures", p.Origin, "component", n)
		r.hazards(p.Hazards, "procedures", p.Origin, n)
		for _, o := range p.Replaces {
			r.to("procedure", o, "procedures", p.Origin, "replaces", n)
		}
		if p.Action == "" {
			r.must("action", "", "procedures", p.Origin, "action", n)
		} else if !r.known["action"][p.Action] {
			m := actions[p.Action]
			if m == nil {
				m = &missing{first: i}
				actions[p.Action] = m
			}
			m.rows++
			m.lookups += n()
		}
	}
	for _, a := range slices.Sorted(maps.Keys(actions)) {
		m := actions[a]
		k.add("dangling", "procedures", t.Procedures[m.first].Origin, "action",
			fmt.Sprintf("there is no action %q in %s; %s it", a, homes["action"], counted(m.rows, "procedure uses", "procedures use")),
			k.suggest(a, r.list("action"), "add it there with the classes of literature that describe it"), m.lookups)
	}
}

// target checks what a bulletin amends or replaces.
func (r *refs) target(g Target, b *Bulletin, column string, lookups func() int) {
	switch g.Table {
	case "procedure", "specification", "operation", "publication", "trouble", "test", "service":
		r.must(g.Table, g.Key, "bulletins", b.Origin, column, lookups)
	default:
		r.k.add("dangling", "bulletins", b.Origin, column, fmt.Sprintf("%q is no table that a bulletin can name", g.Table),
			"write procedure:, specification:, operation:, publication:, trouble:, test: or service: and the key", lookups())
	}
}
