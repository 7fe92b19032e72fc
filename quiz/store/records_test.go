package store

import (
	"context"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rightpage/quiz"
	"rightpage/quiz/certificate"
)

func wantSame[T any](t *testing.T, what string, got, want T) {
	t.Helper()
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("%s reads back otherwise (-saved +read):\n%s", what, d)
	}
}

func TestRecordsReadBackAsTheyWereSaved(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		sites, err := x.Sites(ctx)
		must(t, err)
		wantSame(t, "a site", sites, []quiz.Site{x.site})
		p, err := x.Person(ctx, x.technician.ID)
		must(t, err)
		wantSame(t, "a person", p, x.technician)
		people, err := x.People(ctx)
		must(t, err)
		wantSame(t, "the people, by name", people, []quiz.Person{x.coordinator, x.stranger, x.technician})
		account, err := x.Account(ctx, " INES ")
		must(t, err)
		wantSame(t, "an account", account, quiz.Account{Person: x.coordinator.ID, Login: "ines", Hash: "$argon2id$…", Changed: noon, Must: true, Version: 1})
		f, err := x.Form(ctx, x.assignment.Form)
		must(t, err)
		wantSame(t, "a form", len(f.Variants[1].Questions), 4)
		forms, err := x.Forms(ctx)
		must(t, err)
		wantSame(t, "the forms", forms, []FormInfo{{f.ID, "Editions", "Tarnfell", "R3", noon}})

		x.assignment.Accommodations = []quiz.Accommodation{{Person: x.technician.ID, Percent: 25, Extra: time.Minute, Close: noon.Add(72 * time.Hour), Reason: "reads slowly"}}
		must(t, x.SaveAssignment(ctx, x.coordinator.ID, &x.assignment))
		a, err := x.Assignment(ctx, x.assignment.ID)
		must(t, err)
		wantSame(t, "an assignment", a, x.assignment)
		all, err := x.Assignments(ctx)
		must(t, err)
		wantSame(t, "the assignments", all, []quiz.Assignment{x.assignment})

		r := quiz.Requirement{Course: "Hydraulics", Date: noon.AddDate(0, 2, 0), Skills: []quiz.SkillLevel{{Skill: "edition", Level: 0.85}},
			Targets: []quiz.Target{{Kind: quiz.ToRole, ID: "technician"}}}
		must(t, x.SaveRequirement(ctx, x.coordinator.ID, &r))
		rs, err := x.Requirements(ctx, noon)
		must(t, err)
		wantSame(t, "a requirement", rs, []quiz.Requirement{r})
		if rs, err = x.Requirements(ctx, noon.AddDate(1, 0, 0)); err != nil || len(rs) != 0 {
			t.Errorf("requirements of courses that are over: %v, %v", rs, err)
		}
	})
}

func TestStaleAndDoubleRecordsAreRefused(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		stale := x.technician
		x.technician.Name = "Tomás Ferro Gil"
		must(t, x.SavePerson(ctx, "", &x.technician))
		stale.Name = "Tom Ferro"
		wantCode(t, "a stale person", x.SavePerson(ctx, "", &stale), quiz.Conflict)
		if p, _ := x.Person(ctx, stale.ID); p.Name != x.technician.Name || stale.Version != 1 {
			t.Errorf("the stale form won: %+v, %+v", p, stale)
		}
		staleAssignment := x.assignment
		must(t, x.SaveAssignment(ctx, "", &x.assignment))
		wantCode(t, "a stale assignment", x.SaveAssignment(ctx, "", &staleAssignment), quiz.Conflict)
		wantCode(t, "a login that is taken", x.AddPerson(ctx, "", &quiz.Person{Name: "I", Roles: []quiz.Role{quiz.Technician}}, "iNeS", "h", false), quiz.Conflict)
		if people, _ := x.People(ctx); len(people) != 3 {
			t.Error("a person was added although the account was not")
		}
		wantCode(t, "a staff number that is taken", x.SavePerson(ctx, "", &quiz.Person{Name: "I", Roles: []quiz.Role{quiz.Technician}, Number: "7"}), quiz.Conflict)
		wantCode(t, "a site that there is not", x.SavePerson(ctx, "", &quiz.Person{Name: "I", Roles: []quiz.Role{quiz.Technician}, Site: "none"}), quiz.Invalid)
		wantCode(t, "no role", x.SavePerson(ctx, "", &quiz.Person{Name: "I"}), quiz.Invalid)
		_, err := x.Person(ctx, "none")
		wantCode(t, "nobody", err, quiz.NotFound)
		_, err = x.Account(ctx, "none")
		wantCode(t, "no account", err, quiz.NotFound)
		must(t, x.AddForm(ctx, "", sampleForm(4)))
		if forms, _ := x.Forms(ctx); len(forms) != 1 {
			t.Errorf("a form that was there already was added: %v", forms)
		}
	})
}

