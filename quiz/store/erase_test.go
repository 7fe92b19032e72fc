package store

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"gorm.io/gorm"

	"rightpage/grading"
	"rightpage/quiz"
)

// fullShop is a shop in which the technician left something in every table.
// Whatever is of the technician alone holds the word secret.
func fullShop(t *testing.T, d database) (x *shop, number string) {
	t.Helper()
	ctx := context.Background()
	x = newShop(t, d)
	x.technician.Name, x.technician.Number, x.technician.Mail = "Tomás secret", "secret-7", "secret@wexcombe.example"
	must(t, x.SavePerson(ctx, "", &x.technician))
	must(t, x.SaveAccount(ctx, "", &quiz.Account{Person: x.technician.ID, Login: "secret", Hash: "hash-of-secret"}))
	x.assignment.Accommodations = []quiz.Accommodation{{Person: x.technician.ID, Percent: 25, Reason: "secret illness"}, {Person: x.stranger.ID, Percent: 10, Reason: "kept"}}
	must(t, x.SaveAssignment(ctx, "", &x.assignment))
	a := x.start(t)
	_, _, err := x.SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: a.Questions[0], Key: key(1), Value: "A", Spent: 0})
	must(t, err)
	_, err = x.HandIn(ctx, a.ID, key(2))
	must(t, err)
	_, err = x.GradeAttempt(ctx, x.coordinator.ID, a.ID, quiz.Result{Points: 1, Of: 4}, sampleScores())
	must(t, err)
	dispute, err := x.OpenDispute(ctx, a.ID, a.Questions[0], "secret reason")
	must(t, err)
	_, err = x.DecideDispute(ctx, x.coordinator.ID, dispute.ID, false, "edition 2 covers it")
	must(t, err)
	score := sampleScores()[0]
	score.Given = "secret guess"
	_, err = x.SavePractice(ctx, quiz.Practice{Person: x.technician.ID, Key: key(1), At: noon, Spent: 3 * time.Second, Score: score})
	must(t, err)
	c := x.certify(t, noon)
	place, err := x.ReserveStatusIndex(ctx, c.Number)
	must(t, err)
	must(t, x.KeepFiles(ctx, c.Number, Files{JSON: []byte(`{"name":"secret"}`), PDF: bytes.Repeat([]byte("secret file "), 2000), StatusIndex: place}))
	must(t, x.AddNotices(ctx, []quiz.Notice{{Person: x.technician.ID, At: noon, Kind: quiz.NoticeCertificate, Detail: map[string]string{"name": "secret"}}}))
	_, err = x.AddToken(ctx, x.technician.ID, &quiz.Token{Person: x.technician.ID, Name: "secret"})
	must(t, err)
	_, err = x.IssueCode(ctx, x.coordinator.ID, x.technician.ID, time.Hour)
	must(t, err)
	must(t, x.Sessions().Commit("token", []byte("secret"), noon.Add(time.Hour)))
	must(t, x.Sessions().Bind(ctx, "token", x.technician.ID, noon.Add(time.Hour)))
	must(t, x.AddScan(ctx, x.coordinator.ID, &ScanPage{Assignment: x.assignment.ID, Person: x.technician.ID, Reading: []byte(`"secret"`), Image: []byte("secret")}))
	must(t, x.AddCatalog(ctx, x.coordinator.ID, &CatalogInfo{Title: "Tarnfell"}, []byte("content")))
	settings := quiz.DefaultSettings()
	settings.Organisation = "Wexcombe Estate & Farm Services"
	must(t, x.SaveSettings(ctx, "", &settings))
	return x, c.Number
}

// everything gives the rows of all tables, a line each.
func everything(t *testing.T, s *Store) map[string]string {
	t.Helper()
	all := map[string]string{}
	tables, err := tablesOf(s.w, append(keptV3(), passingV3()...))
	must(t, err)
	for _, table := range tables {
		rows := table.newRow().Elem() // of one row, then of all
		list := make([]map[string]any, 0)
		must(t, s.r.Session(&gorm.Session{}).Model(rows.Addr().Interface()).Find(&list).Error)
		var lines []string
		for _, row := range list {
			for column, v := range row {
				if b, ok := v.([]byte); ok {
					row[column] = string(b)
				}
			}
			lines = append(lines, text(row))
		}
		all[table.schema.Table] = strings.Join(lines, "\n")
	}
	return all
}

