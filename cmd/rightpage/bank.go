package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"rightpage/banks"
)

func bankCommand() *cobra.Command {
	return group("bank", "Make a bank of questions, look into one, and exchange questions", bankMakeCommand(), bankShowCommand(),
		bankExportCommand(), bankImportCommand())
}

// loadBank reads a bank whole.
func loadBank(name string) ([]*banks.Question, error) {
	if form, err := isForm(name); err != nil {
		return nil, err
	} else if form {
		return nil, fmt.Errorf("%s is a form, not a bank; name the bank that it was made from", name)
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var pool []*banks.Question
	for q, err := range banks.ReadBank(f) {
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		pool = append(pool, q)
	}
	if len(pool) == 0 {
		return nil, fmt.Errorf("%s holds no questions; make a bank with: rightpage bank make", name)
	}
	return pool, nil
}
