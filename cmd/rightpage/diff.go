package main

import (
	"cmp"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"
	"github.com/spf13/cobra"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

func catalogDiffCommand() *cobra.Command {
	var format string
	var most int
	cmd := &cobra.Command{
		Use:   "diff OLD NEW",
		Short: "Tell what changed between two revisions, and which lookups answer differently",
		Long: `Compares two revisions of a catalog: the records added, removed and changed, and
every lookup (each model, or engine, with each job, specification, trouble code,
complaint and service) that is answered differently, with the vehicles for which
it is.`,
		Example: `  rightpage catalog diff testdata/quillan testdata/quillan-next
  rightpage catalog diff testdata/quillan testdata/quillan-next --most 0 --format json`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, args []string) error {
			if most < 0 {
				return usagef("--most %d: write a number from 0; 0 lists all", most)
			}
			before, err := loadCatalog(args[0])
			if err != nil {
				return err
			}
			after, err := loadCatalog(args[1])
			if err != nil {
				return err
			}
			doc := diffDocument{
				Title: after.Meta().Title, From: before.Meta().Revision, To: after.Meta().Revision,
				Changes: catalog.Diff(before, after),
			}
			if doc.Changes == nil {
				doc.Changes = []catalog.Change{}
			}
			bar := progress(os.Stderr, -1, "asking every lookup of both revisions")
			doc.Lookups = resolver.DiffLookups(resolver.New(before), resolver.New(after), func(done, total int) {
				bar.ChangeMax(total)
				_ = bar.Set(done)
			})
			_ = bar.Finish()
			if err := cmd.Context().Err(); err != nil {
				return err
			}
			if format == "json" {
				return writeJSON(cmd.OutOrStdout(), doc)
			}
			printDiff(cmd.OutOrStdout(), &doc, most)
			return nil
		},
	}
	cmd.Flags().IntVar(&most, "most", 30, "list at most this `number` of records and of lookups; 0 lists all")
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

// diffDocument is what catalog diff prints as JSON.
type diffDocument struct {
	Title   string                  `json:"title"`
	From    string                  `json:"from"`
	To      string                  `json:"to"`
	Changes []catalog.Change        `json:"changes"`
	Lookups resolver.LookupsChanged `json:"lookups"`
}

func printDiff(w io.Writer, doc *diffDocument, most int) {
	wrap := newWrapper(w)
	defer wrap.Close()
	fmt.Fprintf(wrap, "%s: from revision %s to %s\n\n", doc.Title, doc.From, doc.To)
	printChanges(wrap, doc.Changes, most)
	fmt.Fprintf(wrap, "\n%s\n", lookupsLine(doc.Lookups))
	list := sameChanges(doc.Lookups.Changes)
	if len(list) == 0 {
		return
	}
	fmt.Fprintln(wrap, "Counted by stretch of vehicles:")
	printTasks(wrap, doc.Lookups.Changes)
	fmt.Fprintln(wrap)
	for i, c := range list {
		if i == most && most > 0 {
			fmt.Fprintf(wrap, "… and %s (--most 0 lists all)\n", counted(len(list)-i, "more change"))
			break
		}
		fmt.Fprintf(wrap, "%s “%s”\n", taskInWords(c.task), c.text)
		fmt.Fprintf(wrap, "  before  %s\n  after   %s\n  for     %s\n", c.before, c.after, c.vehicles(most))
	}
}

func lookupsLine(l resolver.LookupsChanged) string {
	verb := "answer"
	if l.Differ == 1 {
		verb = "answers"
	}
	return fmt.Sprintf("%s of %d %s differently.", capital(counted(l.Differ, "lookup")), l.Compared, verb)
}

func printChanges(w io.Writer, changes []catalog.Change, most int) {
	counts := map[string]int{}
	for _, c := range changes {
		counts[c.Kind]++
	}
	fmt.Fprintf(w, "%s added, %d removed, %d changed.\n", capital(counted(counts[catalog.Added], "record")), counts[catalog.Removed], counts[catalog.Changed])
	for i, c := range changes {
		if i == most && most > 0 {
			fmt.Fprintf(w, "  … and %s (--most 0 lists all)\n", counted(len(changes)-i, "more record"))
			break
		}
		fmt.Fprintf(w, "  %-8s  %s %s\n", c.Kind, c.Table, c.Key)
		for _, col := range c.Columns {
			fmt.Fprintf(w, "            %s: %s → %s\n", col.Column, cell(col.Old), cell(col.New))
		}
	}
}

// cell prints the content of a cell.
func cell(s string) string {
	if s == "" {
		return "(empty)"
	}
	return s
}

// printTasks counts the changes by what was asked for.
func printTasks(w io.Writer, changes []resolver.LookupChange) {
	type tally struct{ covered, dropped, other int }
	var order []string
	counts := map[string]*tally{}
	for _, c := range changes {
		t := counts[c.Task]
		if t == nil {
			t = &tally{}
			counts[c.Task] = t
			order = append(order, c.Task)
		}
		switch {
		case c.Before == notCovered:
			t.covered++
		case c.After == notCovered:
			t.dropped++
		default:
			t.other++
		}
	}
	t := newTable(w)
	t.AppendHeader(table.Row{"asked for", "answered now, not before", "no longer answered", "another answer"})
	t.SetColumnConfigs([]table.ColumnConfig{column(2, 26, text.AlignRight), column(3, 26, text.AlignRight), column(4, 26, text.AlignRight)})
	for _, name := range order {
		c := counts[name]
		t.AppendRow(table.Row{taskInWords(name), c.covered, c.dropped, c.other})
	}
	t.Render()
}

// notCovered is how a lookup without an answer stands in a comparison.
const notCovered = "not covered"

// taskInWords is what was asked for, as people say it.
func taskInWords(task string) string {
	switch task {
	case resolver.SpecTask.String():
		return "specification"
	case resolver.TroubleTask.String():
		return "trouble code"
	}
	return task
}

// sameChange is one change of an answer, with all vehicles that it is for.
type sameChange struct {
	task, text, before, after string
	stretches                 []string
	units                     map[string][]string // by stretch
}

// mostUnits bounds the vehicles that are listed for a change.
const mostUnits = 10

// vehicles lists the vehicles by when they were built. most 0 lists all.
func (s *sameChange) vehicles(most int) string {
	var b strings.Builder
	shown, all := 0, 0
	for _, st := range s.stretches {
		list := s.units[st]
		all += len(list)
		if most > 0 {
			list = list[:min(len(list), mostUnits-shown)]
		}
		if len(list) == 0 {
			continue
		}
		shown += len(list)
		if b.Len() > 0 {
			b.WriteString("; ")
		}
		b.WriteString(strings.Join(list, ", ") + st)
	}
	if all > shown {
		fmt.Fprintf(&b, "; and %d more", all-shown)
	}
	return b.String()
}

// sameChanges puts together the vehicles for which a lookup changes alike: other
// answers first, then what is no longer answered, then what is new.
func sameChanges(changes []resolver.LookupChange) []*sameChange {
	type key struct{ task, text, before, after string }
	seen := map[key]*sameChange{}
	var out []*sameChange
	for _, c := range changes {
		k := key{c.Task, c.Text, c.Before, c.After}
		s := seen[k]
		if s == nil {
			s = &sameChange{task: c.Task, text: c.Text, before: c.Before, after: c.After, units: map[string][]string{}}
			seen[k] = s
			out = append(out, s)
		}
		st := stretch(c)
		if s.units[st] == nil {
			s.stretches = append(s.stretches, st)
		}
		s.units[st] = append(s.units[st], c.Unit)
	}
	// What has another answer is what people get wrong who know the old one.
	rank := func(s *sameChange) int {
		switch notCovered {
		case s.before:
			return 2
		case s.after:
			return 1
		}
		return 0
	}
	slices.SortStableFunc(out, func(a, b *sameChange) int { return cmp.Compare(rank(a), rank(b)) })
	return out
}

func stretch(c resolver.LookupChange) string {
	switch {
	case c.From.IsZero() && c.Serial > 1:
		return fmt.Sprintf(" from serial %d", c.Serial)
	case c.From.IsZero():
		return ""
	case c.Until.IsZero():
		return fmt.Sprintf(" built from %s", c.From)
	case c.Until == c.From:
		return fmt.Sprintf(" built %s", c.From)
	}
	return fmt.Sprintf(" built %s to %s", c.From, c.Until)
}
