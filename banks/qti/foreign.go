package qti

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// pictures are elements that a plain text cannot stand for: an item with one
// may not be answerable without it.
var pictures = []string{"img", "picture", "object", "audio", "video", "math", "svg", "include", "qti-stimulus", "qti-assessment-stimulus-ref", "qti-printed-variable"}

// foreign makes a plain question of an item that does not come from us.
func foreign(root *node, o ImportOptions) (*banks.Question, error) {
	if root.get("adaptive") == "true" {
		return nil, errors.New("the item is adaptive: what it asks depends on the answers before")
	}
	if root.child("qti-template-processing") != nil {
		return nil, errors.New("the item is a template, whose values are drawn when it is shown")
	}
	var odd string
	root.walk(func(n *node) bool {
		if slices.Contains(pictures, n.Name) && odd == "" {
			odd = n.Name
		}
		return true
	})
	if odd != "" {
		return nil, fmt.Errorf("the item holds <%s>, which cannot be shown here", odd)
	}
	parts, err := interactions(root, plain)
	if err != nil {
		return nil, err
	}
	q := &banks.Question{Catalog: o.Catalog, Revision: o.Revision, Kind: o.Kind, Skill: o.Skill}
	q.About.Record = "item:" + root.get("identifier")
	q.Stem = stem(root.child("qti-item-body"))
	if len(parts) > 1 {
		return q, foreignSteps(q, parts)
	}
	x := &parts[0]
	if x.prompt != "" {
		q.Stem = strings.TrimSpace(q.Stem + "\n" + x.prompt)
	}
	if q.Stem == "" {
		q.Stem = strings.TrimSpace(root.get("title"))
	}
	if len(x.correct) == 0 && len(x.mapping) == 0 {
		return nil, errors.New("the item declares no correct response, so that answers to it cannot be graded")
	}
	return q, foreignForm(q, x, root)
}

func foreignForm(q *banks.Question, x *asked, root *node) error {
	switch {
	case (x.kind == "qti-choice-interaction" || x.kind == "qti-inline-choice-interaction") && x.baseType == "identifier" && (x.cardinality == "single" || x.cardinality == "multiple"):
		q.Form = banks.OneOf
		if x.cardinality == "multiple" {
			q.Form = banks.SomeOf
		}
		q.Options = options(x)
	case x.kind == "qti-order-interaction" && x.cardinality == "ordered":
		q.Form = banks.Ordered
		q.Options = options(x)
		for i := range q.Options {
			q.Options[i].Right = true
		}
		q.Key.Order = x.correct
	case x.kind == "qti-text-entry-interaction" && x.cardinality == "single" && x.baseType == "string":
		q.Form = banks.Typed
		q.Key.Accept, q.Key.Charset = x.accept(), "text"
	case x.kind == "qti-text-entry-interaction" && x.cardinality == "single" && (x.baseType == "float" || x.baseType == "integer"):
		return foreignNumber(q, x, root)
	default:
		return fmt.Errorf("a %.60s with %.20s responses of %.20s cannot be asked here", x.kind, x.cardinality, x.baseType)
	}
	return nil
}

func foreignNumber(q *banks.Question, x *asked, root *node) error {
	q.Form = banks.Number
	if len(x.correct) != 1 {
		return errors.New("the item does not declare one correct number")
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(x.correct[0]), 64)
	if err != nil {
		return fmt.Errorf("the correct response %.40q is no number", x.correct[0])
	}
	q.Key.Number = v
	root.child("qti-response-processing").walk(func(n *node) bool {
		if n.Name != "qti-equal" || n.child("qti-correct") == nil || n.get("tolerance-mode") == "" || n.get("tolerance-mode") == "exact" {
			return true
		}
		for _, s := range strings.Fields(n.get("tolerance")) {
			t, perr := strconv.ParseFloat(s, 64)
			if perr != nil || t < 0 {
				err = fmt.Errorf("the tolerance %.40q cannot be read", n.get("tolerance"))
				return false
			}
			if n.get("tolerance-mode") == "relative" {
				t *= max(v, -v) / 100 // relative tolerances are in percent
			}
			q.Key.Tolerance = max(q.Key.Tolerance, t)
		}
		return true
	})
	return err
}

// foreignSteps makes a chase of an item with several interactions.
func foreignSteps(q *banks.Question, parts []asked) error {
	q.Form = banks.Chase
	for i := range parts {
		x := &parts[i]
		s := banks.ChaseStep{Step: resolver.LocationStep, Ask: x.prompt}
		if s.Ask == "" {
			s.Ask = "Answer " + strconv.Itoa(i+1)
		}
		switch {
		case len(x.choices) > 0 && x.cardinality == "single" && x.baseType == "identifier":
			s.Options = options(x)
		case x.kind == "qti-text-entry-interaction" && x.cardinality == "single":
			s.Accept = x.accept()
		default:
			return fmt.Errorf("a %.60s with %.20s responses cannot be a step of a question", x.kind, x.cardinality)
		}
		q.Steps = append(q.Steps, s)
	}
	return nil
}

func options(x *asked) []banks.Option {
	var out []banks.Option
	for _, c := range x.choices {
		out = append(out, banks.Option{Text: c.text, Value: c.name, Right: x.isRight(c)})
	}
	return out
}

// blocks are elements that begin on a line of their own.
var blocks = []string{"p", "div", "blockquote", "li", "ul", "ol", "dl", "dt", "dd", "h1", "h2", "h3", "h4", "h5", "h6", "tr", "table", "pre", "br", "section", "article", "qti-content-body"}

// plain is the text of an element as people read it: white space put together,
// blocks on lines of their own, feedback left out.
func plain(n *node) string {
	var b strings.Builder
	flow(n, &b, nil)
	return tidy(b.String())
}

// stem is the text of a body without what its interactions hold; a field within
// the text shows as a gap.
func stem(body *node) string {
	if body == nil {
		return ""
	}
	var b strings.Builder
	flow(body, &b, func(n *node) bool {
		if !strings.HasSuffix(n.Name, "-interaction") {
			return n.Name != "qti-rubric-block"
		}
		if n.Name == "qti-text-entry-interaction" || n.Name == "qti-inline-choice-interaction" {
			b.WriteString(" ____ ")
		}
		return false
	})
	s := tidy(b.String())
	if strings.Trim(s, "_ \n") == "" {
		return ""
	}
	return s
}

func flow(n *node, b *strings.Builder, into func(*node) bool) {
	if n.Name == "" {
		b.WriteString(strings.Join(strings.FieldsFunc(" "+n.Text+" ", func(r rune) bool { return r == '\n' || r == '\r' || r == '\t' }), " "))
		return
	}
	if strings.HasPrefix(n.Name, "qti-feedback") || n.Name == "qti-stylesheet" || into != nil && !into(n) {
		return
	}
	block := slices.Contains(blocks, n.Name)
	if block {
		b.WriteByte('\n')
	}
	for _, k := range n.Kids {
		flow(k, b, into)
	}
	if block {
		b.WriteByte('\n')
	}
}

func tidy(s string) string {
	var lines []string
	for line := range strings.SplitSeq(s, "\n") {
		if l := strings.Join(strings.Fields(line), " "); l != "" {
			lines = append(lines, l)
		}
	}
	return strings.Join(lines, "\n")
}