func TestErasePerson(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x, number := fullShop(t, d)
		before := everything(t, x.Store)
		for _, table := range []string{"people", "accounts", "assignments", "disputes", "practices", "certificates", "certificate_files", "notices", "tokens", "sessions", "scans"} {
			if !strings.Contains(before[table], "secret") {
				t.Errorf("the test puts nothing into table %s", table)
			}
		}
		place, err := x.CertificateFiles(ctx, number)
		must(t, err)
		must(t, x.ErasePerson(ctx, x.coordinator.ID, x.technician.ID))
		must(t, x.ErasePerson(ctx, x.coordinator.ID, x.technician.ID)) // done again
		after := everything(t, x.Store)
		for table, rows := range after {
			if strings.Contains(strings.ReplaceAll(rows, "the secret answer", ""), "secret") { // the catalog's, not the person's
				t.Errorf("table %s still holds %s", table, rows)
			}
		}
		if after["codes"] != "" || !strings.Contains(after["sessions"]+after["accounts"], "ines") {
			t.Errorf("codes %q, accounts %q", after["codes"], after["accounts"])
		}
		for _, table := range []string{"attempts", "responses", "gradings", "statuses", "catalogs", "forms"} {
			if before[table] != after[table] || after[table] == "" {
				t.Errorf("table %s was changed", table)
			}
		}
		p, err := x.Person(ctx, x.technician.ID)
		must(t, err)
		if !strings.HasPrefix(p.Name, "Erased person ") || len(p.Name) != len("Erased person ")+4 || p.Mail != "" || p.Number != "" || p.Locale != quiz.DefaultLocale ||
			!p.Left.Equal(noon) || !p.Erased.Equal(noon) || p.Version != 3 {
			t.Errorf("%+v", p)
		}
		p.Name = "Tomás again"
		wantCode(t, "an erased person changed", x.SavePerson(ctx, "", &p), quiz.Closed)
		c, err := x.Certificate(ctx, number)
		must(t, err)
		if !strings.HasPrefix(c.Person, "Erased person") || c.Site != "" || c.Code == "" || len(c.Lookups) != 1 {
			t.Errorf("%+v", c)
		}
		if again, err := x.ReserveStatusIndex(ctx, number); err != nil || again != place.StatusIndex {
			t.Errorf("place %d became %d, %v", place.StatusIndex, again, err)
		}
		a, err := x.Assignment(ctx, x.assignment.ID)
		must(t, err)
		if a.Accommodations[0].Reason != "" || a.Accommodations[0].Percent != 25 || a.Accommodations[1].Reason != "kept" || a.Version != x.assignment.Version+1 {
			t.Errorf("%+v", a)
		}
		if len(x.outcomes(t, time.Time{})) != 1 {
			t.Error("the answers did not stay")
		}
		if _, err := x.VerifyAudit(ctx); err != nil {
			t.Error(err)
		}
		log, err := x.AuditLog(ctx, 0, 2)
		must(t, err)
		if log[0].Action != "person.erase" || log[1].Action == "person.erase" {
			t.Errorf("%+v", log)
		}
		wantCode(t, "nobody", x.ErasePerson(ctx, "", "none"), quiz.NotFound)
		if d.postgres {
			return
		}
		// Nothing is left in the file either, once the log is written into it.
		must(t, x.w.Exec("PRAGMA wal_checkpoint(TRUNCATE)").Error)
		file, err := os.ReadFile(d.url)
		must(t, err)
		for _, trace := range []string{"secret file", "hash-of-secret", "secret illness", "secret reason", "secret-7", "secret guess", "Tomás secret"} {
			if bytes.Contains(file, []byte(trace)) {
				t.Errorf("the file still holds %q", trace)
			}
		}
	})
}

func TestApplyRetention(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x, _ := fullShop(t, d)
		x.technician.Left = noon
		must(t, x.SavePerson(ctx, "", &x.technician))
		x.stranger.Left = noon.AddDate(0, 6, 0)
		must(t, x.SavePerson(ctx, "", &x.stranger))
		told := func(at time.Time) {
			must(t, x.AddNotices(ctx, []quiz.Notice{{Person: x.coordinator.ID, At: at, Kind: quiz.NoticeAssignment}}))
		}
		told(noon)
		told(noon.AddDate(0, 9, 0))
		for _, state := range []string{ScanWaiting, ScanRefused} {
			must(t, x.AddScan(ctx, "", &ScanPage{Assignment: x.assignment.ID, State: state}))
		}
		x.clock.advance(365 * 24 * time.Hour)
		apply := func(before time.Time, want int) {
			t.Helper()
			if n, err := x.ApplyRetention(ctx, x.coordinator.ID, before); err != nil || n != want {
				t.Errorf("%d erased, %v; want %d", n, err, want)
			}
		}
		apply(noon, 0) // left at that time, not before
		apply(noon.AddDate(0, 3, 0), 1)
		head, err := x.VerifyAudit(ctx)
		must(t, err)
		apply(noon.AddDate(0, 3, 0), 0)
		if again, _ := x.VerifyAudit(ctx); again != head {
			t.Error("a night without work is in the audit log")
		}
		if p, _ := x.Person(ctx, x.stranger.ID); !p.Erased.IsZero() {
			t.Error("somebody who left later was erased")
		}
		if p, _ := x.Person(ctx, x.technician.ID); p.Erased.IsZero() || !p.Left.Equal(noon) {
			t.Errorf("%+v", p)
		}
		if n, _ := x.Notices(ctx, x.coordinator.ID, 0); len(n) != 1 {
			t.Errorf("notices left: %+v", n)
		}
		if n, _ := x.Scans(ctx, x.assignment.ID, ""); len(n) != 1 || n[0].State != ScanWaiting {
			t.Errorf("pages left: %+v", n)
		}
		_, err = x.ApplyRetention(ctx, "", x.clock.now().Add(time.Hour))
		wantCode(t, "a time that lies ahead", err, quiz.Invalid)
	})
}

