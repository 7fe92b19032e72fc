package main

import (
	"bytes"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"rightpage/banks"
)

func formCommand() *cobra.Command {
	return group("form", "Set a form from a bank, and print it", formMakeCommand(), formPrintCommand())
}

// isForm tells a form file from a bank by its beginning.
func isForm(name string) (bool, error) {
	f, err := os.Open(name)
	if err != nil {
		return false, err
	}
	defer f.Close()
	head := make([]byte, 256)
	n, err := io.ReadFull(f, head)
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return false, err
	}
	body, ok := bytes.CutPrefix(bytes.TrimLeft(head[:n], " \t\r\n\ufeff"), []byte{'{'})
	return ok && bytes.HasPrefix(bytes.TrimLeft(body, " \t\r\n"), []byte(`"format"`)), nil
}

// loadForm reads a form file.
func loadForm(name string) (*banks.TestForm, error) {
	if form, err := isForm(name); err != nil {
		return nil, err
	} else if !form {
		return nil, fmt.Errorf("%s is no form; make one from a bank with: rightpage form make", name)
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	form, err := banks.DecodeForm(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return form, nil
}

// formQuestions reads the questions of all variants of a form, each once.
func formQuestions(name string) ([]*banks.Question, error) {
	f, err := loadForm(name)
	if err != nil {
		return nil, err
	}
	var out []*banks.Question
	seen := map[string]bool{}
	for i := range f.Variants {
		for _, q := range f.Variants[i].Questions {
			if !seen[q.ID] {
				seen[q.ID] = true
				out = append(out, q)
			}
		}
	}
	return out, nil
}
