//go:build !cgo

package store

import (
	"errors"
	"net/url"

	"gorm.io/driver/sqlite"
	"gorm.io/gorm"
	moderncsqlite "modernc.org/sqlite"
)

// sqliteDialector opens a SQLite file without C, so that one static binary
// runs wherever Go does. It is the same gorm driver, and so the same SQL, over
// another database/sql driver: modernc.org/sqlite itself rather than a fork of
// the gorm driver, since it follows SQLite's releases and nothing has to be
// kept in step.
func sqliteDialector(file string, readOnly bool) gorm.Dialector {
	q := url.Values{
		"_pragma": {"busy_timeout(" + busyMillis + ")", "journal_mode(WAL)", "synchronous(FULL)", "foreign_keys(1)"},
		"_txlock": {"immediate"},
	}
	if readOnly {
		q.Add("_pragma", "query_only(1)")
		q.Set("_txlock", "deferred")
	}
	return sqlite.New(sqlite.Config{DriverName: "sqlite", DSN: file + "?" + q.Encode()})
}

// sqliteCode gives the extended result code of an error of SQLite, 0 for
// other errors.
func sqliteCode(err error) int {
	var e *moderncsqlite.Error
	if errors.As(err, &e) {
		return e.Code()
	}
	return 0
}
