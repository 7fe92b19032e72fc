package store

import (
	"context"
	"database/sql/driver"
	"errors"
	"math/rand/v2"
	"time"

	"github.com/jackc/pgx/v5/pgconn"
	"gorm.io/gorm"

	"rightpage/quiz"
)

// backoff says how often and after what pauses a transaction is tried again.
// Pauses are random between 0 and a bound that doubles ("full jitter"), so
// that those who collided do not collide again.
type backoff struct {
	tries int           // in all
	first time.Duration // bound of the first pause
	most  time.Duration // bound of any pause
}

func defaultBackoff() backoff {
	return backoff{tries: 12, first: 2 * time.Millisecond, most: 250 * time.Millisecond}
}

// bound is the bound of the pause before try number n, from 1.
func (b backoff) bound(n int) time.Duration {
	d := b.first
	for range n - 1 {
		if d *= 2; d >= b.most {
			return b.most
		}
	}
	return d
}

// do calls fn until it succeeds, fails for good, was tried often enough, or
// the context ends. It gives the last error of fn.
func (b backoff) do(ctx context.Context, fn func() error) error {
	for n := 1; ; n++ {
		err := fn()
		if err == nil || n >= b.tries || !retryable(err) {
			return err
		}
		select {
		case <-ctx.Done():
			return errors.Join(ctx.Err(), err)
		case <-time.After(rand.N(b.bound(n) + 1)):
		}
	}
}

// The codes of errors. PostgreSQL: appendix A of its manual; SQLite: "Result
// and Error Codes" of its documentation.
const (
	pgUnique        = "23505"
	pgForeign       = "23503"
	pgSerialization = "40001"
	pgDeadlock      = "40P01"
	pgText          = "22021"

	sqliteBusy       = 5
	sqliteLocked     = 6
	sqlitePrimaryKey = 1555
	sqliteUnique     = 2067
	sqliteForeign    = 787
)

// retryable tells whether a transaction failed only because of others.
func retryable(err error) bool {
	switch postgresCode(err) {
	case pgSerialization, pgDeadlock:
		return true
	}
	switch sqliteCode(err) & 0xff { // extended codes hold the primary one in the low byte
	case sqliteBusy, sqliteLocked:
		return true
	}
	// Sent on a connection that was lost before anything reached the server.
	return pgconn.SafeToRetry(err)
}

// duplicate tells whether a row was there already.
func duplicate(err error) bool {
	code := sqliteCode(err)
	return postgresCode(err) == pgUnique || code == sqlitePrimaryKey || code == sqliteUnique || errors.Is(err, gorm.ErrDuplicatedKey)
}

// dangling tells whether a row refers to one that is not there, or is referred to.
func dangling(err error) bool {
	return postgresCode(err) == pgForeign || sqliteCode(err) == sqliteForeign || errors.Is(err, gorm.ErrForeignKeyViolated)
}

// lost tells whether the database could not be reached.
func lost(err error) bool {
	var connect *pgconn.ConnectError
	code := postgresCode(err)
	return errors.Is(err, driver.ErrBadConn) || errors.As(err, &connect) ||
		len(code) == 5 && (code[:2] == "08" || code[:2] == "53" || code[:2] == "57")
}

// fail gives err as a *quiz.Error.
func (s *Store) fail(doing string, err error) error {
	var known *quiz.Error
	switch {
	case err == nil:
		return nil
	case errors.As(err, &known):
		return err
	case errors.Is(err, gorm.ErrRecordNotFound):
		return &quiz.Error{Code: quiz.NotFound, Text: doing + ": there is no such record"}
	case duplicate(err):
		return &quiz.Error{Code: quiz.Conflict, Text: doing + ": there is one already", Err: err}
	case dangling(err):
		return &quiz.Error{Code: quiz.Invalid, Text: doing + ": it refers to a record that there is not, or is referred to", Err: err}
	case postgresCode(err) == pgText:
		return &quiz.Error{Code: quiz.Invalid, Text: doing + ": the text holds what the database does not take", Err: err, Mend: "use UTF-8 without NUL"}
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return &quiz.Error{Code: quiz.Unavailable, Text: doing + ": given up", Err: err, Mend: "try again"}
	case retryable(err), lost(err):
		return &quiz.Error{Code: quiz.Unavailable, Text: doing + ": the database is busy or out of reach", Err: err, Mend: "try again"}
	}
	return &quiz.Error{Code: quiz.Internal, Text: doing, Err: err}
}
