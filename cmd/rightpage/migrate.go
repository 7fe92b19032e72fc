package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"rightpage/quiz/store"
)

func migrateCommand() *cobra.Command {
	var db, format string
	cmd := &cobra.Command{
		Use:   "migrate",
		Short: "Make a database, or bring one to the version of this program",
		Long: `Makes the tables that this version of the program works with, or changes those of
an earlier version, all or nothing. A database of a later version is left alone.
Make a backup first: there is no way back but to restore it.`,
		Example: `  rightpage migrate --db training.db
  rightpage backup --db training.db -o training.zip && rightpage migrate --db training.db`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, _ []string) (err error) {
			s, err := openDatabase(cmd.Context(), db, true)
			if err != nil {
				return answerOf(cmd, err)
			}
			defer func() { err = errors.Join(err, s.Close()) }()
			before, err := s.SchemaVersion(cmd.Context())
			if err != nil {
				return answerOf(cmd, err)
			}
			if err := s.Migrate(cmd.Context()); err != nil {
				return answerOf(cmd, err)
			}
			if format == "json" {
				return writeJSON(cmd.OutOrStdout(), migrateDocument{store.Version, before})
			}
			switch before {
			case store.Version:
				_, err = fmt.Fprintf(cmd.OutOrStdout(), "nothing to do: schema version %s\n", store.Version)
			case "":
				_, err = fmt.Fprintf(cmd.OutOrStdout(), "made: schema version %s\n", store.Version)
			default:
				_, err = fmt.Fprintf(cmd.OutOrStdout(), "schema version %s, was %s\n", store.Version, before)
			}
			return err
		},
	}
	databaseFlag(cmd, &db)
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

// migrateDocument is what migrate prints as JSON.
type migrateDocument struct {
	Schema string `json:"schema"`
	Was    string `json:"was,omitempty"`
}
