package catalog_test

import (
	"fmt"
	"os"
	"path/filepath"

	"rightpage/banks/catalog"
)

// A catalog with two mistakes: both are reported at once, with the place and
// how to mend them.
func ExampleRead() {
	dir, err := os.MkdirTemp("", "catalog")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	for name, text := range map[string]string{
		"catalog.yaml": "title: Workshop literature\nrevision: 2024-05\n",
		"publications.csv": "publication,class,title,from,trough\n" +
			"TR-20,repair,Engine repair,2016-13,\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			fmt.Println(err)
			return
		}
	}
	_, report, err := catalog.Read(dir, catalog.Limits{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, f := range report {
		fmt.Println(f)
	}
	// Output:
	// publications.csv row 1 column trough: the table publications has no such column; did you mean through? Call the column # if it holds remarks
	// publications.csv row 2 column from: "2016-13" is not a date: there is no such month; write YYYY-MM or YYYY-MM-DD
}

func ExampleLimitStyle_Format() {
	e := catalog.Effectivity{{
		From:    catalog.Date{Year: 2016, Month: 3},
		Through: catalog.Date{Year: 2018, Month: 2},
		Serials: catalog.Serials{From: 1200},
	}}
	for _, style := range []catalog.LimitStyle{{Style: "words"}, {Style: "arrow-after"}, {Style: "arrow-before"}, {From: "ab", Through: "bis", Serial: "Nr."}} {
		fmt.Println(style.Format(e))
	}
	// Output:
	// from 2016-03 through 2018-02, from no. 1200
	// 2016-03 → 2018-02, no. 1200 →
	// → 2016-03, 2018-02 →, → no. 1200
	// ab 2016-03 bis 2018-02, ab Nr. 1200
}

func ExampleDiff() {
	old := catalog.New(catalog.Meta{Revision: "1"}, catalog.Tables{Groups: []catalog.Group{{Code: "20", Title: "Engine"}, {Code: "21", Title: "Fuel"}}})
	new := catalog.New(catalog.Meta{Revision: "2"}, catalog.Tables{Groups: []catalog.Group{{Code: "20", Title: "Engine and mounts"}}})
	for _, c := range catalog.Diff(old, new) {
		fmt.Println(c.Kind, c.Table, c.Key, c.Columns)
	}
	// Output:
	// changed settings revision [{revision 1 2}]
	// changed groups 20 [{title Engine Engine and mounts}]
	// removed groups 21 []
}
