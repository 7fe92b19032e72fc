package main

import (
	"io"
	"os"
	"path/filepath"
)

// createFile opens a file to write so that it appears under its name only when
// it is whole. finish takes the error of the writing; with one, nothing is left
// behind. The name - is standard output.
func createFile(name string, stdout io.Writer) (w io.Writer, finish func(error) error, err error) {
	if name == "-" {
		return stdout, func(err error) error { return err }, nil
	}
	f, err := os.CreateTemp(filepath.Dir(name), ".rightpage-*")
	if err != nil {
		return nil, nil, err
	}
	return f, func(err error) error {
		if cerr := f.Close(); err == nil {
			err = cerr
		}
		if err == nil {
			err = os.Chmod(f.Name(), 0o644)
		}
		if err == nil {
			err = os.Rename(f.Name(), name)
		}
		if err != nil {
			os.Remove(f.Name())
		}
		return err
	}, nil
}
