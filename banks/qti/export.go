package qti

import (
	"archive/zip"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"iter"
	"regexp"
	"slices"

	"rightpage/banks"
)

// maxItems bounds the items of a package.
const maxItems = 20_000

// questionID is the form of an ID as banks.Encode makes it: it becomes a part of
// file names and identifiers.
var questionID = regexp.MustCompile(`^[0-9a-z]{16}$`)

// Export writes questions as a package. The same questions give the same
// bytes. The manifest comes last, when all items are known; of each item it
// keeps no more than its entry in memory.
func Export(w io.Writer, title string, questions iter.Seq2[*banks.Question, error]) error {
	z := zip.NewWriter(w)
	m := newManifest(title)
	seen := map[string]bool{}
	for q, err := range questions {
		if err != nil {
			return err
		}
		if !questionID.MatchString(q.ID) {
			return fmt.Errorf("%.40q is not the ID of a question; read the questions from a bank file", q.ID)
		}
		if seen[q.ID] {
			return fmt.Errorf("question %s stands twice in what is to be exported; leave one out", q.ID)
		}
		seen[q.ID] = true
		if len(seen) > maxItems {
			return fmt.Errorf("a package holds %d questions at most; export a smaller bank", maxItems)
		}
		if err := exportItem(z, m, q); err != nil {
			return fmt.Errorf("question %s: %w", q.ID, err)
		}
	}
	if len(seen) == 0 {
		return fmt.Errorf("there are no questions to export")
	}
	doc, err := m.root().write()
	if err == nil {
		err = put(z, manifestName, doc)
	}
	if err != nil {
		return err
	}
	return z.Close()
}

func exportItem(z *zip.Writer, m *manifest, q *banks.Question) error {
	n, err := item(q)
	if err != nil {
		return err
	}
	doc, err := n.write()
	if err != nil {
		return err
	}
	ext, err := json.Marshal(strip(q))
	if err != nil {
		return err
	}
	if err := put(z, "items/"+q.ID+".xml", doc); err != nil {
		return err
	}
	if err := put(z, "extension/"+q.ID+".json", append(ext, '\n')); err != nil {
		return err
	}
	m.add(q)
	return nil
}

// put adds a file without a time, which would make every package differ.
func put(z *zip.Writer, name string, text []byte) error {
	f, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate})
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	return err
}

// manifest gathers the entries of imsmanifest.xml.
type manifest struct {
	title     string
	resources []*node
	digest    []byte // of all IDs, for the manifest's own
}

func newManifest(title string) *manifest { return &manifest{title: title} }

func (m *manifest) add(q *banks.Question) {
	sum := sha256.Sum256(append(m.digest, q.ID...))
	m.digest = sum[:]
	meta := el("imsqti:qtiMetadata", nil,
		el("imsqti:timeDependent", nil, text("false")),
		el("imsqti:composite", nil, text(fmt.Sprint(len(q.Steps) > 1))),
	)
	for _, t := range interactionTypes(q) {
		meta.add(el("imsqti:interactionType", nil, text(t)))
	}
	meta.add(
		el("imsqti:feedbackType", nil, text("nonadaptive")),
		el("imsqti:solutionAvailable", nil, text("true")),
		el("imsqti:scoringMode", nil, text("responseprocessing")),
		el("imsqti:toolName", nil, text("rightpage")),
		el("imsqti:toolVersion", nil, text("1")),
	)
	general := el("lom:general", nil, el("lom:identifier", nil, el("lom:entry", nil, text(q.ID))), el("lom:title", nil, el("lom:string", nil, text(q.Kind))))
	for _, k := range keywords(q) {
		general.add(el("lom:keyword", nil, el("lom:string", nil, text(k))))
	}
	file, ext := "items/"+q.ID+".xml", "extension/"+q.ID+".json"
	m.resources = append(m.resources,
		el("resource", at("identifier", "ITEM-"+q.ID, "type", itemType, "href", file),
			el("metadata", nil, meta, el("lom:lom", nil, general)),
			el("file", at("href", file)), el("dependency", at("identifierref", "EXTENSION-"+q.ID))),
		el("resource", at("identifier", "EXTENSION-"+q.ID, "type", extensionType, "href", ext), el("file", at("href", ext))),
	)
}

// interactionTypes names the interactions of a question by the vocabulary of
// the metadata specification, each once.
func interactionTypes(q *banks.Question) []string {
	switch q.Form {
	case banks.OneOf, banks.SomeOf:
		return []string{"choiceInteraction"}
	case banks.Ordered:
		return []string{"orderInteraction"}
	case banks.Typed, banks.Number:
		return []string{"textEntryInteraction"}
	}
	var out []string
	for i := range q.Steps {
		t := "textEntryInteraction"
		if len(q.Steps[i].Options) > 0 {
			t = "choiceInteraction"
		}
		if !slices.Contains(out, t) {
			out = append(out, t)
		}
	}
	return out
}

func keywords(q *banks.Question) []string {
	out := []string{q.Kind}
	for _, k := range append([]string{q.Skill, q.About.Group, q.About.Model, q.About.Publication}, q.Hazards...) {
		if k != "" && !slices.Contains(out, k) {
			out = append(out, k)
		}
	}
	return out
}

func (m *manifest) root() *node {
	meta := el("metadata", nil, el("schema", nil, text("QTI Package")), el("schemaversion", nil, text("3.0.0")))
	if m.title != "" {
		meta.add(el("lom:lom", nil, el("lom:general", nil, el("lom:title", nil, el("lom:string", nil, text(m.title))))))
	}
	return el("manifest", at(
		"xmlns", packageSpace, "xmlns:lom", lomSpace, "xmlns:imsqti", metaSpace, "xmlns:xsi", instanceSpace,
		"xsi:schemaLocation", packageSpace+" "+packageSchema+" "+lomSpace+" "+lomSchema+" "+metaSpace+" "+metaSchema,
		"identifier", "MANIFEST-"+hex.EncodeToString(m.digest)[:20],
	), meta, el("organizations", nil), el("resources", nil, m.resources...))
}