func TestExportPerson(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x, number := fullShop(t, d)
		var b bytes.Buffer
		must(t, x.ExportPerson(ctx, x.coordinator.ID, x.technician.ID, &b))
		var e personExport
		decoder := json.NewDecoder(&b)
		decoder.DisallowUnknownFields()
		raw := b.String()
		must(t, decoder.Decode(&e))
		if e.Format != ExportFormat || e.Person.Name != x.technician.Name || e.Person.Site != x.site.Name || e.Account.Login != "secret" || len(e.Sessions) != 1 ||
			len(e.Tokens) != 1 || e.CodeUntil == nil || len(e.Assignments) != 1 || e.Assignments[0].Accommodation.Reason != "secret illness" ||
			len(e.Notices) != 1 || len(e.Scans) != 1 || string(e.Scans[0].Image) != "secret" || string(e.Scans[0].Reading) != `"secret"` {
			t.Errorf("%s", raw)
		}
		if len(e.Attempts) != 1 || len(e.Attempts[0].Answers) != 1 || len(e.Attempts[0].Gradings) != 1 || e.Attempts[0].Gradings[0].Scores[0].Given != "B" ||
			len(e.Disputes) != 1 || e.Disputes[0].Reason != "secret reason" || len(e.Practice) != 1 || e.Practice[0].Seconds != 3 {
			t.Errorf("%s", raw)
		}
		if len(e.Certificates) != 1 || e.Certificates[0].Number != number || len(e.Certificates[0].PDF) != 24000 || e.Certificates[0].Content.Lookups[0].ID != "l1" {
			t.Errorf("%s", raw)
		}
		if !slices.ContainsFunc(e.Audit, func(y exportedEntry) bool { return y.Action == "attempt.handin" && y.Own }) ||
			!slices.ContainsFunc(e.Audit, func(y exportedEntry) bool { return y.Action == "person.export" && !y.Own }) {
			t.Errorf("%+v", e.Audit)
		}
		var digests []string
		must(t, x.r.Model(&tokenRow{}).Pluck("digest", &digests).Error)
		for what, secret := range map[string]string{"a hash": "hash-of-secret", "a digest of a token": digests[0], "an answer of a lookup": "the secret answer"} {
			if strings.Contains(raw, secret) {
				t.Errorf("the export holds %s", what)
			}
		}
		for _, s := range append(e.Attempts[0].Gradings[0].Scores, e.Practice[0].Score) {
			if s.Right != "" || s.Verdict != grading.Wrong {
				t.Errorf("a key: %+v", s)
			}
		}
		must(t, x.ErasePerson(ctx, "", x.technician.ID))
		b.Reset()
		must(t, x.ExportPerson(ctx, "", x.technician.ID, &b))
		if strings.Contains(b.String(), "secret") {
			t.Errorf("an erased person: %s", &b)
		}
		wantCode(t, "nobody", x.ExportPerson(ctx, "", "none", &b), quiz.NotFound)
	})
}

// Nobody learns by an export of their own data what the release rule keeps back.
func TestOwnExportKeepsToTheReleaseRule(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x, _ := fullShop(t, d)
		export := func(actor string) (e personExport) {
			t.Helper()
			var b bytes.Buffer
			must(t, x.ExportPerson(ctx, actor, x.technician.ID, &b))
			must(t, json.Unmarshal(b.Bytes(), &e))
			return e
		}
		release := func(r quiz.Release) {
			t.Helper()
			a, err := x.Assignment(ctx, x.assignment.ID)
			must(t, err)
			a.Release, a.Attempts = r, 1
			must(t, x.SaveAssignment(ctx, x.coordinator.ID, &a))
		}
		release(quiz.Release{When: quiz.ReleaseNever, Score: true, Answers: true})
		if e := export(x.technician.ID); len(e.Attempts) != 1 || len(e.Attempts[0].Answers) != 1 || len(e.Attempts[0].Gradings) != 0 {
			t.Errorf("never released: %+v", e.Attempts)
		}
		if e := export(x.coordinator.ID); len(e.Attempts[0].Gradings) != 1 {
			t.Errorf("another's export: %+v", e.Attempts)
		}
		release(quiz.Release{When: quiz.ReleaseAtEnd, Score: true})
		if g := export(x.technician.ID).Attempts[0].Gradings; len(g) != 1 || g[0].Result.Of == 0 || len(g[0].Scores) != 0 {
			t.Errorf("the score alone: %+v", g)
		}
		release(quiz.Release{When: quiz.ReleaseAtEnd, Answers: true})
		if g := export(x.technician.ID).Attempts[0].Gradings; len(g) != 1 || g[0].Result.Of != 0 || len(g[0].Scores) != 1 {
			t.Errorf("the answers alone: %+v", g)
		}
	})
}
