package store

import (
	"archive/zip"
	"bytes"
	"context"
	"fmt"
	"io"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rightpage/quiz"
)

// backup makes a backup and gives it with its manifest.
func backup(t *testing.T, s *Store) ([]byte, Manifest) {
	t.Helper()
	var b bytes.Buffer
	m, err := s.Backup(context.Background(), &b)
	must(t, err)
	return b.Bytes(), m
}

func restore(s *Store, b []byte) error {
	_, err := s.Restore(context.Background(), "admin", bytes.NewReader(b), int64(len(b)))
	return err
}

// busyShop is a shop in which a little has happened.
func busyShop(t *testing.T, d database) *shop {
	t.Helper()
	ctx := context.Background()
	x := newShop(t, d)
	a := x.start(t)
	for i, q := range a.Questions {
		_, _, err := x.SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: q, Key: key(i), Value: "Ä \"quoted\"\nline"})
		must(t, err)
	}
	_, err := x.HandIn(ctx, a.ID, key(99))
	must(t, err)
	_, err = x.GradeAttempt(ctx, x.coordinator.ID, a.ID, quiz.Result{Points: 3.5, Of: 4, Passed: true}, sampleScores())
	must(t, err)
	_, err = x.SavePractice(ctx, quiz.Practice{Person: x.technician.ID, Key: key(1), At: noon, Score: sampleScores()[0]})
	must(t, err)
	must(t, x.Sessions().Commit("token", []byte("x"), noon.Add(time.Hour)))
	dispute, err := x.OpenDispute(ctx, a.ID, a.Questions[0], "bulletin 7")
	must(t, err)
	must(t, x.SaveRequirement(ctx, "", &quiz.Requirement{Course: "Hydraulics", Date: noon, Skills: []quiz.SkillLevel{{Skill: "edition", Level: 0.8}},
		Targets: []quiz.Target{{Kind: quiz.ToPerson, ID: dispute.Person}}}))
	must(t, x.SetTimer(ctx, Timer{Kind: "reminder", Subject: "x", Due: noon}))
	content := CatalogInfo{Title: "Tarnfell"}
	must(t, x.AddCatalog(ctx, "", &content, []byte("\x00\xff content")))
	must(t, x.PutInForce(ctx, "", content.ID))
	settings := quiz.DefaultSettings()
	settings.Organisation = "Wexcombe Estate & Farm Services"
	must(t, x.SaveSettings(ctx, "", &settings))
	c := x.certify(t, noon)
	place, err := x.ReserveStatusIndex(ctx, c.Number)
	must(t, err)
	must(t, x.KeepFiles(ctx, c.Number, Files{JSON: []byte("{}"), PDF: []byte("%PDF\x00"), StatusIndex: place}))
	must(t, x.AddNotices(ctx, []quiz.Notice{{Person: x.technician.ID, Kind: quiz.NoticeCertificate}}))
	_, err = x.AddToken(ctx, "", &quiz.Token{Person: x.stranger.ID, Name: "Staff system"})
	must(t, err)
	_, err = x.IssueCode(ctx, "", x.stranger.ID, time.Hour)
	must(t, err)
	must(t, x.AddScan(ctx, "", &ScanPage{Assignment: x.assignment.ID, Image: []byte("\x89PNG")}))
	return x
}

// A backup of either database is restored into either, and another backup of
// that holds the same.
func TestBackupMovesBetweenDatabases(t *testing.T) {
	onEach(t, func(t *testing.T, from database) {
		x := busyShop(t, from)
		b, m := backup(t, x.Store)
		for _, table := range m.Tables {
			if table.Rows == 0 {
				t.Errorf("the test puts nothing into table %s", table.Name)
			}
		}
		if again, _ := backup(t, x.Store); !bytes.Equal(b, again) {
			t.Error("two backups of the same are not the same bytes")
		}
		if v, err := VerifyBackup(context.Background(), bytes.NewReader(b), int64(len(b))); err != nil || cmp.Diff(m, v) != "" {
			t.Errorf("%+v, %v", v, err)
		}
		onEach(t, func(t *testing.T, to database) {
			ctx := context.Background()
			y := newShop(t, to) // what is there is replaced
			code, err := y.IssueCode(ctx, "", y.stranger.ID, time.Hour)
			must(t, err)
			_, old := backup(t, y.Store)
			must(t, y.Sessions().Commit("token", []byte("x"), noon.Add(time.Hour)))
			must(t, restore(y.Store, b))
			if _, err := y.RedeemCode(ctx, code); quiz.ErrorCode(err) != quiz.Unidentified {
				t.Errorf("a one-time code outlived the restore: %v", err)
			}
			if _, ok, _ := y.Sessions().Find("token"); ok {
				t.Error("a session outlived the restore")
			}
			_, n := backup(t, y.Store)
			for i, table := range n.Tables {
				if strings.HasPrefix(table.Name, "audit_") {
					continue
				}
				if table != m.Tables[i] {
					t.Errorf("table %s: %+v, was %+v", table.Name, table, m.Tables[i])
				}
			}
			head, err := y.VerifyAudit(ctx)
			must(t, err)
			log, err := y.AuditLog(ctx, 0, 2)
			must(t, err)
			if head.Seq != m.Audit.Seq+1 || log[0].Action != "backup.restore" || log[0].Actor != "admin" ||
				!strings.Contains(log[0].Detail, old.Audit.Hash) || log[1].Hash != m.Audit.Hash {
				t.Errorf("the restored log is not continued: %+v, %+v", head, log)
			}
			if err := y.w.Exec("DELETE FROM audit_entries").Error; err == nil {
				t.Error("the audit log is not guarded after a restore")
			}
			p, err := y.Person(ctx, x.technician.ID)
			must(t, err)
			wantSame(t, "a person", p, x.technician)
			must(t, y.SavePerson(ctx, "", &p)) // and work goes on
		})
	})
}

