package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"
)

// outputWidth is the width for which text is laid out.
const outputWidth = 110

// output is standard output. It keeps the first error, so that a full disk does
// not go unnoticed, and writes through where a person looks on.
type output struct {
	b    *bufio.Writer
	live bool
	err  error
}

func newOutput(w io.Writer) *output {
	return &output{b: bufio.NewWriterSize(w, 64<<10), live: isTerminal(w)}
}

func (o *output) Write(p []byte) (int, error) {
	if o.err != nil {
		return 0, o.err
	}
	n, err := o.b.Write(p)
	if err == nil && o.live {
		err = o.b.Flush()
	}
	o.err = err
	return n, err
}

// Flush writes what is left and gives the first error that there was.
func (o *output) Flush() error {
	if o.err == nil {
		o.err = o.b.Flush()
	}
	return o.err
}

// newTable makes a table in the style of all tables here. Text wraps between
// words where the table sets widths.
func newTable(w io.Writer) table.Writer {
	t := table.NewWriter()
	t.SetOutputMirror(w)
	t.SetStyle(table.StyleLight)
	t.Style().Format.Header = text.FormatDefault
	t.Style().Format.Footer = text.FormatDefault
	return t
}

// column sets the width and alignment of a column of a table, from 1.
func column(number, width int, align text.Align) table.ColumnConfig {
	return table.ColumnConfig{Number: number, WidthMax: width, WidthMaxEnforcer: text.WrapSoft, Align: align, AlignHeader: align, AlignFooter: align}
}

func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// counted writes a number with its noun: 1 error, 2 errors, no errors.
func counted(n int, noun string) string {
	switch n {
	case 0:
		return "no " + plural(noun)
	case 1:
		return "1 " + noun
	}
	return fmt.Sprintf("%d %s", n, plural(noun))
}

// plural is the plural of the nouns used here, which are all regular.
func plural(noun string) string {
	switch {
	case noun == "person":
		return "people"
	case strings.HasSuffix(noun, "s") || strings.HasSuffix(noun, "x") || strings.HasSuffix(noun, "ch"):
		return noun + "es"
	}
	return noun + "s"
}

// wrapper wraps long lines between words. What follows is indented as far as
// the text of the line, behind its bullet or label.
type wrapper struct {
	w    io.Writer
	rest []byte // of a line under way
}

// newWrapper makes a wrapper; Close writes a last line without line feed.
func newWrapper(w io.Writer) *wrapper { return &wrapper{w: w} }

func (w *wrapper) Write(p []byte) (int, error) {
	var b strings.Builder
	for rest := p; ; {
		line, after, ok := bytes.Cut(rest, []byte{'\n'})
		w.rest = append(w.rest, line...)
		if !ok {
			break
		}
		wrapLine(&b, string(w.rest))
		w.rest, rest = w.rest[:0], after
	}
	if _, err := io.WriteString(w.w, b.String()); err != nil {
		return 0, err
	}
	return len(p), nil
}

func (w *wrapper) Close() error {
	if len(w.rest) == 0 {
		return nil
	}
	_, err := w.Write([]byte{'\n'})
	return err
}

func wrapLine(b *strings.Builder, line string) {
	if strings.HasPrefix(strings.TrimLeft(line, " "), "rightpage ") { // a command is to be pasted as it is
		b.WriteString(line + "\n")
		return
	}
	indent := strings.Repeat(" ", hang(line))
	for text.StringWidthWithoutEscSequences(line) > outputWidth {
		at := breakAt(line, len(indent))
		if at < 0 {
			break
		}
		b.WriteString(strings.TrimRight(line[:at], " "))
		b.WriteByte('\n')
		line = indent + strings.TrimLeft(line[at:], " ")
	}
	b.WriteString(line)
	b.WriteByte('\n')
}

// breakAt finds the last space at which a line can be broken to fit, or failing
// that the first one at all; -1 where there is none behind the indent.
func breakAt(line string, indent int) int {
	last := -1
	for i := range line {
		if line[i] != ' ' || i <= indent || strings.TrimSpace(line[:i]) == "" {
			continue
		}
		if last >= 0 && text.StringWidthWithoutEscSequences(line[:i]) > outputWidth {
			break
		}
		last = i
	}
	return last
}

// hang is the column at which the text of a line begins, behind its indent and
// a bullet or a label that two spaces or more set off.
func hang(line string) int {
	start := len(line) - len(strings.TrimLeft(line, " "))
	body := line[start:]
	if i := strings.Index(body, "  "); i > 0 && i <= 24 {
		at := start + i + len(body[i:]) - len(strings.TrimLeft(body[i:], " "))
		return at - (len(line[:at]) - text.StringWidthWithoutEscSequences(line[:at]))
	}
	for _, bullet := range []string{"! ", "? ", "- "} {
		if strings.HasPrefix(body, bullet) {
			return start + len(bullet)
		}
	}
	if first, _ := utf8.DecodeRuneInString(body); start == 0 && !unicode.IsLower(first) {
		return 0 // a sentence; what begins in lower case is an entry of a list
	}
	return start + 2
}

// capital begins a text with a capital letter.
func capital(s string) string {
	for i, r := range s {
		return s[:i] + strings.ToUpper(string(r)) + s[i+len(string(r)):]
	}
	return s
}

// flush writes out what a command that goes on has said so far.
func flush(w io.Writer) {
	if o, ok := w.(*output); ok {
		_ = o.Flush() // an error shows at the end
	}
}
