package store

import (
	"context"
	"fmt"
	"slices"
	"testing"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/credential"
)

// certify issues a certificate to the technician.
func (x *shop) certify(t testing.TB, issued time.Time) quiz.Certified {
	t.Helper()
	c := quiz.Certified{PersonID: x.technician.ID, Certificate: certificate.Certificate{Person: x.technician.Name, Site: x.site.Name,
		Organisation: "Wexcombe Estate & Farm Services", Quiz: "Editions", Skills: []certificate.Skill{{Name: "Edition", Level: "Assured"}},
		CatalogTitle: "Tarnfell", CatalogRevision: "R3", Issued: issued, Expires: issued.AddDate(1, 0, 0),
		Lookups: []certificate.Lookup{{ID: "l1", Answer: "the secret answer"}}}}
	must(t, x.IssueCertificate(context.Background(), x.coordinator.ID, "WX", &c))
	return c
}

func TestCertificateFiles(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		other := d.open(t, x.clock)
		first, second := x.certify(t, noon), x.certify(t, noon.AddDate(0, 1, 0))
		places := make([]int, 8)
		together(len(places), func(i int) {
			var err error
			if places[i], err = []*Store{x.Store, other}[i%2].ReserveStatusIndex(ctx, []string{first.Number, second.Number}[i/2%2]); err != nil {
				t.Error(err)
			}
		})
		if places[0] == places[2] || places[0] != places[1] || places[0] != places[4] || places[2] != places[7] ||
			places[0] < 0 || places[0] >= credential.StatusListSize {
			t.Errorf("places %v", places)
		}
		f := Files{JSON: []byte(`{"a":1}`), JWT: []byte("a.b.c"), PDF: []byte("%PDF"), StatusIndex: places[0]}
		must(t, x.KeepFiles(ctx, first.Number, f))
		must(t, other.KeepFiles(ctx, first.Number, f)) // the same again
		changed := f
		changed.PDF = []byte("%PDF, made again")
		wantCode(t, "other files", other.KeepFiles(ctx, first.Number, changed), quiz.Conflict)
		read, err := other.CertificateFiles(ctx, first.Number)
		must(t, err)
		wantSame(t, "the files", read, f)
		wantCode(t, "another place", x.KeepFiles(ctx, second.Number, f), quiz.Invalid)
		_, err = x.CertificateFiles(ctx, second.Number)
		wantCode(t, "no files yet", err, quiz.NotFound)
		_, err = x.ReserveStatusIndex(ctx, "none")
		wantCode(t, "no such certificate", err, quiz.NotFound)
		wantCode(t, "no such certificate", x.KeepFiles(ctx, "none", f), quiz.NotFound)

		third := x.certify(t, noon.AddDate(0, 0, 1))
		if places, err := x.RevokedIndexes(ctx); err != nil || len(places) != 0 {
			t.Errorf("%v, %v", places, err)
		}
		for _, c := range []quiz.Certified{first, second, third} { // the third has no place
			_, err := x.RevokeCertificate(ctx, x.coordinator.ID, c.Number, "wrong person")
			must(t, err)
		}
		want := []int{places[0], places[2]}
		slices.Sort(want)
		revoked, err := x.RevokedIndexes(ctx)
		must(t, err)
		wantSame(t, "the revoked places", revoked, want)
		all, err := x.Certificates(ctx)
		must(t, err)
		var numbers []string
		for _, c := range all {
			numbers = append(numbers, c.Number)
		}
		wantSame(t, "all, the latest first", numbers, []string{second.Number, third.Number, first.Number})
	})
}

func TestScans(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		p := ScanPage{Assignment: x.assignment.ID, Page: 1, Reading: []byte(`{"marks":[1,2]}`), Image: []byte("PNG\x00\xff"), Reason: "no name"}
		must(t, x.AddScan(ctx, x.coordinator.ID, &p))
		read, err := x.Scan(ctx, p.ID)
		must(t, err)
		wantSame(t, "a page", read, p)
		x.clock.advance(time.Minute)
		second := ScanPage{Assignment: x.assignment.ID, Person: x.technician.ID, State: ScanDone}
		must(t, x.AddScan(ctx, x.coordinator.ID, &second))
		for state, want := range map[string]int{"": 2, ScanWaiting: 1, ScanDone: 1, ScanRefused: 0} {
			got, err := x.Scans(ctx, x.assignment.ID, state)
			must(t, err)
			if len(got) != want {
				t.Errorf("state %q: %d pages, want %d", state, len(got), want)
			}
			for _, g := range got {
				if g.Image != nil {
					t.Error("a list holds images")
				}
			}
		}
		stale := p
		got, err := x.Scans(ctx, x.assignment.ID, ScanWaiting)
		must(t, err)
		got[0].Person, got[0].State, got[0].Reason = x.technician.ID, ScanDone, ""
		must(t, x.SaveScan(ctx, x.coordinator.ID, &got[0])) // as listed, without its image
		read, err = x.Scan(ctx, p.ID)
		must(t, err)
		p.Person, p.State, p.Reason, p.Version = x.technician.ID, ScanDone, "", 2
		wantSame(t, "a changed page", read, p)
		wantCode(t, "a stale page", x.SaveScan(ctx, "", &stale), quiz.Conflict)
		p.Image = []byte{}
		must(t, x.SaveScan(ctx, "", &p))
		if read, _ = x.Scan(ctx, p.ID); len(read.Image) != 0 || len(read.Reading) == 0 {
			t.Errorf("the image was taken away: %+v", read)
		}
		for _, c := range []struct {
			name string
			p    ScanPage
			want quiz.Code
		}{
			{"no assignment", ScanPage{}, quiz.Invalid},
			{"no such assignment", ScanPage{Assignment: "none"}, quiz.Invalid},
			{"no such person", ScanPage{Assignment: x.assignment.ID, Person: "none"}, quiz.Invalid},
			{"another state", ScanPage{Assignment: x.assignment.ID, State: "lost"}, quiz.Invalid},
			{"a reading that is not JSON", ScanPage{Assignment: x.assignment.ID, Reading: []byte("{")}, quiz.Invalid},
			{"too large", ScanPage{Assignment: x.assignment.ID, Image: make([]byte, MaxScan+1)}, quiz.Invalid},
		} {
			wantCode(t, c.name, x.AddScan(ctx, "", &c.p), c.want)
		}
		_, err = x.Scan(ctx, "none")
		wantCode(t, "no such page", err, quiz.NotFound)
		p.ID = "none"
		wantCode(t, "no such page", x.SaveScan(ctx, "", &p), quiz.NotFound)
	})
}

// BenchmarkOutcomes reads half a year of a shop of 26.
func BenchmarkOutcomes(b *testing.B) {
	onEachB(b, func(b *testing.B, d database) {
		x := newShop(b, d)
		const n = 20000
		rows := make([]practiceRow, n)
		for i := range rows {
			rows[i] = practiceRow{PersonID: x.technician.ID, ClientKey: fmt.Sprint("key", i), At: int64(i), Score: text(sampleScores()[0])}
		}
		must(b, x.w.CreateInBatches(&rows, rowsAtOnce).Error)
		for b.Loop() {
			if got := len(x.outcomes(b, time.Time{})); got != n-1 { // one was at no time
				b.Fatal(got)
			}
		}
	})
}
