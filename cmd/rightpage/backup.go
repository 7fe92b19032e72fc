package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"rightpage/quiz/store"
)

func backupCommand() *cobra.Command {
	var db, out, format string
	cmd := &cobra.Command{
		Use:   "backup",
		Short: "Write the whole database to a file while people go on working",
		Long: `Writes a backup: the database as it is at one moment, the same for every kind of
database. It is verified before it appears under its name, and only its owner can
read it. Signing keys are not
part of it: they are in a file of their own, to be kept elsewhere.`,
		Example: `  rightpage migrate --db training.db
  rightpage backup --db training.db -o training.zip`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, _ []string) (err error) {
			if out == "" || out == "-" {
				return usagef("-o FILE is needed: a backup is a file")
			}
			ctx := cmd.Context()
			s, err := openDatabase(ctx, db, false)
			if err != nil {
				return answerOf(cmd, err)
			}
			defer func() { err = errors.Join(err, s.Close()) }()
			w, finish, err := createFile(ctx, out, cmd.OutOrStdout())
			if err != nil {
				return err
			}
			// Hashes of passwords are in it: nobody else reads it, from the first
			// byte on.
			f, isFile := w.(*os.File)
			if isFile {
				err = f.Chmod(0o600)
			}
			var m store.Manifest
			if err == nil {
				m, err = s.Backup(ctx, w)
			}
			if isFile && err == nil {
				m, err = verifyBackup(cmd, f)
			}
			if err := finish(err); err != nil {
				return answerOf(cmd, err)
			}
			return printBackup(cmd, out, "backed up and verified", format, m)
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	fl.StringVarP(&out, "output", "o", "", "write the backup to `FILE`")
	databaseFlag(cmd, &db)
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

func verifyBackup(cmd *cobra.Command, f *os.File) (store.Manifest, error) {
	info, err := f.Stat()
	if err != nil {
		return store.Manifest{}, err
	}
	return store.VerifyBackup(cmd.Context(), f, info.Size())
}

// backupDocument is what backup and restore print as JSON.
type backupDocument struct {
	File string `json:"file"`
	store.Manifest
}

func printBackup(cmd *cobra.Command, file, done, format string, m store.Manifest) error {
	if format == "json" {
		return writeJSON(cmd.OutOrStdout(), backupDocument{file, m})
	}
	var rows int64
	for _, t := range m.Tables {
		rows += t.Rows
	}
	_, err := fmt.Fprintf(cmd.OutOrStdout(), "%s: %s, schema version %s, %d rows in %d tables, audit log up to entry %d\n",
		file, done, m.Schema, rows, len(m.Tables), m.Audit.Seq)
	return err
}

func restoreCommand() *cobra.Command {
	var db, format string
	var check, replace bool
	cmd := &cobra.Command{
		Use:   "restore FILE",
		Short: "Put a backup in place of everything in a database",
		Long: `Verifies a backup, then replaces everything in the database by it in one
transaction: on an error everything is as it was. The backup may come from
another kind of database and from an earlier version. Everybody is signed out.

A database that holds anything is replaced with --replace only.`,
		Example: `  rightpage restore training.zip --check
  rightpage restore training.zip --db copy.db`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, args []string) (err error) {
			ctx := cmd.Context()
			f, err := os.Open(args[0])
			if err != nil {
				return err
			}
			defer f.Close()
			if check {
				m, err := verifyBackup(cmd, f)
				if err != nil {
					return answerOf(cmd, err)
				}
				return printBackup(cmd, args[0], "sound", format, m)
			}
			s, err := openDatabase(ctx, db, true)
			if err != nil {
				return answerOf(cmd, err)
			}
			defer func() { err = errors.Join(err, s.Close()) }()
			if err := s.Migrate(ctx); err != nil {
				return answerOf(cmd, err)
			}
			people, err := s.People(ctx)
			if err != nil {
				return answerOf(cmd, err)
			}
			if len(people) > 0 && !replace {
				return usagef("the database holds the records of %d people: --replace puts the backup in their place", len(people))
			}
			size, err := f.Seek(0, io.SeekEnd)
			if err != nil {
				return err
			}
			m, err := s.Restore(ctx, "", f, size)
			if err != nil {
				return answerOf(cmd, err)
			}
			return printBackup(cmd, args[0], "restored", format, m)
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	databaseFlag(cmd, &db)
	fl.BoolVar(&check, "check", false, "verify the backup and change nothing")
	fl.BoolVar(&replace, "replace", false, "replace what the database holds")
	formatFlag(cmd, &format, "text", "json")
	return cmd
}
