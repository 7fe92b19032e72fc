//go:build unix

package catalog

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

// What is no regular file could deliver without end, or wait without end.
func TestDevicesPipesAndFoldersAreNotRead(t *testing.T) {
	dir := folder(t, nil)
	if err := syscall.Mkfifo(filepath.Join(dir, "groups.csv"), 0o600); err != nil {
		t.Skip(err)
	}
	if err := os.Symlink("/dev/zero", filepath.Join(dir, "models.csv")); err != nil {
		t.Skip(err)
	}
	if err := os.Mkdir(filepath.Join(dir, "guide.csv"), 0o700); err != nil {
		t.Fatal(err)
	}
	_, report := readReport(t, dir, Limits{})
	for _, f := range []string{"groups.csv", "models.csv", "guide.csv"} {
		wantFinding(t, report, Error, "file", f, 0, "", "not a regular file")
	}
}
