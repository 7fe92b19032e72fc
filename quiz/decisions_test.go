package quiz

import (
	"testing"
	"time"

	"rightpage/quiz/certificate"
)

func TestDispute(t *testing.T) {
	a := begun(t)
	if _, err := NewDispute("d", *a, "q1", "bulletin 7 says otherwise", noon); ErrorCode(err) != Closed {
		t.Errorf("during the attempt: %v", err)
	}
	a.HandIn(key1, noon)
	if _, err := NewDispute("d", *a, "q9", "x", noon); ErrorCode(err) != NotFound {
		t.Errorf("a question not asked: %v", err)
	}
	if _, err := NewDispute("d", *a, "q1", "  ", noon); ErrorCode(err) != Invalid {
		t.Errorf("no reason: %v", err)
	}
	for accept, want := range map[bool]DisputeState{true: DisputeAccepted, false: DisputeRejected} {
		d, err := NewDispute("d", *a, "q1", "bulletin 7 says otherwise", noon)
		if err != nil || d.State != DisputeOpen || d.Person != "p1" {
			t.Fatalf("%+v, %v", d, err)
		}
		if err := d.Decide(accept, "p1", "so it is", noon); ErrorCode(err) != Forbidden {
			t.Errorf("their own: %v", err)
		}
		if err := d.Decide(accept, "p2", "", noon); ErrorCode(err) != Invalid {
			t.Errorf("no reason: %v", err)
		}
		if err := d.Decide(accept, "p2", "so it is", noon.Add(time.Hour)); err != nil || d.State != want {
			t.Errorf("decided: %v, %s", err, d.State)
		}
		if err := d.Decide(!accept, "p2", "second thoughts", noon); ErrorCode(err) != Closed || d.State != want {
			t.Errorf("decided twice: %v, %s", err, d.State)
		}
	}
}

func TestRequirement(t *testing.T) {
	r := Requirement{Course: "Carrier hydraulics", Date: noon, Targets: []Target{{ToSite, "north"}},
		Skills: []SkillLevel{{"edition", 0.8}, {"publication", 0.9}, {"schedule", 0.5}, {"spec", 0.7}}}
	wantCheck(t, "good", r.Check(), "")
	gaps := r.Gaps(map[string]float64{"edition": 0.8, "publication": 0.85, "schedule": 0.2})
	if len(gaps) != 3 || gaps[0].Skill != "spec" || gaps[0].Known || gaps[1].Skill != "schedule" || !gaps[1].Known || gaps[2].Skill != "publication" {
		t.Errorf("the furthest first, a level just reached is no gap: %+v", gaps)
	}
	if !r.For(Person{ID: "p", Site: "north"}) || r.For(Person{ID: "p", Site: "south"}) {
		t.Error("it concerns those at the site")
	}
	for want, change := range map[string]func(*Requirement){
		"names no course": func(r *Requirement) { r.Course = "" },
		"has no date":     func(r *Requirement) { r.Date = time.Time{} },
		"no skill":        func(r *Requirement) { r.Skills = nil },
		"nobody":          func(r *Requirement) { r.Targets = nil },
		"no level":        func(r *Requirement) { r.Skills = []SkillLevel{{"edition", 1.1}} },
		"stands twice":    func(r *Requirement) { r.Skills = []SkillLevel{{"edition", 1}, {"edition", 1}} },
	} {
		bad := r
		change(&bad)
		wantCheck(t, want, bad.Check(), want)
	}
}

func TestCertifiedStanding(t *testing.T) {
	c := Certified{Certificate: certificate.Certificate{Number: "W-2031-0001", Issued: noon, Expires: noon.AddDate(2, 0, 0),
		Lookups: []certificate.Lookup{{ID: "l1", Answer: "old"}}}}
	policy := certificate.DefaultPolicy()
	if s := c.Standing(policy, noon); s.State != certificate.Valid {
		t.Errorf("%+v", s)
	}
	c.Changes = []certificate.Change{{Lookup: certificate.Lookup{ID: "l1"}, Now: certificate.Current{Answer: "new"}}}
	if s := c.Standing(policy, noon); s.State != certificate.Outdated {
		t.Errorf("%+v", s)
	}
	if err := c.Revoke(" ", noon); ErrorCode(err) != Invalid {
		t.Errorf("no reason: %v", err)
	}
	if err := c.Revoke("issued to the wrong person", noon); err != nil {
		t.Fatal(err)
	}
	if s := c.Standing(policy, noon); s.State != certificate.Revoked {
		t.Errorf("%+v", s)
	}
	if err := c.Revoke("again", noon); ErrorCode(err) != Closed {
		t.Errorf("twice: %v", err)
	}
}