func TestCertificates(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		a := x.start(t)
		issue := func(attempt string, issued time.Time) (quiz.Certified, error) {
			c := quiz.Certified{PersonID: x.technician.ID, Attempt: attempt, Certificate: certificate.Certificate{
				Person: x.technician.Name, Organisation: "Wexcombe Estate & Farm Services", Quiz: "Editions", Skills: []certificate.Skill{{Name: "Edition", Level: "Assured"}},
				CatalogTitle: "Tarnfell", CatalogRevision: "R3", Issued: issued, Expires: issued.AddDate(2, 0, 0),
				Lookups: []certificate.Lookup{{ID: "l1", Answer: "edition 1"}}}}
			err := x.IssueCertificate(ctx, x.coordinator.ID, "WX", &c)
			return c, err
		}
		first, err := issue(a.ID, noon)
		must(t, err)
		read, err := x.Certificate(ctx, first.Number)
		must(t, err)
		wantSame(t, "a certificate", read, first)
		_, err = issue(a.ID, noon)
		wantCode(t, "a second certificate for an attempt", err, quiz.Conflict)
		second, err := issue("", noon)
		must(t, err)
		other, err := issue("", noon.AddDate(1, 0, 0))
		must(t, err)
		want := []string{certificate.Number("WX", 2031, 1), certificate.Number("WX", 2031, 2), certificate.Number("WX", 2032, 1)}
		wantSame(t, "numbers without gaps, anew each year", []string{first.Number, second.Number, other.Number}, want)

		changed, err := x.RecordChanges(ctx, "", first.Number, []certificate.Change{{Lookup: first.Lookups[0], Now: certificate.Current{Answer: "edition 2"}}})
		must(t, err)
		if s := changed.Standing(certificate.DefaultPolicy(), noon); s.State != certificate.Outdated {
			t.Errorf("%+v", s)
		}
		_, err = x.RevokeCertificate(ctx, x.coordinator.ID, second.Number, "wrong person")
		must(t, err)
		_, err = x.RevokeCertificate(ctx, x.coordinator.ID, second.Number, "wrong person")
		wantCode(t, "revoked twice", err, quiz.Closed)
		read, err = x.Certificate(ctx, second.Number)
		must(t, err)
		if s := read.Standing(certificate.DefaultPolicy(), noon); s.State != certificate.Revoked {
			t.Errorf("%+v", s)
		}
		of, err := x.CertificatesOf(ctx, x.technician.ID)
		must(t, err)
		if len(of) != 3 || of[0].Number != other.Number {
			t.Errorf("%+v", of)
		}
		soon, err := x.CertificatesExpiring(ctx, noon, noon.AddDate(2, 0, 1))
		must(t, err)
		if len(soon) != 2 || soon[0].Number != first.Number {
			t.Errorf("%+v", soon)
		}
	})
}

func TestPracticeIsKeptOnce(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		p := quiz.Practice{Person: x.technician.ID, Key: key(1), At: noon, Spent: 40 * time.Second, Score: sampleScores()[0]}
		for i, want := range []bool{false, true} {
			if repeated, err := x.SavePractice(ctx, p); err != nil || repeated != want {
				t.Errorf("time %d: repeated %v, %v", i+1, repeated, err)
			}
		}
		got, err := x.PracticeOf(ctx, x.technician.ID, noon)
		must(t, err)
		wantSame(t, "practice", got, []quiz.Practice{p})
		if got, _ = x.PracticeOf(ctx, x.technician.ID, noon.Add(1)); len(got) != 1 {
			// Instants are kept to the microsecond.
			t.Errorf("%+v", got)
		}
		if got, _ = x.PracticeOf(ctx, x.technician.ID, noon.Add(time.Second)); len(got) != 0 {
			t.Errorf("%+v", got)
		}
		p.Person = "none"
		_, err = x.SavePractice(ctx, p)
		wantCode(t, "nobody's practice", err, quiz.Invalid)
	})
}
