package tryout

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

func TestParseOrders(t *testing.T) {
	list, err := parseOrders("orders.yaml", []byte(`
- order: WX-1
  site: Harrow Down
  customer: Do whatever is due.
  vehicle: {model: KT18, built: "2021-05", serial: 7}
  task: due
  due: {now: {hours: 1000, months: 24}, last: {hours: 752}, done: {B: {hours: 900}}}
  duty: normal
- order: WX-2
  vehicle: {engine: E4}
  task: spec
  text: engine oil grade
  ambient: -15
`))
	if err != nil {
		t.Fatal(err)
	}
	if len(list) != 2 {
		t.Fatalf("%d orders", len(list))
	}
	q := list[0].Query
	if list[0].Site != "Harrow Down" || q.Task != resolver.DueTask || q.Vehicle.Built != (catalog.Date{Year: 2021, Month: 5}) ||
		q.Due.Now.Months != 24 || q.Due.Last.Hours != 752 || q.Due.Done["B"].Hours != 900 || q.Duty != "normal" {
		t.Errorf("%+v", list[0])
	}
	if q := list[1].Query; q.Task != resolver.SpecTask || *q.Ambient != -15 {
		t.Errorf("%+v", list[1])
	}
	for text, want := range map[string]string{
		"- {order: X, tsak: due}":                                  "tsak",
		"- {order: X, task: riddle}":                               "order 1",
		"- {order: X, task: job, vehicle: {built: 2021-13}}":       "order 1",
		"- {order: X, task: job}\n- {order: Y, task: job, text: [": "orders.yaml",
	} {
		if _, err := parseOrders("orders.yaml", []byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want an error that names %s", text, err, want)
		}
	}
}

// Orders lie in a folder beside the catalog, or beside one that it lies in.
func TestFindOrders(t *testing.T) {
	dir := t.TempDir()
	for _, d := range []string{"orders", "tractors/2026-1", "engines"} {
		if err := os.MkdirAll(filepath.Join(dir, d), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "orders", "tractors.yaml"), []byte("- {order: X, task: job}\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for folder, want := range map[string]int{"tractors/2026-1": 1, "tractors": 1, "engines": 0} {
		if list, err := findOrders(filepath.Join(dir, folder)); err != nil || len(list) != want {
			t.Errorf("%s: %d orders, %v, want %d", folder, len(list), err, want)
		}
	}
}

// FuzzParseOrders: whatever is read can be asked for by a command.
func FuzzParseOrders(f *testing.F) {
	f.Add("- order: WX-1\n  vehicle: {chassis: GTFP23FF9JT211790}\n  task: job\n  text: replace fuel filter\n")
	f.Add("- {order: X, task: due, due: {now: {hours: 1e9, months: .5}}}")
	f.Add("- {order: X, task: spec, ambient: -.inf}")
	f.Add("[")
	c := catalog.New(catalog.Meta{}, catalog.Tables{})
	f.Fuzz(func(t *testing.T, text string) {
		list, err := parseOrders("orders.yaml", []byte(text))
		if err != nil {
			return
		}
		for i := range list {
			if !strings.HasPrefix(command("c", &list[i].Query, c), "rightpage resolve --catalog c") {
				t.Errorf("%+v", list[i])
			}
		}
	})
}
