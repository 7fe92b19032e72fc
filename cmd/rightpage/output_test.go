package main

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/jedib0t/go-pretty/v6/text"
	"pgregory.net/rapid"
)

// Lines wrap between words; what follows stands below the text of the line, not
// below its bullet or label.
func TestWrap(t *testing.T) {
	words := strings.TrimSpace(strings.Repeat("word ", 30)) // 149 wide
	for _, c := range []struct{ name, in, below string }{
		{"a sentence", "A " + words, ""},
		{"an entry of a list", "row 13: " + words, "  "},
		{"an indented line", "  the rest: " + words, "    "},
		{"a caution", "  ! " + words, "    "},
		{"a label", "  vehicle    " + words, "             "},
		{"a label and an arrow before", "  1. key     " + words, "             "},
	} {
		var b bytes.Buffer
		w := newWrapper(&b)
		if _, err := w.Write([]byte(c.in)); err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		lines := strings.Split(strings.TrimSuffix(b.String(), "\n"), "\n")
		if len(lines) != 2 {
			t.Errorf("%s: %d lines, want 2:\n%s", c.name, len(lines), b.String())
			continue
		}
		if !strings.HasPrefix(lines[1], c.below+"word") {
			t.Errorf("%s: the second line is %q, want it below %q", c.name, lines[1], c.below)
		}
	}
}

// Whatever is written in whatever pieces, no word is lost, and a line is longer
// than it should be only where one word is.
func TestWrapKeepsWords(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := strings.Join(rapid.SliceOfN(rapid.SampledFrom([]string{"a", "due", "fuel filter", "– ", "! ", "\n", "  ", "Größe", "40-S-111-A", "漢字漢字", strings.Repeat("x", 130)}), 0, 80).Draw(t, "pieces"), " ")
		cut := rapid.IntRange(0, len(in)).Draw(t, "cut")
		var b bytes.Buffer
		w := newWrapper(&b)
		_, _ = w.Write([]byte(in[:cut]))
		_, _ = w.Write([]byte(in[cut:]))
		_ = w.Close()
		if got, want := strings.Fields(b.String()), strings.Fields(in); strings.Join(got, " ") != strings.Join(want, " ") {
			t.Fatalf("the words\n%q\nbecame\n%q", want, got)
		}
		for _, line := range strings.Split(b.String(), "\n") {
			if text.StringWidthWithoutEscSequences(line) > outputWidth && len(strings.Fields(line)) > 1 && !strings.Contains(line, "xxx") {
				t.Fatalf("too wide: %q", line)
			}
		}
	})
}

func TestCounted(t *testing.T) {
	for _, c := range []struct {
		n          int
		noun, want string
	}{
		{0, "error", "no errors"}, {1, "error", "1 error"}, {2, "warning", "2 warnings"}, {1, "person", "1 person"}, {3, "person", "3 people"}, {2, "box", "2 boxes"},
	} {
		if got := counted(c.n, c.noun); got != c.want {
			t.Errorf("%d %s: %q, want %q", c.n, c.noun, got, c.want)
		}
	}
	if got := capital("no errors"); got != "No errors" {
		t.Errorf("got %q", got)
	}
}

// An error that a command did not notice at once is there at the end.
func TestOutputKeepsTheFirstError(t *testing.T) {
	full := errors.New("no space")
	o := newOutput(failing{full})
	for range 100 {
		_, _ = o.Write(bytes.Repeat([]byte("x"), 4096))
	}
	if err := o.Flush(); !errors.Is(err, full) {
		t.Errorf("got %v", err)
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

// Nothing of the operating system's wording or of the language reaches people.
func TestErrorsInWords(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	_, missing := os.Open(filepath.Join(dir, "nothing"))
	_, within := os.Open(filepath.Join(file, "within"))
	folder := os.WriteFile(dir, nil, 0o600)
	for _, c := range []struct {
		err  error
		want string
	}{
		{missing, "nothing: there is no such file or folder"},
		{within, "a part of that path is a file"},
		{folder, "that is a folder"},
		{&fs.PathError{Op: "open", Path: "kept", Err: fs.ErrPermission}, "kept: access is not allowed"},
		{errors.New("row 3: no such month"), "row 3: no such month"},
	} {
		got := inWords(c.err)
		if !strings.Contains(got, c.want) || strings.HasPrefix(got, "open ") {
			t.Errorf("%q, want it to say %q", got, c.want)
		}
	}
}
