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
	system, duty, condition, side, passed, failed        string
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

Where what is known leaves several answers, all are given with what tells them
apart. Exit status 1 if the lookup is not covered.`,
		Example: `  rightpage resolve --catalog testdata/tarnfell/2026-1 --chassis GTFP23FF9JT211790 --job "replace fuel filter"
  rightpage resolve --catalog testdata/tarnfell/2026-1 --chassis GTFV24LE1MS604105 --due "1000 h, 24 months; last 752 h, 18 months" --duty normal
  rightpage resolve --catalog testdata/tarnfell/2026-1 --model PC2C2HA --built 2018-06 --spec "engine oil grade" --ambient -15 --format json
  rightpage resolve --catalog testdata/quillan --engine 160-031077-3 --spec "propeller nut torque"`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := f.check(); err != nil {
				return err
			}
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
				w := newWrapper(cmd.OutOrStdout())
				if err = rep.WriteText(w, full); err == nil {
					err = w.Close()
				}
			}
			if err == nil && a.Status == resolver.NotCovered {
				return errNo
			}
			return err
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	catalogFlag(cmd, &f.catalog)
	fl.StringVar(&f.chassis, "chassis", "", "chassis `number`")
	fl.StringVar(&f.model, "model", "", "model `code`")
	fl.StringVar(&f.built, "built", "", "build `date`, YYYY-MM or YYYY-MM-DD")
	fl.Int64Var(&f.serial, "serial", 0, "serial `number`, from 1")
	fl.StringVar(&f.engine, "engine", "", "engine `number` or engine code")
	fl.StringVar(&f.transmission, "transmission", "", "transmission `number` or code")
	fl.StringVar(&f.job, "job", "", "a `job`, such as “replace fuel filter”, or a service by name")
	fl.StringVar(&f.complaint, "complaint", "", "a complaint, in the customer's `words`")
	fl.StringVar(&f.due, "due", "", "the services due at a `reading`: “1250 h, 14 months; last 1000 h, 12 months”")
	fl.StringVar(&f.trouble, "trouble", "", "a trouble `code`, as text or as its bytes in hexadecimal")
	fl.StringVar(&f.spec, "spec", "", "a specification, by the `name` of the quantity")
	fl.StringVar(&f.duty, "duty", "", "with --due: the `duty` of the vehicle")
	fl.StringVar(&f.system, "system", "", "with --trouble: the `system` that stored the code")
	fl.StringVar(&f.ambient, "ambient", "", "with --spec: ambient `temperature` in °C")
	fl.StringVar(&f.condition, "condition", "", "with --spec: the `condition`, such as “with filter”")
	fl.StringVar(&f.side, "side", "", "with --complaint: the `side`, left or right")
	fl.StringVar(&f.passed, "passed", "", "with --complaint: `chapter/step` that was as expected")
	fl.StringVar(&f.failed, "failed", "", "with --complaint: `chapter/step` that was not as expected")
	fl.BoolVar(&full, "full", false, "show the rule of each step and every record that was ruled out")
	_ = cmd.RegisterFlagCompletionFunc("side", cobra.FixedCompletions([]string{"left", "right"}, cobra.ShellCompDirectiveNoFileComp))
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

// tasks lists the flags that name a task.
func (f *lookupFlags) tasks() []struct {
	task resolver.Task
	text string
} {
	return []struct {
		task resolver.Task
		text string
	}{{resolver.JobTask, f.job}, {resolver.ComplaintTask, f.complaint}, {resolver.DueTask, f.due}, {resolver.TroubleTask, f.trouble}, {resolver.SpecTask, f.spec}}
}

// check says which flags are missing or at odds.
func (f *lookupFlags) check() error {
	if f.chassis == "" && f.model == "" && f.engine == "" && f.transmission == "" {
		return usagef("name the vehicle: --chassis N, or --model M with --built or --serial, or --engine E")
	}
	if f.serial < 0 {
		return usagef("--serial %d: serials count from 1", f.serial)
	}
	if f.side != "" && f.side != "left" && f.side != "right" {
		return usagef("--side %s: write left or right", f.side)
	}
	if f.passed != "" && f.failed != "" {
		return usagef("--passed and --failed exclude each other: a step has one outcome")
	}
	var named []string
	for _, t := range f.tasks() {
		if t.text != "" {
			named = append(named, "--"+t.task.String())
		}
	}
	if len(named) == 0 {
		return usagef("name one task: --job, --complaint, --due, --trouble or --spec")
	}
	if len(named) > 1 {
		return usagef("%s are several tasks; name one", strings.Join(named, " and "))
	}
	for _, o := range []struct{ flag, value, goes string }{
		{"duty", f.duty, "due"}, {"system", f.system, "trouble"}, {"ambient", f.ambient, "spec"}, {"condition", f.condition, "spec"},
		{"side", f.side, "complaint"}, {"passed", f.passed, "complaint"}, {"failed", f.failed, "complaint"},
	} {
		// The schedule of a service by name depends on the duty, too.
		if o.value != "" && named[0] != "--"+o.goes && !(o.flag == "duty" && named[0] == "--job") {
			return usagef("--%s goes with --%s, not with %s", o.flag, o.goes, named[0])
		}
	}
	return nil
}

// query puts the flags into a query.
func (f *lookupFlags) query(r *resolver.Resolver) (resolver.Query, error) {
	q := resolver.Query{
		Vehicle: resolver.Vehicle{Chassis: f.chassis, Model: f.model, Serial: f.serial, Engine: f.engine, Transmission: f.transmission},
		System:  f.system, Duty: f.duty, Condition: f.condition, Side: f.side,
	}
	var err error
	if q.Vehicle.Built, err = catalog.ParseDate(f.built); err != nil {
		return q, usagef("--built: %v", err)
	}
	for _, t := range f.tasks() {
		if t.text != "" {
			q.Task, q.Text = t.task, t.text
		}
	}
	if q.Task == resolver.DueTask {
		q.Text = ""
		if q.Due, err = r.ParseReading(f.due); err != nil {
			return q, usagef("--due: %v", err)
		}
	}
	if f.ambient != "" {
		text := strings.Replace(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(f.ambient), "°C")), "−", "-", 1)
		t, err := strconv.ParseFloat(text, 64)
		if err != nil || t < -90 || t > 90 {
			return q, usagef("--ambient %s is no temperature; write degrees Celsius, for example -15", f.ambient)
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
		chapter, step, ok := strings.Cut(o.text, "/")
		if !ok {
			chapter, step = "", o.text
		}
		q.At, q.Outcome = resolver.StepAt{Chapter: chapter, Step: step}, o.outcome
	}
	return q, nil
}
