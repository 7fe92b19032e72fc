package store

import (
	"cmp"
	"context"
	"crypto/rand"
	"slices"
	"strconv"
	"time"

	"gorm.io/gorm"

	"rightpage/quiz"
	"rightpage/quiz/certificate"
)

func rowOfCertificate(c quiz.Certified) certificateRow {
	return certificateRow{Number: c.Number, PersonID: c.PersonID, AttemptID: optional(c.Attempt), Code: c.Code, ByID: c.By,
		Content: text(c.Certificate), Expires: micros(c.Expires), Revocation: text(c.Revocation), Changes: text(c.Changes), Version: int64(c.Version)}
}

func certificateOf(r certificateRow) (quiz.Certified, error) {
	c := quiz.Certified{PersonID: r.PersonID, Attempt: given(r.AttemptID), Code: r.Code, By: r.ByID, Version: int(r.Version)}
	what := " of certificate " + r.Number
	err := parse(r.Content, &c.Certificate, "content"+what)
	if err == nil {
		err = parse(r.Revocation, &c.Revocation, "revocation"+what)
	}
	if err == nil {
		err = parse(r.Changes, &c.Changes, "list of changes"+what)
	}
	return c, err
}

// next counts a counter on and gives its value, 1 for the first.
func next(tx *gorm.DB, name string) (int, error) {
	if _, err := createOnce(tx, &counterRow{Name: name}); err != nil {
		return 0, err
	}
	if err := tx.Model(&counterRow{}).Where("name = ?", name).Update("value", gorm.Expr("value + 1")).Error; err != nil {
		return 0, err
	}
	row, err := find[counterRow](tx, "counter", "name = ?", name)
	return int(row.Value), err
}

// IssueCertificate gives a certificate its number and code and keeps it.
// Numbers run on within a year of issue without gaps. An attempt earns one
// certificate.
func (s *Store) IssueCertificate(ctx context.Context, actor, prefix string, c *quiz.Certified) error {
	code, err := certificate.NewCode(rand.Reader)
	if err != nil {
		return &quiz.Error{Code: quiz.Internal, Text: "issue the certificate", Err: err}
	}
	var saved quiz.Certified
	err = s.write(ctx, "issue the certificate", func(tx *gorm.DB) error {
		saved = *c
		year := saved.Issued.Year()
		n, err := next(tx, "certificate "+prefix+" "+strconv.Itoa(year))
		if err != nil {
			return err
		}
		saved.Number, saved.Code, saved.By, saved.Version = certificate.Number(prefix, year, n), code, actor, 1
		if err := saved.Check(); err != nil {
			return &quiz.Error{Code: quiz.Invalid, Text: "the certificate cannot be issued", Err: err}
		}
		row := rowOfCertificate(saved)
		if err := create(tx, &row); err != nil {
			return err
		}
		return appendAudit(tx, s.entry(actor, "certificate.issue", "certificate/"+saved.Number, nil))
	})
	if err == nil {
		*c = saved
	}
	return err
}

// RevokeCertificate revokes a certificate, once.
func (s *Store) RevokeCertificate(ctx context.Context, actor, number, reason string) (quiz.Certified, error) {
	return s.changeCertificate(ctx, actor, "certificate.revoke", number, func(c *quiz.Certified) error { return c.Revoke(reason, s.now()) })
}

// RecordChanges keeps which lookups of a certificate the catalog in force
// answers otherwise.
func (s *Store) RecordChanges(ctx context.Context, actor, number string, changes []certificate.Change) (quiz.Certified, error) {
	return s.changeCertificate(ctx, actor, "certificate.changes", number, func(c *quiz.Certified) error { c.Changes = changes; return nil })
}

func (s *Store) changeCertificate(ctx context.Context, actor, action, number string, change func(*quiz.Certified) error) (quiz.Certified, error) {
	var c quiz.Certified
	err := s.write(ctx, "change the certificate "+number, func(tx *gorm.DB) error {
		row, err := find[certificateRow](tx.Clauses(forUpdate), "certificate", "number = ?", number)
		if err != nil {
			return err
		}
		if c, err = certificateOf(row); err != nil {
			return err
		}
		if err := change(&c); err != nil {
			return err
		}
		c.Version++
		row = rowOfCertificate(c)
		if err := update(tx, &row, c.Version-1, "the certificate"); err != nil {
			return err
		}
		return appendAudit(tx, s.entry(actor, action, "certificate/"+number, nil))
	})
	return c, err
}

// Certificate reads a certificate by its number.
func (s *Store) Certificate(ctx context.Context, number string) (quiz.Certified, error) {
	row, err := find[certificateRow](s.read(ctx), "certificate", "number = ?", number)
	if err != nil {
		return quiz.Certified{}, s.fail("read a certificate", err)
	}
	return certificateOf(row)
}

// Certificates lists all certificates, the latest first.
func (s *Store) Certificates(ctx context.Context) ([]quiz.Certified, error) {
	l, err := list(s.read(ctx).Order("number"), certificateOf)
	slices.SortStableFunc(l, func(a, b quiz.Certified) int {
		return cmp.Or(b.Issued.Compare(a.Issued), cmp.Compare(b.Number, a.Number))
	})
	return l, s.fail("list the certificates", err)
}

// CertificatesOf lists a person's certificates, those that expire last first.
func (s *Store) CertificatesOf(ctx context.Context, person string) ([]quiz.Certified, error) {
	l, err := list(s.read(ctx).Where("person_id = ?", person).Order("expires DESC, number"), certificateOf)
	return l, s.fail("list the certificates of a person", err)
}

// CertificatesExpiring lists the certificates whose last day lies from one
// time up to but without another, the first to expire first.
func (s *Store) CertificatesExpiring(ctx context.Context, from, to time.Time) ([]quiz.Certified, error) {
	l, err := list(s.read(ctx).Where("expires >= ? AND expires < ?", micros(from), micros(to)).Order("expires, number"), certificateOf)
	return l, s.fail("list the certificates that expire", err)
}
