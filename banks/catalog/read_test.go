package catalog

import (
	"bytes"
	"encoding/csv"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// sameTables compares records, not where they were read.
var sameTables = cmp.Options{cmpopts.IgnoreTypes(Origin{}), cmpopts.EquateEmpty()}

func p(x float64) *float64 { return &x }

// small is a catalog that uses every column of every table.
func small() *Catalog {
	d := func(s string) Date {
		x, err := ParseDate(s)
		if err != nil {
			panic(err)
		}
		return x
	}
	eff := Effectivity{{From: d("2016-03"), Through: d("2018-02-28"), Serials: Serials{From: 1200, Through: 3400}}}
	two := Effectivity{{Through: d("2014")}, {From: d("2016-03"), Serials: Serials{From: 9000}}}
	loc := Location{Page: "12-3", Sheet: "4", Frame: "C7", Section: "3.2"}
	return New(Meta{
		Title: "Workshop literature", Maker: "Tarnfell", Revision: "7", Issued: "2024-05-01", Language: "en", Units: Units{Distance: "km"},
		Actions:  map[string]Action{"replace": {Classes: []Class{Repair}, Synonyms: []string{"renew", "de:erneuern"}}},
		Jobs:     map[string]Job{"delivery inspection": {Service: "PD"}},
		Hazards:  map[string]string{"fuel": "Fuel ignites: no flames."},
		Cautions: []string{"Follow the maker's current literature."}, Resembles: [][]string{{"21", "22"}},
	}, Tables{
		Schemes: []SchemeField{
			{Scheme: "PIN", Kind: "chassis", Field: "year", First: 10, Length: 1, Check: "iso3779"},
			{Scheme: "PIN", Kind: "chassis", Field: "year", Value: "A", Means: "2010", Range: Range{From: d("2009-07"), Through: d("2010-06")}},
			{Scheme: "DM1", Kind: "trouble", Field: "spn", First: 1, Length: 3, Pack: "j1939"},
		},
		Models:     []Model{{Code: "T-410", SalesName: "Fell 41", Engine: "E3", Transmission: "G2", Units: []UnitCode{{"axle", "AX=2"}, {"loader", "L1"}}, Range: eff[0]}},
		Groups:     []Group{{Code: "21", Parent: "20", Division: "Engine", Title: "Fuel supply; tank", KeyedBy: "engine"}},
		Components: []Component{{Term: "fuel filter", Synonyms: []Synonym{{"", "filter, fuel"}, {"de", "Kraftstofffilter"}, {"", "ac:filter"}, {"", ":odd"}}, Group: "21", PartOf: "fuel system"}},
		Publications: []Publication{
			{ID: "TR-20", Class: Repair, Title: `Engine "E3" repair`, Series: "TR", Medium: "paper", KeyedBy: "engine", AppliesTo: "E3*;!E3X", Groups: []string{"20", "21"},
				Effectivity: eff, Revision: "b", Supersedes: []string{"TR-19"}, Shelf: "A 3"},
			{ID: "TR-21", Class: Maintenance, Effectivity: two},
		},
		Procedures: []Procedure{{ID: "P-1", Job: "Replace\nfuel filter", Action: "replace", Component: "fuel filter", Publication: "TR-20", Location: loc, AppliesTo: "E3*",
			Effectivity: two, Hazards: []string{"fuel"}, Replaces: []string{"P-0"}}, {ID: "P-2", Publication: "TR-20", Effectivity: eff}},
		Schedule: []Service{{Name: "B", Title: "Service B", Class: Maintenance, AppliesTo: "T*", Duty: "severe", First: Counters{100, 50, 1}, Every: Counters{0.1, 500.25, 12},
			Operations: []string{"120", "121"}, Effectivity: eff}, {Name: "C", Effectivity: two}},
		Operations: []Operation{{Number: "120", Title: "Oil", Publication: "TR-20", Location: loc, Hazards: []string{"fuel"}}},
		Specifications: []Specification{{ID: "S-1", Quantity: "oil", Synonyms: []Synonym{{"fr", "huile"}}, Value: "", Low: p(-0.07), High: p(0), Unit: "L", Ambient: Band{p(-20), p(30)},
			Condition: "with filter", Group: "21", KeyedBy: "engine", AppliesTo: "E?", Effectivity: eff, Publication: "TR-20", Location: loc},
			{ID: "S-2", Quantity: "grade", Value: "10W-30", Effectivity: two}},
		Guide:        []GuideEntry{{System: "fuel", Complaints: []Synonym{{"", "will not start"}}, KeyedBy: "engine", AppliesTo: "E3", Effectivity: eff, Publication: "TR-20", Section: "4"}, {System: "cab", Publication: "TR-20", Effectivity: two}},
		Tests:        []TestStep{{Publication: "TR-20", Chapter: "4", Step: "2a", Tests: "pressure", Do: "measure", Expect: "+3 bar", FailChapter: "5", FailSteps: []string{"1", "2"}, Side: "left", Hazards: []string{"fuel"}}},
		TroubleCodes: []TroubleCode{{System: "engine", Code: "1208-3", Meaning: "voltage", Scheme: "DM1", KeyedBy: "engine", AppliesTo: "E3", Effectivity: two, Publication: "TR-20", Location: loc, Read: "tool", Clear: "key"}, {System: "engine", Code: "5", Effectivity: eff}},
		Bulletins: []Bulletin{{ID: "B-1", Issued: d("2024-02-03"), Kind: "supplement", Subject: "_x0041_ filter", KeyedBy: "engine", AppliesTo: "E3", Effectivity: eff,
			Amends: []Target{{"procedure", "P-1"}}, Replaces: []Target{{"test", "TD-31/4/2"}}, Instruction: "see <3> & 4", Shelf: "B"}, {ID: "B-2", Effectivity: two}},
	})
}

func TestColumnsAreThoseOfTheCodecs(t *testing.T) {
	var got []TableColumns
	for _, c := range codecs() {
		tc := TableColumns{Table: c.table()}
		for _, h := range c.header() {
			tc.Columns = append(tc.Columns, h.name)
		}
		got = append(got, tc)
	}
	if d := cmp.Diff(Columns(), got); d != "" {
		t.Error(d)
	}
}

func TestFolderAndWorkbookGiveTheSameCatalog(t *testing.T) {
	c := small()
	dir := t.TempDir()
	book := filepath.Join(dir, "book.xlsx")
	if err := WriteFolder(dir, c); err != nil {
		t.Fatal(err)
	}
	if err := WriteWorkbook(book, c); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{dir, book} {
		got, report, err := Read(path, Limits{})
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range report {
			t.Errorf("%s: %v", filepath.Base(path), f)
		}
		if d := cmp.Diff(c.Tables(), got.Tables(), sameTables); d != "" {
			t.Errorf("%s: %s", filepath.Base(path), d)
		}
		if d := cmp.Diff(c.Meta(), got.Meta()); d != "" {
			t.Errorf("%s: %s", filepath.Base(path), d)
		}
	}
}

// shuffled gives a catalog whose records are in another order than New leaves
// them in, as rows in a file may be.
func shuffled(t *rapid.T, c *Catalog) *Catalog {
	out := &Catalog{meta: c.meta, t: c.t}
	v := reflect.ValueOf(&out.t).Elem()
	for i := range v.NumField() {
		s := reflect.MakeSlice(v.Field(i).Type(), v.Field(i).Len(), v.Field(i).Len())
		for k, from := range rapid.Permutation(indexes(s.Len())).Draw(t, "rows") {
			s.Index(k).Set(v.Field(i).Index(from))
		}
		v.Field(i).Set(s)
	}
	return out
}

func indexes(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// moveColumns puts the columns of a CSV file in another order, with a column of
// remarks among them.
func moveColumns(t *rapid.T, b []byte) []byte {
	rows, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	order := rapid.Permutation(indexes(len(rows[0])+1)).Draw(t, "columns")
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	for i, row := range rows {
		row = append(row, []string{"#", "=remark"}[min(i, 1)])
		moved := make([]string, len(row))
		for k, from := range order {
			moved[k] = row[from]
		}
		if err := w.Write(moved); err != nil {
			t.Fatal(err)
		}
	}
	w.Flush()
	return out.Bytes()
}

// Whatever a catalog holds, it is read back the same from either form, in
// whatever order the rows and columns stand.
func TestOrderAndFormMakeNoDifference(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := drawCatalog(t)
		files, err := encodeFolder(shuffled(t, want))
		if err != nil {
			t.Fatal(err)
		}
		book, err := encodeWorkbook(shuffled(t, want))
		if err != nil {
			t.Fatal(err)
		}
		text := &reader{lim: DefaultLimits(), left: 1 << 30}
		text.yaml(SettingsFile, files[0].data)
		for _, f := range files[1:] {
			text.csv(f.name, findCodec(strings.TrimSuffix(f.name, ".csv")), bytes.NewReader(moveColumns(t, f.data)))
		}
		cells := &reader{lim: DefaultLimits(), left: 1 << 30}
		cells.yaml("book.yaml", files[0].data)
		cells.workbook("book.xlsx", book)
		for name, r := range map[string]*reader{"folder": text, "workbook": cells} {
			for _, f := range r.report {
				if f.Severity > Note {
					t.Fatalf("%s: %v", name, f)
				}
			}
			got := New(r.meta, r.t)
			if d := cmp.Diff(want.Tables(), got.Tables(), sameTables); d != "" {
				t.Fatalf("%s: %s", name, d)
			}
			if d := cmp.Diff(want.Meta(), got.Meta()); d != "" {
				t.Fatalf("%s: %s", name, d)
			}
			if d := Diff(want, got); len(d) != 0 {
				t.Fatalf("%s: %v", name, d)
			}
		}
	})
}

