package paper

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The code on the paper is read by zbar, which did not write it, from the
// page as poppler draws it.
func TestAnotherReaderReadsTheSheetCode(t *testing.T) {
	requireTool(t, "zbarimg")
	requireTool(t, "pdftoppm")
	for _, large := range []bool{false, true} {
		for _, size := range []PageSize{A4, Letter} {
			b := sampleBooklet()
			pdf, _ := printed(t, one(b), RunOptions{BookletOptions: BookletOptions{Size: size, LargePrint: large}, Sheets: true})
			dir := t.TempDir()
			tool(t, dir, pdf, "pdftoppm", "-r", "150", "-gray", "-png", "-singlefile", "FILE", "sheet")
			out := tool(t, dir, pdf, "zbarimg", "-q", "--raw", filepath.Join(dir, "sheet.png"))
			code, err := ParseSheetCode(strings.TrimSpace(out))
			if err != nil {
				t.Fatalf("%s, large %v: %v", size, large, err)
			}
			fields, err := SheetFields(b.Questions)
			if err != nil {
				t.Fatal(err)
			}
			pages, err := LayoutSheet(fields, large)
			if err != nil {
				t.Fatal(err)
			}
			if want := pages[0].Code(b.Quiz, b.Variant, b.PersonID); code != want {
				t.Errorf("%s, large %v: %v, want %v", size, large, code, want)
			}
			text := pdfToText(t, pdf)
			for _, want := range []string{code.String(), b.PersonName, b.Title, "answer sheet 1 of 1", "7.1", "8e", "number, in Nm"} {
				if !strings.Contains(text, want) {
					t.Errorf("%s, large %v: %q is not printed", size, large, want)
				}
			}
			tool(t, t.TempDir(), pdf, "qpdf", "--check", "FILE")
		}
	}
}

// A form too long for one sheet takes more, each with its own code.
func TestSeveralSheets(t *testing.T) {
	requireTool(t, "zbarimg")
	requireTool(t, "pdftoppm")
	b := sampleBooklet()
	b.Questions = nil
	for i := range 120 {
		b.Questions = append(b.Questions, Question{Number: i + 1, Stem: "s", Form: ChooseOne, Options: make([]string, MaxOptions)})
	}
	pdf, count := printed(t, one(b), RunOptions{Sheets: true})
	if count.Pages != 2 {
		t.Fatalf("%d sheets for 120 questions", count.Pages)
	}
	dir := t.TempDir()
	tool(t, dir, pdf, "pdftoppm", "-r", "150", "-gray", "-png", "FILE", "sheet")
	for i, name := range []string{"sheet-1.png", "sheet-2.png"} {
		if _, err := os.Stat(filepath.Join(dir, name)); err != nil {
			t.Fatal(err)
		}
		code, err := ParseSheetCode(strings.TrimSpace(tool(t, dir, pdf, "zbarimg", "-q", "--raw", filepath.Join(dir, name))))
		if err != nil || code.Page != i+1 || code.Pages != 2 {
			t.Errorf("sheet %d: %v, %v", i+1, code, err)
		}
	}
}

// What is the same for everybody is laid out once, and still right for a
// person whose questions differ.
func TestSheetsOfMixedForms(t *testing.T) {
	a, b := sampleBooklet(), sampleBooklet()
	b.PersonID, b.Questions = "T-099", b.Questions[:3]
	both, _ := printed(t, func(yield func(Booklet, error) bool) {
		_ = yield(a, nil) && yield(b, nil) && yield(a, nil)
	}, RunOptions{Sheets: true})
	pages := pagesOf(t, both)
	if !strings.Contains(pages[0], "8e") || strings.Contains(pages[1], "8e") || !strings.Contains(pages[2], "8e") {
		t.Error("a sheet has another form's fields")
	}
}
