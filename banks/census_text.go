package banks

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"
	"text/tabwriter"
)

// WriteText writes the census for people: tables of the kinds and skills, and
// for groups, models, publications and the records of the catalog what stands
// out: what has no question, what a bank has taken nothing of, and what no
// question reaches.
func (c *Census) WriteText(w io.Writer) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "Questions in %s, revision %s\n\n", c.Catalog, c.Revision)
	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', tabwriter.AlignRight)
	// Numbers stand to the right, names to the left: these are filled up.
	width := len("skill")
	for _, list := range [...][]CensusLine{c.Kinds, c.Skills} {
		for _, l := range list {
			width = max(width, len(l.Name))
		}
	}
	name := func(s string) string { return fmt.Sprintf("%-*s", width, s) }
	fmt.Fprintf(t, "%s\tsites\tat a limit\tquestions\ttaken\t\n", name("kind"))
	for _, l := range c.Kinds {
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t\n", name(l.Name), thousands(l.Sites), thousands(l.Limits), l.Questions, thousands(l.Taken))
	}
	fmt.Fprintln(t, "\t\t\t\t\t")
	fmt.Fprintf(t, "%s\t\t\tquestions\ttaken\t\n", name("skill"))
	for _, l := range c.Skills {
		fmt.Fprintf(t, "%s\t\t\t%s\t%s\t\n", name(l.Name), l.Questions, thousands(l.Taken))
	}
	if err := t.Flush(); err != nil {
		return err
	}
	b.WriteByte('\n')
	summary(&b, "Groups", c.Groups)
	summary(&b, "Models", c.Models)
	summary(&b, "Publications", c.Publications)
	if len(c.Reach) > 0 {
		b.WriteString("\nRecords that no question reaches:\n")
		t = tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
		for _, r := range c.Reach {
			n := r.Records - r.Reached
			what := "none"
			if n > 0 {
				what = thousands(n) + " of " + thousands(r.Records)
				if !r.Certain {
					what += ", as far as tried"
				}
				what += ": " + someOf(r.Missed, n)
			}
			fmt.Fprintf(t, "  %s\t%s\n", r.Table, what)
		}
		if err := t.Flush(); err != nil {
			return err
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}

// summary says of a dimension how many of its values have questions and how
// many of these a bank has none of.
func summary(b *bytes.Buffer, what string, lines []CensusLine) {
	var without, untaken []string
	taken := false
	for _, l := range lines {
		taken = taken || l.Taken > 0
		switch {
		case l.Questions.Value == 0 && l.Taken == 0:
			without = append(without, l.Name)
		case l.Taken == 0:
			untaken = append(untaken, l.Name)
		}
	}
	if len(lines) == 0 {
		return
	}
	fmt.Fprintf(b, "%s: %s of %s with questions", what, thousands(len(lines)-len(without)), thousands(len(lines)))
	if len(without) > 0 {
		fmt.Fprintf(b, "; without: %s", someOf(without, len(without)))
	}
	if taken && len(untaken) > 0 {
		fmt.Fprintf(b, "; not in the bank: %s", someOf(untaken, len(untaken)))
	}
	b.WriteString("\n")
}

// someOf lists the first few of n names.
func someOf(names []string, n int) string {
	const few = 8
	if len(names) > few {
		names = names[:few]
	}
	s := strings.Join(names, ", ")
	if n > len(names) {
		s += " and " + thousands(n-len(names)) + " more"
	}
	return s
}

// String writes the count, such as 1,193 or, where it is estimated,
// about 131,200 (129,800 to 132,300).
func (c Count) String() string {
	if c.Exact {
		return thousands(c.Value)
	}
	return "about " + thousands(c.Value) + " (" + thousands(c.Low) + " to " + thousands(c.High) + ")"
}

// thousands writes a number with its digits in groups of three.
func thousands(n int) string {
	s := strconv.Itoa(n)
	for i := len(s) - 3; i > 0 && s[i-1] != '-'; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}
