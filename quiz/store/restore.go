package store

import (
	"archive/zip"
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"rightpage/quiz"
)

// The bounds of a backup that is read, in bytes.
const (
	maxManifest = 1 << 20
	maxLine     = 256 << 20 // a row: the largest form, as base64
)

// rowsAtOnce is how many rows are added by one statement.
const rowsAtOnce = 100

// VerifyBackup checks a backup whole: that each table is as the manifest says,
// that each row fits the schema and refers to rows that are there, that it can
// be migrated to the present version, and that the chain of the audit log is
// unbroken up to the end that the manifest names.
func VerifyBackup(ctx context.Context, r io.ReaderAt, size int64) (Manifest, error) {
	_, m, done, err := stage(ctx, r, size)
	if done != nil {
		done()
	}
	return m, err
}

// Restore replaces everything in the database by a backup, which may come from
// another database and an earlier schema version. The backup is verified as by
// [VerifyBackup] before anything is touched, and put in place in one
// transaction: on an error everything is as it was. The restored audit log is
// continued by an entry that says who restored what, and where the replaced
// log ended. Everybody is signed out, and one-time codes are void.
func (s *Store) Restore(ctx context.Context, actor string, r io.ReaderAt, size int64) (Manifest, error) {
	from, m, done, err := stage(ctx, r, size)
	if done != nil {
		defer done()
	}
	if err != nil {
		return Manifest{}, err
	}
	if err := s.Migrate(ctx); err != nil {
		return Manifest{}, err
	}
	v, err := versionOf(Version)
	if err != nil {
		return Manifest{}, err
	}
	err = s.write(ctx, "put the backup in place", func(tx *gorm.DB) error { return s.replace(ctx, tx, from, v, actor, m) })
	if err != nil {
		return Manifest{}, err
	}
	return m, nil
}

// replace replaces the rows of all tables by those of another store of the
// same version.
func (s *Store) replace(ctx context.Context, tx *gorm.DB, from *Store, v version, actor string, m Manifest) error {
	tables, err := tablesOf(tx, v.kept)
	if err != nil {
		return err
	}
	if s.postgres {
		// Others wait rather than add rows between the old and the new ones.
		for _, t := range tables {
			if err := tx.Exec("LOCK TABLE ? IN ACCESS EXCLUSIVE MODE", clause.Table{Name: t.schema.Table}).Error; err != nil {
				return err
			}
		}
	}
	old, err := find[headRow](tx, "end of the audit log", "id = 1")
	if err != nil {
		return err
	}
	guard, unguard := auditGuards(tx.Name())
	if err := execAll(tx, unguard); err != nil {
		return err
	}
	everything := tx.Session(&gorm.Session{AllowGlobalUpdate: true})
	for _, model := range passingV3() {
		if err := everything.Delete(model).Error; err != nil {
			return err
		}
	}
	for i := range tables {
		if err := everything.Delete(tables[len(tables)-1-i].model).Error; err != nil {
			return err
		}
	}
	for _, t := range tables {
		in := inserter{tx: tx, table: t}
		if err := t.each(from.read(ctx), in.add); err != nil {
			return err
		}
		if err := in.flush(); err != nil {
			return err
		}
	}
	if err := execAll(tx, guard); err != nil {
		return err
	}
	return appendAudit(tx, s.entry(actor, "backup.restore", "backup/"+m.Audit.Hash, map[string]any{
		"made": m.Made, "replaced_seq": old.Seq, "replaced_hash": old.Hash}))
}

// inserter adds rows some at a time.
type inserter struct {
	tx    *gorm.DB
	table table
	rows  reflect.Value // a slice of rows
	n     int64
}

func (in *inserter) add(row reflect.Value) error {
	if !in.rows.IsValid() {
		in.rows = reflect.MakeSlice(reflect.SliceOf(in.table.schema.ModelType), 0, rowsAtOnce)
	}
	in.rows = reflect.Append(in.rows, row.Elem())
	in.n++
	if in.rows.Len() == rowsAtOnce {
		return in.flush()
	}
	return nil
}

func (in *inserter) flush() error {
	if !in.rows.IsValid() || in.rows.Len() == 0 {
		return nil
	}
	rows := reflect.New(in.rows.Type())
	rows.Elem().Set(in.rows)
	in.rows = in.rows.Slice(0, 0)
	if err := in.tx.Omit(clause.Associations).Create(rows.Interface()).Error; err != nil {
		return fmt.Errorf("table %s: %w", in.table.schema.Table, err)
	}
	return nil
}

