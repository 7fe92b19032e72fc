package store

import (
	"archive/zip"
	"bytes"
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rightpage/quiz"
)

var updateFixtures = flag.Bool("update", false, "write the schema listings anew, and the fixture of a schema version that has none yet")

// describe lists tables, columns, indexes, constraints and triggers.
func describe(t *testing.T, s *Store) string {
	t.Helper()
	query := `SELECT type || ' ' || name || ': ' || COALESCE(sql, '') FROM sqlite_master
		WHERE name NOT LIKE 'sqlite_%' AND tbl_name <> 'schema_versions' ORDER BY type, name`
	if s.postgres {
		query = `SELECT line FROM (
			SELECT 'column ' || table_name || '.' || column_name || ': ' || data_type || ' null=' || is_nullable || ' default=' || COALESCE(column_default, '') AS line
				FROM information_schema.columns WHERE table_schema = current_schema() AND table_name <> 'schema_versions'
			UNION ALL SELECT 'index ' || indexname || ': ' || replace(indexdef, current_schema() || '.', '')
				FROM pg_indexes WHERE schemaname = current_schema() AND tablename <> 'schema_versions'
			UNION ALL SELECT 'constraint ' || c.conrelid::regclass || '.' || c.conname || ': ' || pg_get_constraintdef(c.oid)
				FROM pg_constraint c WHERE c.connamespace = current_schema()::regnamespace AND c.conrelid::regclass::text <> 'schema_versions'
			UNION ALL SELECT 'trigger ' || tgrelid::regclass || '.' || tgname FROM pg_trigger g JOIN pg_class r ON r.oid = g.tgrelid
				WHERE r.relnamespace = current_schema()::regnamespace AND NOT tgisinternal
		) all_of_it ORDER BY line COLLATE "C"`
	}
	var lines []string
	must(t, s.w.Raw(query).Scan(&lines).Error)
	for i, line := range lines { // gorm writes the constraints of a table in any order
		parts := strings.Split(line, ",CONSTRAINT ")
		if len(parts) > 1 {
			last := len(parts) - 1
			parts[last] = strings.TrimSuffix(parts[last], ")") // of the table
			slices.Sort(parts[1:])
			lines[i] = strings.Join(parts, "\n  constraint ")
		}
	}
	return strings.Join(lines, "\n") + "\n"
}

// The schema of each version stays as it was released: the frozen rows and the
// migrations make exactly what the listing shows.
func TestSchemaVersionsAreFrozen(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		s := d.open(t, newClock())
		for _, v := range versions() {
			must(t, s.migrateTo(context.Background(), v.id))
			name := filepath.Join("testdata", "schema_"+v.id+"_"+s.w.Name()+".txt")
			got := describe(t, s)
			if *updateFixtures {
				must(t, os.WriteFile(name, []byte(got), 0o644))
			}
			want, err := os.ReadFile(name)
			must(t, err)
			if diff := cmp.Diff(string(want), got); diff != "" {
				t.Errorf("version %s is not as it was released; make a new version instead (-released +now):\n%s", v.id, diff)
			}
		}
	})
}

// fixture is a backup of a database of an earlier version, made when that was
// the present one.
func fixture(t *testing.T, version string) []byte {
	t.Helper()
	name := filepath.Join("testdata", "backup_"+version+".zip")
	b, err := os.ReadFile(name)
	if os.IsNotExist(err) && *updateFixtures {
		b = makeFixture(t, version)
		must(t, os.WriteFile(name, b, 0o644))
		return b
	}
	must(t, err)
	return b
}

