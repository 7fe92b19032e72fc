package main

import (
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"rightpage/quiz/tryout"
	"rightpage/testdata"
)

func tryCommand() *cobra.Command {
	var dir, out string
	var once bool
	cmd := &cobra.Command{
		Use:   "try",
		Short: "Show the whole job on a demonstration catalog",
		Long: `Checks the catalog, answers three repair orders with their traces, makes a bank of
500 questions, sets a quiz of 20, grades a made-up set of answers with the slips
named, issues a certificate and verifies it.`,
		Example: "  rightpage try --once\n  rightpage try --once --dir testdata/quillan",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if !once {
				return &usageError{"this version has no web server yet: use try --once"}
			}
			if dir == "" {
				tmp, err := os.MkdirTemp("", "rightpage-demo-")
				if err != nil {
					return err
				}
				defer os.RemoveAll(tmp)
				if err := os.CopyFS(tmp, testdata.Demo()); err != nil {
					return err
				}
				dir = filepath.Join(tmp, testdata.DemoCatalog)
			}
			if out == "" {
				tmp, err := os.MkdirTemp("", "rightpage-try-")
				if err != nil {
					return err
				}
				out = tmp
			} else if err := os.MkdirAll(out, 0o755); err != nil {
				return err
			}
			return tryout.Run(cmd.Context(), tryout.Config{Catalog: dir, Out: out, Now: time.Now(), Seed: 1}, cmd.OutOrStdout())
		},
	}
	cmd.Flags().StringVar(&dir, "dir", "", "catalog to use instead of the built-in demonstration")
	cmd.Flags().StringVar(&out, "out", "", "folder for what is made (default: a new temporary folder)")
	cmd.Flags().BoolVar(&once, "once", false, "end after the demonstration")
	return cmd
}
