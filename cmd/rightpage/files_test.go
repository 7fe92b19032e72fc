package main

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

func write(text string) func(io.Writer) error {
	return func(w io.Writer) error { _, err := io.WriteString(w, text); return err }
}

func read(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// only wants nothing but these names in a folder.
func only(t *testing.T, dir string, want ...string) {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, e := range list {
		got = append(got, e.Name())
	}
	if strings.Join(got, " ") != strings.Join(want, " ") {
		t.Errorf("the folder holds %v, want %v", got, want)
	}
}

// A file appears under its name only when it is whole; when writing fails, or
// is interrupted, what was there before stays, and nothing else.
func TestFilesAreWholeOrNotThere(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "bank.jsonl")
	failure := errors.New("no more questions")
	broken := func(w io.Writer) error {
		if err := write("half")(w); err != nil {
			return err
		}
		return failure
	}
	if err := writeFile(t.Context(), name, nil, broken); !errors.Is(err, failure) {
		t.Errorf("got %v", err)
	}
	only(t, dir)

	if err := writeFile(t.Context(), name, nil, write("whole")); err != nil {
		t.Fatal(err)
	}
	if err := writeFile(t.Context(), name, nil, broken); !errors.Is(err, failure) {
		t.Errorf("got %v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	interrupted := func(w io.Writer) error { cancel(); return write("other")(w) }
	if err := writeFile(ctx, name, nil, interrupted); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
	only(t, dir, "bank.jsonl")
	if got := read(t, name); got != "whole" {
		t.Errorf("the file holds %q", got)
	}
}

// The mode of a file that is written over stays, and so does a link to it.
func TestFilesAreReplacedInPlace(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("modes and links are otherwise there")
	}
	dir := t.TempDir()
	real, link := filepath.Join(dir, "real"), filepath.Join(dir, "link")
	if err := os.WriteFile(real, []byte("old"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("real", link); err != nil {
		t.Fatal(err)
	}
	if err := writeFile(t.Context(), link, nil, write("new")); err != nil {
		t.Fatal(err)
	}
	only(t, dir, "link", "real")
	if got := read(t, real); got != "new" {
		t.Errorf("the file holds %q", got)
	}
	if info, err := os.Lstat(real); err != nil || info.Mode() != 0o600 {
		t.Errorf("%v %v, want -rw-------", info.Mode(), err)
	}
	if info, err := os.Lstat(link); err != nil || info.Mode()&os.ModeSymlink == 0 {
		t.Errorf("the link has gone: %v %v", info.Mode(), err)
	}
}

// Standard output is -, and a device is written to, not replaced.
func TestFilesThatAreNone(t *testing.T) {
	var b strings.Builder
	if err := writeFile(t.Context(), "-", &b, write("x")); err != nil || b.String() != "x" {
		t.Errorf("%q %v", b.String(), err)
	}
	if err := writeFile(t.Context(), os.DevNull, nil, write("x")); err != nil {
		t.Error(err)
	}
	if info, err := os.Stat(os.DevNull); err != nil || info.Mode().IsRegular() {
		t.Fatalf("%s is %v now, %v", os.DevNull, info.Mode(), err)
	}
}

func TestReadBounded(t *testing.T) {
	name := filepath.Join(t.TempDir(), "f")
	if err := os.WriteFile(name, make([]byte, 2048), 0o600); err != nil {
		t.Fatal(err)
	}
	if b, err := readBounded(name, 2048); err != nil || len(b) != 2048 {
		t.Errorf("%d bytes, %v", len(b), err)
	}
	if _, err := readBounded(name, 2047); err == nil || !strings.Contains(err.Error(), "larger than 1 KiB") {
		t.Errorf("got %v", err)
	}
}
