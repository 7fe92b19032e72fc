package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"rightpage/quiz"
)

// ErasePerson erases a person's data, for good. What names the person or is of
// the person alone goes: name, staff number, mail, language, account,
// sessions, tokens, one-time codes, exercises, notices, scanned pages, the
// reasons of disputes and of accommodations, the names on certificates and
// their files. Attempts, answers and scores stay under the ID, without which
// item statistics would change, and so does the audit log, which knows people
// by ID alone. The place of a certificate in the status list stays taken. The
// person counts as having left. Erasing again changes nothing.
//
// Backups made before hold the data still, and PostgreSQL keeps what was
// deleted on disk until it is vacuumed; SQLite overwrites it.
func (s *Store) ErasePerson(ctx context.Context, actor, person string) error {
	return s.write(ctx, "erase the data of a person", func(tx *gorm.DB) error {
		row, err := find[personRow](tx.Clauses(forUpdate), "person", "id = ?", person)
		if err != nil || row.Erased != 0 {
			return err
		}
		if !s.postgres {
			// Deleted content is overwritten with zeros rather than left in
			// the file. There is one writer, this one.
			if err := tx.Exec("PRAGMA secure_delete = ON").Error; err != nil {
				return err
			}
			defer tx.Exec("PRAGMA secure_delete = OFF")
		}
		p, err := personOf(row)
		if err != nil {
			return err
		}
		now := s.now()
		p.Name, p.Number, p.Mail, p.Locale = "Erased person "+randomLetters(4), "", "", quiz.DefaultLocale
		p.Erased = now
		if p.Active(now) {
			p.Left = now
		}
		p.Version++
		row = rowOfPerson(p)
		if err := update(tx, &row, p.Version-1, "the person"); err != nil {
			return err
		}
		for _, model := range []any{&accountRow{}, &sessionRow{}, &tokenRow{}, &codeRow{}, &practiceRow{}, &noticeRow{}, &scanRow{}} {
			if err := tx.Where("person_id = ?", person).Delete(model).Error; err != nil {
				return err
			}
		}
		if err := tx.Model(&disputeRow{}).Where("person_id = ?", person).
			Updates(map[string]any{"reason": "", "version": gorm.Expr("version + 1")}).Error; err != nil {
			return err
		}
		if err := eraseCertificates(tx, p); err != nil {
			return err
		}
		if err := eraseAccommodations(tx, person); err != nil {
			return err
		}
		return appendAudit(tx, s.entry(actor, "person.erase", "person/"+person, nil))
	})
}

// eraseCertificates takes the name and site off the certificates of a person,
// and their files away.
func eraseCertificates(tx *gorm.DB, p quiz.Person) error {
	certificates, err := list(tx.Clauses(forUpdate).Where("person_id = ?", p.ID).Order("number"), certificateOf)
	if err != nil {
		return err
	}
	for _, c := range certificates {
		if err := tx.Where("number = ?", c.Number).Delete(&filesRow{}).Error; err != nil {
			return err
		}
		c.Person, c.Site = p.Name, ""
		c.Version++
		row := rowOfCertificate(c)
		if err := update(tx, &row, c.Version-1, "the certificate"); err != nil {
			return err
		}
	}
	return nil
}

// eraseAccommodations takes away why a person was given more time: it may tell
// of their health.
func eraseAccommodations(tx *gorm.DB, person string) error {
	var rows []assignmentRow
	if err := tx.Clauses(forUpdate).Where("accommodations LIKE ?", "%"+person+"%").Order("id").Find(&rows).Error; err != nil {
		return err
	}
	for _, row := range rows {
		a, err := assignmentOf(row)
		if err != nil {
			return err
		}
		changed := false
		for i, x := range a.Accommodations {
			if x.Person == person && x.Reason != "" {
				a.Accommodations[i].Reason, changed = "", true
			}
		}
		if !changed {
			continue
		}
		err = tx.Model(&assignmentRow{}).Where("id = ?", a.ID).
			Updates(map[string]any{"accommodations": text(a.Accommodations), "version": gorm.Expr("version + 1")}).Error
		if err != nil {
			return err
		}
	}
	return nil
}

// ApplyRetention erases the data of people who left before a time and tells
// how many there were, and deletes what else is older and has served: notices,
// scanned pages that are done or refused, tokens that are not valid any more.
func (s *Store) ApplyRetention(ctx context.Context, actor string, before time.Time) (erased int, err error) {
	const doing = "apply the retention of data"
	if before.After(s.now()) {
		return 0, &quiz.Error{Code: quiz.Invalid, Text: doing + ": the time lies ahead", Mend: "give one that has passed"}
	}
	limit := micros(before)
	var ids []string
	err = s.read(ctx).Model(&personRow{}).Where("left_at > 0 AND left_at < ? AND erased = 0", limit).Order("id").Pluck("id", &ids).Error
	if err != nil {
		return 0, s.fail(doing, err)
	}
	for _, id := range ids { // one by one, so that nobody waits long
		if err := s.ErasePerson(ctx, actor, id); err != nil {
			return erased, err
		}
		erased++
	}
	err = s.write(ctx, doing, func(tx *gorm.DB) error {
		var gone int64
		for _, x := range []struct {
			model any
			where string
			args  []any
		}{
			{&noticeRow{}, "at < ?", []any{limit}},
			{&scanRow{}, "added < ? AND state <> ?", []any{limit, ScanWaiting}},
			{&tokenRow{}, "expires > 0 AND expires < ? OR revoked > 0 AND revoked < ?", []any{limit, limit}},
		} {
			res := tx.Where(x.where, x.args...).Delete(x.model)
			if res.Error != nil {
				return res.Error
			}
			gone += res.RowsAffected
		}
		if erased == 0 && gone == 0 {
			return nil // done every night, it would fill the log
		}
		return appendAudit(tx, s.entry(actor, "retention.apply", "people", map[string]any{"before": before.UTC().Format(time.RFC3339), "erased": erased, "records": gone}))
	})
	return erased, err
}
