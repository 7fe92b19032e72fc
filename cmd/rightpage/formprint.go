package main

import (
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"rightpage/banks"
	"rightpage/quiz/paper"
)

func formPrintCommand() *cobra.Command {
	var out, variant, size, organisation, people, path, format string
	var key, booklets, sheets, large, duplex bool
	cmd := &cobra.Command{
		Use:   "print FILE",
		Short: "Print a form: booklets with answer sheets, or the key",
		Long: `Prints a form as a PDF: for each person a booklet and an answer sheet, or with
--key the coordinator's key to one variant. People are given the variants in
turn.

The file of --people has a name a line, or is a CSV file with the columns id and
name. The id stands on the answer sheet and tells whose it is when the sheet is
read back; without ids people are numbered P1, P2 and so on.`,
		Example: `  rightpage bank make --catalog testdata/quillan --size 300 -o bank.jsonl
  rightpage form make --bank bank.jsonl -o quiz.json
  rightpage form print quiz.json -o quiz.pdf
  rightpage form print quiz.json --key -o key.pdf
  rightpage form print quiz.json --size letter --large --catalog testdata/quillan -o large.pdf`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case out == "":
				return usagef("-o FILE is missing: the PDF to write (- for standard output)")
			case !booklets && !sheets && !key:
				return usagef("nothing to print: --booklets=false and --sheets=false leave neither")
			case key && people != "":
				return usagef("--key and --people exclude each other: the key is the coordinator's")
			}
			if err := sameFile(args[0], out); err != nil {
				return err
			}
			page, err := paper.ParsePageSize(size)
			if err != nil {
				return usagef("--size %s: write a4 or letter", size)
			}
			form, err := loadForm(args[0])
			if err != nil {
				return err
			}
			chosen, err := chooseVariants(form, variant)
			if err != nil {
				return err
			}
			if key && len(chosen) > 1 {
				return usagef("the form has the variants %s: name one by --variant to print its key", variantNames(form))
			}
			list, err := readPeople(people)
			if err != nil {
				return err
			}
			var cautions []string
			if path != "" {
				c, err := loadCatalog(path)
				if err != nil {
					return err
				}
				cautions = c.Meta().Cautions
			}
			day, err := today()
			if err != nil {
				return err
			}
			o := paper.BookletOptions{Size: page, LargePrint: large, Duplex: duplex}
			doc := printDocument{File: out, Form: form.ID, Title: form.Title, Key: key}
			for _, v := range chosen {
				doc.Variants = append(doc.Variants, v.Name)
			}
			err = writeFile(cmd.Context(), out, cmd.OutOrStdout(), func(w io.Writer) error {
				if key {
					return paper.WriteKeySheet(w, paper.KeySheetOf(form, chosen[0], organisation), o, day)
				}
				bar := progress(os.Stderr, len(list), "printing")
				defer bar.Finish()
				count, err := paper.WriteRun(w, func(yield func(paper.Booklet, error) bool) {
					for i, p := range list {
						if err := cmd.Context().Err(); err != nil {
							yield(paper.Booklet{}, err)
							return
						}
						_ = bar.Add(1)
						if !yield(paper.BookletOf(form, chosen[i%len(chosen)], p.id, p.name, organisation, cautions), nil) {
							return
						}
					}
				}, paper.RunOptions{BookletOptions: o, Booklets: booklets, Sheets: sheets, Created: day})
				doc.People, doc.Pages = count.People, count.Pages
				return err
			})
			if err != nil {
				return err
			}
			w := reportTo(cmd, out)
			if format == "json" {
				return writeJSON(w, doc)
			}
			printPrinted(w, &doc, people != "")
			return nil
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	fl.BoolVar(&key, "key", false, "print the coordinator's key instead")
	fl.StringVar(&variant, "variant", "", "print the variant of this `letter` alone")
	fl.StringVar(&people, "people", "", "people in `FILE`; default one booklet with a line for the name")
	fl.BoolVar(&booklets, "booklets", true, "print the booklets")
	fl.BoolVar(&sheets, "sheets", true, "print the answer sheets")
	fl.StringVar(&size, "size", "a4", "`paper`: a4 or letter")
	fl.BoolVar(&large, "large", false, "large print")
	fl.BoolVar(&duplex, "duplex", false, "arrange for printing on both sides")
	fl.StringVar(&organisation, "organisation", "", "`name` of the organisation on the cover")
	fl.StringVar(&path, "catalog", "", "catalog at `PATH` whose cautions are to stand on the cover")
	fl.StringVarP(&out, "output", "o", "", "write the PDF to `FILE`, - for standard output")
	_ = cmd.RegisterFlagCompletionFunc("size", cobra.FixedCompletions([]string{"a4", "letter"}, cobra.ShellCompDirectiveNoFileComp))
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

// printDocument is what form print prints as JSON.
type printDocument struct {
	File     string   `json:"file"`
	Form     string   `json:"form"` // its ID
	Title    string   `json:"title"`
	Variants []string `json:"variants"`
	Key      bool     `json:"key"`
	People   int      `json:"people,omitempty"`
	Pages    int      `json:"pages,omitempty"`
}

func printPrinted(w io.Writer, doc *printDocument, named bool) {
	to := ""
	if doc.File != "-" {
		to = " to " + doc.File
	}
	switch {
	case doc.Key:
		fmt.Fprintf(w, "Key of variant %s written%s. It is not for the technicians.\n", doc.Variants[0], to)
	case named:
		fmt.Fprintf(w, "%s for %s written%s.\n", capital(counted(doc.Pages, "page")), counted(doc.People, "person"), to)
	default:
		fmt.Fprintf(w, "%s written%s, with a line for the name.\n", capital(counted(doc.Pages, "page")), to)
	}
}

func chooseVariants(form *banks.TestForm, name string) ([]*banks.Variant, error) {
	var out []*banks.Variant
	for i := range form.Variants {
		if name == "" || strings.EqualFold(form.Variants[i].Name, name) {
			out = append(out, &form.Variants[i])
		}
	}
	if len(out) == 0 {
		return nil, usagef("--variant %s: the form has %s", name, variantNames(form))
	}
	return out, nil
}

func variantNames(form *banks.TestForm) string {
	var names []string
	for i := range form.Variants {
		names = append(names, form.Variants[i].Name)
	}
	return strings.Join(names, ", ")
}

// today is the day that is printed: that of SOURCE_DATE_EPOCH where it is set
// (seconds since 1970, the convention of reproducible builds), so that a print
// can be repeated to the byte.
func today() (time.Time, error) {
	now := time.Now()
	if s := os.Getenv("SOURCE_DATE_EPOCH"); s != "" {
		n, err := strconv.ParseInt(s, 10, 64)
		if err != nil || n < 0 {
			return now, usagef("SOURCE_DATE_EPOCH is %q; it must be a number of seconds", s)
		}
		now = time.Unix(n, 0)
	}
	return now.UTC().Truncate(24 * time.Hour), nil
}
