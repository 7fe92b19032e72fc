package certificate

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func date(s string) time.Time {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		panic(err)
	}
	return t
}

// issued is a certificate for n lookups answered "p0", "p1", ….
func issued(n int) Certificate {
	c := Certificate{Number: "WX-2031-0042", Person: "Maren Ostvold", Organisation: "Wexcombe Estate & Farm Services",
		Quiz: "Tarnfell lookup", Skills: []Skill{{"Edition for a build date", "Assured", "38 of 40"}},
		CatalogTitle: "Tarnfell", CatalogRevision: "2031-02", Issued: date("2031-03-14"), Expires: date("2033-03-13")}
	for i := range n {
		c.Lookups = append(c.Lookups, Lookup{ID: fmt.Sprint("l", i), Task: fmt.Sprint("task ", i), Answer: fmt.Sprint("p", i)})
	}
	return c
}

// supplement answers the first n lookups anew.
func supplement(n int) func(Lookup) Current {
	return func(l Lookup) Current {
		var i int
		fmt.Sscanf(l.ID, "l%d", &i)
		if i < n {
			return Current{Answer: "new " + l.Answer, Source: "supplement 2031-09"}
		}
		return Current{Answer: l.Answer}
	}
}

func TestStanding(t *testing.T) {
	revoked := &Revocation{At: date("2031-06-01"), Reason: "issued to the wrong person."}
	tests := []struct {
		name       string
		changed    int // of 20
		revocation *Revocation
		policy     Policy
		now        string
		want       State
		reason     string
	}{
		{"fresh", 0, nil, DefaultPolicy(), "2031-03-14T00:00:00Z", Valid, "Valid through 2033-03-13."},
		{"second before its first day", 0, nil, DefaultPolicy(), "2031-03-13T23:59:59Z", NotYet, "first day is 2031-03-14"},
		{"last second of its last day", 0, nil, DefaultPolicy(), "2033-03-13T23:59:59Z", Valid, ""},
		{"second after", 0, nil, DefaultPolicy(), "2033-03-14T00:00:00Z", Expired, "its last day was 2033-03-13"},
		{"exactly the share: still valid", 4, nil, DefaultPolicy(), "2031-12-01T12:00:00Z", Valid,
			"4 of its 20 lookups have another answer (supplement 2031-09) since it was issued."},
		{"one more than the share", 5, nil, DefaultPolicy(), "2031-12-01T12:00:00Z", Outdated,
			"5 of its 20 lookups have another answer (supplement 2031-09); more than 20 % may not. A top-up quiz on those 5 renews it."},
		{"no change tolerated", 1, nil, Policy{OutdatedAbove: 0}, "2031-12-01T12:00:00Z", Outdated,
			"1 of its 20 lookups has another answer"},
		{"every change tolerated", 20, nil, Policy{OutdatedAbove: 100}, "2031-12-01T12:00:00Z", Valid, ""},
		{"expired outranks outdated", 20, nil, DefaultPolicy(), "2034-01-01T00:00:00Z", Expired, ""},
		{"revoked outranks all", 20, revoked, DefaultPolicy(), "2034-01-01T00:00:00Z", Revoked,
			"Revoked on 2031-06-01: issued to the wrong person."},
		{"revoked without a reason", 0, &Revocation{At: date("2031-06-01")}, DefaultPolicy(), "2031-12-01T12:00:00Z", Revoked,
			"no reason recorded"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			now, err := time.Parse(time.RFC3339, tt.now)
			if err != nil {
				t.Fatal(err)
			}
			c := issued(20)
			got := Assess(c, Changed(c.Lookups, supplement(tt.changed)), tt.revocation, tt.policy, now)
			if got.State != tt.want || !strings.Contains(got.Reason, tt.reason) {
				t.Errorf("got %s, %q; want %s, %q", got.State, got.Reason, tt.want, tt.reason)
			}
			if (got.State == Outdated) != (len(got.TopUp) > 0) {
				t.Errorf("state %s with %d lookups to top up", got.State, len(got.TopUp))
			}
		})
	}
}

