package qti

import (
	"fmt"
	"io"
	"strings"

	"rightpage/banks"
)

// ImportOptions say what to make of items that do not come from us.
type ImportOptions struct {
	Limits Limits
	// Of questions without an extension; empty fields mean the title of the
	// package, its identifier, imported and imported.
	Catalog, Revision, Kind, Skill string
}

// Imported is what a package held.
type Imported struct {
	Title     string
	Questions []*banks.Question
	// Changed lists questions of ours that were edited since they were
	// exported: their item says something else than their ID. They are among
	// Questions, with a new ID.
	Changed []Note
	// Refused lists items that cannot be asked here, and why.
	Refused []Note
}

// Note is about one item of a package.
type Note struct {
	File string `json:"file"` // in the package
	ID   string `json:"id"`   // of the question where there is one, else the item's
	Says string `json:"says"`
}

// Import reads a package. An item that cannot be asked is refused with the
// reason; what is wrong with the package as a whole is an error.
func Import(r io.ReaderAt, size int64, o ImportOptions) (*Imported, error) {
	a, err := openArchive(r, size, o.Limits)
	if err != nil {
		return nil, err
	}
	text, err := a.read(manifestName, a.lim.List)
	if err != nil {
		return nil, fmt.Errorf("not a QTI package: %s: %w", manifestName, err)
	}
	m, err := readManifest(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", manifestName, err)
	}
	o = o.filled(m)
	out := &Imported{Title: m.title}
	seen := map[string]bool{}
	for _, res := range m.items {
		q, note, err := a.question(m, res, o)
		if err != nil {
			out.Refused = append(out.Refused, Note{res.href, res.identifier, err.Error()})
			continue
		}
		if seen[q.ID] {
			out.Refused = append(out.Refused, Note{res.href, q.ID, "the same question stands in the package before"})
			continue
		}
		seen[q.ID] = true
		if note != "" {
			out.Changed = append(out.Changed, Note{res.href, q.ID, note})
		}
		out.Questions = append(out.Questions, q)
	}
	return out, nil
}

func (o ImportOptions) filled(m *readOf) ImportOptions {
	fill := func(s *string, values ...string) {
		for _, v := range values {
			if *s == "" {
				*s = v
			}
		}
	}
	fill(&o.Catalog, m.title, "imported")
	fill(&o.Revision, m.identifier, "imported")
	fill(&o.Kind, "imported")
	fill(&o.Skill, "imported")
	return o
}

// question reads the item of a resource and its extension, if it has one.
func (a *archive) question(m *readOf, res resource, o ImportOptions) (*banks.Question, string, error) {
	name, err := href(res.href)
	if err != nil {
		return nil, "", err
	}
	text, err := a.read(name, a.lim.File)
	if err != nil {
		return nil, "", err
	}
	root, err := parse(text)
	if err != nil {
		return nil, "", err
	}
	if root.Name != "qti-assessment-item" || root.Space != itemSpace {
		return nil, "", fmt.Errorf("this is no item of QTI 3.0 but %.60q of %.80q", root.Name, root.Space)
	}
	ext, err := a.extension(m, res)
	if err != nil {
		return nil, "", err
	}
	if ext == nil {
		q, err := foreign(root, o)
		if err != nil {
			return nil, "", err
		}
		return q, "", finish(q)
	}
	q, err := join(root, ext)
	if err != nil {
		return nil, "", err
	}
	if err := finish(q); err != nil {
		return nil, "", err
	}
	if q.ID != ext.ID {
		return q, fmt.Sprintf("it was edited since it was exported as %.40s", ext.ID), nil
	}
	return q, "", nil
}

// finish gives a question its ID and sees that it can be asked.
func finish(q *banks.Question) error {
	if err := q.Check(); err != nil {
		return err
	}
	_, err := banks.Encode(q)
	return err
}

// extension finds the extension that an item depends on.
func (a *archive) extension(m *readOf, res resource) (*extension, error) {
	for _, id := range res.dependencies {
		ref, ok := m.others[id]
		if !ok || !strings.HasSuffix(ref, ".json") {
			continue
		}
		name, err := href(ref)
		if err != nil {
			return nil, err
		}
		text, err := a.read(name, a.lim.File)
		if err != nil {
			return nil, err
		}
		if strings.Contains(string(text[:min(len(text), 200)]), extensionFormat) {
			return readExtension(text)
		}
	}
	return nil, nil
}

// readOf is what is needed of a manifest.
type readOf struct {
	identifier, title string
	items             []resource
	others            map[string]string // identifier → href
}

type resource struct {
	identifier, href string
	dependencies     []string
}

func readManifest(doc []byte) (*readOf, error) {
	root, err := parseBounded(doc, 40*maxItems)
	if err != nil {
		return nil, err
	}
	if root.Name != "manifest" || root.Space != packageSpace {
		return nil, fmt.Errorf("the manifest is not that of a QTI 3.0 package but %.60q of %.80q", root.Name, root.Space)
	}
	m := &readOf{identifier: root.get("identifier"), others: map[string]string{}}
	if lom := root.child("metadata").child("lom"); lom != nil {
		m.title = strings.TrimSpace(lom.child("general").child("title").raw())
	}
	for _, r := range root.child("resources").children("resource") {
		if r.get("type") != itemType {
			m.others[r.get("identifier")] = r.get("href")
			continue
		}
		res := resource{identifier: r.get("identifier"), href: r.get("href")}
		for _, d := range r.children("dependency") {
			res.dependencies = append(res.dependencies, d.get("identifierref"))
		}
		if m.items = append(m.items, res); len(m.items) > maxItems {
			return nil, fmt.Errorf("the package has more than %d items", maxItems)
		}
	}
	return m, nil
}
