package store

import (
	"archive/zip"
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"reflect"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"
	"gorm.io/gorm/schema"

	"rightpage/quiz"
)

// BackupFormat names the format of a backup and its version.
//
// A backup is a zip file, the same for every database: tables/NAME.jsonl for
// each table, a row a line as a JSON object of columns, ordered by primary
// key; and last manifest.json, which says what there must be. Sessions,
// one-time codes and counts of rate limits are left out: a restore signs
// everybody out.
const BackupFormat = "rightpage backup 1"

// Manifest says what a backup holds.
type Manifest struct {
	Format string       `json:"format"`
	Schema string       `json:"schema"` // version
	Made   time.Time    `json:"made"`
	Audit  AuditEnd     `json:"audit"`
	Tables []TableEntry `json:"tables"`
}

// AuditEnd is the end of the audit log in a backup.
type AuditEnd struct {
	Seq  int64  `json:"seq"`
	Hash string `json:"hash"`
}

// TableEntry says what the file of a table holds.
type TableEntry struct {
	Name   string `json:"name"`
	Rows   int64  `json:"rows"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// table is a table as one schema version has it.
type table struct {
	model  any
	schema *schema.Schema
}

func tablesOf(db *gorm.DB, models []any) ([]table, error) {
	list := make([]table, len(models))
	for i, m := range models {
		stmt := &gorm.Statement{DB: db}
		if err := stmt.Parse(m); err != nil {
			return nil, err
		}
		list[i] = table{m, stmt.Schema}
	}
	return list, nil
}

// newRow makes an empty row and gives a pointer to it.
func (t table) newRow() reflect.Value { return reflect.New(t.schema.ModelType) }

// inOrder reads the table in the order of its primary key.
func (t table) inOrder(tx *gorm.DB) *gorm.DB {
	tx = tx.Model(t.model)
	for _, name := range t.schema.PrimaryFieldDBNames {
		tx = tx.Order(clause.OrderByColumn{Column: clause.Column{Name: name}})
	}
	return tx
}

// each calls fn with each row, in order.
func (t table) each(tx *gorm.DB, fn func(row reflect.Value) error) error {
	rows, err := t.inOrder(tx).Rows()
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		row := t.newRow()
		if err := tx.ScanRows(rows, row.Interface()); err != nil {
			return err
		}
		t.fill(row)
		if err := fn(row); err != nil {
			return err
		}
	}
	return rows.Err()
}

// fill makes empty bytes of null ones: some drivers read the former as the
// latter, which no column is.
func (t table) fill(row reflect.Value) {
	for i := range row.Elem().NumField() {
		if f := row.Elem().Field(i); f.Kind() == reflect.Slice && f.IsNil() {
			f.Set(reflect.MakeSlice(f.Type(), 0, 0))
		}
	}
}

// encode gives a row as a line of JSON.
func (t table) encode(ctx context.Context, row reflect.Value) ([]byte, error) {
	columns := make(map[string]any, len(t.schema.DBNames))
	for _, f := range t.schema.Fields {
		if f.DBName != "" {
			columns[f.DBName] = f.ReflectValueOf(ctx, row.Elem()).Interface()
		}
	}
	b, err := json.Marshal(columns)
	return append(b, '\n'), err
}

// decode reads a line of JSON, which must have the columns of the table and no
// others.
func (t table) decode(ctx context.Context, line []byte) (reflect.Value, error) {
	var columns map[string]json.RawMessage
	if err := json.Unmarshal(line, &columns); err != nil {
		return reflect.Value{}, err
	}
	row := t.newRow()
	for _, name := range t.schema.DBNames {
		raw, ok := columns[name]
		if !ok {
			return reflect.Value{}, fmt.Errorf("there is no column %s", name)
		}
		f := t.schema.FieldsByDBName[name]
		if err := json.Unmarshal(raw, f.ReflectValueOf(ctx, row.Elem()).Addr().Interface()); err != nil {
			return reflect.Value{}, fmt.Errorf("column %s: %w", name, err)
		}
	}
	if len(columns) != len(t.schema.DBNames) {
		return reflect.Value{}, fmt.Errorf("there are %d columns, not %d", len(columns), len(t.schema.DBNames))
	}
	return row, nil
}

// Backup writes a backup of the database as it is at one moment, while others
// go on writing. The database may have an earlier schema version, so that a
// backup can be made before it is migrated.
func (s *Store) Backup(ctx context.Context, w io.Writer) (Manifest, error) {
	at, err := s.SchemaVersion(ctx)
	if err != nil {
		return Manifest{}, err
	}
	v, err := versionOf(at)
	if err != nil {
		return Manifest{}, err
	}
	const doing = "make a backup"
	m := Manifest{Format: BackupFormat, Schema: at, Made: s.now().UTC().Truncate(time.Second)}
	// What was written cannot be taken back: no second try.
	err = s.snapshotOnce(ctx, func(tx *gorm.DB) error { return writeBackup(ctx, tx, v, w, &m) })
	if err != nil {
		return Manifest{}, s.fail(doing, err)
	}
	return m, nil
}

func writeBackup(ctx context.Context, tx *gorm.DB, v version, w io.Writer, m *Manifest) error {
	z := zip.NewWriter(w)
	tables, err := tablesOf(tx, v.kept)
	if err != nil {
		return err
	}
	head, err := find[headV1](tx, "end of the audit log", "id = 1")
	if err != nil {
		return err
	}
	m.Audit = AuditEnd{head.Seq, head.Hash}
	for _, t := range tables {
		f, err := z.CreateHeader(&zip.FileHeader{Name: tableFile(t.schema.Table), Method: zip.Deflate, Modified: m.Made})
		if err != nil {
			return err
		}
		entry := TableEntry{Name: t.schema.Table}
		sum := sha256.New()
		out := bufio.NewWriter(io.MultiWriter(f, sum))
		err = t.each(tx, func(row reflect.Value) error {
			line, err := t.encode(ctx, row)
			if err != nil {
				return err
			}
			entry.Rows++
			entry.Bytes += int64(len(line))
			_, err = out.Write(line)
			return err
		})
		if err == nil {
			err = out.Flush()
		}
		if err != nil {
			return fmt.Errorf("table %s: %w", entry.Name, err)
		}
		entry.SHA256 = hex.EncodeToString(sum.Sum(nil))
		m.Tables = append(m.Tables, entry)
	}
	f, err := z.CreateHeader(&zip.FileHeader{Name: manifestFile, Method: zip.Deflate, Modified: m.Made})
	if err != nil {
		return err
	}
	b, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return err
	}
	if _, err := f.Write(append(b, '\n')); err != nil {
		return err
	}
	return z.Close()
}

const manifestFile = "manifest.json"

func tableFile(name string) string { return "tables/" + name + ".jsonl" }

func versionOf(id string) (version, error) {
	for _, v := range versions() {
		if v.id == id {
			return v, nil
		}
	}
	if id == "" {
		return version{}, &quiz.Error{Code: quiz.NotMigrated, Text: "the database is empty", Mend: "run rightpage migrate"}
	}
	return version{}, &quiz.Error{Code: quiz.NotMigrated, Text: fmt.Sprintf("schema version %s is not known; this program knows %s", id, Version),
		Mend: "use the program that is as new as the data"}
}
