package store

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"time"

	"rightpage/quiz"
)

func TestSettings(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		s := d.migrated(t, newClock())
		x, err := s.Settings(ctx)
		must(t, err)
		wantSame(t, "what holds before anything is saved", x, quiz.DefaultSettings())
		wantCode(t, "no organisation", s.SaveSettings(ctx, "p", &x), quiz.Invalid)
		x.Organisation, x.Prefix, x.OutdatedAbove, x.Paper, x.Aim, x.BaseURL = "Wexcombe Estate & Farm Services", "WX", 0, quiz.PaperLetter, 0.9, "https://training.wexcombe.example"
		stale := x
		must(t, s.SaveSettings(ctx, "p", &x))
		read, err := s.Settings(ctx)
		must(t, err)
		wantSame(t, "the settings", read, x)
		wantCode(t, "two who set up at once", s.SaveSettings(ctx, "p", &stale), quiz.Conflict)
		stale = x
		x.RetentionMonths = 24
		must(t, s.SaveSettings(ctx, "p", &x))
		wantCode(t, "stale settings", s.SaveSettings(ctx, "p", &stale), quiz.Conflict)
		if read, _ = s.Settings(ctx); read.RetentionMonths != 24 || read.Version != 2 {
			t.Errorf("%+v", read)
		}
	})
}

func TestCatalogs(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		a, b, c := two(t, d)
		r1, r2 := []byte("revision 1"), bytes.Repeat([]byte("revision 2\x00\xff"), 100000)
		first := CatalogInfo{Title: "Tarnfell", Maker: "Tarnfell", Revision: "R1", Issued: "2031-01-05"}
		must(t, a.AddCatalog(ctx, "p", &first, r1))
		wantSame(t, "what is set", first, CatalogInfo{ID: CatalogID(r1), Title: "Tarnfell", Maker: "Tarnfell", Revision: "R1", Issued: "2031-01-05", Added: noon, By: "p", Bytes: 10})
		// By sha256sum and base32 of GNU coreutils.
		if first.ID != "w6qoaxp2nqcsljufvgjtzomv4p" {
			t.Errorf("ID %s", first.ID)
		}
		c.advance(time.Hour)
		again := CatalogInfo{Title: "Something else"}
		must(t, b.AddCatalog(ctx, "q", &again, r1))
		wantSame(t, "the same content again", again, first)
		second := CatalogInfo{Title: "Tarnfell", Revision: "R2"}
		must(t, b.AddCatalog(ctx, "p", &second, r2))
		other := CatalogInfo{Title: "Quillan", Revision: "R1"}
		must(t, b.AddCatalog(ctx, "p", &other, []byte("outboards")))
		must(t, a.PutInForce(ctx, "p", first.ID))
		must(t, a.PutInForce(ctx, "p", other.ID))
		must(t, a.PutInForce(ctx, "p", other.ID)) // it is already
		c.advance(time.Hour)
		must(t, b.PutInForce(ctx, "p", second.ID))
		all, err := a.Catalogs(ctx)
		must(t, err)
		first.Since = noon.Add(time.Hour)
		second.InForce, second.Since = true, noon.Add(2*time.Hour)
		other.InForce, other.Since = true, noon.Add(time.Hour)
		if other.ID > second.ID {
			wantSame(t, "the latest first", all, []CatalogInfo{second, other, first})
		} else {
			wantSame(t, "the latest first", all, []CatalogInfo{other, second, first})
		}
		content, err := a.CatalogContent(ctx, second.ID)
		must(t, err)
		if !bytes.Equal(content, r2) {
			t.Error("the content reads back otherwise")
		}
		log, err := a.AuditLog(ctx, 0, 100)
		must(t, err)
		actions := map[string]int{}
		for _, e := range log {
			actions[e.Action]++
		}
		if actions["catalog.add"] != 3 || actions["catalog.inforce"] != 3 {
			t.Errorf("what changed nothing is in the log: %v", actions)
		}
		_, err = a.CatalogContent(ctx, "none")
		wantCode(t, "no such catalog", err, quiz.NotFound)
		wantCode(t, "no such catalog", a.PutInForce(ctx, "p", "none"), quiz.NotFound)
		wantCode(t, "no title", a.AddCatalog(ctx, "p", &CatalogInfo{}, r1), quiz.Invalid)

		// However many put one in force at once, one is.
		together(8, func(i int) {
			if err := []*Store{a, b}[i%2].PutInForce(ctx, "p", []string{first.ID, second.ID}[i/2%2]); err != nil {
				t.Error(err)
			}
		})
		all, err = b.Catalogs(ctx)
		must(t, err)
		var force []string
		for _, x := range all {
			if x.InForce {
				force = append(force, x.Title)
			}
		}
		if len(force) != 2 || force[0] == force[1] {
			t.Errorf("in force: %s", strings.Join(force, ", "))
		}
	})
}
