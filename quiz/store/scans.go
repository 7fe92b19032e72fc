package store

import (
	"context"
	"encoding/json"
	"slices"
	"time"

	"gorm.io/gorm"

	"rightpage/quiz"
)

// The states of a scanned page.
const (
	ScanWaiting = "waiting" // for a person to look at it
	ScanDone    = "done"    // its answers are recorded
	ScanRefused = "refused" // it is no page of a sheet, or another was taken for it
)

// MaxScan bounds the image of a page, in bytes.
const MaxScan = 32 << 20

// ScanPage is one page of an answer sheet that was scanned or photographed.
type ScanPage struct {
	ID         string
	Assignment string
	Person     string // ID of whose sheet it is; empty: not known yet
	Page       int    // of the sheet, from 1; 0: not known
	Reading    []byte // what was read from it: JSON, in the caller's form
	Image      []byte // as it was scanned
	State      string
	Reason     string // why it waits or was refused
	Added      time.Time
	Version    int // counts changes; 0: not stored yet
}

func (p ScanPage) check() error {
	wrong := func(text, mend string) error {
		return &quiz.Error{Code: quiz.Invalid, Text: "the scanned page " + text, Mend: mend}
	}
	switch {
	case p.Assignment == "":
		return wrong("belongs to no assignment", "say to which")
	case !slices.Contains([]string{ScanWaiting, ScanDone, ScanRefused}, p.State):
		return wrong("is "+p.State+", which there is not", "use waiting, done or refused")
	case p.Page < 0:
		return wrong("has a negative number", "count from 1, or use 0 if it is not known")
	case len(p.Reading) > 0 && !json.Valid(p.Reading):
		return wrong("has a reading that is not JSON", "send JSON or nothing")
	case len(p.Image) > MaxScan:
		return wrong("is too large", "scan it at 150 to 300 dots per inch")
	}
	return nil
}

func rowOfScan(p ScanPage) scanRow {
	return scanRow{ID: p.ID, AssignmentID: p.Assignment, PersonID: optional(p.Person), Page: int64(p.Page), State: p.State, Reason: p.Reason,
		Added: micros(p.Added), Version: int64(p.Version), Reading: filled(p.Reading), Image: filled(p.Image)}
}

func scanOf(r scanRow) (ScanPage, error) {
	return ScanPage{ID: r.ID, Assignment: r.AssignmentID, Person: given(r.PersonID), Page: int(r.Page), Reading: unfilled(r.Reading), Image: unfilled(r.Image), State: r.State,
		Reason: r.Reason, Added: instant(r.Added), Version: int(r.Version)}, nil
}

// AddScan keeps a scanned page and sets ID, Added and Version, and State, if
// it is empty, to ScanWaiting.
func (s *Store) AddScan(ctx context.Context, actor string, p *ScanPage) error {
	saved := *p
	if saved.State == "" {
		saved.State = ScanWaiting
	}
	if err := saved.check(); err != nil {
		return err
	}
	if saved.ID == "" {
		saved.ID = newID()
	}
	saved.Added, saved.Version = s.now().UTC().Truncate(time.Microsecond), 1
	row := rowOfScan(saved)
	err := s.write(ctx, "keep a scanned page", func(tx *gorm.DB) error {
		if err := create(tx, &row); err != nil {
			return err
		}
		return appendAudit(tx, s.entry(actor, "scan.add", "scan/"+row.ID, map[string]any{"assignment": saved.Assignment}))
	})
	if err == nil {
		*p = saved
	}
	return err
}

// Scans lists the scanned pages of an assignment in a state, or in any if it is
// empty, without their images, the first first.
func (s *Store) Scans(ctx context.Context, assignment, state string) ([]ScanPage, error) {
	q := s.read(ctx).Omit("image").Where("assignment_id = ?", assignment).Order("added, id")
	if state != "" {
		q = q.Where("state = ?", state)
	}
	l, err := list(q, scanOf)
	return l, s.fail("list the scanned pages", err)
}

// Scan reads a scanned page with its image.
func (s *Store) Scan(ctx context.Context, id string) (ScanPage, error) {
	row, err := find[scanRow](s.read(ctx), "scanned page", "id = ?", id)
	if err != nil {
		return ScanPage{}, s.fail("read a scanned page", err)
	}
	return scanOf(row)
}

// SaveScan changes a scanned page and sets Version. An Image that is nil
// leaves the one that is kept, as of a page that Scans listed; one that is
// empty but not nil takes it away.
func (s *Store) SaveScan(ctx context.Context, actor string, p *ScanPage) error {
	if err := p.check(); err != nil {
		return err
	}
	saved := *p
	saved.Version++
	row := rowOfScan(saved)
	err := s.write(ctx, "save a scanned page", func(tx *gorm.DB) error {
		kept, err := find[scanRow](tx.Clauses(forUpdate).Omit("image", "reading"), "scanned page", "id = ?", p.ID)
		if err != nil {
			return err
		}
		if kept.AssignmentID != p.Assignment {
			return quiz.Errorf(quiz.Invalid, "the scanned page belongs to another assignment")
		}
		row.Added = kept.Added
		columns := []string{"person_id", "page", "state", "reason", "version", "reading"}
		if p.Image != nil {
			columns = append(columns, "image")
		}
		res := tx.Model(&row).Where("version = ?", p.Version).Select(columns).Updates(&row)
		if res.Error != nil {
			return res.Error
		}
		if res.RowsAffected == 0 {
			return &quiz.Error{Code: quiz.Conflict, Text: "the scanned page was changed by somebody else", Mend: "read it again, then change it"}
		}
		return appendAudit(tx, s.entry(actor, "scan.save", "scan/"+p.ID, map[string]any{"state": p.State, "person": p.Person}))
	})
	if err == nil {
		saved.Added = instant(row.Added)
		*p = saved
	}
	return err
}
