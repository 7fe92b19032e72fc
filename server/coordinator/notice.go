package coordinator

import (
	"strconv"
	"strings"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
	"rightpage/quiz/paper"
)

// mostNotice is how many changes a noticeboard page lists: nobody reads more
// standing. What a bulletin says comes first.
const mostNotice = 60

// noticeChanges words the changed records of a revision for the noticeboard, in
// the language of the printed papers.
func noticeChanges(before, after *catalog.Catalog, list []catalog.Change) []paper.NoticeChange {
	w := noticeWriter{newIndex(before), newIndex(after)}
	var bulletins, rest []paper.NoticeChange
	for i := range list {
		n, ok := w.change(&list[i])
		switch {
		case !ok:
		case list[i].Table == "bulletins":
			bulletins = append(bulletins, n)
		default:
			rest = append(rest, n)
		}
	}
	out := append(bulletins, rest...)
	if more := len(out) - mostNotice; more > 0 {
		out = append(out[:mostNotice:mostNotice], paper.NoticeChange{Kind: "And more", Subject: strconv.Itoa(more) + " more records have changed", Now: "ask the coordinator for the whole list"})
	}
	return out
}

// index finds the records that a noticeboard page describes, by key.
type index struct {
	c              *catalog.Catalog
	procedures     map[string]*catalog.Procedure
	specifications map[string]*catalog.Specification
	publications   map[string]*catalog.Publication
	bulletins      map[string]*catalog.Bulletin
}

func newIndex(c *catalog.Catalog) index {
	t := c.Tables()
	x := index{c, map[string]*catalog.Procedure{}, map[string]*catalog.Specification{}, map[string]*catalog.Publication{}, map[string]*catalog.Bulletin{}}
	for i := range t.Procedures {
		x.procedures[t.Procedures[i].ID] = &t.Procedures[i]
	}
	for i := range t.Specifications {
		x.specifications[t.Specifications[i].ID] = &t.Specifications[i]
	}
	for i := range t.Publications {
		x.publications[t.Publications[i].ID] = &t.Publications[i]
	}
	for i := range t.Bulletins {
		x.bulletins[t.Bulletins[i].ID] = &t.Bulletins[i]
	}
	return x
}

type noticeWriter struct{ before, after index }

// change words one change; false for what nobody looks up, such as settings.
func (w noticeWriter) change(c *catalog.Change) (paper.NoticeChange, bool) {
	n := paper.NoticeChange{Kind: "Changed"}
	switch c.Kind {
	case catalog.Added:
		n.Kind = "New"
	case catalog.Removed:
		n.Kind = "Withdrawn"
	}
	switch c.Table {
	case "bulletins":
		was, now := w.before.bulletins[c.Key], w.after.bulletins[c.Key]
		x := first(now, was)
		if x == nil {
			return n, false
		}
		n.Subject, n.Applies = x.Kind+" "+x.ID+": "+x.Subject, w.applies(x.AppliesTo, x.Effectivity)
		if was != nil && now != nil {
			n.Was = was.Instruction
		}
		if now != nil {
			n.Now = now.Instruction
		}
	case "procedures":
		was, now := w.before.procedures[c.Key], w.after.procedures[c.Key]
		x := first(now, was)
		if x == nil {
			return n, false
		}
		if was != nil && now != nil && (was.Publication != now.Publication || was.Location != now.Location) {
			n.Kind = "Moved"
		}
		n.Subject, n.Applies = x.Job, w.applies(x.AppliesTo, x.Effectivity)
		if was != nil {
			n.Was = place(was.Publication, was.Location)
		}
		if now != nil {
			n.Now = place(now.Publication, now.Location)
		}
		n.Hazard = w.caution(x.Hazards)
	case "specifications":
		was, now := w.before.specifications[c.Key], w.after.specifications[c.Key]
		x := first(now, was)
		if x == nil {
			return n, false
		}
		if was != nil && now != nil {
			n.Kind = "Moved"
			if resolver.SpecText(was) != resolver.SpecText(now) {
				n.Kind = "Value changed"
			}
		}
		n.Subject, n.Applies = x.Quantity, w.applies(x.AppliesTo, x.Effectivity)
		if was != nil {
			n.Was = resolver.SpecText(was) + ", " + place(was.Publication, was.Location)
		}
		if now != nil {
			n.Now = resolver.SpecText(now) + ", " + place(now.Publication, now.Location)
		}
	case "publications":
		was, now := w.before.publications[c.Key], w.after.publications[c.Key]
		x := first(now, was)
		if x == nil {
			return n, false
		}
		n.Subject, n.Applies = x.ID+", "+x.Title, string(x.AppliesTo)
		if was != nil {
			n.Was = w.valid(was)
		}
		if now != nil {
			n.Now = w.valid(now)
		}
	case catalog.SettingsTable, "schemes", "components", "groups":
		return n, false
	default:
		n.Subject = c.Table + ", " + c.Key
		var was, now []string
		for _, k := range c.Columns {
			was, now = append(was, k.Column+": "+k.Old), append(now, k.Column+": "+k.New)
		}
		n.Was, n.Now = strings.Join(was, "; "), strings.Join(now, "; ")
	}
	return n, true
}

// first gives the first record that there is.
func first[T any](list ...*T) *T {
	for _, x := range list {
		if x != nil {
			return x
		}
	}
	return nil
}

func (w noticeWriter) applies(p catalog.Pattern, e catalog.Effectivity) string {
	if len(e) == 0 {
		return string(p)
	}
	return strings.TrimSpace(string(p) + " " + w.after.c.Meta().Limits.Format(e))
}

// valid says for which build dates or serials an edition is, and what it is.
func (w noticeWriter) valid(p *catalog.Publication) string {
	s := w.after.c.Meta().Limits.Format(p.Effectivity)
	if p.Revision != "" {
		s = "revision " + p.Revision + ", " + s
	}
	return s
}

func (w noticeWriter) caution(hazards []string) string {
	var out []string
	words := w.after.c.Meta().Hazards
	for _, h := range hazards {
		if text := words[h]; text != "" {
			out = append(out, text)
		}
	}
	return strings.Join(out, " ")
}

func place(publication string, l catalog.Location) string {
	if at := resolver.PlaceText(l); at != "" {
		return publication + ", " + at
	}
	return publication
}
