package tryout

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"go.yaml.in/yaml/v3"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// order is a sample repair order: what the customer said, and the lookup.
type order struct {
	Order    string         `yaml:"order"`
	Site     string         `yaml:"site"`
	Customer string         `yaml:"customer"`
	Query    resolver.Query `yaml:"-"`
}

// orderFile is an order as the file holds it.
type orderFile struct {
	Order    string `yaml:"order"`
	Site     string `yaml:"site"`
	Customer string `yaml:"customer"`
	Vehicle  struct {
		Chassis      string `yaml:"chassis"`
		Model        string `yaml:"model"`
		Built        string `yaml:"built"`
		Serial       int64  `yaml:"serial"`
		Engine       string `yaml:"engine"`
		Transmission string `yaml:"transmission"`
	} `yaml:"vehicle"`
	Task string `yaml:"task"`
	Text string `yaml:"text"`
	Due  struct {
		Now  counters            `yaml:"now"`
		Last counters            `yaml:"last"`
		Done map[string]counters `yaml:"done"`
	} `yaml:"due"`
	System    string   `yaml:"system"`
	Duty      string   `yaml:"duty"`
	Condition string   `yaml:"condition"`
	Side      string   `yaml:"side"`
	Ambient   *float64 `yaml:"ambient"`
}

type counters struct {
	Distance float64 `yaml:"distance"`
	Hours    float64 `yaml:"hours"`
	Months   float64 `yaml:"months"`
}

// findOrders looks for sample orders beside a catalog: the file orders/NAME.yaml
// beside any folder NAME that the path of the catalog goes through. There need
// be none.
func findOrders(dir string) ([]order, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	for up := dir; ; up = filepath.Dir(up) {
		name := filepath.Join(filepath.Dir(up), "orders", filepath.Base(up)+".yaml")
		data, err := os.ReadFile(name)
		switch {
		case err == nil:
			return parseOrders(name, data)
		case !errors.Is(err, fs.ErrNotExist):
			return nil, err
		case filepath.Dir(up) == up:
			return nil, nil
		}
	}
}

func parseOrders(name string, data []byte) ([]order, error) {
	var files []orderFile
	d := yaml.NewDecoder(bytes.NewReader(data))
	d.KnownFields(true)
	if err := d.Decode(&files); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	var out []order
	for i, f := range files {
		o := order{Order: f.Order, Site: f.Site, Customer: f.Customer}
		v := f.Vehicle
		built, err := catalog.ParseDate(v.Built)
		if err != nil {
			return nil, fmt.Errorf("%s: order %d: %w", name, i+1, err)
		}
		q := &o.Query
		if err := q.Task.UnmarshalText([]byte(f.Task)); err != nil {
			return nil, fmt.Errorf("%s: order %d: %w", name, i+1, err)
		}
		q.Vehicle = resolver.Vehicle{Chassis: v.Chassis, Model: v.Model, Built: built, Serial: v.Serial, Engine: v.Engine, Transmission: v.Transmission}
		q.Text, q.System, q.Duty, q.Condition, q.Side, q.Ambient = f.Text, f.System, f.Duty, f.Condition, f.Side, f.Ambient
		q.Due = resolver.Reading{Now: catalog.Counters(f.Due.Now), Last: catalog.Counters(f.Due.Last)}
		for name, c := range f.Due.Done {
			if q.Due.Done == nil {
				q.Due.Done = map[string]catalog.Counters{}
			}
			q.Due.Done[name] = catalog.Counters(c)
		}
		out = append(out, o)
	}
	return out, nil
}
