package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"

	"github.com/fatih/color"
	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"
	"github.com/spf13/cobra"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

func catalogCommand() *cobra.Command {
	cmd := &cobra.Command{Use: "catalog", Short: "Check a catalog, and compare two revisions"}
	cmd.AddCommand(catalogCheckCommand(), catalogDiffCommand())
	return cmd
}

func catalogCheckCommand() *cobra.Command {
	var format string
	cmd := &cobra.Command{
		Use:   "check PATH",
		Short: "Find what is wrong in a catalog: everything at once, and how to mend it",
		Long: `Reads a folder of CSV files or an XLSX workbook and reports every finding: where,
what, how to mend it, and how many lookups it affects. Exit status 1 if any
finding is an error.`,
		Example: "  rightpage catalog check testdata/tarnfell/2026-1\n  rightpage catalog check literature.xlsx --format json",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			c, report, err := catalog.Read(args[0], catalog.DefaultLimits())
			if err != nil {
				return err
			}
			if c != nil {
				report = append(report, catalog.Check(c)...)
			}
			report.Sort()
			if format == "json" {
				err = writeJSON(cmd.OutOrStdout(), checkDocument(args[0], c, report))
			} else {
				printFindings(cmd.OutOrStdout(), report)
			}
			if err == nil && report.Count(catalog.Error) > 0 {
				return errNo
			}
			return err
		},
	}
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

func checkDocument(path string, c *catalog.Catalog, report catalog.Report) any {
	doc := struct {
		Path     string         `json:"path"`
		Title    string         `json:"title,omitempty"`
		Revision string         `json:"revision,omitempty"`
		Errors   int            `json:"errors"`
		Warnings int            `json:"warnings"`
		Notes    int            `json:"notes"`
		Findings catalog.Report `json:"findings"`
	}{Path: path, Errors: report.Count(catalog.Error), Warnings: report.Count(catalog.Warning), Notes: report.Count(catalog.Note), Findings: report}
	if c != nil {
		doc.Title, doc.Revision = c.Meta().Title, c.Meta().Revision
	}
	if doc.Findings == nil {
		doc.Findings = catalog.Report{}
	}
	return doc
}

func printFindings(w io.Writer, report catalog.Report) {
	if len(report) > 0 {
		t := newTable(w)
		t.AppendHeader(table.Row{"severity", "where", "what", "how to mend it", "lookups"})
		t.SetColumnConfigs([]table.ColumnConfig{
			{Number: 2, WidthMax: 34}, {Number: 3, WidthMax: 60}, {Number: 4, WidthMax: 48}, {Number: 5, Align: text.AlignRight},
		})
		for _, f := range report {
			where := f.File
			if f.Row > 0 {
				where += fmt.Sprintf(" row %d", f.Row)
			}
			if f.Column != "" {
				where += " " + f.Column
			}
			lookups := ""
			if f.Lookups > 0 {
				lookups = fmt.Sprint(f.Lookups)
			}
			t.AppendRow(table.Row{severityText(f.Severity), where, f.Code + ": " + f.What, f.Mend, lookups})
		}
		t.Render()
	}
	fmt.Fprintf(w, "%d errors, %d warnings, %d notes\n", report.Count(catalog.Error), report.Count(catalog.Warning), report.Count(catalog.Note))
}

func severityText(s catalog.Severity) string {
	switch s {
	case catalog.Error:
		return color.New(color.FgRed, color.Bold).Sprint(s)
	case catalog.Warning:
		return color.New(color.FgYellow).Sprint(s)
	}
	return s.String()
}

// newTable makes a table without colours of its own.
func newTable(w io.Writer) table.Writer {
	t := table.NewWriter()
	t.SetOutputMirror(w)
	t.SetStyle(table.StyleLight)
	t.Style().Format.Header = text.FormatDefault
	t.Style().Options.SeparateRows = false
	return t
}

func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// loadCatalog reads a catalog that has no findings of severity error.
func loadCatalog(path string) (*catalog.Catalog, error) {
	if path == "" {
		return nil, &usageError{"--catalog PATH is missing: a folder of CSV files or an XLSX workbook"}
	}
	return catalog.Load(path)
}

func catalogDiffCommand() *cobra.Command {
	var format string
	cmd := &cobra.Command{
		Use:     "diff OLD NEW",
		Short:   "Tell what changed between two revisions, and which lookups answer differently",
		Example: "  rightpage catalog diff testdata/tarnfell/2025-2 testdata/tarnfell/2026-1",
		Args:    cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			before, err := loadCatalog(args[0])
			if err != nil {
				return err
			}
			after, err := loadCatalog(args[1])
			if err != nil {
				return err
			}
			changes := catalog.Diff(before, after)
			bar := progress(os.Stderr, -1, "asking every lookup of both revisions")
			lookups := resolver.DiffLookups(resolver.New(before), resolver.New(after), func(done, total int) {
				bar.ChangeMax(total)
				_ = bar.Set(done)
			})
			_ = bar.Finish()
			if format == "json" {
				return writeJSON(cmd.OutOrStdout(), struct {
					From    string                  `json:"from"`
					To      string                  `json:"to"`
					Changes []catalog.Change        `json:"changes"`
					Lookups resolver.LookupsChanged `json:"lookups"`
				}{before.Meta().Revision, after.Meta().Revision, changes, lookups})
			}
			printDiff(cmd.OutOrStdout(), before, after, changes, lookups)
			return nil
		},
	}
	formatFlag(cmd, &format, "text", "json")
	return cmd
}