// ten is a small sound catalog.
func ten() map[string]string {
	return map[string]string{
		SettingsFile:       settingsText + "actions:\n  replace: {classes: [repair]}\nhazards:\n  fuel: No flames.\n",
		"models.csv":       "model,sales_name,built_from,built_through\nT410,Fell 41,2014-01,2019-12\n",
		"groups.csv":       "group,title\n21,Fuel supply\n",
		"components.csv":   "term,synonyms,group\nfuel filter,de:Kraftstofffilter,21\n",
		"publications.csv": "publication,class,title,series,groups,applies_to,from,through\nTR-1,repair,Repair,TR,21,T4*,,2016-02\nTR-2,repair,Repair,TR,21,T4*,2016-03,\n",
		"procedures.csv":   "procedure,job,action,component,publication,page,hazards\nP-1,Replace fuel filter,replace,fuel filter,TR-1,12,fuel\nP-2,Replace fuel filter,replace,fuel filter,TR-2,14,fuel\n",
	}
}

func TestLoadTakesOnlyASoundCatalog(t *testing.T) {
	c, err := Load(folder(t, ten()))
	if err != nil {
		t.Fatal(err)
	}
	if n := len(c.Tables().Procedures); n != 2 {
		t.Errorf("%d procedures", n)
	}
	unreadable := ten()
	unreadable["publications.csv"] = "publication,class,title\nTR-1,repair,Repair\nTR-2,novel,Repair\n"
	if c, err := Load(folder(t, unreadable)); c != nil || err == nil || !strings.HasPrefix(err.Error(), `publications.csv row 3 column class: "novel" is none of the words`) {
		t.Errorf("%v", err)
	}
	dangling := ten()
	dangling["procedures.csv"] += "P-3,Replace fuel filter,replace,fuel filter,TR-9,15,fuel\n"
	if c, err := Load(folder(t, dangling)); c != nil || err == nil || !strings.Contains(err.Error(), "TR-9") || !strings.Contains(err.Error(), "procedures.csv row 4") {
		t.Errorf("%v", err)
	}
	if _, err := Load(filepath.Join(t.TempDir(), "missing")); err == nil {
		t.Error("what is not there has been loaded")
	}
}
