package catalog

import (
	"bytes"
	"cmp"
	"encoding/json"
	"slices"
	"strings"
)

// Catalog is a whole catalog, in a fixed order that does not depend on the
// order of rows it was read from. It does not change once built.
type Catalog struct {
	meta Meta
	t    Tables
	pub  map[string]int // publication ID → index
	grp  map[string]int // group code → index

	decoders decoders // readers of codes
}

// New builds a catalog from records. It copies the tables, puts them in order
// and fills in the defaults that [Meta] and the record types document. It
// judges nothing: see [Check].
func New(meta Meta, t Tables) *Catalog {
	if meta.Language == "" {
		meta.Language = "en"
	}
	if meta.Primary == "" {
		meta.Primary = UnitModel
	}
	if meta.Units.Hours == "" {
		meta.Units.Hours = "h"
	}
	l := &meta.Limits
	l.Style = cmp.Or(l.Style, "words")
	l.From = cmp.Or(l.From, "from")
	l.Through = cmp.Or(l.Through, "through")
	l.Serial = cmp.Or(l.Serial, "no.")
	l.Arrow = cmp.Or(l.Arrow, "→")

	t = Tables{
		Schemes: slices.Clone(t.Schemes), Models: slices.Clone(t.Models), Groups: slices.Clone(t.Groups),
		Components: slices.Clone(t.Components), Publications: slices.Clone(t.Publications),
		Procedures: slices.Clone(t.Procedures), Schedule: slices.Clone(t.Schedule), Operations: slices.Clone(t.Operations),
		Specifications: slices.Clone(t.Specifications), Guide: slices.Clone(t.Guide), Tests: slices.Clone(t.Tests),
		TroubleCodes: slices.Clone(t.TroubleCodes), Bulletins: slices.Clone(t.Bulletins),
	}
	c := &Catalog{meta: meta, t: t}
	c.defaults()
	c.sort()
	c.pub = make(map[string]int, len(c.t.Publications))
	for i := range c.t.Publications {
		if _, dup := c.pub[c.t.Publications[i].ID]; !dup {
			c.pub[c.t.Publications[i].ID] = i
		}
	}
	c.grp = make(map[string]int, len(c.t.Groups))
	for i := range c.t.Groups {
		if _, dup := c.grp[c.t.Groups[i].Code]; !dup {
			c.grp[c.t.Groups[i].Code] = i
		}
	}
	c.decoders = compileSchemes(c.t.Schemes)
	return c
}

// Meta gives the settings of catalog.yaml with defaults filled in.
func (c *Catalog) Meta() Meta { return c.meta }

// Tables gives the records. They are shared: do not change them.
func (c *Catalog) Tables() *Tables { return &c.t }

// Publication finds an edition by its ID.
func (c *Catalog) Publication(id string) (*Publication, bool) {
	i, ok := c.pub[id]
	if !ok {
		return nil, false
	}
	return &c.t.Publications[i], true
}

// Group finds a group by its code.
func (c *Catalog) Group(code string) (*Group, bool) {
	i, ok := c.grp[code]
	if !ok {
		return nil, false
	}
	return &c.t.Groups[i], true
}

func (c *Catalog) defaults() {
	for i := range c.t.Groups {
		g := &c.t.Groups[i]
		g.KeyedBy = cmp.Or(g.KeyedBy, c.meta.Primary)
	}
	keyed := make(map[string]string, len(c.t.Publications))
	for i := range c.t.Publications {
		p := &c.t.Publications[i]
		p.Series = cmp.Or(p.Series, p.ID)
		p.KeyedBy = cmp.Or(p.KeyedBy, c.meta.Primary)
		keyed[p.ID] = p.KeyedBy
	}
	key := func(k *string, pub string) { *k = cmp.Or(*k, keyed[pub], c.meta.Primary) }
	for i := range c.t.Schedule {
		s := &c.t.Schedule[i]
		s.Class = cmp.Or(s.Class, Maintenance)
		key(&s.KeyedBy, "")
	}
	for i := range c.t.Specifications {
		key(&c.t.Specifications[i].KeyedBy, c.t.Specifications[i].Publication)
	}
	for i := range c.t.Guide {
		key(&c.t.Guide[i].KeyedBy, c.t.Guide[i].Publication)
	}
	for i := range c.t.TroubleCodes {
		key(&c.t.TroubleCodes[i].KeyedBy, c.t.TroubleCodes[i].Publication)
	}
	for i := range c.t.Bulletins {
		b := &c.t.Bulletins[i]
		b.Kind = cmp.Or(b.Kind, "bulletin")
		key(&b.KeyedBy, "")
	}
}

