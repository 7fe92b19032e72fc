package words

import (
	"go/ast"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"text/template/parse"
)

// usage is which messages the pages and the Go code of the server use.
type usage struct {
	asked    map[string]string // ID that there must be → where it is asked for first
	ids      map[string]bool   // every text that may be an ID
	prefixes map[string]bool   // "error." of IDs that are put together at run time
}

func (u *usage) ask(id, at string) {
	u.mention(id)
	if _, ok := u.asked[id]; !ok {
		u.asked[id] = at
	}
}

func (u *usage) mention(text string) {
	u.ids[text] = true
	if strings.HasSuffix(text, ".") {
		u.prefixes[text] = true
	}
}

// looked tells whether an ID begins with a prefix that is looked up.
func (u *usage) looked(id string) bool {
	for p := range u.prefixes {
		if strings.HasPrefix(id, p) {
			return true
		}
	}
	return false
}

// used finds what is used under server/ and cmd/: in templates the IDs given to
// t, the labels and hints given to fields, and the prefixes given to word; in Go
// those given to T, Or, Has and Fault, and labels of the menu; and the title of
// every page.
func used(t testing.TB) *usage {
	u := &usage{map[string]string{}, map[string]bool{}, map[string]bool{}}
	code := map[string][]goFile{} // by folder
	for _, folder := range []string{"server", "cmd"} {
		for _, f := range sources(t, folder) {
			code[path.Dir(f.path)] = append(code[path.Dir(f.path)], f)
			u.goFile(f)
		}
	}
	eachFile(t, "server", ".html", func(name string, data []byte) {
		if path.Base(path.Dir(name)) != "pages" {
			return
		}
		u.template(t, name, string(data))
		page := strings.TrimSuffix(path.Base(name), ".html")
		if strings.HasPrefix(page, "_") {
			return
		}
		title := strings.ReplaceAll(page, "-", ".") + ".title"
		u.mention(title)
		if !ownTitle(code[path.Dir(path.Dir(name))], page) {
			u.ask(title, name)
		}
	})
	return u
}

func (u *usage) goFile(f goFile) {
	first := func(arg ast.Expr, at ast.Node) {
		if id, ok := literal(arg); ok {
			u.ask(id, f.at(at))
		}
	}
	ast.Inspect(f.File, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.BasicLit:
			// The method Notice is not yet a use of its messages.
			if s, ok := literal(n); ok && !(s == "notice." && strings.HasPrefix(f.path, "server/words/")) {
				u.mention(s)
			}
		case *ast.CallExpr:
			switch name := called(n); {
			case name == "Notice" && len(n.Args) == 2:
				u.prefixes["notice."] = true
			case name == "T" && len(n.Args) > 0, name == "Has" && len(n.Args) == 1 && isID(n.Args[0]), name == "Or" && len(n.Args) == 2 && isID(n.Args[0]):
				first(n.Args[0], n)
			case name == "Fault" && len(n.Args) > 1:
				first(n.Args[1], n)
			}
		case *ast.CompositeLit:
			if typ, ok := n.Type.(*ast.SelectorExpr); ok && typ.Sel.Name == "MenuItem" {
				for _, e := range n.Elts {
					u.label(f, e)
				}
			}
			for _, e := range n.Elts { // of a list of entries, the type left out
				u.label(f, e)
			}
		}
		return true
	})
}

// label notes a Label that has the form of an ID.
func (u *usage) label(f goFile, e ast.Expr) {
	kv, ok := e.(*ast.KeyValueExpr)
	if !ok {
		return
	}
	if key, ok := kv.Key.(*ast.Ident); ok && key.Name == "Label" && isID(kv.Value) {
		id, _ := literal(kv.Value)
		u.ask(id, f.at(kv))
	}
}

// identifier is the form of an ID.
var identifier = regexp.MustCompile(`^[a-z][a-z0-9-]*(\.[a-z0-9' -]+)+$`)

func isID(e ast.Expr) bool {
	s, ok := literal(e)
	return ok && identifier.MatchString(s)
}

// ownTitle tells whether the code of a package of pages gives a page another
// title than the message named after it: by data with a method PageTitle, or
// within package web by hand.
func ownTitle(files []goFile, page string) bool {
	own := false
	for _, f := range files {
		ast.Inspect(f.File, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.FuncDecl:
				own = own || n.Recv != nil && n.Name.Name == "PageTitle"
			case *ast.CallExpr:
				if called(n) == "page" && len(n.Args) > 2 {
					name, ok := literal(n.Args[2])
					own = own || ok && name == page
				}
			}
			return !own
		})
	}
	return own
}

func (u *usage) template(t testing.TB, name, text string) {
	tree := parse.New(name)
	tree.Mode = parse.SkipFuncCheck
	set := map[string]*parse.Tree{}
	if _, err := tree.Parse(text, "", "", set); err != nil {
		t.Errorf("cannot be read, so that what it uses is not known: %v", err)
		return
	}
	set[name] = tree
	for _, tr := range set {
		if tr.Root == nil {
			continue
		}
		at := func(n parse.Node) string {
			where, _ := tr.ErrorContext(n)
			return where
		}
		walk(tr.Root, func(n parse.Node) {
			switch n := n.(type) {
			case *parse.StringNode:
				u.mention(n.Text)
			case *parse.CommandNode:
				u.command(n, at)
			case *parse.PipeNode: // "id" | t
				for i, c := range n.Cmds[1:] {
					if len(c.Args) == 1 && c.Args[0].String() == "t" && len(n.Cmds[i].Args) == 1 {
						if s, ok := n.Cmds[i].Args[0].(*parse.StringNode); ok {
							u.ask(s.Text, at(n))
						}
					}
				}
			}
		})
	}
}

