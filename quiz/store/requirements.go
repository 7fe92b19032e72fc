package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"rightpage/quiz"
)

// SaveRequirement adds a requirement (Version 0) or changes it, and sets ID
// and Version.
func (s *Store) SaveRequirement(ctx context.Context, actor string, r *quiz.Requirement) error {
	if err := r.Check(); err != nil {
		return err
	}
	saved := *r
	if saved.ID == "" {
		saved.ID = newID()
	}
	saved.Version++
	row := requirementRow{ID: saved.ID, Course: saved.Course, Day: micros(saved.Date), Skills: text(saved.Skills), Targets: text(saved.Targets), Version: int64(saved.Version)}
	err := s.write(ctx, "save the requirement "+r.Course, func(tx *gorm.DB) error {
		if err := put(tx, &row, r.Version, "the requirement "+r.Course); err != nil {
			return err
		}
		return appendAudit(tx, s.entry(actor, "requirement.save", "requirement/"+row.ID, nil))
	})
	if err == nil {
		*r = saved
	}
	return err
}

// Requirements lists the requirements of courses from a date on, the next first.
func (s *Store) Requirements(ctx context.Context, from time.Time) ([]quiz.Requirement, error) {
	l, err := list(s.read(ctx).Where("day >= ?", micros(from)).Order("day, id"), func(row requirementRow) (quiz.Requirement, error) {
		r := quiz.Requirement{ID: row.ID, Course: row.Course, Date: instant(row.Day), Version: int(row.Version)}
		err := parse(row.Skills, &r.Skills, "list of skills of requirement "+r.ID)
		if err == nil {
			err = parse(row.Targets, &r.Targets, "list of targets of requirement "+r.ID)
		}
		return r, err
	})
	return l, s.fail("list the requirements", err)
}
