package main

import (
	"fmt"
	"io"

	"github.com/fatih/color"
	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"
	"github.com/spf13/cobra"

	"rightpage/banks/catalog"
)

func catalogCommand() *cobra.Command {
	return group("catalog", "Check a catalog, and compare two revisions", catalogCheckCommand(), catalogDiffCommand())
}

// loadCatalog reads a catalog that has no findings of severity error.
func loadCatalog(path string) (*catalog.Catalog, error) {
	if path == "" {
		return nil, usagef("--catalog PATH is missing: a folder of CSV files or an XLSX workbook")
	}
	c, err := catalog.Load(path)
	if err != nil {
		return nil, fmt.Errorf("catalog %s: %w", path, err)
	}
	return c, nil
}

func catalogCheckCommand() *cobra.Command {
	var format string
	cmd := &cobra.Command{
		Use:   "check PATH",
		Short: "Find what is wrong in a catalog: everything at once, and how to mend it",
		Long: `Reads a folder of CSV files or an XLSX workbook and reports every finding: where
it is, what is wrong, how to mend it, and how many lookups it affects.

An error makes the catalog unfit for use; a warning leads some lookup to more
than one answer or to none; a note is worth knowing. Exit status 1 if any
finding is an error.`,
		Example: `  rightpage catalog check testdata/tarnfell/2026-1
  rightpage catalog check testdata/broken --format json`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, args []string) error {
			c, report, err := catalog.Read(args[0], catalog.DefaultLimits())
			if err != nil {
				return err
			}
			left := report.Count(catalog.Error) // rows with an error are left out
			if c != nil {
				report = append(report, catalog.Check(c)...)
			}
			report.Sort()
			doc := checkDocumentOf(args[0], c, report)
			if format == "json" {
				err = writeJSON(cmd.OutOrStdout(), doc)
			} else {
				printCheck(cmd.OutOrStdout(), &doc, left)
			}
			if err == nil && doc.Errors > 0 {
				return errNo
			}
			return err
		},
	}
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

// checkDocument is what catalog check prints as JSON.
type checkDocument struct {
	Path     string         `json:"path"`
	Title    string         `json:"title"`
	Revision string         `json:"revision"`
	Errors   int            `json:"errors"`
	Warnings int            `json:"warnings"`
	Notes    int            `json:"notes"`
	Findings catalog.Report `json:"findings"`
}

func checkDocumentOf(path string, c *catalog.Catalog, report catalog.Report) checkDocument {
	doc := checkDocument{
		Path: path, Findings: report,
		Errors: report.Count(catalog.Error), Warnings: report.Count(catalog.Warning), Notes: report.Count(catalog.Note),
	}
	if c != nil {
		doc.Title, doc.Revision = c.Meta().Title, c.Meta().Revision
	}
	if doc.Findings == nil {
		doc.Findings = catalog.Report{}
	}
	return doc
}

// printCheck prints the findings. left is the number of those for which a row
// could not be read.
func printCheck(w io.Writer, doc *checkDocument, left int) {
	name := doc.Path
	if doc.Title != "" {
		name = fmt.Sprintf("%s, revision %s (%s)", doc.Title, doc.Revision, doc.Path)
	}
	fmt.Fprintln(w, name)
	if len(doc.Findings) > 0 {
		t := newTable(w)
		t.AppendHeader(table.Row{"severity", "where", "what is wrong → how to mend it", "lookups"})
		t.SetColumnConfigs([]table.ColumnConfig{
			column(1, 8, text.AlignLeft), column(2, 26, text.AlignLeft), column(3, 56, text.AlignLeft), column(4, 8, text.AlignRight),
		})
		t.Style().Options.SeparateRows = true
		for _, f := range doc.Findings {
			lookups := ""
			if f.Lookups > 0 {
				lookups = fmt.Sprint(f.Lookups)
			}
			t.AppendRow(table.Row{severityText(f.Severity), place(f), f.Code + ": " + f.What + "\n→ " + f.Mend, lookups})
		}
		t.Render()
	}
	if left > 0 {
		fmt.Fprintln(w, "Rows that could not be read were left out: findings about what refers to them may go when they are mended.")
	}
	verdict := "fit for use"
	if doc.Errors > 0 {
		verdict = "not fit for use until the errors are mended"
	}
	fmt.Fprintf(w, "%s, %s, %s: %s.\n", capital(counted(doc.Errors, "error")), counted(doc.Warnings, "warning"), counted(doc.Notes, "note"), verdict)
}

// place says where a finding is.
func place(f catalog.Finding) string {
	where := f.File
	if f.Row > 0 {
		where += fmt.Sprintf(" row %d", f.Row)
	}
	if f.Column != "" {
		where += ", column " + f.Column
	}
	return where
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
