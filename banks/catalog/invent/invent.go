// Package invent makes catalogs of any size for measuring. Their contents mean
// nothing; their shape is that of a real one: families of models, data cards
// that change engine mid-life, editions that share out the build dates,
// literature keyed by model, engine and transmission, supersessions, bulletins.
package invent

import (
	"fmt"

	"rightpage/banks/catalog"
)

const (
	modelsPerFamily = 8
	enginesPerSet   = 5
	editions        = 3
	groupsPerSet    = 6
	groups          = 60
	actions         = 4
)

// Catalog makes a catalog with about n procedures. The same n gives the same
// catalog.
func Catalog(n int) *catalog.Catalog {
	var t catalog.Tables
	// Each family's shelf holds editions × group sets publications of
	// procedures; the rest follows from how many families that takes.
	components := 10 * groups
	perFamily := editions * components * actions / 2
	families := max(1, n/perFamily)
	schemes(&t, families)
	models(&t, families)
	vocabulary(&t, components)
	for f := range families {
		shelf(&t, fmt.Sprintf("R%03d", f), catalog.Repair, "model", catalog.Pattern(fmt.Sprintf("M%03d?", f)), f, 0)
	}
	for s := range (families + 1) / 2 {
		shelf(&t, fmt.Sprintf("E%03d", s), catalog.Repair, "engine", catalog.Pattern(fmt.Sprintf("E%03d?", s)), s, 1)
	}
	bulletins(&t)
	meta := catalog.Meta{
		Title: "Invented for measuring", Revision: fmt.Sprint(n), Issued: "2026-01-01",
		Actions: map[string]catalog.Action{},
	}
	for a := range actions {
		meta.Actions[action(a)] = catalog.Action{Classes: []catalog.Class{catalog.Repair}}
	}
	return catalog.New(meta, t)
}

func action(a int) string { return [...]string{"replace", "adjust", "overhaul", "inspect"}[a] }

// Term is the name of a component: no two are within a misspelling of each
// other by more than their numbers.
func Term(c int) string { return fmt.Sprintf("part %04d", c) }

func schemes(t *catalog.Tables, families int) {
	row := func(field string, first, length int, value, means, check string) {
		t.Schemes = append(t.Schemes, catalog.SchemeField{Scheme: "frame number", Kind: "chassis", Field: field, First: first, Length: length, Value: value, Means: means, Check: check})
	}
	row("maker", 1, 3, "", "", "")
	row("model", 4, 5, "", "", "")
	for f := range families {
		for m := range modelsPerFamily {
			row("model", 4, 5, fmt.Sprintf("%03d%02d", f, m), modelCode(f, m), "")
		}
	}
	row("check", 9, 1, "", "", "iso3779")
	row("year", 10, 1, "", "", "")
	for i, c := range "ABCDEFGHJKLM" {
		row("year", 10, 1, string(c), fmt.Sprint(2010+i), "")
	}
	row("plant", 11, 1, "", "", "")
	row("serial", 12, 6, "", "", "")
}

func modelCode(family, m int) string { return fmt.Sprintf("M%03d%c", family, 'A'+m) }

func models(t *catalog.Tables, families int) {
	date := func(y, m int) catalog.Date { return catalog.Date{Year: int16(y), Month: int8(m)} }
	for f := range families {
		for m := range modelsPerFamily {
			code := modelCode(f, m)
			engine := func(k int) string { return fmt.Sprintf("E%03d%c", f/2, 'A'+(m+k)%enginesPerSet) }
			t.Models = append(t.Models,
				catalog.Model{Code: code, SalesName: "Type " + code[1:], Engine: engine(0), Transmission: fmt.Sprintf("T%02d", m%3), Range: catalog.Range{From: date(2010, 1), Through: date(2015, 6)}},
				catalog.Model{Code: code, SalesName: "Type " + code[1:], Engine: engine(1), Transmission: fmt.Sprintf("T%02d", m%3), Range: catalog.Range{From: date(2015, 7), Through: date(2021, 12)}},
			)
		}
	}
}