func (c *Catalog) sort() {
	t := &c.t
	// Where a key occurs twice the rest of the content decides, never the row:
	// the order of rows in a file is free.
	slices.SortStableFunc(t.Schemes, func(a, b SchemeField) int {
		return tie(cmp.Or(cmp.Compare(a.Scheme, b.Scheme), cmp.Compare(a.First, b.First), cmp.Compare(a.Field, b.Field),
			cmp.Compare(a.Value, b.Value), compareRange(a.Range, b.Range), cmp.Compare(a.Means, b.Means)), a, b, func(r *SchemeField) { r.Origin = Origin{} })
	})
	slices.SortStableFunc(t.Models, func(a, b Model) int {
		return tie(cmp.Or(cmp.Compare(a.Code, b.Code), compareRange(a.Range, b.Range), cmp.Compare(a.SalesName, b.SalesName)), a, b, func(r *Model) { r.Origin = Origin{} })
	})
	slices.SortStableFunc(t.Groups, func(a, b Group) int {
		return tie(cmp.Or(cmp.Compare(a.Code, b.Code)), a, b, func(r *Group) { r.Origin = Origin{} })
	})
	slices.SortStableFunc(t.Components, func(a, b Component) int {
		return tie(cmp.Or(cmp.Compare(a.Term, b.Term), cmp.Compare(a.Group, b.Group)), a, b, func(r *Component) { r.Origin = Origin{} })
	})
	slices.SortStableFunc(t.Publications, func(a, b Publication) int {
		return tie(cmp.Or(cmp.Compare(a.ID, b.ID)), a, b, func(r *Publication) { r.Origin = Origin{} })
	})
	slices.SortStableFunc(t.Procedures, func(a, b Procedure) int {
		return tie(cmp.Or(cmp.Compare(a.ID, b.ID)), a, b, func(r *Procedure) { r.Origin = Origin{} })
	})
	slices.SortStableFunc(t.Schedule, func(a, b Service) int {
		return tie(cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.AppliesTo, b.AppliesTo), cmp.Compare(a.Duty, b.Duty),
			compareEffectivity(a.Effectivity, b.Effectivity)), a, b, func(r *Service) { r.Origin = Origin{} })
	})
	slices.SortStableFunc(t.Operations, func(a, b Operation) int {
		return tie(cmp.Or(CompareSteps(a.Number, b.Number), cmp.Compare(a.Publication, b.Publication)), a, b, func(r *Operation) { r.Origin = Origin{} })
	})
	slices.SortStableFunc(t.Specifications, func(a, b Specification) int {
		return tie(cmp.Or(cmp.Compare(a.ID, b.ID)), a, b, func(r *Specification) { r.Origin = Origin{} })
	})
	slices.SortStableFunc(t.Guide, func(a, b GuideEntry) int {
		return tie(cmp.Or(cmp.Compare(a.System, b.System), cmp.Compare(a.AppliesTo, b.AppliesTo), cmp.Compare(a.Publication, b.Publication),
			CompareSteps(a.Section, b.Section), compareEffectivity(a.Effectivity, b.Effectivity)), a, b, func(r *GuideEntry) { r.Origin = Origin{} })
	})
	slices.SortStableFunc(t.Tests, func(a, b TestStep) int {
		return tie(cmp.Or(cmp.Compare(a.Publication, b.Publication), CompareSteps(a.Chapter, b.Chapter), CompareSteps(a.Step, b.Step),
			cmp.Compare(a.Side, b.Side)), a, b, func(r *TestStep) { r.Origin = Origin{} })
	})
	slices.SortStableFunc(t.TroubleCodes, func(a, b TroubleCode) int {
		return tie(cmp.Or(cmp.Compare(a.System, b.System), cmp.Compare(a.Code, b.Code), cmp.Compare(a.AppliesTo, b.AppliesTo),
			compareEffectivity(a.Effectivity, b.Effectivity), cmp.Compare(a.Publication, b.Publication)), a, b, func(r *TroubleCode) { r.Origin = Origin{} })
	})
	slices.SortStableFunc(t.Bulletins, func(a, b Bulletin) int {
		return tie(cmp.Or(cmp.Compare(a.ID, b.ID)), a, b, func(r *Bulletin) { r.Origin = Origin{} })
	})
}

// tie gives the order of two records by their keys, or, where that is 0, by
// their whole content but for where they were read. The latter is slow, but
// only keys that occur twice come to it.
func tie[T any](byKey int, a, b T, forget func(*T)) int {
	if byKey != 0 {
		return byKey
	}
	forget(&a)
	forget(&b)
	x, _ := json.Marshal(a)
	y, _ := json.Marshal(b)
	return bytes.Compare(x, y)
}

func compareRange(a, b Range) int {
	return cmp.Or(cmp.Compare(a.From.First(), b.From.First()), cmp.Compare(a.Through.Last(), b.Through.Last()),
		cmp.Compare(a.Serials.From, b.Serials.From), cmp.Compare(a.Serials.Through, b.Serials.Through))
}

func compareEffectivity(a, b Effectivity) int { return slices.CompareFunc(a, b, compareRange) }

// CompareSteps orders step, chapter and operation numbers the way people count:
// runs of digits as numbers, the rest as text, so that 2 < 2a < 10.
func CompareSteps(a, b string) int {
	for a != "" && b != "" {
		na, nb := digits(a), digits(b)
		if na > 0 && nb > 0 {
			x, y := strings.TrimLeft(a[:na], "0"), strings.TrimLeft(b[:nb], "0")
			if c := cmp.Or(cmp.Compare(len(x), len(y)), cmp.Compare(x, y)); c != 0 {
				return c
			}
			a, b = a[na:], b[nb:]
			continue
		}
		if a[0] != b[0] {
			return cmp.Compare(a[0], b[0])
		}
		a, b = a[1:], b[1:]
	}
	return cmp.Compare(len(a), len(b))
}

func digits(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}
