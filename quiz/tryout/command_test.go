package tryout

import (
	"math"
	"os/exec"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// The command for a lookup says all that the lookup says.
func TestCommand(t *testing.T) {
	cold := -15.0
	c := catalog.New(catalog.Meta{}, catalog.Tables{})
	for _, x := range []struct {
		q    resolver.Query
		want string
	}{
		{
			resolver.Query{Vehicle: resolver.Vehicle{Chassis: "GTFP23FF9JT211790"}, Task: resolver.JobTask, Text: "replace fuel filter"},
			`rightpage resolve --catalog "my catalog" --chassis GTFP23FF9JT211790 --job "replace fuel filter"`,
		},
		{
			resolver.Query{Vehicle: resolver.Vehicle{Model: "KT18", Built: catalog.Date{Year: 2021, Month: 5}, Serial: 7}, Task: resolver.SpecTask, Text: "oil", Condition: "with filter", Ambient: &cold},
			`rightpage resolve --catalog "my catalog" --model KT18 --built 2021-05 --serial 7 --spec oil --condition "with filter" --ambient -15`,
		},
		{
			resolver.Query{Vehicle: resolver.Vehicle{Engine: "150-012640-2"}, Task: resolver.DueTask, Due: resolver.Reading{Now: catalog.Counters{Hours: 400.5}, Last: catalog.Counters{Hours: 205, Months: 6}}, Duty: "salt"},
			`rightpage resolve --catalog "my catalog" --engine 150-012640-2 --due "400.5 h; last 205 h, 6 months" --duty salt`,
		},
		{
			resolver.Query{Vehicle: resolver.Vehicle{Engine: "E4", Transmission: "T1"}, Task: resolver.ComplaintTask, Text: "it won't start", At: resolver.StepAt{Chapter: "4", Step: "1"}, Outcome: resolver.Failed, Side: "left"},
			`rightpage resolve --catalog "my catalog" --engine E4 --transmission T1 --complaint "it won't start" --side left --failed 4/1`,
		},
		{
			resolver.Query{Vehicle: resolver.Vehicle{Model: "KT18"}, Task: resolver.TroubleTask, Text: "100-1", System: "engine"},
			`rightpage resolve --catalog "my catalog" --model KT18 --trouble 100-1 --system engine`,
		},
	} {
		if got := command("my catalog", &x.q, c); got != x.want {
			t.Errorf("got  %s\nwant %s", got, x.want)
		}
	}
}

// A reading that is written is read back as it was.
func TestReadingIsReadBack(t *testing.T) {
	r := resolver.New(catalog.New(catalog.Meta{Units: catalog.Units{Distance: "km", Hours: "h"}},
		catalog.Tables{Schedule: []catalog.Service{{Name: "B"}, {Name: "C"}}}))
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.Custom(func(t *rapid.T) float64 { return math.Round(rapid.Float64Range(1, 1e6).Draw(t, "x")*10) / 10 })
		counters := func(name string) catalog.Counters {
			c := catalog.Counters{Hours: value.Draw(t, name+" hours")}
			if rapid.Bool().Draw(t, name+" both") {
				c.Months = float64(rapid.IntRange(1, 400).Draw(t, name+" months"))
				c.Distance = value.Draw(t, name+" distance")
			}
			return c
		}
		want := resolver.Reading{Now: counters("now")}
		if rapid.Bool().Draw(t, "last") {
			want.Last = counters("last")
		}
		if rapid.Bool().Draw(t, "done") {
			want.Done = map[string]catalog.Counters{"B": counters("B"), "C": counters("C")}
		}
		text := reading(&want, "km")
		got, err := r.ParseReading(text)
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Fatalf("%s is read as %+v, %v, want %+v", text, got, err, want)
		}
	})
}

// A shell takes what is quoted for one word, as it was.
func TestQuoted(t *testing.T) {
	sh, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("there is no sh")
	}
	for _, word := range []string{"plain", "two words", "it won't", `"quoted"`, "$HOME", "`date`", `back\slash`, "", "*", "“Größe”", "a;b", "!", "~", "#x", "-15"} {
		out, err := exec.Command(sh, "-c", "printf %s "+quoted(word)).Output()
		if err != nil || string(out) != word {
			t.Errorf("%q quoted is %s, which is read as %q, %v", word, quoted(word), out, err)
		}
	}
	if got := quoted("/tmp/made/quiz.json"); strings.ContainsAny(got, `"'`) {
		t.Errorf("a plain path is quoted: %s", got)
	}
}