func (u *usage) command(c *parse.CommandNode, at func(parse.Node) string) {
	text := func(i int) (string, bool) {
		if i >= len(c.Args) {
			return "", false
		}
		s, ok := c.Args[i].(*parse.StringNode)
		if !ok {
			return "", false
		}
		return s.Text, true
	}
	switch c.Args[0].String() {
	case "t":
		if id, ok := text(1); ok {
			u.ask(id, at(c))
		}
	case "word":
		if prefix, ok := text(1); ok {
			u.prefixes[prefix+"."] = true
		}
	case "dict":
		for i := 1; i+1 < len(c.Args); i += 2 {
			key, _ := text(i)
			if id, ok := text(i + 1); ok && (key == "label" || key == "hint") && identifier.MatchString(id) {
				u.ask(id, at(c))
			}
		}
	}
}

// Every ID that a page or the code asks for exists.
func TestWhatIsUsedExists(t *testing.T) {
	all := readMessages(t)["en"]
	u := used(t)
	written := map[string]bool{} // areas that have messages
	for _, m := range all {
		area, _, _ := strings.Cut(m.file, ".")
		written[area] = true
	}
	unwritten := map[string]int{}
	for _, id := range sorted(u.asked) {
		if _, ok := all[id]; ok || strings.HasSuffix(id, ".") {
			continue
		}
		if area, _, _ := strings.Cut(id, "."); slices.Contains(areas, area) && !written[area] {
			unwritten[area]++
			continue
		}
		t.Errorf("%s: there is no message %s", u.asked[id], id)
	}
	for _, area := range sorted(unwritten) {
		t.Errorf("server/%s asks for %d messages, but there is no messages/%s.en.yaml", area, unwritten[area], area)
	}
	// A prefix that leads to no message at all is a slip of the pen.
	for _, p := range sorted(u.prefixes) {
		if !identifier.MatchString(p+"x") || strings.Count(p, ".") != 1 {
			continue
		}
		found := false
		for id := range all {
			found = found || strings.HasPrefix(id, p)
		}
		if !found && strings.Contains("skill. slip. step. kind. state. role. standing. verdict. outcome. severity. finding. hazard. form. difficulty. medium. level. release. audit. notice.", p) {
			t.Errorf("no message begins with %s", p)
		}
	}
}

// areas are the packages of pages, as server mounts them.
var areas = []string{"account", "administrator", "api", "coordinator", "manager", "marks", "public", "technician"}

// No message is left that nothing uses. Those of an area whose pages are not
// there, and words of the vocabulary while an area is not there that may look
// them up, are told and do not fail.
func TestWhatExistsIsUsed(t *testing.T) {
	u := used(t)
	built := func(area string) bool {
		pages, _ := filepath.Glob(filepath.Join(root, "server", area, "pages", "*.html"))
		_, err := os.Stat(filepath.Join(root, "server", area))
		return len(pages) > 0 || err == nil && area == "api"
	}
	missing := slices.DeleteFunc(slices.Clone(areas), built)
	unused := map[string]int{} // prefix of the vocabulary → messages
	for id, m := range readMessages(t)["en"] {
		if u.ids[id] || u.looked(id) {
			continue
		}
		area, _, _ := strings.Cut(m.file, ".")
		switch {
		case area == "vocabulary":
			prefix, _, _ := strings.Cut(id, ".")
			unused[prefix]++
		case slices.Contains(missing, area):
			t.Logf("%s: nothing uses %s yet", m.file, id)
		default:
			t.Errorf("%s: nothing uses %s", m.file, id)
		}
	}
	for _, prefix := range sorted(unused) {
		if len(missing) > 0 {
			t.Logf("vocabulary: nothing looks up the %d words of %s yet", unused[prefix], prefix)
		} else {
			t.Errorf("vocabulary: nothing looks up the %d words of %s", unused[prefix], prefix)
		}
	}
	if len(missing) > 0 {
		t.Logf("areas without pages yet: %s", strings.Join(missing, ", "))
	}
}

// The scan sees what it should: a test that finds nothing proves nothing.
func TestTheScanFindsWhatIsUsed(t *testing.T) {
	u := &usage{map[string]string{}, map[string]bool{}, map[string]bool{}}
	u.template(t, "a.html", `{{define "content"}}{{t "a.one"}} {{if .X}}{{with t "a.two" "N" .N}}{{.}}{{end}}{{else}}{{"a.three" | t}}{{end}}
{{range .L}}{{word "slip" .}}{{t (print "b." .Code ".title")}}{{end}}{{template "field" (dict "name" "x" "label" "a.four" "hint" "a.five" "type" "text")}}{{end}}`)
	for _, id := range []string{"a.one", "a.two", "a.three", "a.four", "a.five"} {
		if u.asked[id] == "" {
			t.Errorf("%s is not found in %v", id, u.asked)
		}
	}
	if len(u.asked) != 5 || !u.prefixes["slip."] || !u.prefixes["b."] {
		t.Errorf("asked %v, prefixes %v", u.asked, u.prefixes)
	}
	// Of the code that there is.
	u = used(t)
	for _, id := range []string{"layout.skip", "fault.required", "unit.hours", "kept.text", "field.optional"} {
		if !u.ids[id] && u.asked[id] == "" {
			t.Errorf("%s is used, but not found", id)
		}
	}
	if !u.looked("error.invalid.title") || !u.looked("language.en") || u.looked("layout.menu") {
		t.Errorf("prefixes %v", sorted(u.prefixes))
	}
}