func TestChangeToUncertifiedLookupsDoesNotCount(t *testing.T) {
	c := issued(10)
	changes := []Change{
		{Lookup: Lookup{ID: "elsewhere"}, Now: Current{Answer: "x"}},
		{Lookup: Lookup{ID: "l3"}, Now: Current{Answer: "x"}},
		{Lookup: Lookup{ID: "l3"}, Now: Current{Answer: "y"}}, // the same one again
	}
	if got := Assess(c, changes, nil, Policy{OutdatedAbove: 10}, date("2031-12-01")); got.State != Valid || len(got.Changed) != 1 {
		t.Errorf("got %s with %d changes, want valid with 1", got.State, len(got.Changed))
	}
}

func TestTopUpRenewsForTheRevisionInForce(t *testing.T) {
	c := issued(4)
	gone := func(l Lookup) Current {
		switch l.ID {
		case "l1":
			return Current{Answer: "moved", Source: "supplement 2031-09"}
		case "l2":
			return Current{} // no longer covered
		}
		return Current{Answer: l.Answer}
	}
	standing := Assess(c, Changed(c.Lookups, gone), nil, DefaultPolicy(), date("2031-12-01"))
	if standing.State != Outdated || len(standing.TopUp) != 2 {
		t.Fatalf("got %s with %d to top up, want outdated with 2", standing.State, len(standing.TopUp))
	}
	renewed, err := Renew(c, standing, "WX-2031-0107", "2031-09", date("2031-12-02"))
	if err != nil {
		t.Fatal(err)
	}
	if renewed.Expires != c.Expires || renewed.CatalogRevision != "2031-09" || renewed.Number != "WX-2031-0107" {
		t.Errorf("renewed: %+v", renewed)
	}
	if len(renewed.Lookups) != 3 || renewed.Lookups[1].Answer != "moved" {
		t.Errorf("renewed lookups: %+v", renewed.Lookups)
	}
	if c.Lookups[1].Answer != "p1" {
		t.Error("renewing changed the old certificate")
	}
	again := Assess(renewed, Changed(renewed.Lookups, gone), nil, DefaultPolicy(), date("2031-12-03"))
	if again.State != Valid || len(again.Changed) != 0 {
		t.Errorf("after renewal: %s, %d changed", again.State, len(again.Changed))
	}
}

func TestRenewRefuses(t *testing.T) {
	c := issued(4)
	outdated := Assess(c, Changed(c.Lookups, supplement(4)), nil, DefaultPolicy(), date("2031-12-01"))
	tests := []struct {
		name   string
		s      Standing
		passed string
		want   string
	}{
		{"revoked", Assess(c, nil, &Revocation{At: date("2031-06-01")}, DefaultPolicy(), date("2031-12-01")), "2031-12-02", "is revoked"},
		{"unchanged", Assess(c, nil, nil, DefaultPolicy(), date("2031-12-01")), "2031-12-02", "nothing has changed"},
		{"passed too late", outdated, "2033-03-14", "expired on 2033-03-13"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := Renew(c, tt.s, "n", "r", date(tt.passed)); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got %v, want an error with %q", err, tt.want)
			}
		})
	}
}

// The state follows from counting alone, for every size, share and change.
func TestOutdatedExactlyAboveTheShare(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		total := rapid.IntRange(1, 200).Draw(t, "lookups")
		changed := rapid.IntRange(0, total).Draw(t, "changed")
		percent := rapid.IntRange(0, 100).Draw(t, "percent")
		c := issued(total)
		s := Assess(c, Changed(c.Lookups, supplement(changed)), nil, Policy{OutdatedAbove: percent}, date("2031-12-01"))
		// Stated with division instead of the product of the code: more than
		// floor(percent × total / 100) changed.
		want := Valid
		if changed > percent*total/100 {
			want = Outdated
		}
		if s.State != want || len(s.Changed) != changed {
			t.Fatalf("%d of %d changed at %d %%: %s (%d), want %s", changed, total, percent, s.State, len(s.Changed), want)
		}
	})
}

func TestCheckReportsEverythingAtOnce(t *testing.T) {
	err := Certificate{Number: "N1", Skills: []Skill{{Name: "x"}}}.Check()
	for _, want := range []string{"no person", "no organisation", "no quiz", "catalog title", "catalog revision", "skill 1", "expiry date"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v lacks %q", err, want)
		}
	}
	if err := issued(3).Check(); err != nil {
		t.Errorf("a whole certificate: %v", err)
	}
}