func TestRestoreOfAnEarlierVersion(t *testing.T) {
	for _, v := range []string{"0001", "0002"} {
		t.Run(v, func(t *testing.T) {
			onEach(t, func(t *testing.T, d database) {
				s := d.open(t, newClock()) // empty: a new machine
				must(t, restore(s, fixture(t, v)))
				wantFixture(t, s, v)
			})
		})
	}
}

// rewrite copies a backup with the content of its files changed.
func rewrite(t *testing.T, b []byte, change func(name, content string) (string, bool)) []byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	must(t, err)
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, f := range z.File {
		r, err := f.Open()
		must(t, err)
		content, err := io.ReadAll(r)
		must(t, err)
		if s, keep := change(f.Name, string(content)); keep {
			fw, err := w.Create(f.Name)
			must(t, err)
			_, err = io.WriteString(fw, s)
			must(t, err)
		}
	}
	must(t, w.Close())
	return out.Bytes()
}

func TestRestoreVerifiesBeforeItReplaces(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := busyShop(t, d)
		good, m := backup(t, x.Store)
		must(t, x.SaveSite(ctx, "", &quiz.Site{Name: "Wexcombe South"})) // since the backup
		_, before := backup(t, x.Store)
		entry := map[string]TableEntry{}
		for _, e := range m.Tables {
			entry[e.Name] = e
		}
		in := func(file, old, new string) func(string, string) (string, bool) {
			return func(name, content string) (string, bool) {
				if name == file {
					if !strings.Contains(content, old) {
						t.Errorf("%s does not hold %q", file, old)
					}
					content = strings.Replace(content, old, new, 1)
				}
				return content, true
			}
		}
		for _, c := range []struct {
			name string
			b    []byte
			want string
		}{
			{"no zip", []byte("something else"), "cannot be read"},
			{"cut short", good[:len(good)-40], "cannot be read"},
			{"no manifest", rewrite(t, good, func(name, s string) (string, bool) { return s, name != manifestFile }), "manifest.json"},
			{"a table is missing", rewrite(t, good, func(name, s string) (string, bool) { return s, name != tableFile("responses") }), "responses"},
			{"another format", rewrite(t, good, in(manifestFile, BackupFormat, "another backup 1")), "not \"rightpage backup 1\""},
			{"a later version", rewrite(t, good, in(manifestFile, `"schema": "`+Version+`"`, `"schema": "0099"`)), "0099 is not known"},
			{"a changed answer", rewrite(t, good, in(tableFile("responses"), "quoted", "QUOTED")), "SHA-256"},
			{"a row too many", rewrite(t, good, func(name, s string) (string, bool) {
				if name == tableFile("practices") {
					s += strings.Replace(s, key(1), key(2), 1)
				}
				return s, true
			}), "more than the"},
			{"a row that refers to nothing", rewrite(t, good, in(tableFile("attempts"), x.technician.ID, "nobody")), "attempts"},
			{"a row too few", rewrite(t, good, func(name, s string) (string, bool) {
				if name == tableFile("practices") {
					s = ""
				}
				return s, true
			}), "0 rows in 0 bytes"},
			{"another column", rewrite(t, good, in(tableFile("sites"), `"name"`, `"nome"`)), "no column name"},
			{"a column too many", rewrite(t, good, in(tableFile("sites"), `"zone":"Europe/London"`, `"zone":"","x":"12345"`)), "columns, not"},
			{"not JSON", rewrite(t, good, in(tableFile("sites"), `{"id"`, `{id`)), "row 1"},
			{"another end of the audit log", rewrite(t, good, in(manifestFile, m.Audit.Hash, quiz.ChainStart)), "tampered"},
			// Somebody who mends the hash of the table too.
			{"a changed audit entry", rewrite(t, good, forgeAudit(t, good, entry["audit_entries"])), "tampered"},
		} {
			err := restore(x.Store, c.b)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%s: %v, want an error that says %q", c.name, err, c.want)
			}
			if code := quiz.ErrorCode(err); code != quiz.Invalid && code != quiz.NotMigrated {
				t.Errorf("%s: code %q: %v", c.name, code, err)
			}
		}
		if _, after := backup(t, x.Store); cmp.Diff(before, after) != "" {
			t.Error("a refused backup changed the database")
		}
		must(t, restore(x.Store, good))
		if sites, _ := x.Sites(ctx); len(sites) != 1 {
			t.Errorf("%+v", sites)
		}
	})
}

