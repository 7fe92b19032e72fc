package words

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// root is the folder of the module, as the tests see it.
const root = "../.."

// goFile is a file of Go source.
type goFile struct {
	path string // from the root of the module
	*ast.File
	fset *token.FileSet
}

// at says where a node stands.
func (f goFile) at(n ast.Node) string {
	return f.path + ":" + strconv.Itoa(f.fset.Position(n.Pos()).Line)
}

// sources parses the Go files of a folder of the module and of those within it,
// tests left out: what they say is not what pages say.
func sources(t testing.TB, folder string) []goFile {
	t.Helper()
	var list []goFile
	eachFile(t, folder, ".go", func(path string, data []byte) {
		if strings.HasSuffix(path, "_test.go") {
			return
		}
		fset := token.NewFileSet()
		file, err := parser.ParseFile(fset, path, data, parser.SkipObjectResolution)
		if err != nil {
			t.Errorf("cannot be read, so that what it uses is not known: %v", err)
			return
		}
		list = append(list, goFile{path, file, fset})
	})
	return list
}

func eachFile(t testing.TB, folder, extension string, read func(path string, data []byte)) {
	t.Helper()
	err := filepath.WalkDir(filepath.Join(root, folder), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || filepath.Ext(path) != extension {
			return err
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		name, err := filepath.Rel(root, path)
		if err == nil {
			read(filepath.ToSlash(name), data)
		}
		return err
	})
	if err != nil {
		t.Errorf("%s: %v", folder, err)
	}
}

// literal gives the text of a string constant that is written out.
func literal(n ast.Node) (string, bool) {
	b, ok := n.(*ast.BasicLit)
	if !ok || b.Kind != token.STRING {
		return "", false
	}
	s, err := strconv.Unquote(b.Value)
	return s, err == nil
}

// constants gives the string constants of a folder that keep says, by their name
// and the name of their type, "" if none is written.
func constants(t testing.TB, folder string, keep func(name, kind string) bool) []string {
	t.Helper()
	var list []string
	for _, f := range sources(t, folder) {
		ast.Inspect(f.File, func(n ast.Node) bool {
			decl, ok := n.(*ast.GenDecl)
			if !ok || decl.Tok != token.CONST {
				return true
			}
			for _, spec := range decl.Specs {
				v := spec.(*ast.ValueSpec)
				kind := ""
				switch typ := v.Type.(type) {
				case *ast.Ident:
					kind = typ.Name
				case *ast.SelectorExpr:
					kind = typ.Sel.Name
				}
				for i, name := range v.Names {
					if i < len(v.Values) && keep(name.Name, kind) {
						if s, ok := literal(v.Values[i]); ok {
							list = append(list, s)
						}
					}
				}
			}
			return false
		})
	}
	return list
}

// called gives the name of the function or method that is called.
func called(c *ast.CallExpr) string {
	switch f := c.Fun.(type) {
	case *ast.Ident:
		return f.Name
	case *ast.SelectorExpr:
		return f.Sel.Name
	}
	return ""
}
