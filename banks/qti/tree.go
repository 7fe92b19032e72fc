package qti

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// node is an element, or a text where Name is empty.
type node struct {
	Space string // namespace, when read; when written, of the root alone
	Name  string // with a prefix when written and it has one
	Attrs []attr
	Kids  []*node
	Text  string
}

type attr struct{ Name, Value string }

// Bounds of an XML document, far beyond any item.
const (
	maxDepth = 100
	maxNodes = 50_000
)

// el makes an element; attributes come in pairs.
func el(name string, attrs []string, kids ...*node) *node {
	n := &node{Name: name, Kids: kids}
	for i := 0; i+1 < len(attrs); i += 2 {
		n.Attrs = append(n.Attrs, attr{attrs[i], attrs[i+1]})
	}
	return n
}

func at(pairs ...string) []string { return pairs }

func text(s string) *node { return &node{Text: s} }

func (n *node) add(kids ...*node) *node {
	n.Kids = append(n.Kids, kids...)
	return n
}

// get gives an attribute, "" if there is none.
func (n *node) get(name string) string {
	for _, a := range n.Attrs {
		if a.Name == name {
			return a.Value
		}
	}
	return ""
}

// child gives the first child of a name, or nil.
func (n *node) child(name string) *node {
	if n != nil {
		for _, k := range n.Kids {
			if k.Name == name {
				return k
			}
		}
	}
	return nil
}

// children gives the children of a name.
func (n *node) children(name string) []*node {
	var out []*node
	if n != nil {
		for _, k := range n.Kids {
			if k.Name == name {
				out = append(out, k)
			}
		}
	}
	return out
}

// walk calls f for the element and all within it, in document order; where f
// is false it does not go on into the element.
func (n *node) walk(f func(*node) bool) {
	if n == nil || !f(n) {
		return
	}
	for _, k := range n.Kids {
		k.walk(f)
	}
}

// raw is the text within the element, as it stands.
func (n *node) raw() string {
	var b strings.Builder
	if n == nil {
		return ""
	}
	n.walk(func(n *node) bool {
		b.WriteString(n.Text)
		return true
	})
	return b.String()
}

// classed gives the first element within that has a class, or nil.
func (n *node) classed(class string) *node {
	var found *node
	n.walk(func(n *node) bool {
		if found == nil && n.get("class") == class {
			found = n
		}
		return found == nil
	})
	return found
}

// write gives the document. A character that XML 1.0 cannot hold is an error.
func (n *node) write() ([]byte, error) {
	var b bytes.Buffer
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>` + "\n")
	if err := n.writeTo(&b); err != nil {
		return nil, err
	}
	b.WriteByte('\n')
	return b.Bytes(), nil
}

func (n *node) writeTo(b *bytes.Buffer) error {
	if n.Name == "" {
		return escape(b, n.Text)
	}
	b.WriteByte('<')
	b.WriteString(n.Name)
	for _, a := range n.Attrs {
		b.WriteByte(' ')
		b.WriteString(a.Name)
		b.WriteString(`="`)
		if err := escape(b, a.Value); err != nil {
			return err
		}
		b.WriteByte('"')
	}
	if len(n.Kids) == 0 {
		b.WriteString("/>")
		return nil
	}
	b.WriteByte('>')
	for _, k := range n.Kids {
		if err := k.writeTo(b); err != nil {
			return err
		}
	}
	b.WriteString("</")
	b.WriteString(n.Name)
	b.WriteByte('>')
	return nil
}

func escape(b *bytes.Buffer, s string) error {
	for i, r := range s {
		if r == utf8.RuneError && !strings.HasPrefix(s[i:], "\uFFFD") || !xmlCharacter(r) {
			return fmt.Errorf("the text %q holds a character that XML cannot hold", s)
		}
	}
	return xml.EscapeText(b, []byte(s))
}

// xmlCharacter tells whether XML 1.0 can hold a character (production 2, Char).
func xmlCharacter(r rune) bool {
	return r == '\t' || r == '\n' || r == '\r' || r >= 0x20 && r <= 0xD7FF || r >= 0xE000 && r <= 0xFFFD || r >= 0x10000 && r <= 0x10FFFF
}

// parse reads a document. Document type declarations are refused: nothing here
// needs one, and they are how small documents are made to grow.
func parse(doc []byte) (*node, error) { return parseBounded(doc, maxNodes) }

func parseBounded(doc []byte, most int) (*node, error) {
	d := xml.NewDecoder(bytes.NewReader(doc))
	var root *node
	var open []*node
	count := 0
	for {
		t, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("not well-formed XML: %w", err)
		}
		if count++; count > most {
			return nil, fmt.Errorf("the document has more than %d parts", most)
		}
		switch t := t.(type) {
		case xml.StartElement:
			n := &node{Space: t.Name.Space, Name: t.Name.Local}
			for _, a := range t.Attr {
				name := a.Name.Local
				if a.Name.Space != "" && a.Name.Space != "xmlns" {
					name = a.Name.Space + ":" + name
				}
				if a.Name.Space != "xmlns" && name != "xmlns" {
					n.Attrs = append(n.Attrs, attr{name, a.Value})
				}
			}
			switch {
			case len(open) > 0:
				top := open[len(open)-1]
				top.Kids = append(top.Kids, n)
			case root != nil:
				return nil, errors.New("the document has two roots")
			default:
				root = n
			}
			if open = append(open, n); len(open) > maxDepth {
				return nil, fmt.Errorf("the document is nested more than %d deep", maxDepth)
			}
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if len(open) > 0 {
				top := open[len(open)-1]
				top.Kids = append(top.Kids, text(string(t)))
			}
		case xml.Directive:
			return nil, errors.New("the document has a document type declaration")
		}
	}
	if root == nil {
		return nil, errors.New("the document is empty")
	}
	return root, nil
}
