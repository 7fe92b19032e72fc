package banks

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// maxBlueprint bounds a blueprint file in bytes.
const maxBlueprint = 256 << 10

// ParseBlueprint reads a blueprint from YAML:
//
//	title: Editions and limits, spring
//	questions: 20
//	options: 4             # most options of a question with one right option
//	seed: 7
//	time_limit: 45m
//	cut: 80%               # share of the points that passes
//	book: open             # or closed
//	order: mixed           # or by kind, easy first
//	partial_credit: true
//	variants: 2
//	shares:
//	  kind:
//	    edition: 30%       # a share of the questions
//	    location: 5        # or a number of questions
//	  skill: {}
//	  difficulty: {easy: 30%, medium: 40%, hard: 30%}
//	  group: {B: at least 20%}
//	  model: {"K4*": at most 50%}
//	  hazard: {lifting: at least 2, any: 50%}
//	  boundary: 30%
//
// Everything but questions may be left out. What the shares of an attribute do
// not claim may be anything that no line excludes. The error is a
// [*BlueprintError] with everything that is wrong, each with its line.
func ParseBlueprint(text []byte) (Blueprint, error) {
	p := &blueprintParser{b: NewBlueprint("", 0), lines: map[string]int{}}
	p.parse(text)
	if len(p.faults) == 0 {
		var e *BlueprintError
		if err := p.b.Check(); errors.As(err, &e) {
			p.faults = e.Faults
			p.place()
		}
	}
	if len(p.faults) > 0 {
		return Blueprint{}, &BlueprintError{p.faults}
	}
	return p.b, nil
}

type blueprintParser struct {
	b      Blueprint
	faults []BlueprintFault
	lines  map[string]int // setting → line
}

func (p *blueprintParser) add(line int, mend, what string, args ...any) {
	p.faults = append(p.faults, BlueprintFault{line, fmt.Sprintf(what, args...), mend})
}

// place gives the faults of Check that are about a setting the line of it.
func (p *blueprintParser) place() {
	for i := range p.faults {
		f := &p.faults[i]
		for name, line := range p.lines {
			if word := strings.ReplaceAll(name, "_", " "); f.Line == 0 && (strings.HasPrefix(f.What, word+" ") || strings.HasPrefix(f.What, "the "+word+" ")) {
				f.Line = line
			}
		}
	}
}

var blueprintYAMLLine = regexp.MustCompile(`line (\d+): `)

func (p *blueprintParser) parse(text []byte) {
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	switch {
	case len(text) > maxBlueprint:
		p.add(0, "is this a blueprint? one has a page at most", "the file has more than %d bytes", maxBlueprint)
		return
	case !utf8.Valid(text):
		p.add(0, "save the file as UTF-8 text", "the text is not UTF-8")
		return
	}
	dec := yaml.NewDecoder(bytes.NewReader(text))
	var doc yaml.Node
	if err := dec.Decode(&doc); err != nil {
		if errors.Is(err, io.EOF) {
			p.add(0, "write at least: questions: 20", "the file is empty")
			return
		}
		line, what := 1, strings.TrimPrefix(err.Error(), "yaml: ")
		if m := blueprintYAMLLine.FindStringSubmatch(what); m != nil {
			line, _ = strconv.Atoi(m[1])
			what = strings.Replace(what, m[0], "", 1)
		}
		p.add(line, "check the indentation, and put a text that holds a colon or begins with a star between quotation marks", "this is not well-formed YAML: %s", what)
		return
	}
	if err := dec.Decode(new(yaml.Node)); !errors.Is(err, io.EOF) {
		p.add(0, "keep one and delete what follows the line ---", "the file holds more than one document")
		return
	}
	if len(doc.Content) != 1 || doc.Content[0].Kind != yaml.MappingNode {
		p.add(doc.Line, "write settings such as: questions: 20", "a blueprint is a list of settings, each a name, a colon and a value")
		return
	}
	if line := findAlias(&doc); line > 0 {
		p.add(line, "write the value out", "anchors and aliases are not read")
		return
	}
	p.settings(doc.Content[0])
	if _, ok := p.lines["questions"]; !ok {
		p.add(0, "write for example: questions: 20", "questions is missing")
	}
}

func findAlias(n *yaml.Node) int {
	if n.Kind == yaml.AliasNode || n.Anchor != "" {
		return max(1, n.Line)
	}
	for _, c := range n.Content {
		if line := findAlias(c); line > 0 {
			return line
		}
	}
	return 0
}

var blueprintSettings = [...]string{"title", "questions", "options", "seed", "time_limit", "cut", "book", "order", "partial_credit", "variants", "shares"}

// pairs calls f for each setting of a mapping, and reports one given twice.
func (p *blueprintParser) pairs(n *yaml.Node, f func(key, value *yaml.Node)) {
	seen := map[string]int{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		k := n.Content[i]
		if line, twice := seen[k.Value]; twice {
			p.add(k.Line, fmt.Sprintf("keep one of the two (the other stands in line %d)", line), "%s is given twice", k.Value)
			continue
		}
		seen[k.Value] = k.Line
		f(k, n.Content[i+1])
	}
}

func (p *blueprintParser) settings(n *yaml.Node) {
	p.pairs(n, func(k, v *yaml.Node) {
		p.lines[k.Value] = k.Line
		if k.Value == "shares" {
			p.shares(v)
			return
		}
		if !slices.Contains(blueprintSettings[:], k.Value) {
			p.add(k.Line, "the settings are "+strings.Join(blueprintSettings[:], ", "), "there is no setting %q", clipText(k.Value))
			return
		}
		if v.Kind != yaml.ScalarNode {
			p.add(v.Line, "write one value after the colon", "%s holds a list or several settings", k.Value)
			return
		}
		p.setting(k.Value, strings.TrimSpace(v.Value), v.Line)
	})
}

