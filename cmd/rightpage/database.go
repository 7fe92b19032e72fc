package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"rightpage/quiz"
	"rightpage/quiz/store"
)

// databaseFlag adds the flag --db, which may come from the environment, so that
// a password in it need not stand in a list of processes.
func databaseFlag(cmd *cobra.Command, db *string) {
	cmd.Flags().StringVar(db, "db", "", "database: a SQLite file, or the `URL` of a PostgreSQL server (default: the variable RIGHTPAGE_DB, else rightpage.db)")
}

// databaseURL gives the database that is meant.
func databaseURL(db string) string {
	if db == "" {
		db = os.Getenv(envDatabase)
	}
	if db == "" {
		db = "rightpage.db"
	}
	return db
}

// isServer tells whether the URL names a database server rather than a file.
func isServer(url string) bool {
	return strings.HasPrefix(url, "postgres://") || strings.HasPrefix(url, "postgresql://")
}

// openDatabase opens a database that must be there, unless fresh.
func openDatabase(ctx context.Context, db string, fresh bool) (*store.Store, error) {
	url := databaseURL(db)
	if !isServer(url) && !fresh {
		if _, err := os.Stat(url); errors.Is(err, os.ErrNotExist) {
			return nil, usagef("there is no database %s; name it by --db, or make it by rightpage migrate", url)
		}
	}
	return store.Open(ctx, url, store.Options{})
}

// answerOf turns an error of the store into that of a command: what is to be
// said is printed, and the exit status is that of its code.
func answerOf(cmd *cobra.Command, err error) error {
	var told *quiz.Error
	if !errors.As(err, &told) {
		return err
	}
	if quiz.ErrorCode(err).ExitStatus() == exitNo {
		fmt.Fprintf(cmd.ErrOrStderr(), "rightpage: %v\n", err)
		return errNo
	}
	return err
}
