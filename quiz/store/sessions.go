package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"
)

// Sessions keeps the sessions of the web server. It has the methods of a store
// of github.com/alexedwards/scs/v2, with and without a context.
//
// Tokens are stored as their SHA-256, so that whoever reads the database or a
// copy of it can open no session.
type Sessions struct{ s *Store }

// Sessions gives the sessions of the store.
func (s *Store) Sessions() Sessions { return Sessions{s} }

func digest(s string) string {
	sum := sha256.Sum256([]byte(s))
	return hex.EncodeToString(sum[:])
}

// FindCtx gives the data of a session; ok is false if there is none or it has
// expired.
func (x Sessions) FindCtx(ctx context.Context, token string) (data []byte, ok bool, err error) {
	var rows []sessionRow
	err = x.s.read(ctx).Where("token = ? AND expires > ?", digest(token), micros(x.s.now())).Limit(1).Find(&rows).Error
	if err != nil || len(rows) == 0 || len(rows[0].Data) == 0 {
		return nil, false, x.s.fail("read a session", err)
	}
	return rows[0].Data, true, nil
}

// CommitCtx keeps the data of a session.
func (x Sessions) CommitCtx(ctx context.Context, token string, data []byte, expires time.Time) error {
	return x.put(ctx, sessionRow{Token: digest(token), Data: data, Expires: micros(expires)}, "data", "expires")
}

// Bind records whose session it is, at login. A session that is committed
// again after it was ended (by a request that was under way) is nobody's:
// who checks [Sessions.Person] on each request lets nobody back in.
func (x Sessions) Bind(ctx context.Context, token, person string, expires time.Time) error {
	return x.put(ctx, sessionRow{Token: digest(token), PersonID: person, Data: []byte{}, Expires: micros(expires)}, "person_id")
}

func (x Sessions) put(ctx context.Context, row sessionRow, columns ...string) error {
	return x.s.write(ctx, "keep a session", func(tx *gorm.DB) error {
		return tx.Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "token"}}, DoUpdates: clause.AssignmentColumns(columns)}).Create(&row).Error
	})
}

// Person gives the ID of whose session it is, "" if nobody's.
func (x Sessions) Person(ctx context.Context, token string) (string, error) {
	var ids []string
	err := x.s.read(ctx).Model(&sessionRow{}).Where("token = ? AND expires > ?", digest(token), micros(x.s.now())).Pluck("person_id", &ids).Error
	if err != nil || len(ids) == 0 {
		return "", x.s.fail("read a session", err)
	}
	return ids[0], nil
}

// DeleteCtx ends a session.
func (x Sessions) DeleteCtx(ctx context.Context, token string) error {
	return x.s.write(ctx, "end a session", func(tx *gorm.DB) error { return tx.Where("token = ?", digest(token)).Delete(&sessionRow{}).Error })
}

// EndAll ends every session of a person and tells how many there were.
func (x Sessions) EndAll(ctx context.Context, person string) (int, error) {
	var n int64
	err := x.s.write(ctx, "end the sessions of a person", func(tx *gorm.DB) error {
		res := tx.Where("person_id = ?", person).Delete(&sessionRow{})
		n = res.RowsAffected
		return res.Error
	})
	return int(n), err
}

// Find is FindCtx without a context.
func (x Sessions) Find(token string) ([]byte, bool, error) {
	return x.FindCtx(context.Background(), token)
}

// Commit is CommitCtx without a context.
func (x Sessions) Commit(token string, data []byte, expires time.Time) error {
	return x.CommitCtx(context.Background(), token, data, expires)
}

// Delete is DeleteCtx without a context.
func (x Sessions) Delete(token string) error { return x.DeleteCtx(context.Background(), token) }