// stage loads a backup into a SQLite file of its own, where the database
// checks it, and migrates it there. Done, if not nil, takes the file away.
func stage(ctx context.Context, r io.ReaderAt, size int64) (s *Store, m Manifest, done func(), err error) {
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, m, nil, &quiz.Error{Code: quiz.Invalid, Text: "the backup cannot be read", Err: err, Mend: "use a file that rightpage backup made, and that was copied whole"}
	}
	dir, err := os.MkdirTemp("", "rightpage-restore-")
	if err != nil {
		return nil, m, nil, &quiz.Error{Code: quiz.Unavailable, Text: "verify the backup", Err: err, Mend: "make room in the temporary folder"}
	}
	done = func() {
		if s != nil {
			s.Close()
		}
		os.RemoveAll(dir)
	}
	if s, err = Open(ctx, filepath.Join(dir, "stage.db"), Options{Connections: 2}); err != nil {
		return nil, m, done, err
	}
	if m, err = s.load(ctx, z); err != nil {
		return nil, m, done, err
	}
	if err = s.Migrate(ctx); err != nil {
		return nil, m, done, err
	}
	head, err := s.VerifyAudit(ctx)
	if err == nil && (head != quiz.Head{Seq: m.Audit.Seq, Hash: m.Audit.Hash}) {
		err = &quiz.BrokenChain{Seq: head.Seq, Reason: "it is not the end that the manifest names"}
	}
	var broken *quiz.BrokenChain
	if errors.As(err, &broken) {
		err = &quiz.Error{Code: quiz.Invalid, Text: "the backup was tampered with, or was made of a database that was", Err: err, Mend: "use an earlier backup"}
	}
	return s, m, done, err
}

// load fills an empty database with a backup, at the schema version of the backup.
func (s *Store) load(ctx context.Context, z *zip.Reader) (Manifest, error) {
	bad := func(err error) error {
		return &quiz.Error{Code: quiz.Invalid, Text: "the backup is damaged or was changed", Err: err, Mend: "use another copy or an earlier backup"}
	}
	m, err := readManifest(z)
	if err != nil {
		return m, bad(err)
	}
	v, err := versionOf(m.Schema)
	if err != nil {
		return m, err
	}
	if err := s.migrateTo(ctx, v.id); err != nil {
		return m, err
	}
	tables, err := tablesOf(s.w, v.kept)
	if err != nil {
		return m, bad(err)
	}
	if len(m.Tables) != len(tables) {
		return m, bad(fmt.Errorf("it has %d tables, not %d", len(m.Tables), len(tables)))
	}
	err = s.w.WithContext(ctx).Transaction(func(tx *gorm.DB) error {
		if err := tx.Where("id = 1").Delete(&headV1{}).Error; err != nil { // the one of the empty log
			return err
		}
		for i, t := range tables {
			if err := loadTable(ctx, tx, z, t, m.Tables[i]); err != nil {
				return fmt.Errorf("table %s: %w", t.schema.Table, err)
			}
		}
		return nil
	})
	if err != nil {
		if ctx.Err() != nil {
			return m, s.fail("verify the backup", err)
		}
		return m, bad(err)
	}
	return m, nil
}

func readManifest(z *zip.Reader) (Manifest, error) {
	var m Manifest
	f, err := z.Open(manifestFile)
	if err != nil {
		return m, err
	}
	defer f.Close()
	d := json.NewDecoder(io.LimitReader(f, maxManifest))
	d.DisallowUnknownFields()
	if err := d.Decode(&m); err != nil {
		return m, fmt.Errorf("%s: %w", manifestFile, err)
	}
	if m.Format != BackupFormat {
		return m, fmt.Errorf("%s says that it is %q, not %q", manifestFile, m.Format, BackupFormat)
	}
	return m, nil
}

func loadTable(ctx context.Context, tx *gorm.DB, z *zip.Reader, t table, want TableEntry) error {
	if want.Name != t.schema.Table {
		return fmt.Errorf("table %q stands in its place", want.Name)
	}
	f, err := z.Open(tableFile(want.Name))
	if err != nil {
		return err
	}
	defer f.Close()
	sum := sha256.New()
	// No more is read than the manifest says, whatever the zip expands to.
	limited := &io.LimitedReader{R: f, N: want.Bytes + 1}
	lines := bufio.NewScanner(io.TeeReader(limited, sum))
	lines.Buffer(make([]byte, 0, 64<<10), maxLine)
	in := inserter{tx: tx, table: t}
	for lines.Scan() {
		row, err := t.decode(ctx, lines.Bytes())
		if err == nil {
			err = in.add(row)
		}
		if err != nil && limited.N == 0 { // the row was cut there
			return fmt.Errorf("it has more than the %d bytes that the manifest names", want.Bytes)
		}
		if err != nil {
			return fmt.Errorf("row %d: %w", in.n+1, err)
		}
	}
	if err := lines.Err(); err != nil {
		return err
	}
	if err := in.flush(); err != nil {
		return err
	}
	if read := want.Bytes + 1 - limited.N; read != want.Bytes || in.n != want.Rows {
		return fmt.Errorf("it has %d rows in %d bytes, not %d in %d", in.n, read, want.Rows, want.Bytes)
	}
	if got := hex.EncodeToString(sum.Sum(nil)); got != want.SHA256 {
		return fmt.Errorf("its SHA-256 is %s, not %s", got, want.SHA256)
	}
	return nil
}
