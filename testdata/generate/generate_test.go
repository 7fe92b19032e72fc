package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"rightpage/banks/catalog"
)

// What is committed is what the generator makes.
func TestCommittedCatalogsAreWhatIsGenerated(t *testing.T) {
	out := t.TempDir()
	if err := run(out); err != nil {
		t.Fatal(err)
	}
	made := files(t, out)
	if len(made) == 0 {
		t.Fatal("the generator wrote nothing")
	}
	for name, want := range made {
		got, err := os.ReadFile(filepath.Join("..", name))
		if err != nil {
			t.Errorf("%v; run go run ./testdata/generate", err)
			continue
		}
		if string(got) != want {
			t.Errorf("%s differs from what the generator makes; run go run ./testdata/generate", name)
		}
	}
}

func files(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		name, err := filepath.Rel(dir, path)
		out[filepath.ToSlash(name)] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Every catalog holds no error, and no warning but those that are there on
// purpose: everyday words that name two or three components. README.md lists
// them.
func TestCatalogsAreSound(t *testing.T) {
	shared := []string{`"joint"`, `"lift ram"`, `"palm coupling"`}
	all, err := catalogs()
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range all {
		t.Run(m.folder, func(t *testing.T) {
			for _, f := range catalog.Check(catalog.New(m.meta, m.tables)) {
				switch {
				case f.Severity == catalog.Note:
				case f.Code == "ambiguous-term" && slices.ContainsFunc(shared, func(w string) bool { return strings.Contains(f.What, w) }):
				default:
					t.Error(f.Severity, f.Code, f.Error())
				}
			}
		})
	}
}

// The catalogs are as large as the design asks, so that they feel real.
func TestCatalogsAreLarge(t *testing.T) {
	all, err := catalogs()
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range all {
		codes := map[string]bool{}
		for _, c := range m.tables.Models {
			codes[c.Code] = true
		}
		trouble := map[string]bool{}
		for _, c := range m.tables.TroubleCodes {
			trouble[c.System+c.Code] = true
		}
		x := m.tables
		least := [...]int{40, 60, 400, 120, 2500, 300, 200, 26}
		if strings.HasPrefix(m.folder, "quillan") {
			least = [...]int{0, 25, 150, 40, 700, 100, 40, 10}
			if len(codes) > 0 {
				t.Errorf("%s has data cards; it is there to show that a catalog needs none", m.folder)
			}
		}
		got := [...]int{len(codes), len(x.Groups), len(x.Components), len(x.Publications), len(x.Procedures), len(x.Specifications), len(trouble), len(x.Bulletins)}
		for i, name := range []string{"models", "groups", "components", "publications", "procedures", "specifications", "trouble codes", "bulletins"} {
			if got[i] < least[i] {
				t.Errorf("%s: %d %s, want at least %d", m.folder, got[i], name, least[i])
			}
		}
		t.Log(m.folder, got)
	}
}

// Each revision adds, changes and (in the last) takes away, so that the
// difference of two revisions has something to teach.
func TestRevisionsDiffer(t *testing.T) {
	all, err := catalogs()
	if err != nil {
		t.Fatal(err)
	}
	at := map[string]*catalog.Catalog{}
	for _, m := range all {
		at[m.folder] = catalog.New(m.meta, m.tables)
	}
	for _, tt := range []struct {
		old, new string
		want     []string // kind and table
	}{
		{"tarnfell/2025-1", "tarnfell/2025-2", []string{"changed publications", "changed procedures", "changed specifications", "changed components", "added bulletins"}},
		{"tarnfell/2025-2", "tarnfell/2026-1", []string{"added models", "added schemes", "added publications", "added procedures", "changed publications", "changed procedures",
			"changed schedule", "added bulletins", "removed bulletins"}},
		{"quillan", "quillan-next", []string{"changed publications", "changed procedures", "changed specifications", "added bulletins"}},
	} {
		got := map[string]int{}
		for _, c := range catalog.Diff(at[tt.old], at[tt.new]) {
			got[c.Kind+" "+c.Table]++
		}
		for _, w := range tt.want {
			if got[w] == 0 {
				t.Errorf("%s → %s: no %s; there are %v", tt.old, tt.new, w, got)
			}
		}
		t.Log(tt.old, "→", tt.new, got)
	}
}
