package main

import (
	"encoding/json"
	"os"
	"slices"
	"testing"

	"go.yaml.in/yaml/v3"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// order is a repair order: a query, and what the customer said.
type order struct {
	Order    string `json:"order"`
	Customer string `json:"customer"`
	resolver.Query
}

// Every sample order has one answer, worked by hand from the vocabularies: the
// editions in which it stands, and the bulletins that amend it.
func TestSampleOrdersAreAnswered(t *testing.T) {
	for _, tt := range []struct {
		file, catalog string
		want          map[string][]string // order → editions and bulletins, in order of name
	}{
		{"../orders/tarnfell.yaml", "../tarnfell/2026-1", map[string][]string{
			// Built June 2018: engine 3C15B, so the first part of 40-S-111; no bulletin on it.
			"WX-24117": {"40-S-111-A"},
			// 752 → 1000 h and 18 → 24 months pass the points of K1, K2, K3, KC and OL (1000 h), XA, XB, XC (24 months),
			// XG and XH (12 months) and RD (6 months). Engine 4E24B, transmission H41B, axle A31B, built May 2021.
			"WX-24131": {"31-S-101-B", "40-S-112-B", "50-S-120-B", "55-S-125-A", "60-N-915"},
			// 4E24B has a fuel rail; built March 2020, after the break of November 2019.
			"WX-24140": {"40-D-312-C"},
		}},
		{"../orders/quillan.yaml", "../quillan", map[string][]string{
			// W310A no. 12640: first edition, and the bulletin for 12000 to 13500.
			"Y-0381": {"QN-11", "QS-120-A"},
			// N311A no. 8815: the middle edition; the oil-level bulletin for 8000 to 9400 amends operation 14.
			"Y-0388": {"QN-16", "QS-140-B"},
			// W415A no. 31077: first data book, torque changed by bulletin from 28000.
			"Y-0392": {"QN-13", "QX-530-A"},
		}},
	} {
		c, err := catalog.Load(tt.catalog)
		if err != nil {
			t.Fatal(err)
		}
		r := resolver.New(c)
		for _, o := range readOrders(t, tt.file) {
			var a resolver.Answer
			r.Resolve(&o.Query, resolver.Break{}, &a)
			if a.Status != resolver.Found {
				t.Errorf("%s: %v at %v", o.Order, a.Status, a.FailedAt)
			}
			var got []string
			add := func(id string) {
				if !slices.Contains(got, id) {
					got = append(got, id)
				}
			}
			for _, it := range a.Items {
				add(c.Tables().Publications[it.Publication].ID)
			}
			for _, m := range a.Amendments {
				add(c.Tables().Bulletins[m.Bulletin].ID)
			}
			slices.Sort(got)
			if !slices.Equal(got, tt.want[o.Order]) {
				t.Errorf("%s: got %v, want %v", o.Order, got, tt.want[o.Order])
			}
		}
	}
}

func readOrders(t *testing.T, file string) []order {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var plain any
	if err := yaml.Unmarshal(data, &plain); err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(plain)
	if err != nil {
		t.Fatal(err)
	}
	var out []order
	if err := json.Unmarshal(text, &out); err != nil {
		t.Fatal(err)
	}
	if len(out) != 3 {
		t.Fatalf("%s: %d orders, want 3", file, len(out))
	}
	return out
}
