package catalog

import "fmt"

func placeChecks() family {
	return family{"places", checkPlaces, []CheckKind{
		{"no-location", Warning, "a record stands in a publication, but it is not said where"},
		{"wrong-place", Note, "a location does not suit the medium: no page on paper, no sheet and frame on film, no section on screen"},
	}}
}

func checkPlaces(k *checker) {
	t := k.t
	for i := range t.Procedures {
		r := &t.Procedures[i]
		k.place("procedures", r.Origin, "procedure "+r.ID, r.Publication, r.Location, func() int { return k.procLookups(i) })
	}
	for i := range t.Operations {
		r := &t.Operations[i]
		k.place("operations", r.Origin, "operation "+r.Number, r.Publication, r.Location, func() int { return k.operationLookups(i) })
	}
	for i := range t.Specifications {
		r := &t.Specifications[i]
		k.place("specifications", r.Origin, "specification "+r.ID, r.Publication, r.Location, func() int { return k.specLookups(i) })
	}
	for i := range t.TroubleCodes {
		r := &t.TroubleCodes[i]
		k.place("troublecodes", r.Origin, "trouble code "+r.System+" "+r.Code, r.Publication, r.Location, func() int { return k.troubleLookups(i) })
	}
	for i := range t.Guide {
		if r := &t.Guide[i]; r.Section == "" {
			k.place("guide", r.Origin, "the guide's row for "+r.System, r.Publication, Location{}, func() int { return k.guideLookups(i) })
		}
	}
}

func (k *checker) place(table string, at Origin, name, publication string, l Location, lookups func() int) {
	p, ok := k.c.Publication(publication)
	switch {
	case publication == "" || !ok: // it stands nowhere, or dangling says so
	case l.IsZero():
		column := "page"
		if p.Medium == "screen" || table == "guide" {
			column = "section"
		} else if p.Medium == "film" {
			column = "sheet"
		}
		k.add("no-location", table, at, column, fmt.Sprintf("it is not said where in %s %s stands", publication, name),
			"fill in the page, the sheet and frame, or the section", lookups())
	case p.Medium == "film" && (l.Sheet == "" || l.Frame == ""):
		k.add("wrong-place", table, at, "sheet", fmt.Sprintf("%s is on film, but the sheet or the frame of %s is missing", publication, name),
			"fill in both", lookups())
	case p.Medium == "paper" && l.Page == "" && l.Section == "":
		k.add("wrong-place", table, at, "page", fmt.Sprintf("%s is on paper, but %s has neither page nor section", publication, name),
			"fill in the page", lookups())
	case p.Medium == "screen" && l.Section == "":
		k.add("wrong-place", table, at, "section", fmt.Sprintf("%s is read on screen, but %s has no section", publication, name),
			"fill in the section", lookups())
	}
}
