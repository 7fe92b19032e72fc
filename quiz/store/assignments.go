package store

import (
	"bytes"
	"context"
	"encoding/json"
	"time"

	"gorm.io/gorm"

	"rightpage/banks"
	"rightpage/quiz"
)

// AddForm keeps a form. Its ID is the hash of its content, so that adding it
// again changes nothing.
func (s *Store) AddForm(ctx context.Context, actor string, f *banks.TestForm) error {
	content, err := banks.EncodeForm(f)
	if err != nil {
		return &quiz.Error{Code: quiz.Invalid, Text: "keep the form " + f.Title, Err: err}
	}
	row := formRow{ID: f.ID, Title: f.Title, Catalog: f.Catalog, Revision: f.Revision, Content: content, Created: micros(s.now())}
	return s.write(ctx, "keep the form "+f.Title, func(tx *gorm.DB) error {
		added, err := createOnce(tx, &row)
		if err != nil || !added {
			return err
		}
		return appendAudit(tx, s.entry(actor, "form.add", "form/"+f.ID, nil))
	})
}

// Form reads a form with its keys: it is not to leave the server.
func (s *Store) Form(ctx context.Context, id string) (*banks.TestForm, error) {
	row, err := find[formRow](s.read(ctx), "form", "id = ?", id)
	if err != nil {
		return nil, s.fail("read a form", err)
	}
	f, err := banks.DecodeForm(bytes.NewReader(row.Content))
	if err != nil {
		return nil, &quiz.Error{Code: quiz.Internal, Text: "the stored form " + id + " cannot be read", Err: err, Mend: "restore a backup"}
	}
	return f, nil
}

// FormInfo is what can be said of a form without reading it.
type FormInfo struct {
	ID, Title, Catalog, Revision string
	Created                      time.Time
}

// Forms lists the forms, the latest first.
func (s *Store) Forms(ctx context.Context) ([]FormInfo, error) {
	l, err := list(s.read(ctx).Omit("content").Order("created DESC, id"), func(r formRow) (FormInfo, error) {
		return FormInfo{r.ID, r.Title, r.Catalog, r.Revision, instant(r.Created)}, nil
	})
	return l, s.fail("list the forms", err)
}

// variants gives the IDs of the questions of each variant of a form, without
// the cost of reading all of it.
func variants(tx *gorm.DB, form string) ([][]string, error) {
	row, err := find[formRow](tx, "form", "id = ?", form)
	if err != nil {
		return nil, err
	}
	var f struct {
		Variants []struct {
			Questions []struct {
				ID string `json:"id"`
			} `json:"questions"`
		} `json:"variants"`
	}
	if err := json.Unmarshal(row.Content, &f); err != nil {
		return nil, &quiz.Error{Code: quiz.Internal, Text: "the stored form " + form + " cannot be read", Err: err, Mend: "restore a backup"}
	}
	ids := make([][]string, len(f.Variants))
	for i, v := range f.Variants {
		for _, q := range v.Questions {
			ids[i] = append(ids[i], q.ID)
		}
	}
	return ids, nil
}

func assignmentOf(r assignmentRow) (quiz.Assignment, error) {
	a := quiz.Assignment{ID: r.ID, Title: r.Title, Form: r.FormID, Open: instant(r.Opens), Close: instant(r.Closes),
		Limit: time.Duration(r.TimeLimit) * time.Microsecond, Attempts: int(r.Attempts), Released: instant(r.Released),
		By: r.ByID, Created: instant(r.Created), Version: int(r.Version)}
	what := " of assignment " + r.ID
	err := parse(r.Targets, &a.Targets, "list of targets"+what)
	if err == nil {
		err = parse(r.Accommodations, &a.Accommodations, "list of accommodations"+what)
	}
	if err == nil {
		err = parse(r.ReleaseRule, &a.Release, "release rule"+what)
	}
	return a, err
}

// SaveAssignment adds an assignment (Version 0) or changes it, and sets ID, By,
// Created and Version. Attempts that were started keep their deadline.
func (s *Store) SaveAssignment(ctx context.Context, actor string, a *quiz.Assignment) error {
	if err := a.Check(); err != nil {
		return err
	}
	saved := *a
	if saved.Version == 0 {
		saved.By, saved.Created = actor, s.now()
	}
	if saved.ID == "" {
		saved.ID = newID()
	}
	saved.Version++
	row := assignmentRow{ID: saved.ID, Title: saved.Title, FormID: saved.Form, Targets: text(saved.Targets), Opens: micros(saved.Open),
		Closes: micros(saved.Close), TimeLimit: saved.Limit.Microseconds(), Attempts: int64(saved.Attempts), Accommodations: text(saved.Accommodations),
		ReleaseRule: text(saved.Release), Released: micros(saved.Released), ByID: saved.By, Created: micros(saved.Created), Version: int64(saved.Version)}
	err := s.write(ctx, "save the assignment "+a.Title, func(tx *gorm.DB) error {
		if err := put(tx, &row, a.Version, "the assignment "+a.Title); err != nil {
			return err
		}
		return appendAudit(tx, s.entry(actor, "assignment.save", "assignment/"+row.ID, map[string]any{"version": saved.Version}))
	})
	if err == nil {
		*a = saved
	}
	return err
}

// Assignment reads an assignment.
func (s *Store) Assignment(ctx context.Context, id string) (quiz.Assignment, error) {
	return s.assignment(s.read(ctx), id)
}

func (s *Store) assignment(tx *gorm.DB, id string) (quiz.Assignment, error) {
	row, err := find[assignmentRow](tx, "assignment", "id = ?", id)
	if err != nil {
		return quiz.Assignment{}, s.fail("read an assignment", err)
	}
	return assignmentOf(row)
}

// Assignments lists the assignments, those that open last first.
func (s *Store) Assignments(ctx context.Context) ([]quiz.Assignment, error) {
	l, err := list(s.read(ctx).Order("opens DESC, id"), assignmentOf)
	return l, s.fail("list the assignments", err)
}
