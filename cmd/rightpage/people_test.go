package main

import (
	"slices"
	"strings"
	"testing"
	"unicode/utf8"
)

func TestReadPeople(t *testing.T) {
	two := []person{{"17", "Tamsin Reedy"}, {"18", "Arkwright, Wen"}}
	for _, c := range []struct {
		name, text string
		want       []person
		err        string
	}{
		{"a name a line", "Tamsin Reedy\n\n  Arkwright, Wen \r\n", []person{{"P1", "Tamsin Reedy"}, {"P2", "Arkwright, Wen"}}, ""},
		{"a table", "id,name\n17,Tamsin Reedy\n18,\"Arkwright, Wen\"\n", two, ""},
		{"as spreadsheets of other countries save it", "\ufeffName;Site;ID\r\nTamsin Reedy;Harrow Down;17\r\n;;\r\nArkwright, Wen;Wexcombe;18\r\n", two, ""},
		{"parted by tabs", "id\tname\n17\tTamsin Reedy\n18\tArkwright, Wen\n", two, ""},
		{"without a name: a line to write it on", "id,name\n17\n", []person{{"17", ""}}, ""},
		{"nobody", "\n \n", nil, "names nobody"},
		{"a table of nobody", "id,name\n", nil, "names nobody"},
		{"an id twice", "id,name\n17,Tamsin Reedy\n17,Wen Arkwright\n", nil, "row 3: the id 17 is that of row 2"},
		{"an id missing", "id,name\n,Wen Arkwright\n", nil, "row 2: Wen Arkwright has no id"},
		{"no text", "PK\x03\x04\x00", nil, "not text in UTF-8"},
	} {
		got, err := parsePeople([]byte(c.text))
		if c.err == "" && (err != nil || !slices.Equal(got, c.want)) {
			t.Errorf("%s: %v, %v, want %v", c.name, got, err, c.want)
		}
		if c.err != "" && (err == nil || !strings.Contains(err.Error(), c.err)) {
			t.Errorf("%s: %v, want an error that says %q", c.name, err, c.err)
		}
	}
}

// FuzzReadPeople: whoever is read has an id of their own, in text that can be
// printed.
func FuzzReadPeople(f *testing.F) {
	for _, s := range []string{"Tamsin Reedy\n", "id,name\n17,\"Arkwright, Wen\"\n", "id;name\n\"17;x\n", "\ufeffid\tname\n1\t", "id,name\n,,\n1,\xff"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		list, err := parsePeople([]byte(text))
		if err != nil {
			return
		}
		seen := map[string]bool{}
		for _, p := range list {
			if p.id == "" || seen[p.id] || !utf8.ValidString(p.id+p.name) {
				t.Errorf("%q reads as %q", text, list)
			}
			seen[p.id] = true
		}
	})
}
