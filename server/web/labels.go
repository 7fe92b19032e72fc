package web

import (
	"html/template"
	"regexp"
	"text/template/parse"
)

// labelled is the end of text before the label of a field that a page writes by
// hand: <label for="f-NAME">, or the legend of a fieldset.
var labelled = regexp.MustCompile(`(?:<label for="f-([\w-]+)"|<fieldset[^<>]* id="f-([\w-]+)"[^<>]*><legend)>$`)

// labels finds how a page labels its fields: name → ID of a message. It reads the
// template, so that no page lists its labels a second time for the summary of
// faults. A name that has two labels, in two forms of the page, has none.
func labels(page *template.Template) map[string]string {
	found := map[string]string{}
	note := func(name, id string) {
		if before, ok := found[name]; ok && before != id {
			id = ""
		}
		found[name] = id
	}
	seen := map[string]bool{}
	var visit func(n parse.Node)
	list := func(l *parse.ListNode) {
		if l == nil {
			return
		}
		for i, n := range l.Nodes {
			visit(n)
			if i == 0 {
				continue
			}
			text, ok := l.Nodes[i-1].(*parse.TextNode)
			if !ok {
				continue
			}
			if m := labelled.FindSubmatch(text.Text); m != nil {
				if id := said(n); id != "" {
					note(string(m[1])+string(m[2]), id)
				}
			}
		}
	}
	branch := func(b *parse.BranchNode) {
		list(b.List)
		list(b.ElseList)
	}
	visit = func(n parse.Node) {
		switch n := n.(type) {
		case *parse.ListNode:
			list(n)
		case *parse.IfNode:
			branch(&n.BranchNode)
		case *parse.RangeNode:
			branch(&n.BranchNode)
		case *parse.WithNode:
			branch(&n.BranchNode)
		case *parse.TemplateNode:
			if name, id := fieldOf(n.Pipe); name != "" && id != "" {
				note(name, id)
			}
			if t := page.Lookup(n.Name); t != nil && t.Tree != nil && !seen[n.Name] {
				seen[n.Name] = true
				list(t.Tree.Root)
			}
		}
	}
	if t := page.Lookup("content"); t != nil && t.Tree != nil {
		list(t.Tree.Root)
	}
	return found
}

// said gives the ID of {{t "id"}}, "" for anything else, such as a message that
// is filled in.
func said(n parse.Node) string {
	a, ok := n.(*parse.ActionNode)
	if !ok || len(a.Pipe.Decl) > 0 || len(a.Pipe.Cmds) != 1 || len(a.Pipe.Cmds[0].Args) != 2 || a.Pipe.Cmds[0].Args[0].String() != "t" {
		return ""
	}
	id, _ := a.Pipe.Cmds[0].Args[1].(*parse.StringNode)
	if id == nil {
		return ""
	}
	return id.Text
}

// fieldOf gives the name and the label of the dict that is given to the part
// "field", in brackets or not.
func fieldOf(p *parse.PipeNode) (name, id string) {
	if p == nil || len(p.Cmds) != 1 {
		return "", ""
	}
	args := p.Cmds[0].Args
	if inner, ok := args[0].(*parse.PipeNode); ok && len(args) == 1 {
		return fieldOf(inner)
	}
	if args[0].String() != "dict" {
		return "", ""
	}
	for i := 1; i+1 < len(args); i += 2 {
		key, _ := args[i].(*parse.StringNode)
		value, _ := args[i+1].(*parse.StringNode)
		if key == nil || value == nil {
			continue
		}
		switch key.Text {
		case "name":
			name = value.Text
		case "label":
			id = value.Text
		}
	}
	return name, id
}
