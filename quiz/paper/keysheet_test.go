package paper

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
)

func TestKeySheetTellsKeyTraceAndSlips(t *testing.T) {
	k := sampleKey()
	for _, o := range []BookletOptions{{}, {Size: Letter}, {LargePrint: true}} {
		var buf bytes.Buffer
		if err := WriteKeySheet(&buf, k, o, testDate); err != nil {
			t.Fatal(err)
		}
		tool(t, t.TempDir(), buf.Bytes(), "qpdf", "--check", "FILE")
		pages := pagesOf(t, buf.Bytes())
		for i, page := range pages {
			flat := strings.Join(strings.Fields(page), " ")
			for _, want := range []string{"KEY", "form B", "not for hand-out", fmt.Sprintf("page %d of %d", i+1, len(pages))} {
				if !strings.Contains(flat, want) {
					t.Errorf("%+v: page %d lacks %q", o, i+1, want)
				}
			}
		}
		text := strings.Join(strings.Fields(strings.Join(pages, " ")), " ")
		for _, e := range k.Entries {
			words := []string{e.Label, e.Key}
			for _, step := range e.Trace {
				words = append(words, strings.Fields(step.Rule+" "+step.Read+" "+step.Chosen+" "+strings.Join(step.RuledOut, " "))...)
			}
			for _, slip := range e.Slips {
				words = append(words, strings.Fields(slip.Slip)...)
			}
			for _, w := range words {
				if !strings.Contains(text, w) {
					t.Errorf("%+v: %s lacks %q", o, e.Label, w)
				}
			}
		}
	}
}

func TestKeySheetIsTheSameBytesEachTime(t *testing.T) {
	var a, b bytes.Buffer
	for _, w := range []*bytes.Buffer{&a, &b} {
		if err := WriteKeySheet(w, sampleKey(), BookletOptions{}, testDate); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("two prints differ")
	}
}

// A long form's table of keys and a long trace go on over the page.
func TestKeySheetOfALongForm(t *testing.T) {
	k := sampleKey()
	k.Entries = nil
	for i := range 400 {
		k.Entries = append(k.Entries, KeyEntry{Label: fmt.Sprint(i + 1), Stem: "s", Key: "a key of some length, such as a title"})
	}
	step := k.Entries[0]
	for range 80 {
		step.Trace = append(step.Trace, KeyStep{Rule: "Publication and edition", Read: "r", Chosen: "c", RuledOut: []string{"x", "y"}})
	}
	k.Entries[0] = step
	var buf bytes.Buffer
	if err := WriteKeySheet(&buf, k, BookletOptions{}, testDate); err != nil {
		t.Fatal(err)
	}
	text := pdfToText(t, buf.Bytes())
	for _, want := range []string{"All answers, continued", "1, continued", "400"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not printed", want)
		}
	}
}

func TestKeySheetRefuses(t *testing.T) {
	var buf bytes.Buffer
	if err := WriteKeySheet(&buf, KeySheet{Title: "t"}, BookletOptions{}, testDate); err == nil {
		t.Error("a key sheet without questions was printed")
	}
	k := sampleKey()
	k.Entries[0].Stem = strings.Repeat("long ", 5000)
	if err := WriteKeySheet(&buf, k, BookletOptions{}, testDate); err == nil || !strings.Contains(err.Error(), "question 1") {
		t.Errorf("%v", err)
	}
}