func (p *blueprintParser) setting(name, v string, line int) {
	b := &p.b
	number := func(into *int) {
		n, err := strconv.Atoi(v)
		if err != nil {
			p.add(line, "write a whole number", "%s is %q", name, clipText(v))
			return
		}
		*into = n
	}
	switch name {
	case "title":
		if len(v) > 200 {
			p.add(line, "write no more than 200 bytes", "the title has %d bytes", len(v))
			return
		}
		b.Title = v
	case "questions":
		number(&b.Questions)
	case "options":
		number(&b.Options)
	case "variants":
		number(&b.Variants)
	case "seed":
		n, err := strconv.ParseUint(v, 10, 64)
		if err != nil {
			p.add(line, "write a whole number from 0", "seed is %q", clipText(v))
		}
		b.Seed = n
	case "time_limit":
		n, ok := parseMinutes(v)
		if !ok {
			p.add(line, "write a time such as 45m or 1h30m, in whole minutes", "the time limit is %q", clipText(v))
		}
		b.TimeLimit = n
	case "cut":
		f, ok := parseCut(v)
		if !ok {
			p.add(line, "write a share of the points such as 80% or 0.8", "the cut is %q", clipText(v))
		}
		b.Cut = f
	case "book":
		b.Book = Book(strings.ToLower(v))
	case "order":
		b.Order = Sequence(strings.ToLower(v))
	case "partial_credit":
		switch strings.ToLower(v) {
		case "true", "yes":
			b.PartialCredit = true
		case "false", "no":
			b.PartialCredit = false
		default:
			p.add(line, "write true or false", "partial credit is %q", clipText(v))
		}
	}
}

func (p *blueprintParser) shares(n *yaml.Node) {
	if n.Kind == yaml.ScalarNode && n.Value == "" {
		return
	}
	if n.Kind != yaml.MappingNode {
		p.add(n.Line, "write shares such as: kind: {edition: 30%}", "shares is no list of settings")
		return
	}
	p.pairs(n, func(k, v *yaml.Node) {
		by := Attribute(k.Value)
		switch {
		case !slices.Contains(Attributes(), by):
			p.add(k.Line, "shares can be by "+joinTexts(Attributes(), func(a Attribute) string { return string(a) }, ", "), "there are no shares by %q", clipText(k.Value))
		case by == BoundaryAttribute:
			p.quota(by, "", v)
		case v.Kind == yaml.ScalarNode && v.Value == "":
		case v.Kind != yaml.MappingNode:
			p.add(v.Line, fmt.Sprintf("write a name and a share below it, such as: %s: {NAME: 30%%}", by), "the shares by %s have no names", by)
		default:
			p.pairs(v, func(name, share *yaml.Node) { p.quota(by, strings.TrimSpace(name.Value), share) })
		}
	})
}

var quotaPattern = regexp.MustCompile(`^(?i:(at least|at most) +)?(\d{1,9}(?:\.\d{1,9})?) *(%)?$`)

func (p *blueprintParser) quota(by Attribute, of string, v *yaml.Node) {
	q := Quota{By: by, Of: of, Line: v.Line}
	if len(of) > 200 {
		p.add(v.Line, "write no more than 200 bytes", "the name has %d bytes", len(of))
		return
	}
	m := quotaPattern.FindStringSubmatch(strings.TrimSpace(v.Value))
	const mend = "write a share such as 30%, or a number of questions; at least or at most may stand before it"
	if v.Kind != yaml.ScalarNode || m == nil {
		p.add(v.Line, mend, "%s: %q is no share", q.Name(), clipText(v.Value))
		return
	}
	q.Bound = Bound(strings.ToLower(m[1]))
	n, err := strconv.ParseFloat(m[2], 64)
	switch {
	case err != nil || m[3] == "" && n != math.Trunc(n):
		p.add(v.Line, mend, "%s: %q is neither a share nor a number of questions", q.Name(), clipText(v.Value))
		return
	case m[3] == "%" && n > 100:
		p.add(v.Line, "write 100% at most", "%s: %s is more than the whole", q.Name(), v.Value)
		return
	case m[3] == "%":
		q.Share = n / 100
	default:
		q.Count = int(n)
	}
	p.b.Quotas = append(p.b.Quotas, q)
}

var minutesPattern = regexp.MustCompile(`^(?:(\d{1,3}) *(?:h|hours?))? *(?:(\d{1,4}) *(?:m|min|minutes?))?$`)

func parseMinutes(s string) (int, bool) {
	m := minutesPattern.FindStringSubmatch(strings.ToLower(s))
	if m == nil || m[1] == "" && m[2] == "" {
		return 0, false
	}
	h, _ := strconv.Atoi("0" + m[1])
	n, _ := strconv.Atoi("0" + m[2])
	return 60*h + n, true
}

func parseCut(s string) (float64, bool) {
	num, isPercent := strings.CutSuffix(s, "%")
	f, err := strconv.ParseFloat(strings.TrimSpace(num), 64)
	if isPercent {
		f /= 100
	}
	return f, err == nil && f >= 0 && f <= 1
}

// clipText shortens what people wrote for a message.
func clipText(s string) string {
	r := []rune(s)
	if len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}
