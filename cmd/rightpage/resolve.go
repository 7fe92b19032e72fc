package main

import (
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// lookupFlags are the flags of a lookup.
type lookupFlags struct {
	catalog, chassis, model, built, engine, transmission string
	job, complaint, due, trouble, spec                   string
	system, duty, condition, side, at, passed, failed    string
	ambient                                              string
	serial                                               int64
}

func resolveCommand() *cobra.Command {
	var f lookupFlags
	var format string
	var full bool
	cmd := &cobra.Command{
		Use:   "resolve",
		Short: "Answer one lookup and show every step",
		Long: `Answers one lookup: this vehicle (or engine), this task, which page. Name the
vehicle by --chassis, or by --model with --built or --serial, or by --engine
alone where everything is keyed by engine; name one task.

Exit status 1 if the lookup is not covered.`,
		Example: `  rightpage resolve --catalog testdata/tarnfell/2026-1 --model TK24H --built 2018-03 --job "replace fuel filter"
  rightpage resolve --catalog testdata/quillan --engine QN40-001234 --due "300 h, 14 months"
  rightpage resolve --catalog testdata/tarnfell/2026-1 --model TK24H --built 2018-03 --spec "engine oil" --ambient -15 --format json`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			c, err := loadCatalog(f.catalog)
			if err != nil {
				return err
			}
			r := resolver.New(c)
			q, err := f.query(r)
			if err != nil {
				return err
			}
			a, tr := r.Explain(&q, resolver.Break{})
			rep := r.Report(&q, a, tr)
			if format == "json" {
				err = writeJSON(cmd.OutOrStdout(), rep)
			} else {
				err = rep.WriteText(cmd.OutOrStdout(), full)
			}
			if err == nil && a.Status == resolver.NotCovered {
				return errNo
			}
			return err
		},
	}
	fl := cmd.Flags()
	fl.StringVar(&f.catalog, "catalog", "", "catalog: a folder of CSV files or an XLSX workbook")
	fl.StringVar(&f.chassis, "chassis", "", "chassis number")
	fl.StringVar(&f.model, "model", "", "model code")
	fl.StringVar(&f.built, "built", "", "build date, YYYY-MM or YYYY-MM-DD")
	fl.Int64Var(&f.serial, "serial", 0, "serial")
	fl.StringVar(&f.engine, "engine", "", "engine number or engine code")
	fl.StringVar(&f.transmission, "transmission", "", "transmission number or code")
	fl.StringVar(&f.job, "job", "", "job, such as “replace fuel filter”, or a service by name")
	fl.StringVar(&f.complaint, "complaint", "", "complaint as the customer words it")
	fl.StringVar(&f.due, "due", "", "services due at a reading: “1250 h, 14 months; last 1000 h, 12 months”")
	fl.StringVar(&f.trouble, "trouble", "", "trouble code, as text or as its bytes in hexadecimal")
	fl.StringVar(&f.spec, "spec", "", "specification: the quantity")
	fl.StringVar(&f.system, "system", "", "with --trouble: the system that stored the code")
	fl.StringVar(&f.duty, "duty", "", "with --due: duty of the vehicle")
	fl.StringVar(&f.ambient, "ambient", "", "with --spec: ambient temperature in °C")
	fl.StringVar(&f.condition, "condition", "", "with --spec: condition, such as “with filter”")
	fl.StringVar(&f.side, "side", "", "with --complaint: left or right")
	fl.StringVar(&f.passed, "passed", "", "with --complaint: chapter/step that was as expected")
	fl.StringVar(&f.failed, "failed", "", "with --complaint: chapter/step that was not as expected")
	fl.BoolVar(&full, "full", false, "show the rule of each step and every record that was ruled out")
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

// query puts the flags into a query and says which are missing or at odds.
func (f *lookupFlags) query(r *resolver.Resolver) (resolver.Query, error) {
	q := resolver.Query{
		Vehicle: resolver.Vehicle{Chassis: f.chassis, Model: f.model, Serial: f.serial, Engine: f.engine, Transmission: f.transmission},
		System:  f.system, Duty: f.duty, Condition: f.condition, Side: f.side,
	}
	if f.chassis == "" && f.model == "" && f.engine == "" && f.transmission == "" {
		return q, &usageError{"name the vehicle: --chassis N, or --model M with --built or --serial, or --engine E"}
	}
	if f.serial < 0 {
		return q, &usageError{"--serial is a whole number from 1"}
	}
	var err error
	if q.Vehicle.Built, err = catalog.ParseDate(f.built); err != nil {
		return q, &usageError{"--built: " + err.Error()}
	}
	n := 0
	for _, t := range []struct {
		task resolver.Task
		text string
	}{{resolver.JobTask, f.job}, {resolver.ComplaintTask, f.complaint}, {resolver.DueTask, f.due}, {resolver.TroubleTask, f.trouble}, {resolver.SpecTask, f.spec}} {
		if t.text != "" {
			q.Task, q.Text = t.task, t.text
			n++
		}
	}
	if n != 1 {
		return q, &usageError{"name one task: --job, --complaint, --due, --trouble or --spec"}
	}
	if q.Task == resolver.DueTask {
		q.Text = ""
		if q.Due, err = r.ParseReading(f.due); err != nil {
			return q, &usageError{"--due: " + err.Error()}
		}
	}
	if f.ambient != "" {
		t, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(f.ambient), "°C"), 64)
		if err != nil {
			return q, &usageError{"--ambient: " + strconv.Quote(f.ambient) + " is no temperature; write degrees Celsius, for example -15"}
		}
		q.Ambient = &t
	}
	for _, o := range []struct {
		text    string
		outcome resolver.Outcome
	}{{f.passed, resolver.Passed}, {f.failed, resolver.Failed}} {
		if o.text == "" {
			continue
		}
		if q.Outcome != resolver.NotRun {
			return q, &usageError{"--passed and --failed exclude each other"}
		}
		chapter, step, ok := strings.Cut(o.text, "/")
		if !ok {
			chapter, step = "", o.text
		}
		q.At, q.Outcome = resolver.StepAt{Chapter: chapter, Step: step}, o.outcome
	}
	return q, nil
}
