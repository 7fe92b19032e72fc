package main

import (
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"rightpage/banks"
	"rightpage/banks/qti"
)

func bankExportCommand() *cobra.Command {
	var out, format, report, title string
	cmd := &cobra.Command{
		Use:   "export FILE",
		Short: "Write the questions of a bank or form for another program",
		Long: `Writes the questions as a package in an open standard, QTI 3.0 (1EdTech Question
and Test Interoperability): one item a question with its key, and the slip of
each wrong option as feedback.`,
		Example: `  rightpage bank make --catalog testdata/quillan --size 300 -o bank.jsonl
  rightpage bank export bank.jsonl -o bank.zip
  rightpage bank import bank.zip -o again.jsonl`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, args []string) error {
			if out == "" {
				return usagef("-o FILE is missing: the package to write (- for standard output)")
			}
			if err := sameFile(args[0], out); err != nil {
				return err
			}
			questions, finish, err := questionsOf(args[0])
			if err != nil {
				return err
			}
			defer finish()
			if title == "" {
				title = strings.TrimSuffix(filepath.Base(args[0]), filepath.Ext(args[0]))
			}
			doc := exportDocument{File: out, Standard: "QTI 3.0"}
			bar := progress(os.Stderr, -1, "writing items")
			counted := func(yield func(*banks.Question, error) bool) {
				for q, err := range questions {
					if err == nil {
						err = cmd.Context().Err()
					}
					if err != nil {
						yield(nil, err)
						return
					}
					doc.Questions++
					_ = bar.Add(1)
					if !yield(q, nil) {
						return
					}
				}
				if doc.Questions == 0 {
					yield(nil, errors.New("there are no questions in it"))
				}
			}
			err = writeFile(cmd.Context(), out, cmd.OutOrStdout(), func(w io.Writer) error { return qti.Export(w, title, counted) })
			_ = bar.Finish()
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			w := reportTo(cmd, out)
			if report == "json" {
				return writeJSON(w, doc)
			}
			printExported(w, &doc)
			return nil
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	fl.StringVar(&format, "to", "qti", "`standard` to write: qti")
	fl.StringVar(&title, "title", "", "`title` of the package (default: the name of the file)")
	fl.StringVarP(&out, "output", "o", "", "write the package to `FILE` (ZIP), - for standard output")
	_ = cmd.RegisterFlagCompletionFunc("to", cobra.FixedCompletions([]string{"qti"}, cobra.ShellCompDirectiveNoFileComp))
	formatFlag(cmd, &report, "text", "json")
	check := cmd.PreRunE
	cmd.PreRunE = func(c *cobra.Command, args []string) error {
		if format != "qti" {
			return usagef("--to %s is unknown; there is qti", format)
		}
		return check(c, args)
	}
	return cmd
}

// exportDocument is what bank export prints as JSON.
type exportDocument struct {
	File      string `json:"file"`
	Standard  string `json:"standard"`
	Questions int    `json:"questions"`
}

func printExported(w io.Writer, doc *exportDocument) {
	to := ""
	if doc.File != "-" {
		to = " to " + doc.File
	}
	fmt.Fprintf(w, "%s written%s as a %s package. It holds the keys.\n", capital(counted(doc.Questions, "question")), to, doc.Standard)
}

// questionsOf reads the questions of a bank one at a time, or those of a form.
func questionsOf(name string) (questions iter.Seq2[*banks.Question, error], finish func(), err error) {
	form, err := isForm(name)
	if err != nil {
		return nil, nil, err
	}
	if form {
		list, err := formQuestions(name)
		return func(yield func(*banks.Question, error) bool) {
			for _, q := range list {
				if !yield(q, nil) {
					return
				}
			}
		}, func() {}, err
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, nil, err
	}
	return banks.ReadBank(f), func() { f.Close() }, nil
}

func bankImportCommand() *cobra.Command {
	var out, format, kind, skill string
	cmd := &cobra.Command{
		Use:   "import FILE",
		Short: "Read a package of questions into a bank",
		Long: `Reads a QTI 3.0 package. What was written by bank export comes back as it was.
Questions of ours that were edited in between are named, as are items that
cannot be asked here, with the reason. Exit status 1 if any item was refused.`,
		Example: `  rightpage bank make --catalog testdata/quillan --size 300 -o bank.jsonl
  rightpage bank export bank.jsonl -o bank.zip
  rightpage bank import bank.zip -o again.jsonl --format json`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, args []string) error {
			if out == "" {
				return usagef("-o FILE is missing: the bank to write (- for standard output)")
			}
			if err := sameFile(args[0], out); err != nil {
				return err
			}
			f, err := os.Open(args[0])
			if err != nil {
				return err
			}
			defer f.Close()
			info, err := f.Stat()
			if err != nil {
				return err
			}
			in, err := qti.Import(f, info.Size(), qti.ImportOptions{Kind: kind, Skill: skill})
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			err = writeFile(cmd.Context(), out, cmd.OutOrStdout(), func(w io.Writer) error {
				for _, q := range in.Questions {
					line, err := banks.Encode(q)
					if err != nil {
						return err
					}
					if _, err := w.Write(append(line, '\n')); err != nil {
						return err
					}
				}
				return nil
			})
			if err != nil {
				return err
			}
			doc := importDocument{File: out, Title: in.Title, Questions: len(in.Questions), Changed: append([]qti.Note{}, in.Changed...), Refused: append([]qti.Note{}, in.Refused...)}
			w := reportTo(cmd, out)
			if format == "json" {
				err = writeJSON(w, doc)
			} else {
				err = printImported(w, &doc)
			}
			if err == nil && len(doc.Refused) > 0 {
				return errNo
			}
			return err
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	fl.StringVar(&kind, "kind", "", "`kind` to give questions that do not come from here")
	fl.StringVar(&skill, "skill", "", "`skill` to give questions that do not come from here")
	fl.StringVarP(&out, "output", "o", "", "write the bank to `FILE` (JSON Lines), - for standard output")
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

// importDocument is what bank import prints as JSON.
type importDocument struct {
	File      string     `json:"file"`
	Title     string     `json:"title"`
	Questions int        `json:"questions"`
	Changed   []qti.Note `json:"changed"`
	Refused   []qti.Note `json:"refused"`
}

func printImported(out io.Writer, doc *importDocument) error {
	w := newWrapper(out)
	for _, n := range doc.Changed {
		fmt.Fprintf(w, "changed  %s (%s): %s\n", n.ID, n.File, n.Says)
	}
	for _, n := range doc.Refused {
		fmt.Fprintf(w, "refused  %s (%s): %s\n", n.ID, n.File, n.Says)
	}
	to := ""
	if doc.File != "-" {
		to = " to " + doc.File
	}
	fmt.Fprintf(w, "%s from “%s” written%s; %d of them changed since they were exported; %s refused.\n",
		capital(counted(doc.Questions, "question")), doc.Title, to, len(doc.Changed), counted(len(doc.Refused), "item"))
	return w.Close()
}
