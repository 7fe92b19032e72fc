package qti

import (
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// Validate checks a package against [Rules] and against what the specification
// says beyond the form of elements: identifiers, what is declared and bound,
// what an interaction can be bound to, and that the manifest and the files
// agree. It is for packages written here; others may use more of the
// specification. The error joins everything that is wrong.
func Validate(r io.ReaderAt, size int64) error {
	a, err := openArchive(r, size, Limits{})
	if err != nil {
		return err
	}
	v := newValidator()
	text, err := a.read(manifestName, a.lim.List)
	if err != nil {
		return err
	}
	root, err := parseBounded(text, 40*maxItems)
	if err != nil {
		return fmt.Errorf("%s: %w", manifestName, err)
	}
	v.file = manifestName
	v.root(root, "manifest", packageSpace)
	v.manifest(root, a)
	for _, res := range root.child("resources").children("resource") {
		if res.get("type") != itemType {
			continue
		}
		v.file = res.get("href")
		text, err := a.read(v.file, a.lim.File)
		if err != nil {
			v.fail("%v", err)
			continue
		}
		item, err := parse(text)
		if err != nil {
			v.fail("%v", err)
			continue
		}
		v.root(item, "qti-assessment-item", itemSpace)
		v.item(item)
	}
	return errors.Join(v.faults...)
}

type validator struct {
	rules  map[string]*Rule
	file   string
	faults []error
}

func newValidator() *validator {
	v := &validator{rules: map[string]*Rule{}}
	for _, r := range Rules() {
		v.rules[r.Element] = &r
	}
	return v
}

func (v *validator) fail(what string, args ...any) {
	v.faults = append(v.faults, fmt.Errorf("%s: "+what, append([]any{v.file}, args...)...))
}

func (v *validator) root(n *node, name, space string) {
	if n.Name != name || n.Space != space {
		v.fail("the root is %s of %q, not %s of %q", n.Name, n.Space, name, space)
	}
	v.element(n)
}

// element checks an element and all within it against their rules.
func (v *validator) element(n *node) {
	r := v.rules[n.Name]
	if r == nil {
		v.fail("there is no rule for the element %s", n.Name)
		return
	}
	for _, a := range r.Required {
		if !slices.ContainsFunc(n.Attrs, func(x attr) bool { return x.Name == a }) {
			v.fail("%s lacks the attribute %s (%s)", n.Name, a, r.Source)
		}
	}
	for _, a := range n.Attrs {
		name := strings.Replace(a.Name, instanceSpace+":", "xsi:", 1)
		if !slices.Contains(r.Required, name) && !slices.Contains(r.Optional, name) {
			v.fail("%s has the attribute %s, which the rules do not know (%s)", n.Name, name, r.Source)
		}
	}
	var kids []string
	for _, k := range n.Kids {
		if k.Name == "" {
			if !r.Text && strings.TrimSpace(k.Text) != "" {
				v.fail("%s holds the text %.40q (%s)", n.Name, k.Text, r.Source)
			}
			continue
		}
		kids = append(kids, k.Name)
		v.element(k)
	}
	if at := conforms(kids, r.Content); at >= 0 {
		what := "ends too soon"
		if at < len(kids) {
			what = "has " + kids[at] + " where it may not stand"
		}
		v.fail("%s %s: it holds %s (%s)", n.Name, what, strings.Join(kids, ", "), r.Source)
	}
}

// conforms matches children with a content model; it gives the index of the
// first that does not fit, or -1. The models are such that taking each particle
// as often as it goes never goes wrong.
func conforms(kids []string, content []Particle) int {
	i := 0
	for _, p := range content {
		n := 0
		for i < len(kids) && (p.Most < 0 || n < p.Most) && slices.Contains(p.Elements, kids[i]) {
			i++
			n++
		}
		if n < p.Least {
			return i
		}
	}
	if i < len(kids) {
		return i
	}
	return -1
}

// identifierPattern is the form of an identifier: letter or underscore, then
// also digits, hyphens and full stops (QTI 3.0 Information Model,
// UniqueIdentifierBaseType; as NCName, without the characters beyond ASCII).
var identifierPattern = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_.-]*$`)

// item checks what the form of the elements does not show.
func (v *validator) item(root *node) {
	names := map[string]bool{}
	declared := map[string]*node{}
	outcomes := map[string]bool{}
	for _, d := range append(root.children("qti-response-declaration"), root.children("qti-outcome-declaration")...) {
		id := d.get("identifier")
		if !identifierPattern.MatchString(id) {
			v.fail("%q is no identifier", id)
		}
		if names[id] {
			v.fail("%s is declared twice", id)
		}
		names[id] = true
		if d.Name == "qti-response-declaration" {
			declared[id] = d
		} else {
			outcomes[id] = true
		}
		v.declaration(d)
	}
	bound := map[string]bool{}
	root.child("qti-item-body").walk(func(n *node) bool {
		if strings.HasSuffix(n.Name, "-interaction") {
			v.interaction(n, declared, bound)
		}
		return true
	})
	for id := range declared {
		if !bound[id] {
			v.fail("the response %s is bound to no interaction", id)
		}
	}
	root.child("qti-response-processing").walk(func(n *node) bool {
		id := n.get("identifier")
		switch n.Name {
		case "qti-variable":
			if !names[id] {
				v.fail("the variable %q is not declared", id)
			}
		case "qti-correct", "qti-map-response":
			if declared[id] == nil {
				v.fail("the response %q is not declared", id)
			} else if n.Name == "qti-map-response" && declared[id].child("qti-mapping") == nil {
				v.fail("the response %s is mapped, but declares no mapping", id)
			}
		case "qti-set-outcome-value":
			if !outcomes[id] {
				v.fail("the outcome %q is not declared", id)
			}
		case "qti-equal":
			v.equal(n)
		}
		return true
	})
	for _, f := range root.children("qti-modal-feedback") {
		if !outcomes[f.get("outcome-identifier")] {
			v.fail("feedback is shown by the outcome %q, which is not declared", f.get("outcome-identifier"))
		}
		if !identifierPattern.MatchString(f.get("identifier")) {
			v.fail("%q is no identifier", f.get("identifier"))
		}
		if s := f.get("show-hide"); s != "show" && s != "hide" {
			v.fail("show-hide is %q", s)
		}
	}
	if root.get("time-dependent") != "true" && root.get("time-dependent") != "false" {
		v.fail("time-dependent is %q", root.get("time-dependent"))
	}
}

func (v *validator) equal(n *node) {
	switch mode := n.get("tolerance-mode"); mode {
	case "exact":
	case "absolute", "relative":
		t := strings.Fields(n.get("tolerance"))
		if len(t) < 1 || len(t) > 2 {
			v.fail("the tolerance %q is not one number or two", n.get("tolerance"))
		}
		for _, s := range t {
			if f, err := strconv.ParseFloat(s, 64); err != nil || f < 0 {
				v.fail("the tolerance %q is no number", s)
			}
		}
	default:
		v.fail("tolerance-mode is %q", mode)
	}
}

var (
	cardinalities = []string{"single", "multiple", "ordered", "record"}
	baseTypes     = []string{"identifier", "boolean", "integer", "float", "string", "point", "pair", "directedPair", "duration", "file", "uri"}
)

func (v *validator) declaration(d *node) {
	if !slices.Contains(cardinalities, d.get("cardinality")) {
		v.fail("the cardinality of %s is %q", d.get("identifier"), d.get("cardinality"))
	}
	if !slices.Contains(baseTypes, d.get("base-type")) {
		v.fail("the base type of %s is %q", d.get("identifier"), d.get("base-type"))
	}
	for _, holder := range [...]string{"qti-correct-response", "qti-default-value"} {
		vals := d.child(holder).children("qti-value")
		if d.get("cardinality") == "single" && len(vals) > 1 {
			v.fail("%s has single cardinality, but %d values", d.get("identifier"), len(vals))
		}
		for _, x := range vals {
			if _, err := strconv.ParseFloat(x.raw(), 64); d.get("base-type") == "float" && err != nil {
				v.fail("the value %.40q of %s is no float", x.raw(), d.get("identifier"))
			}
		}
	}
	for _, e := range d.child("qti-mapping").children("qti-map-entry") {
		if _, err := strconv.ParseFloat(e.get("mapped-value"), 64); err != nil {
			v.fail("the mapped value %.40q of %s is no float", e.get("mapped-value"), d.get("identifier"))
		}
	}
}

// interaction checks that an interaction is bound to a response that it can be
// bound to, once, and that the key is among its choices.
func (v *validator) interaction(n *node, declared map[string]*node, bound map[string]bool) {
	id := n.get("response-identifier")
	d := declared[id]
	if d == nil {
		v.fail("%s is bound to the response %q, which is not declared", n.Name, id)
		return
	}
	if bound[id] {
		v.fail("the response %s is bound to two interactions", id)
	}
	bound[id] = true
	card, kind := d.get("cardinality"), d.get("base-type")
	fits := false
	switch n.Name {
	case "qti-choice-interaction":
		fits = kind == "identifier" && (card == "single" || card == "multiple")
		if card == "single" && n.get("max-choices") != "1" && n.get("max-choices") != "" {
			v.fail("%s takes %s choices into a single response", n.Name, n.get("max-choices"))
		}
	case "qti-order-interaction":
		fits = kind == "identifier" && card == "ordered"
	case "qti-text-entry-interaction":
		fits = card == "single" && (kind == "string" || kind == "integer" || kind == "float")
	}
	if !fits {
		v.fail("%s cannot be bound to a response of cardinality %s and base type %s", n.Name, card, kind)
	}
	if n.Name == "qti-text-entry-interaction" {
		return
	}
	var names []string
	for _, c := range n.children("qti-simple-choice") {
		name := c.get("identifier")
		if !identifierPattern.MatchString(name) || slices.Contains(names, name) {
			v.fail("%q is no identifier, or names two choices", name)
		}
		names = append(names, name)
	}
	for _, x := range d.child("qti-correct-response").children("qti-value") {
		if !slices.Contains(names, x.raw()) {
			v.fail("the correct response %q of %s is no choice", x.raw(), id)
		}
	}
	for _, e := range d.child("qti-mapping").children("qti-map-entry") {
		if !slices.Contains(names, e.get("map-key")) {
			v.fail("the mapping of %s has %q, which is no choice", id, e.get("map-key"))
		}
	}
}

// manifest checks that the manifest and the files of the archive agree.
func (v *validator) manifest(root *node, a *archive) {
	if s := root.child("metadata").child("schema").raw(); s != "QTI Package" {
		v.fail("the schema is %q", s)
	}
	ids := map[string]bool{root.get("identifier"): true}
	named := map[string]bool{manifestName: true}
	resources := root.child("resources").children("resource")
	for _, res := range resources {
		id := res.get("identifier")
		if !identifierPattern.MatchString(id) || ids[id] {
			v.fail("%q is no identifier, or stands twice", id)
		}
		ids[id] = true
		own := false
		for _, f := range res.children("file") {
			named[f.get("href")] = true
			own = own || f.get("href") == res.get("href")
			if _, ok := a.files[f.get("href")]; !ok {
				v.fail("the file %q of the resource %s is not in the package", f.get("href"), id)
			}
		}
		if !own {
			v.fail("the resource %s does not list its own file %q", id, res.get("href"))
		}
	}
	for _, res := range resources {
		for _, d := range res.children("dependency") {
			if !ids[d.get("identifierref")] {
				v.fail("the resource %s depends on %q, which there is not", res.get("identifier"), d.get("identifierref"))
			}
		}
	}
	for name := range a.files {
		if !named[name] {
			v.fail("the file %q is not in the manifest", name)
		}
	}
}
