package main

import (
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"

	"github.com/spf13/cobra"

	"rightpage/quiz/tryout"
	"rightpage/testdata"
)

func tryCommand() *cobra.Command {
	var dir, out, format string
	var once bool
	var o serving
	cmd := &cobra.Command{
		Use:   "try",
		Short: "Show the whole job on a demonstration catalog",
		Long: `Checks the catalog, answers three repair orders with their traces, makes a bank of
500 questions, sets a quiz of 20, grades a made-up set of answers with the slips
named, issues a certificate and verifies it. Everything that is made stays in a
folder to look at. It takes a few seconds.

Then it serves the pages to browsers until it is interrupted: those of an
invented organisation with 26 people and half a year behind them, with a login
for each role; or, with --dir, those of an organisation that has just begun with
that catalog. With --once it ends before.`,
		Example: `  rightpage try --once
  rightpage try --once --out demo
  rightpage try --once --dir testdata/quillan
  rightpage try`,
		Args:        arguments,
		Annotations: map[string]string{patient: "yes"},
		RunE: func(cmd *cobra.Command, _ []string) error {
			if format == "json" && !once {
				return usagef("--format json needs --once: a server that goes on prints no document")
			}
			day, err := today()
			if err != nil {
				return err
			}
			if out == "" {
				if out, err = os.MkdirTemp("", "rightpage-try-"); err != nil {
					return err
				}
			} else if err := os.MkdirAll(out, 0o755); err != nil {
				return err
			}
			cfg := tryout.Config{Catalog: dir, Out: out, Organisation: "Demonstration workshop", Now: day, Seed: 1}
			if dir == "" {
				if err := unpackDemo(out); err != nil {
					return err
				}
				cfg.Catalog = filepath.Join(out, filepath.FromSlash(testdata.DemoCatalog))
				cfg.Organisation, cfg.Site = "Wexcombe Estate & Farm Services", "Wexcombe"
			}
			if format == "json" {
				sum, err := tryout.Run(cmd.Context(), cfg, io.Discard)
				if err != nil {
					return err
				}
				return writeJSON(cmd.OutOrStdout(), sum)
			}
			w := newWrapper(cmd.OutOrStdout())
			if _, err := tryout.Run(cmd.Context(), cfg, w); err != nil {
				_ = w.Close()
				return err
			}
			if err := w.Close(); err != nil || once {
				return err
			}
			flush(cmd.OutOrStdout())
			return answerOf(cmd, tryServing(cmd, &o, dir, out))
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	fl.BoolVar(&once, "once", false, "end after the demonstration")
	fl.StringVar(&dir, "dir", "", "catalog at `PATH` to use instead of the built-in demonstration")
	fl.StringVar(&out, "out", "", "put what is made into `FOLDER`, over files of the same names (default: a new temporary folder)")
	formatFlag(cmd, &format, "text", "json")
	o.flags(cmd)
	return cmd
}

// unpackDemo writes the demonstration catalog and its repair orders to a
// folder.
func unpackDemo(to string) error {
	demo := testdata.Demo()
	return fs.WalkDir(demo, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		target := filepath.Join(to, filepath.FromSlash(name))
		if d.IsDir() {
			return os.MkdirAll(target, 0o755)
		}
		data, err := fs.ReadFile(demo, name)
		if err != nil {
			return fmt.Errorf("%s: %w", path.Base(name), err)
		}
		return os.WriteFile(target, data, 0o644)
	})
}
