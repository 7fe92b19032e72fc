package catalog

import (
	"fmt"
	"strings"
)

func keyChecks() family {
	return family{"keys", checkKeys, []CheckKind{
		{"empty", Error, "a record lacks the name or number by which others refer to it"},
		{"duplicate", Error, "two records have the same key, so that a reference to it is to either"},
	}}
}

// keyed tells what checkKey needs to know of a table.
type keyed[T any] struct {
	table, column string
	rows          []T
	key           func(*T) []string // the parts of the key; the first must not be empty
	origin        func(*T) Origin
	lookups       func(i int) int
}

func checkKey[T any](k *checker, d keyed[T]) {
	seen := make(map[string]int, len(d.rows))
	for i := range d.rows {
		parts := d.key(&d.rows[i])
		at := d.origin(&d.rows[i])
		n := 0
		if d.lookups != nil {
			n = d.lookups(i)
		}
		if strings.TrimSpace(parts[0]) == "" {
			k.add("empty", d.table, at, d.column, "the record has no "+d.column, "fill it in: other records and the answers name it", n)
			continue
		}
		full := strings.Join(parts, "\x00")
		if j, dup := seen[full]; dup {
			where := "another record"
			if o := d.origin(&d.rows[j]); o.Row > 0 {
				where = fmt.Sprintf("row %d", o.Row)
			}
			k.add("duplicate", d.table, at, d.column, fmt.Sprintf("%s has the same key, %s", where, keyText(parts)),
				"delete one of the two, or give it a key of its own", n)
			continue
		}
		seen[full] = i
	}
}

func keyText(parts []string) string {
	var shown []string
	for _, p := range parts {
		if p != "" {
			shown = append(shown, p)
		}
	}
	return strings.Join(shown, " / ")
}

// effKey writes an effectivity for use in a key.
func effKey(e Effectivity) string {
	if len(e) == 0 {
		return ""
	}
	return LimitStyle{}.Format(e)
}

func checkKeys(k *checker) {
	t := k.t
	checkKey(k, keyed[SchemeField]{"schemes", "field", t.Schemes, func(r *SchemeField) []string {
		return []string{r.Field, r.Scheme, Fold(r.Value), r.Means, effKey(Effectivity{r.Range})}
	}, func(r *SchemeField) Origin { return r.Origin }, nil})
	for i := range t.Schemes {
		if r := &t.Schemes[i]; r.Scheme == "" {
			k.add("empty", "schemes", r.Origin, "scheme", "the record has no scheme", "name the scheme that the field belongs to", 0)
		}
	}
	checkKey(k, keyed[Model]{"models", "model", t.Models, func(r *Model) []string {
		return []string{Fold(r.Code), effKey(Effectivity{r.Range}), r.SalesName, r.Engine, r.Transmission, fmt.Sprint(r.Units)}
	}, func(r *Model) Origin { return r.Origin }, func(i int) int { return k.codeLookups(UnitModel, t.Models[i].Code) }})
	checkKey(k, keyed[Group]{"groups", "group", t.Groups, func(r *Group) []string { return []string{r.Code} },
		func(r *Group) Origin { return r.Origin }, nil})
	checkKey(k, keyed[Component]{"components", "term", t.Components, func(r *Component) []string { return []string{r.Term, r.Group, r.PartOf} },
		func(r *Component) Origin { return r.Origin }, func(i int) int { return k.componentLookups(t.Components[i].Term) }})
	checkKey(k, keyed[Publication]{"publications", "publication", t.Publications, func(r *Publication) []string { return []string{r.ID} },
		func(r *Publication) Origin { return r.Origin }, func(i int) int { return k.pubLookups(k.c.pub[t.Publications[i].ID]) }})
	checkKey(k, keyed[Procedure]{"procedures", "procedure", t.Procedures, func(r *Procedure) []string { return []string{r.ID} },
		func(r *Procedure) Origin { return r.Origin }, k.procLookups})
	checkKey(k, keyed[Service]{"schedule", "service", t.Schedule, func(r *Service) []string {
		return []string{r.Name, string(r.Class), r.KeyedBy, string(r.AppliesTo), r.Duty, effKey(r.Effectivity)}
	}, func(r *Service) Origin { return r.Origin }, k.serviceLookups})
	checkKey(k, keyed[Operation]{"operations", "operation", t.Operations, func(r *Operation) []string { return []string{r.Number, r.Publication} },
		func(r *Operation) Origin { return r.Origin }, k.operationLookups})
	checkKey(k, keyed[Specification]{"specifications", "specification", t.Specifications, func(r *Specification) []string { return []string{r.ID} },
		func(r *Specification) Origin { return r.Origin }, k.specLookups})
	checkKey(k, keyed[GuideEntry]{"guide", "system", t.Guide, func(r *GuideEntry) []string {
		return []string{r.System, r.KeyedBy, string(r.AppliesTo), effKey(r.Effectivity), r.Publication, r.Section}
	}, func(r *GuideEntry) Origin { return r.Origin }, k.guideLookups})
	checkKey(k, keyed[TestStep]{"tests", "step", t.Tests, func(r *TestStep) []string { return []string{r.Step, r.Publication, r.Chapter, r.Side} },
		func(r *TestStep) Origin { return r.Origin }, k.testLookups})
	checkKey(k, keyed[TroubleCode]{"troublecodes", "code", t.TroubleCodes, func(r *TroubleCode) []string {
		return []string{r.Code, r.System, r.KeyedBy, string(r.AppliesTo), effKey(r.Effectivity), r.Publication}
	}, func(r *TroubleCode) Origin { return r.Origin }, k.troubleLookups})
	checkKey(k, keyed[Bulletin]{"bulletins", "bulletin", t.Bulletins, func(r *Bulletin) []string { return []string{r.ID} },
		func(r *Bulletin) Origin { return r.Origin }, k.bulletinLookups})
}
