//go:build cgo

package store

import (
	"errors"
	"net/url"

	"github.com/mattn/go-sqlite3"
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"
)

// sqliteDialector opens a SQLite file through the C library.
func sqliteDialector(file string, readOnly bool) gorm.Dialector {
	q := url.Values{
		"_busy_timeout": {busyMillis}, "_journal_mode": {"WAL"}, "_synchronous": {"FULL"},
		"_foreign_keys": {"on"}, "_txlock": {"immediate"},
	}
	if readOnly {
		q.Set("_query_only", "on")
		q.Set("_txlock", "deferred")
	}
	return sqlite.Open(file + "?" + q.Encode())
}

// sqliteCode gives the extended result code of an error of SQLite, 0 for
// other errors.
func sqliteCode(err error) int {
	var e sqlite3.Error
	if errors.As(err, &e) {
		return int(e.ExtendedCode)
	}
	return 0
}
