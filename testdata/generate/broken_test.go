package main

import (
	"slices"
	"strings"
	"testing"

	"rightpage/banks/catalog"
)

// The broken catalog can be read, and shows every kind of finding that a
// catalog that can be read may hold.
func TestBrokenCatalogShowsEveryFinding(t *testing.T) {
	c, report, err := catalog.Read("../broken", catalog.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	found := map[string]bool{}
	for _, f := range append(slices.Clone(report), catalog.Check(c)...) {
		t.Log(f.Severity, f.Code, f.Error())
		found[f.Code] = true
	}
	for _, k := range catalog.CheckKinds() {
		if !found[k.Code] && k.Code != "unfinished" {
			t.Errorf("no finding of kind %s: %s", k.Code, k.About)
		}
	}
	for _, f := range report {
		if !strings.Contains(f.File, ".") {
			t.Errorf("a finding of reading without its file: %v", f)
		}
	}
}