func vocabulary(t *catalog.Tables, components int) {
	for g := range groups {
		keyed := "model"
		if g%groupsPerSet == 0 {
			keyed = "engine"
		}
		t.Groups = append(t.Groups, catalog.Group{Code: fmt.Sprintf("G%02d", g), Division: fmt.Sprintf("D%d", g/10), Title: fmt.Sprintf("Group %02d", g), KeyedBy: keyed})
	}
	for c := range components {
		t.Components = append(t.Components, catalog.Component{Term: Term(c), Group: fmt.Sprintf("G%02d", c%groups)})
	}
}

// shelf adds the publications of one pattern, with their procedures: for each
// set of groups editions that share out the build dates.
func shelf(t *catalog.Tables, prefix string, class catalog.Class, keyed string, p catalog.Pattern, family, offset int) {
	limits := [editions]catalog.Effectivity{
		{{Through: catalog.Date{Year: 2013, Month: 8}}},
		{{From: catalog.Date{Year: 2013, Month: 9}, Through: catalog.Date{Year: 2017, Month: 2}}},
		{{From: catalog.Date{Year: 2017, Month: 3}}},
	}
	for set := range groups / groupsPerSet {
		var covered []string
		for g := set * groupsPerSet; g < (set+1)*groupsPerSet; g++ {
			if (g%groupsPerSet == 0) == (keyed == "engine") {
				covered = append(covered, fmt.Sprintf("G%02d", g))
			}
		}
		for e := range editions {
			id := fmt.Sprintf("%s-%02d/%d", prefix, set, e+1)
			p := catalog.Publication{
				ID: id, Series: fmt.Sprintf("%s-%02d", prefix, set), Class: class, Title: "Book " + prefix, Medium: "paper", KeyedBy: keyed,
				AppliesTo: p, Groups: covered, Effectivity: limits[e], Revision: "1",
			}
			book(t, p, set, family+offset)
			if e == editions-1 && set%3 == 0 {
				// The last edition of some series was issued again.
				p.ID, p.Revision, p.Supersedes = id+"R", "2", []string{id}
				book(t, p, set, family+offset)
			}
		}
	}
}

// book adds a publication and its procedures. One procedure in twenty has a
// limit of its own, and one in thirty is replaced by another.
func book(t *catalog.Tables, p catalog.Publication, set, odd int) {
	t.Publications = append(t.Publications, p)
	page := 0
	for c := range 10 * groups {
		g := c % groups
		if g/groupsPerSet != set || (g%groupsPerSet == 0) != (p.KeyedBy == "engine") {
			continue
		}
		for a := range actions {
			if (a+c+odd)%2 != 0 {
				continue
			}
			page++
			pr := catalog.Procedure{
				ID: fmt.Sprintf("%s-%03d", p.ID, page), Job: action(a) + " " + Term(c), Action: action(a), Component: Term(c),
				Publication: p.ID, Location: catalog.Location{Page: fmt.Sprint(page)},
			}
			if page%20 == 0 {
				pr.Effectivity = catalog.Effectivity{{From: catalog.Date{Year: 2011, Month: 5}}}
			}
			t.Procedures = append(t.Procedures, pr)
			if page%30 == 0 {
				again := pr
				again.ID, again.Location.Page, again.Replaces = pr.ID+"N", fmt.Sprint(page+200), []string{pr.ID}
				t.Procedures = append(t.Procedures, again)
			}
		}
	}
}

// bulletins amend one procedure in a hundred for a part of the build dates.
func bulletins(t *catalog.Tables) {
	for i := 0; i < len(t.Procedures); i += 100 {
		p := &t.Procedures[i]
		keyed := "model"
		if p.Publication[0] == 'E' {
			keyed = "engine"
		}
		b := catalog.Bulletin{
			ID: fmt.Sprintf("B%05d", i), Issued: catalog.Date{Year: 2022, Month: 1, Day: 10}, Subject: "Change to " + p.Job, KeyedBy: keyed,
			Effectivity: catalog.Effectivity{{From: catalog.Date{Year: 2012, Month: 1}, Through: catalog.Date{Year: 2018, Month: 12}}},
		}
		target := catalog.Target{Table: "procedure", Key: p.ID}
		if i%200 == 0 {
			b.Replaces = []catalog.Target{target}
		} else {
			b.Amends = []catalog.Target{target}
		}
		t.Bulletins = append(t.Bulletins, b)
	}
}