// makeFixture fills a database of an earlier version by its own rows.
func makeFixture(t *testing.T, version string) []byte {
	t.Helper()
	if version != "0001" && version != "0002" {
		t.Fatalf("say how a fixture of version %s is made", version)
	}
	ctx := context.Background()
	c := newClock()
	s := sqliteDatabase(t).open(t, c)
	must(t, s.migrateTo(ctx, version))
	f := sampleForm(2)
	north, attempt := "north", "t1"
	must(t, s.AddForm(ctx, "p2", f))
	for _, row := range []any{
		&siteV1{ID: north, Name: "Wexcombe North", Zone: "Europe/London", Version: 1},
		&personV1{ID: "p1", Name: "Tomás Ferro", SiteID: &north, Roles: `["technician"]`, Created: micros(noon), Version: 1},
		&personV1{ID: "p2", Name: "Ines Harrow", Roles: `["coordinator"]`, Created: micros(noon), Version: 2},
		&accountV1{PersonID: "p2", Login: "ines", Hash: "$argon2id$…", Changed: micros(noon), Must: true, Version: 1},
		&assignmentV1{ID: "a1", Title: "Week 10", FormID: f.ID, Targets: `[{"kind":"site","id":"north"}]`, Opens: micros(noon), Closes: micros(noon.Add(24 * time.Hour)),
			TimeLimit: time.Hour.Microseconds(), Attempts: 2, Accommodations: "[]", ReleaseRule: `{"when":"end","score":true}`, ByID: "p2", Created: micros(noon), Version: 1},
		&attemptV1{ID: attempt, AssignmentID: "a1", PersonID: "p1", Number: 1, Questions: text([]string{f.Variants[0].Questions[0].ID}), State: "graded", Opened: micros(noon),
			Started: micros(noon), Deadline: micros(noon.Add(time.Hour)), Ended: micros(noon.Add(9 * time.Minute)), HandInKey: key(9), Gradings: 1, Result: `{"points":1,"of":1,"passed":true}`, Version: 4},
		&responseV1{AttemptID: attempt, Question: f.Variants[0].Questions[0].ID, Version: 1, ClientKey: key(1), Value: "B", At: micros(noon.Add(time.Minute))},
		&responseV1{AttemptID: attempt, Question: f.Variants[0].Questions[0].ID, Version: 2, ClientKey: key(2), Value: "A", At: micros(noon.Add(2 * time.Minute))},
		&gradingV1{AttemptID: attempt, Number: 1, Result: `{"points":1,"of":1,"passed":true}`, Scores: "[]", At: micros(noon.Add(10 * time.Minute))},
		&disputeV1{ID: "d1", AttemptID: attempt, Question: "q", PersonID: "p1", Reason: "bulletin 7", Opened: micros(noon), State: "open", Version: 1},
		&requirementV1{ID: "r1", Course: "Hydraulics", Day: micros(noon.AddDate(0, 1, 0)), Skills: `[{"skill":"edition","level":0.8}]`, Targets: `[{"kind":"role","id":"technician"}]`, Version: 1},
		&certificateV1{Number: "WX-2031-0001", PersonID: "p1", AttemptID: &attempt, Code: "7K4M-2QXD", ByID: "p2", Content: `{"Number":"WX-2031-0001","Person":"Tomás Ferro"}`,
			Expires: micros(noon.AddDate(2, 0, 0)), Revocation: "null", Changes: "null", Version: 1},
		&counterV1{Name: "certificate WX 2031", Value: 1},
		&timerV1{Kind: "reminder", Subject: "WX-2031-0001", Due: micros(noon.AddDate(1, 11, 0))},
	} {
		must(t, create(s.w, row))
	}
	if version == "0002" {
		must(t, s.w.Model(&personV2{}).Where("id = ?", "p1").Update("locale", "es").Error)
		must(t, s.w.Model(&responseV2{}).Where("version = 1").Update("spent", time.Minute.Microseconds()).Error)
		must(t, create(s.w, &practiceV2{PersonID: "p1", ClientKey: key(5), At: micros(noon), Spent: time.Second.Microseconds(), Score: text(sampleScores()[0])}))
	}
	must(t, s.RecordAudit(ctx, "p1", "attempt.handin", "attempt/t1", nil))
	var b bytes.Buffer
	_, err := s.Backup(ctx, &b)
	must(t, err)
	return b.Bytes()
}

