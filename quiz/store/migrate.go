package store

import (
	"context"
	"fmt"
	"strings"

	"github.com/go-gormigrate/gormigrate/v2"
	"gorm.io/gorm"

	"rightpage/quiz"
)

// Version is the schema version that this program works with.
const Version = "0003"

// versions lists the schema versions, oldest first, each with the tables that
// a backup of it holds.
func versions() []version {
	return []version{
		{"0001", keptV1(), func(tx *gorm.DB) error {
			if err := tx.Migrator().CreateTable(append(keptV1(), passingV1()...)...); err != nil {
				return err
			}
			head := quiz.ChainHead()
			if err := tx.Create(&headV1{ID: 1, Seq: head.Seq, Hash: head.Hash}).Error; err != nil {
				return err
			}
			return guardAudit(tx)
		}},
		{"0002", keptV2(), func(tx *gorm.DB) error {
			if err := tx.Migrator().AddColumn(&personV2{}, "Locale"); err != nil {
				return err
			}
			if err := tx.Migrator().AddColumn(&responseV2{}, "Spent"); err != nil {
				return err
			}
			return tx.Migrator().CreateTable(&practiceV2{})
		}},
		{"0003", keptV3(), func(tx *gorm.DB) error {
			m := tx.Migrator()
			for _, c := range []struct {
				row   any
				field string
			}{{&personV3{}, "Apart"}, {&personV3{}, "Erased"}, {&attemptV3{}, "Medium"}} {
				if err := m.AddColumn(c.row, c.field); err != nil {
					return err
				}
			}
			for _, x := range []struct {
				row  any
				name string
			}{{&attemptV3{}, "attempts_started"}, {&gradingV3{}, "gradings_at"}, {&practiceV3{}, "practices_at"}} {
				if err := m.CreateIndex(x.row, x.name); err != nil {
					return err
				}
			}
			return m.CreateTable(madeV3()...)
		}},
	}
}

type version struct {
	id      string
	kept    []any
	migrate func(tx *gorm.DB) error
}

// Migrate brings the database to [Version]: each step forward in turn, all or
// none. Several processes may do it at once. A database of a later version is
// left alone, with an error.
func (s *Store) Migrate(ctx context.Context) error { return s.migrateTo(ctx, Version) }

func (s *Store) migrateTo(ctx context.Context, to string) error {
	var list []*gormigrate.Migration
	for _, v := range versions() {
		list = append(list, &gormigrate.Migration{ID: v.id, Migrate: v.migrate})
		if v.id == to {
			break
		}
	}
	o := *gormigrate.DefaultOptions
	o.TableName, o.UseTransaction = "schema_versions", true
	var err error
	// Two that begin at once collide in ways that no code tells; the second
	// time round one finds the work done.
	for range 5 {
		var at string
		if at, err = s.SchemaVersion(ctx); err != nil {
			return err
		}
		if at > to {
			return &quiz.Error{Code: quiz.NotMigrated, Text: fmt.Sprintf("the database has schema version %s, this program knows %s", at, to),
				Mend: "use the program that is as new as the database"}
		}
		if at == to {
			return nil
		}
		err = s.retry.do(ctx, func() error { return gormigrate.New(s.w.WithContext(ctx), &o, list).Migrate() })
		if err == nil || ctx.Err() != nil {
			break
		}
	}
	return s.fail("migrate the database to schema version "+to, err)
}

// SchemaVersion gives the schema version of the database, "" if it is empty.
func (s *Store) SchemaVersion(ctx context.Context) (string, error) {
	if !s.w.WithContext(ctx).Migrator().HasTable("schema_versions") {
		return "", s.Ping(ctx)
	}
	var ids []string
	if err := s.w.WithContext(ctx).Table("schema_versions").Order("id").Pluck("id", &ids).Error; err != nil {
		return "", s.fail("read the schema version", err)
	}
	if len(ids) == 0 {
		return "", nil
	}
	return ids[len(ids)-1], nil
}

// Ready reports why the database cannot be worked with: it cannot be reached,
// or has another schema version.
func (s *Store) Ready(ctx context.Context) error {
	at, err := s.SchemaVersion(ctx)
	if err != nil {
		return err
	}
	if at != Version {
		if at == "" {
			at = "none"
		}
		return &quiz.Error{Code: quiz.NotMigrated, Text: fmt.Sprintf("the database has schema version %s, this program needs %s", at, Version),
			Mend: "run rightpage migrate"}
	}
	return nil
}

// Ping reports whether the database can be reached.
func (s *Store) Ping(ctx context.Context) error {
	pool, err := s.w.DB()
	if err == nil {
		err = pool.PingContext(ctx)
	}
	if err != nil {
		return &quiz.Error{Code: quiz.Unavailable, Text: "the database cannot be reached", Err: err, Mend: "try again"}
	}
	return nil
}

// auditGuards are the statements that make the database refuse to change the
// audit log, and those that take the refusal away, by dialect. Where a
// database has no triggers the hash chain tells all the same.
func auditGuards(dialect string) (guard, unguard []string) {
	switch dialect {
	case "sqlite":
		for _, verb := range []string{"UPDATE", "DELETE"} {
			name := "audit_no_" + strings.ToLower(verb)
			guard = append(guard, "CREATE TRIGGER "+name+" BEFORE "+verb+" ON audit_entries BEGIN SELECT RAISE(ABORT, 'the audit log is append-only'); END")
			unguard = append(unguard, "DROP TRIGGER "+name)
		}
	case "postgres":
		guard = []string{
			"CREATE OR REPLACE FUNCTION audit_refuse() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION 'the audit log is append-only'; END $$",
			"CREATE TRIGGER audit_no_change BEFORE UPDATE OR DELETE ON audit_entries FOR EACH ROW EXECUTE FUNCTION audit_refuse()",
			"CREATE TRIGGER audit_no_truncate BEFORE TRUNCATE ON audit_entries FOR EACH STATEMENT EXECUTE FUNCTION audit_refuse()",
		}
		unguard = []string{"DROP TRIGGER audit_no_change ON audit_entries", "DROP TRIGGER audit_no_truncate ON audit_entries"}
	}
	return guard, unguard
}

func guardAudit(tx *gorm.DB) error {
	guard, _ := auditGuards(tx.Name())
	return execAll(tx, guard)
}

func execAll(tx *gorm.DB, statements []string) error {
	for _, q := range statements {
		if err := tx.Exec(q).Error; err != nil {
			return fmt.Errorf("%s: %w", q, err)
		}
	}
	return nil
}