// forgeAudit changes an audit entry and mends the table's hash in the manifest.
func forgeAudit(t *testing.T, b []byte, e TableEntry) func(string, string) (string, bool) {
	t.Helper()
	forged := ""
	rewrite(t, b, func(name, s string) (string, bool) {
		if name == tableFile("audit_entries") {
			forged = strings.Replace(s, "attempt.grade", "attempt.spoil", 1)
		}
		return s, true
	})
	return func(name, s string) (string, bool) {
		switch name {
		case tableFile("audit_entries"):
			return forged, true
		case manifestFile:
			return strings.Replace(s, e.SHA256, digest(forged), 1), true
		}
		return s, true
	}
}

// While technicians answer and hand in, a backup shows one moment: every
// answer belongs to an attempt that is there, versions have no gaps, and there
// are as many attempts handed in as the audit log tells.
func TestBackupIsConsistentUnderLoad(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		other := d.open(t, x.clock)
		x.assignment.Targets = []quiz.Target{{Kind: quiz.ToRole, ID: string(quiz.Technician)}}
		x.assignment.Attempts = quiz.MaxAttempts
		must(t, x.SaveAssignment(ctx, "", &x.assignment))
		stop := make(chan struct{})
		var workers sync.WaitGroup
		for i := range 4 {
			p := quiz.Person{Name: fmt.Sprint("Technician ", i), Roles: []quiz.Role{quiz.Technician}}
			must(t, x.SavePerson(ctx, "", &p))
			s := []*Store{x.Store, other}[i%2]
			workers.Add(1)
			go func() {
				defer workers.Done()
				for n := range quiz.MaxAttempts {
					select {
					case <-stop:
						return
					default:
					}
					a, err := s.StartAttempt(ctx, x.assignment.ID, p.ID)
					if err != nil {
						t.Error(err)
						return
					}
					for base := range 2 {
						if _, _, err := s.SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: a.Questions[0], Key: key(base), Value: "A", Base: base}); err != nil {
							t.Error(err)
						}
					}
					if _, err := s.HandIn(ctx, a.ID, key(n)); err != nil {
						t.Error(err)
					}
				}
			}()
		}
		var backups [][]byte
		for range 5 {
			time.Sleep(20 * time.Millisecond)
			b, _ := backup(t, x.Store)
			backups = append(backups, b)
		}
		close(stop)
		workers.Wait()
		last := 0
		for _, b := range backups {
			s, _, done, err := stage(ctx, bytes.NewReader(b), int64(len(b)))
			if err != nil {
				t.Fatal(err)
			}
			attempts, err := s.AttemptsAt(ctx, x.assignment.ID)
			must(t, err)
			handed := 0
			for _, a := range attempts {
				answers, err := s.Answers(ctx, a.ID)
				must(t, err)
				if a.State == quiz.HandedIn {
					if handed++; len(answers) != 2 {
						t.Errorf("handed in with %d answers", len(answers))
					}
				}
				for i, r := range answers {
					if r.Version != i+1 {
						t.Errorf("versions with a gap: %+v", answers)
					}
				}
			}
			log, err := s.AuditLog(ctx, 0, 100000)
			must(t, err)
			for _, e := range log {
				if e.Action == "attempt.handin" {
					handed--
				}
			}
			if handed != 0 {
				t.Errorf("%d more attempts handed in than the audit log tells", handed)
			}
			last = max(last, len(attempts))
			done()
		}
		if last == 0 {
			t.Error("nothing happened while the backups were made")
		}
	})
}
