package paper

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// requireTool skips a test for want of a program, but not in CI, where its
// absence is a fault of the set-up.
func requireTool(t testing.TB, name string) {
	t.Helper()
	if _, err := exec.LookPath(name); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s is not installed: apt-get install poppler-utils qpdf zbar-tools", name)
		}
		t.Skipf("%s is not installed (Debian packages poppler-utils, qpdf, zbar-tools)", name)
	}
}

// tool runs a program from outside on a PDF, in a folder of its own, and
// returns what it prints. "FILE" among the arguments stands for the PDF.
func tool(t testing.TB, dir string, pdf []byte, name string, args ...string) string {
	t.Helper()
	requireTool(t, name)
	file := filepath.Join(dir, "paper.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	for i, a := range args {
		if a == "FILE" {
			args[i] = file
		}
	}
	cmd := exec.Command(name, args...)
	cmd.Dir = dir
	var out, complaints bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaints
	if err := cmd.Run(); err != nil {
		t.Fatalf("%s: %v\n%s%s", name, err, out.String(), complaints.String())
	}
	return out.String()
}

// pdfToText is the text of a PDF in reading order, by poppler.
func pdfToText(t testing.TB, pdf []byte) string {
	t.Helper()
	return tool(t, t.TempDir(), pdf, "pdftotext", "-layout", "-enc", "UTF-8", "FILE", "-")
}
