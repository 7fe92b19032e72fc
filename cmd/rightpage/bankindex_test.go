package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"rightpage/banks"
)

// Every question of a bank is found by its ID as it is read in order, also where
// an editor has put line ends of another kind, a byte order mark and blank lines
// into the file.
func TestFindQuestions(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "bank.jsonl")
	var out, errs bytes.Buffer
	if got := run(t.Context(), []string{"bank", "make", "--catalog", "../../testdata/quillan", "--size", "40", "--census=false", "-o", name}, &out, &errs); got != exitDone {
		t.Fatalf("exit status %d: %s", got, errs.String())
	}
	plain := read(t, name)
	edited := filepath.Join(dir, "edited.jsonl")
	if err := os.WriteFile(edited, []byte("\ufeff"+strings.ReplaceAll(plain, "\n", "\r\n\r\n")), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, file := range []string{name, edited} {
		f, err := findQuestions(file)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for q, err := range banks.ReadBank(strings.NewReader(plain)) {
			if err != nil {
				t.Fatal(err)
			}
			n++
			got, ok := f.find(q.ID)
			if !ok || cmp.Diff(q, got) != "" {
				t.Errorf("%s: %s is found %v: %s", filepath.Base(file), q.ID, ok, cmp.Diff(q, got))
			}
		}
		if _, ok := f.find("no-such-question"); ok || n != 40 || len(f.at) != 40 {
			t.Errorf("%d questions read, %d found", n, len(f.at))
		}
		if err := f.Close(); err != nil {
			t.Error(err)
		}
	}
}

// A line that is longer than what is read at once is one question all the same,
// and one that was changed is told with its number.
func TestFindQuestionsOfAnyLength(t *testing.T) {
	name := filepath.Join(t.TempDir(), "bank.jsonl")
	long := `{"id":"a","stem":"` + strings.Repeat("x", 3<<20) + `"}`
	if err := os.WriteFile(name, []byte(long+"\n"+`{"id":"b"}`), 0o644); err != nil {
		t.Fatal(err)
	}
	f, err := findQuestions(name)
	if err != nil {
		t.Fatal(err)
	}
	if got := f.at["a"]; got.length != len(long)+1 {
		t.Errorf("%+v, want a length of %d", got, len(long)+1)
	}
	if got := f.at["b"]; got.line != 2 || got.offset != int64(len(long)+1) {
		t.Errorf("%+v", got)
	}
	if _, ok := f.find("b"); ok {
		t.Error("a question that is none was found")
	}
	if err := f.Close(); err == nil || !strings.Contains(err.Error(), "line 2") {
		t.Errorf("got %v", err)
	}
}
