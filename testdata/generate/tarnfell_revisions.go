package main

import "rightpage/banks/catalog"

// tarnfellSecond makes revision 2025-2 of 2025-1: breaks put right, errata, a
// few values corrected, terms added.
func tarnfellSecond(b *builder) error {
	b.moveBreak("12-R-203-A", "12-R-203-B", "2019-03")
	b.moveBreak("40-D-312-B", "40-D-312-C", "2019-11")
	b.moveBreak("20-X-501-A", "20-X-501-B", "2014-06")
	for _, id := range []string{"40-R-210-C", "40-R-211-A", "11-R-203-A", "20-R-204-A", "30-R-201-A", "50-R-231-A", "31-S-101-A"} {
		b.correctPages(id, 17)
	}
	for _, v := range []struct {
		quantity, condition, publication string
		on                               catalog.Pattern
		value                            string
	}{
		{"flywheel bolt torque", "", "40-X-511-B", "", "88..93"},
		{"working pump flow", "rated speed", "20-X-501-C", "", "50"},
		{"tyre inflation pressure", "front", "31-X-501-C", "", "5.8"},
		{"king pin clearance", "limit of wear", "55-X-535-A", "A3*;A4*", "..0.45"},
	} {
		if err := b.correctValue(v.quantity, v.condition, v.publication, v.on, v.value); err != nil {
			return err
		}
	}
	for term, more := range map[string]catalog.Synonym{
		"particulate filter":    {Term: "filter can"},
		"rotating beacon":       {Term: "warning beacon"},
		"drive shaft joint":     {Lang: "de", Term: "Kardangelenk"},
		"operator's seat":       {Term: "seat"},
		"hydraulic hose":        {Lang: "pl", Term: "przewód hydrauliczny"},
		"safety element":        {Term: "second air filter element"},
		"articulation lock bar": {Term: "frame lock"},
	} {
		for i := range b.t.Components {
			if c := &b.t.Components[i]; c.Term == term {
				c.Synonyms = append(append([]catalog.Synonym(nil), c.Synonyms...), more)
			}
		}
	}
	return nil
}

// tarnfellThird makes revision 2026-1 of 2025-2: two new models, new editions,
// a supplement folded into the book that it amended.
func tarnfellThird(b *builder) error {
	fresh := []machine{
		{"PC2C4EA", "Lapwing 41 EC", "P46", "2025-09", "", "3C15C", "E21B", "A21B", "Q21B", nil},
		{"VK6E2HM", "Verger 190 K", "V36", "2025-10", "", "4E24B", "H41B", "A31B", "", nil},
	}
	b.t.Schemes = tarnfellSchemes(append(tarnfellMachines(), fresh...))
	b.addMachines(fresh)
	// Editions that are still printed cover the new models by their patterns.
	for _, e := range b.editions {
		for _, m := range fresh {
			unit := b.life(e.pub.KeyedBy)
			for _, c := range unit.codes {
				r := e.life()
				if e.pub.AppliesTo.Match(c) && unit.alive(c, r) && (c == m.code || c == m.transmission) && !contains(e.codes, c) {
					e.codes = append(e.codes, c)
				}
			}
		}
	}
	var err error
	if b.t.Schedule, err = b.readSchedule("tarnfell/schedule.txt"); err != nil {
		return err
	}
	b.nextEdition("11-S-101-C", "11-S-101-D", "2025-09", "screen", "2025/4")
	b.nextEdition("31-R-201-B", "31-R-201-C", "2025-10", "screen", "2025/4")
	b.reprint("40-R-220-B", "40-R-220-C", "screen", "2025/3")
	b.reprint("56-S-128-A", "56-S-128-B", "paper", "2025/3")
	// The supplement on the drive pedals is now part of the book.
	for i := range b.t.Bulletins {
		if b.t.Bulletins[i].ID == "60-N-928" {
			b.t.Bulletins = append(append([]catalog.Bulletin(nil), b.t.Bulletins[:i]...), b.t.Bulletins[i+1:]...)
			break
		}
	}
	b.correctPages("50-S-120-A", 5)
	b.moveBreak("50-S-120-A", "50-S-120-B", "2018-02")
	return nil
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}
