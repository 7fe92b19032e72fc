package main

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"
)

// TestReadmeExample holds the worked example of the README against the files in
// testdata/example, which other tests use.
func TestReadmeExample(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	blocks := regexp.MustCompile("(?s)`([a-z]+\\.(?:csv|yaml))`\n\n```[a-z]*\n(.*?)```").FindAllSubmatch(readme, -1)
	if len(blocks) != 6 {
		t.Fatalf("the README shows %d files of the example, not 6", len(blocks))
	}
	rows := 0
	for _, b := range blocks {
		want, err := os.ReadFile(filepath.Join("../../testdata/example", string(b[1])))
		if err != nil {
			t.Fatal(err)
		}
		if string(b[2]) != string(want) {
			t.Errorf("%s differs:\nREADME:\n%s\nfile:\n%s", b[1], b[2], want)
		}
		if filepath.Ext(string(b[1])) == ".csv" {
			for _, c := range b[2] {
				if c == '\n' {
					rows++
				}
			}
			rows-- // the header
		}
	}
	if rows != 10 {
		t.Errorf("the example has %d rows, not ten", rows)
	}
}
