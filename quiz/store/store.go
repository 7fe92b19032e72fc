// Package store keeps what package quiz rules: in a SQLite file, or in
// PostgreSQL and what speaks its wire protocol, by URL.
//
//	s, err := store.Open(ctx, "rightpage.db", store.Options{})
//	if err != nil { … }
//	defer s.Close()
//	err = s.Migrate(ctx)
//
// What is acknowledged is on disk: SQLite runs with a write-ahead log and
// synchronous=FULL, PostgreSQL with synchronous_commit on, and Open refuses a
// database where that is not so. What may be sent twice (answers, hand-ins,
// exercises) carries a key made by the client and is done once. Records that
// people edit carry a version: saving one that changed since it was read is a
// quiz.Conflict. Transactions that the database gives up in favour of others
// are tried again. Several processes can share one database.
//
// Every method is safe for concurrent use. Errors are of type *quiz.Error.
package store

import (
	"context"
	"crypto/rand"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/logger"

	"rightpage/quiz"
)

// Options are what may be chosen about a store. The zero value will do.
type Options struct {
	Now         func() time.Time // the clock; nil: time.Now
	Connections int              // most connections to PostgreSQL, or readers of SQLite; 0: 10, or 4
}

// Store is an open database.
type Store struct {
	w, r     *gorm.DB // SQLite: one writer and several readers; PostgreSQL: the same
	postgres bool
	now      func() time.Time
	retry    backoff
	saves    [writersOfSaves]saveQueue
}

// busyMillis is how long SQLite waits for another process's write.
const busyMillis = "5000"

// Open opens a database and checks that it keeps what it acknowledges. A URL
// that begins with postgres:// or postgresql:// is PostgreSQL's; anything else
// is the name of a SQLite file, which is made, readable by its owner alone, if
// there is none. Open does not migrate: see [Store.Migrate] and [Store.Ready].
func Open(ctx context.Context, url string, o Options) (*Store, error) {
	s := &Store{now: o.Now, retry: defaultBackoff()}
	if s.now == nil {
		s.now = time.Now
	}
	open := s.openSQLite
	if isPostgres(url) {
		open = s.openPostgres
	}
	if err := open(ctx, url, o.Connections); err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

func isPostgres(url string) bool {
	return strings.HasPrefix(url, "postgres://") || strings.HasPrefix(url, "postgresql://")
}

func gormConfig() *gorm.Config {
	return &gorm.Config{
		Logger:                 logger.Discard, // errors are returned, and statements hold personal data
		SkipDefaultTransaction: true,
	}
}

func (s *Store) openSQLite(ctx context.Context, name string, readers int) error {
	fail := func(err error, mend string) error {
		return &quiz.Error{Code: quiz.Unavailable, Text: "open the database " + name, Err: err, Mend: mend}
	}
	if name == "" || strings.Contains(name, ":memory:") {
		return &quiz.Error{Code: quiz.Invalid, Text: "the database has no file", Mend: "name a file"}
	}
	path, err := filepath.Abs(name)
	if err != nil {
		return fail(err, "")
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return fail(err, "give a file in a folder that exists and may be written to")
	}
	if err := f.Close(); err != nil {
		return fail(err, "")
	}
	file := fileURI(path)
	if readers == 0 {
		readers = 4
	}
	c := gormConfig()
	c.PrepareStmt = true
	if s.w, err = gorm.Open(sqliteDialector(file, false), c); err != nil {
		return fail(err, "is it a SQLite database?")
	}
	limit(s.w, 1)
	c = gormConfig()
	c.PrepareStmt = true
	if s.r, err = gorm.Open(sqliteDialector(file, true), c); err != nil {
		return fail(err, "")
	}
	limit(s.r, readers)
	for pragma, want := range map[string]string{"journal_mode": "wal", "synchronous": "2", "foreign_keys": "1"} {
		var got string
		if err := s.w.WithContext(ctx).Raw("PRAGMA " + pragma).Scan(&got).Error; err != nil {
			return fail(err, "")
		}
		if got != want {
			return fail(fmt.Errorf("%s is %s, not %s", pragma, got, want), "put the file on a local disk")
		}
	}
	return nil
}

// fileURI gives the URI of a file as SQLite reads it.
func fileURI(path string) string {
	path = filepath.ToSlash(path)
	if runtime.GOOS == "windows" {
		path = "/" + path // file:/C:/…
	}
	return "file:" + strings.NewReplacer("%", "%25", "?", "%3f", "#", "%23").Replace(path)
}

func limit(db *gorm.DB, connections int) {
	if pool, err := db.DB(); err == nil {
		pool.SetMaxOpenConns(connections)
		pool.SetMaxIdleConns(connections)
	}
}

// Close closes the database.
func (s *Store) Close() error {
	var first error
	for _, db := range []*gorm.DB{s.r, s.w} {
		if db == nil || db == s.w && s.r == s.w && first != nil {
			continue
		}
		pool, err := db.DB()
		if err == nil {
			err = pool.Close()
		}
		if first == nil {
			first = err
		}
	}
	return first
}

// newID makes the ID of a record: 128 bits of randomness or more.
func newID() string { return strings.ToLower(rand.Text()) }

// write runs fn in a transaction, and again if the database gives it up in
// favour of another. What fn does besides must bear being done again.
func (s *Store) write(ctx context.Context, doing string, fn func(tx *gorm.DB) error) error {
	return s.fail(doing, s.retry.do(ctx, func() error { return s.w.WithContext(ctx).Transaction(fn) }))
}

// read gives what reading is done with.
func (s *Store) read(ctx context.Context) *gorm.DB { return s.r.WithContext(ctx) }

// snapshot runs fn in a transaction that sees the database as it was at one
// moment.
func (s *Store) snapshot(ctx context.Context, doing string, fn func(tx *gorm.DB) error) error {
	return s.fail(doing, s.retry.do(ctx, func() error { return s.snapshotOnce(ctx, fn) }))
}

func (s *Store) snapshotOnce(ctx context.Context, fn func(tx *gorm.DB) error) error {
	var o *sql.TxOptions // SQLite: a reading transaction is one anyway
	if s.postgres {
		o = &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true}
	}
	return s.r.WithContext(ctx).Transaction(fn, o)
}