// wantFixture checks that a database holds what the fixture of a version does.
func wantFixture(t *testing.T, s *Store, version string) {
	t.Helper()
	ctx := context.Background()
	must(t, s.Ready(ctx))
	locale, spent, practiced := "en", time.Duration(0), 0 // what version 2 adds
	if version >= "0002" {
		locale, spent, practiced = "es", time.Minute, 1
	}
	p, err := s.Person(ctx, "p1")
	must(t, err)
	wantSame(t, "a person", p, quiz.Person{ID: "p1", Name: "Tomás Ferro", Site: "north", Locale: locale,
		Roles: []quiz.Role{quiz.Technician}, Created: noon, Version: 1})
	answers, err := s.Answers(ctx, "t1")
	must(t, err)
	if len(answers) != 2 || answers[1].Value != "A" || answers[0].Spent != spent {
		t.Errorf("%+v", answers)
	}
	if practice, err := s.PracticeOf(ctx, "p1", noon); err != nil || len(practice) != practiced {
		t.Errorf("%+v, %v", practice, err)
	}
	a, err := s.Attempt(ctx, "t1")
	must(t, err)
	if a.State != quiz.Graded || a.Medium != quiz.OnScreen || !a.Result.Passed || !a.Ended.Equal(noon.Add(9*time.Minute)) {
		t.Errorf("%+v", a)
	}
	c, err := s.Certificate(ctx, "WX-2031-0001")
	must(t, err)
	if c.Person != "Tomás Ferro" || c.Revocation != nil {
		t.Errorf("%+v", c)
	}
	if account, err := s.Account(ctx, "ines"); err != nil || !account.Must {
		t.Errorf("%+v, %v", account, err)
	}
	assignment, err := s.Assignment(ctx, "a1")
	must(t, err)
	if _, err := s.Form(ctx, assignment.Form); err != nil {
		t.Error(err)
	}
	if _, err := s.VerifyAudit(ctx); err != nil {
		t.Error(err)
	}
	if err := s.w.Exec("DELETE FROM audit_entries").Error; err == nil {
		t.Error("the audit log is not guarded")
	}
	// What version 2 adds works.
	if _, err := s.SavePractice(ctx, quiz.Practice{Person: "p1", Key: key(1), At: noon, Score: sampleScores()[0]}); err != nil {
		t.Error(err)
	}
	// What version 3 adds works.
	p.Locale, p.Apart = "es", true
	must(t, s.SavePerson(ctx, "p2", &p))
	content := []byte("a catalog")
	c3 := CatalogInfo{Title: "Tarnfell"}
	must(t, s.AddCatalog(ctx, "p2", &c3, content))
	must(t, s.PutInForce(ctx, "p2", c3.ID))
	place, err := s.ReserveStatusIndex(ctx, c.Number)
	must(t, err)
	must(t, s.KeepFiles(ctx, c.Number, Files{JSON: []byte("{}"), StatusIndex: place}))
	last, err := s.GradingsAt(ctx, "a1")
	must(t, err)
	if last["t1"].Number != 1 {
		t.Errorf("%+v", last)
	}
}

// A database of each earlier version, with data in every table, is brought to
// the present one with nothing lost.
func TestMigrateFromEveryEarlierVersion(t *testing.T) {
	all := versions()
	if all[len(all)-1].id != Version {
		t.Fatalf("the last version is %s, the present one %s", all[len(all)-1].id, Version)
	}
	for _, v := range all[:len(all)-1] {
		b := fixture(t, v.id)
		t.Run(v.id, func(t *testing.T) {
			onEach(t, func(t *testing.T, d database) {
				ctx := context.Background()
				s := d.open(t, newClock())
				z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
				must(t, err)
				m, err := s.load(ctx, z)
				must(t, err)
				for _, table := range m.Tables {
					if table.Rows == 0 {
						t.Errorf("the fixture has no row of table %s", table.Name)
					}
				}
				wantCode(t, "before", s.Ready(ctx), quiz.NotMigrated)
				must(t, s.Migrate(ctx))
				must(t, s.Migrate(ctx)) // nothing left to do
				wantFixture(t, s, v.id)
			})
		})
	}
}

func TestMigrateLeavesLaterVersionsAlone(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		s := d.migrated(t, newClock())
		must(t, s.w.Exec("INSERT INTO schema_versions (id) VALUES ('0099')").Error)
		wantCode(t, "migrate", s.Migrate(ctx), quiz.NotMigrated)
		wantCode(t, "ready", s.Ready(ctx), quiz.NotMigrated)
		_, err := s.Backup(ctx, &bytes.Buffer{})
		wantCode(t, "backup", err, quiz.NotMigrated)
	})
}

// Several servers that start at once on an empty database.
func TestMigrateAtOnce(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		c := newClock()
		stores := make([]*Store, 4)
		for i := range stores {
			stores[i] = d.open(t, c)
		}
		together(len(stores), func(i int) {
			if err := stores[i].Migrate(context.Background()); err != nil {
				t.Error(fmt.Sprint("server ", i), err)
			}
		})
		must(t, stores[0].Ready(context.Background()))
		if head, err := stores[1].VerifyAudit(context.Background()); err != nil || head != quiz.ChainHead() {
			t.Errorf("%+v, %v", head, err)
		}
	})
}
