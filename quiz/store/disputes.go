package store

import (
	"context"

	"gorm.io/gorm"

	"rightpage/quiz"
)

func rowOfDispute(d quiz.Dispute) disputeRow {
	return disputeRow{ID: d.ID, AttemptID: d.Attempt, Question: d.Question, PersonID: d.Person, Reason: d.Reason, Opened: micros(d.Opened),
		State: string(d.State), ByID: d.By, Verdict: d.Verdict, Decided: micros(d.Decided), Version: int64(d.Version)}
}

func disputeOf(r disputeRow) (quiz.Dispute, error) {
	return quiz.Dispute{ID: r.ID, Attempt: r.AttemptID, Question: r.Question, Person: r.PersonID, Reason: r.Reason, Opened: instant(r.Opened),
		State: quiz.DisputeState(r.State), By: r.ByID, Verdict: r.Verdict, Decided: instant(r.Decided), Version: int(r.Version)}, nil
}

// OpenDispute opens a dispute about a question of an attempt; there is one per
// question and attempt.
func (s *Store) OpenDispute(ctx context.Context, attempt, question, reason string) (quiz.Dispute, error) {
	var d quiz.Dispute
	err := s.write(ctx, "open the dispute", func(tx *gorm.DB) error {
		a, err := locked(tx, attempt)
		if err != nil {
			return err
		}
		opened, err := quiz.NewDispute(newID(), a, question, reason, s.now())
		if err != nil {
			return err
		}
		d = *opened
		d.Version = 1
		row := rowOfDispute(d)
		if err := create(tx, &row); err != nil {
			return err
		}
		return appendAudit(tx, s.entry(d.Person, "dispute.open", "dispute/"+d.ID, nil))
	})
	return d, err
}

// DecideDispute accepts or rejects a dispute, once.
func (s *Store) DecideDispute(ctx context.Context, actor, id string, accept bool, verdict string) (quiz.Dispute, error) {
	var d quiz.Dispute
	err := s.write(ctx, "decide the dispute", func(tx *gorm.DB) error {
		row, err := find[disputeRow](tx.Clauses(forUpdate), "dispute", "id = ?", id)
		if err != nil {
			return err
		}
		d, _ = disputeOf(row)
		if err := d.Decide(accept, actor, verdict, s.now()); err != nil {
			return err
		}
		d.Version++
		row = rowOfDispute(d)
		if err := update(tx, &row, d.Version-1, "the dispute"); err != nil {
			return err
		}
		return appendAudit(tx, s.entry(actor, "dispute.decide", "dispute/"+id, map[string]any{"state": d.State}))
	})
	return d, err
}

// Disputes lists the disputes in a state, the oldest first.
func (s *Store) Disputes(ctx context.Context, state quiz.DisputeState) ([]quiz.Dispute, error) {
	l, err := list(s.read(ctx).Where("state = ?", string(state)).Order("opened, id"), disputeOf)
	return l, s.fail("list the disputes", err)
}
