package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"rightpage/banks"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
)

func bankShowCommand() *cobra.Command {
	var path, format, id, kind string
	var verify bool
	var most int
	cmd := &cobra.Command{
		Use:   "show FILE",
		Short: "Print the questions of a bank with their keys, or verify them",
		Long: `Prints questions with key, slips and trace. With --verify every key and every
wrong option is computed again from the catalog: the key must be the one answer,
and no wrong option may be right. Exit status 1 if any is not so, or if the bank
has no question of the ID or kind asked for.`,
		Example: `  rightpage bank make --catalog testdata/quillan --size 300 -o bank.jsonl
  rightpage bank show bank.jsonl --most 3
  rightpage bank show bank.jsonl --kind edition --format json
  rightpage bank show bank.jsonl --verify --catalog testdata/quillan`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, args []string) error {
			if most < 0 {
				return usagef("--most %d: write a number from 0; 0 shows all", most)
			}
			if _, known := kinds.Find(kind); kind != "" && !known {
				return usagef("--kind %s is unknown; there are %s", kind, strings.Join(kindNames(), ", "))
			}
			if form, err := isForm(args[0]); err != nil {
				return err
			} else if form {
				return fmt.Errorf("%s is a form, not a bank; print a form with: rightpage form print", args[0])
			}
			f, err := os.Open(args[0])
			if err != nil {
				return err
			}
			defer f.Close()
			questions := func(yield func(*banks.Question, error) bool) {
				for q, err := range banks.ReadBank(f) {
					if err == nil {
						err = cmd.Context().Err()
					}
					if err != nil {
						yield(nil, fmt.Errorf("%s: %w", args[0], err))
						return
					}
					if (id == "" || q.ID == strings.ToLower(id)) && (kind == "" || q.Kind == kind) && !yield(q, nil) {
						return
					}
				}
			}
			if verify {
				return verifyBank(cmd, questions, path, format)
			}
			return showBank(cmd, questions, most, format, args[0])
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	fl.StringVar(&id, "id", "", "the question of this `ID` alone")
	fl.StringVar(&kind, "kind", "", "questions of this `kind` alone")
	fl.IntVar(&most, "most", 0, "show at most this `number` of questions; 0 shows all")
	fl.BoolVar(&verify, "verify", false, "compute every key and wrong option again; needs --catalog")
	catalogFlag(cmd, &path)
	_ = cmd.RegisterFlagCompletionFunc("kind", func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return kindNames(), cobra.ShellCompDirectiveNoFileComp
	})
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

func kindNames() []string {
	var out []string
	for _, k := range kinds.All() {
		out = append(out, k.Name)
	}
	return out
}

// questionList is a sequence of questions that an error ends.
type questionList func(yield func(*banks.Question, error) bool)

// showBank prints questions as they are read, so that a bank of any size can be
// looked through.
func showBank(cmd *cobra.Command, questions questionList, most int, format, file string) error {
	w := cmd.OutOrStdout()
	text := newWrapper(w)
	n := 0
	for q, err := range questions {
		if err != nil {
			return err
		}
		if format == "json" {
			err = writeElement(w, "questions", n, q)
		} else {
			printQuestion(text, q)
		}
		if err != nil {
			return err
		}
		if n++; n == most {
			break
		}
	}
	if format == "json" {
		if err := closeElements(w, "questions", n); err != nil {
			return err
		}
	}
	if n == 0 {
		what := "questions"
		if cmd.Flags().Changed("id") || cmd.Flags().Changed("kind") {
			what = "such question"
		}
		fmt.Fprintf(cmd.ErrOrStderr(), "%s holds no %s.\n", file, what)
		return errNo
	}
	return text.Close()
}

// writeElement writes element n of the only list of a JSON object, which is
// written as it comes.
func writeElement(w io.Writer, name string, n int, v any) error {
	open := ",\n    "
	if n == 0 {
		open = fmt.Sprintf("{\n  %q: [\n    ", name)
	}
	b, err := json.MarshalIndent(v, "    ", "  ")
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(w, "%s%s", open, b)
	return err
}

// closeElements closes a list of n elements and its object.
func closeElements(w io.Writer, name string, n int) error {
	end := "\n  ]\n}\n"
	if n == 0 {
		end = fmt.Sprintf("{\n  %q: []\n}\n", name)
	}
	_, err := io.WriteString(w, end)
	return err
}

// verifyDocument is what bank show --verify prints as JSON.
type verifyDocument struct {
	Questions int            `json:"questions"`
	Differ    int            `json:"differ"`
	Findings  []verifyDiffer `json:"findings"`
}

// verifyDiffer is a question that is not as the catalog has it.
type verifyDiffer struct {
	ID   string `json:"id"`
	Kind string `json:"kind"`
	What string `json:"what"`
}

func verifyBank(cmd *cobra.Command, questions questionList, path, format string) error {
	c, err := loadCatalog(path)
	if err != nil {
		return err
	}
	v := banks.NewVerifier(banks.NewSource(resolver.New(c)), kinds.All())
	doc := verifyDocument{Findings: []verifyDiffer{}}
	bar := progress(os.Stderr, -1, "computing keys again")
	for q, err := range questions {
		if err != nil {
			return err
		}
		doc.Questions++
		_ = bar.Add(1)
		if err := v.Verify(q); err != nil {
			doc.Findings = append(doc.Findings, verifyDiffer{q.ID, q.Kind, err.Error()})
		}
	}
	_ = bar.Finish()
	doc.Differ = len(doc.Findings)
	if format == "json" {
		err = writeJSON(cmd.OutOrStdout(), doc)
	} else {
		printVerified(cmd.OutOrStdout(), &doc)
	}
	if err == nil && doc.Differ > 0 {
		return errNo
	}
	return err
}

// printVerified lists what differs; questions that differ alike are told
// together.
func printVerified(w io.Writer, doc *verifyDocument) {
	wrap := newWrapper(w)
	defer wrap.Close()
	var order []string
	alike := map[string][]string{}
	for _, f := range doc.Findings {
		if alike[f.What] == nil {
			order = append(order, f.What)
		}
		alike[f.What] = append(alike[f.What], f.ID+" ("+f.Kind+")")
	}
	for _, what := range order {
		list := alike[what]
		more := ""
		if len(list) > mostAlike {
			more = fmt.Sprintf(" and %d more", len(list)-mostAlike)
			list = list[:mostAlike]
		}
		fmt.Fprintf(wrap, "%s\n  %s%s\n", what, strings.Join(list, ", "), more)
	}
	if doc.Differ == 0 {
		fmt.Fprintf(wrap, "%s computed again: every key and every wrong option is as the catalog has it.\n", capital(counted(doc.Questions, "question")))
		return
	}
	fmt.Fprintf(wrap, "%d of %s not as the catalog has it.\n", doc.Differ, counted(doc.Questions, "question"))
}

// mostAlike bounds the list of questions that differ alike.
const mostAlike = 8

func printQuestion(w io.Writer, q *banks.Question) {
	title := q.Kind
	if k, ok := kinds.Find(q.Kind); ok {
		title += " (" + k.Title + ")"
	}
	fmt.Fprintf(w, "%s  %s; %s; predicted difficulty %s logits, %s", q.ID, title, formInWords(q.Form), signed(q.Logit), banks.BandOf(q.Logit))
	if q.Boundary {
		fmt.Fprint(w, "; at a limit")
	}
	fmt.Fprintln(w)
	for _, l := range q.Order {
		fmt.Fprintf(w, "    %-20s  %s\n", l.Label, l.Value)
	}
	fmt.Fprintf(w, "  %s\n", q.Stem)
	printOptions(w, "    ", q.Options)
	for i, s := range q.Steps {
		fmt.Fprintf(w, "  %d. %s: %s\n", i+1, s.Ask, s.KeyText())
		printOptions(w, "       ", s.Options)
	}
	fmt.Fprintf(w, "  key     %s\n", q.KeyText())
	for _, s := range q.Slipped {
		fmt.Fprintf(w, "  wrong   %s: %s\n", s.Value, s.Slip)
	}
	for _, t := range q.Trace {
		fmt.Fprintf(w, "  trace   %s → %s\n", t.Step, t.Result)
	}
	for _, c := range q.Cautions {
		fmt.Fprintf(w, "  ! %s\n", c)
	}
	fmt.Fprintln(w)
}

func formInWords(f banks.Form) string {
	switch f {
	case banks.OneOf:
		return "one option"
	case banks.SomeOf:
		return "every option that is right"
	case banks.Typed:
		return "typed answer"
	case banks.Number:
		return "number with its unit"
	case banks.Ordered:
		return "options in order"
	case banks.Chase:
		return "step by step"
	}
	return string(f)
}

func printOptions(w io.Writer, indent string, options []banks.Option) {
	for i, o := range options {
		mark := "right"
		if !o.Right {
			mark = "wrong: " + o.Slip.String()
		}
		fmt.Fprintf(w, "%s%s  %s  [%s]\n", indent, banks.Letter(i), strings.TrimSpace(o.Text), mark)
	}
}

// signed writes a number with a proper minus sign.
func signed(x float64) string {
	return strings.Replace(fmt.Sprintf("%.2f", x), "-", "−", 1)
}
