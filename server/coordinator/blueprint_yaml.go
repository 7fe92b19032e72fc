package coordinator

import (
	"bytes"
	"strconv"

	"go.yaml.in/yaml/v3"

	"rightpage/banks"
)

// writeBlueprint writes a blueprint as YAML that banks.ParseBlueprint reads back.
// A name stands once below its attribute, so that a blueprint with two lines for
// one name cannot be written; the editor does not make one.
func writeBlueprint(b *banks.Blueprint) ([]byte, error) {
	top := &yaml.Node{Kind: yaml.MappingNode}
	text := func(v string) *yaml.Node {
		n := &yaml.Node{}
		n.SetString(v)
		return n
	}
	plain := func(tag, v string) *yaml.Node { return &yaml.Node{Kind: yaml.ScalarNode, Tag: tag, Value: v} }
	number := func(v int) *yaml.Node { return plain("!!int", strconv.Itoa(v)) }
	set := func(in *yaml.Node, name string, v *yaml.Node) { in.Content = append(in.Content, text(name), v) }
	set(top, "title", text(b.Title))
	set(top, "questions", number(b.Questions))
	set(top, "options", number(b.Options))
	set(top, "seed", plain("!!int", strconv.FormatUint(b.Seed, 10)))
	if b.TimeLimit > 0 {
		set(top, "time_limit", text(strconv.Itoa(b.TimeLimit)+"m"))
	}
	set(top, "cut", text(percentText(b.Cut)))
	set(top, "book", text(string(b.Book)))
	set(top, "order", text(string(b.Order)))
	set(top, "partial_credit", plain("!!bool", strconv.FormatBool(b.PartialCredit)))
	set(top, "variants", number(b.Variants))
	shares := &yaml.Node{Kind: yaml.MappingNode}
	for _, by := range banks.Attributes() {
		names := &yaml.Node{Kind: yaml.MappingNode}
		for i := range b.Quotas {
			q := &b.Quotas[i]
			switch {
			case q.By != by:
			case by == banks.BoundaryAttribute:
				set(shares, string(by), text(q.Wants()))
			default:
				set(names, q.Of, text(q.Wants()))
			}
		}
		if len(names.Content) > 0 {
			set(shares, string(by), names)
		}
	}
	if len(shares.Content) > 0 {
		set(top, "shares", shares)
	}
	var out bytes.Buffer
	e := yaml.NewEncoder(&out)
	e.SetIndent(2)
	if err := e.Encode(top); err != nil {
		return nil, err
	}
	return out.Bytes(), e.Close()
}

// percentText writes a share of one as per cent, exactly enough to be read back.
func percentText(x float64) string { return strconv.FormatFloat(x*100, 'f', -1, 64) + "%" }
