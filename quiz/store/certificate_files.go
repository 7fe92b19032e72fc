package store

import (
	"bytes"
	"context"
	"crypto/rand"

	"gorm.io/gorm"

	"rightpage/quiz"
	"rightpage/quiz/credential"
)

// Files are a certificate as it was issued: the signed credential as JSON and
// as JWT, the certificate to print, and the badge, an image that carries the
// credential. Each may be empty. They are kept because signing again would
// give other bytes than people hold.
type Files struct {
	JSON, JWT, PDF, PNG []byte
	StatusIndex         int // as ReserveStatusIndex gave it
}

// ReserveStatusIndex gives the place of a certificate in the status list: drawn
// at random, its alone, and the same when asked again.
func (s *Store) ReserveStatusIndex(ctx context.Context, number string) (int, error) {
	var index int
	reserve := func(tx *gorm.DB) error {
		// Locking the certificate makes a second call for it wait.
		if _, err := find[certificateRow](tx.Clauses(forUpdate), "certificate", "number = ?", number); err != nil {
			return err
		}
		var rows []statusRow
		if err := tx.Where("number = ?", number).Find(&rows).Error; err != nil {
			return err
		}
		if len(rows) > 0 {
			index = int(rows[0].Place)
			return nil
		}
		var failed error
		drawn, err := credential.PickStatusIndex(func(place int) bool {
			var n int64
			failed = tx.Model(&statusRow{}).Where("place = ?", place).Count(&n).Error
			return failed == nil && n > 0
		}, rand.Reader)
		if failed != nil {
			return failed
		}
		if err != nil {
			return err
		}
		index = drawn
		return create(tx, &statusRow{Number: number, Place: int64(index)})
	}
	const doing = "reserve a place in the status list"
	err := s.write(ctx, doing, reserve)
	// Two certificates may have drawn the same place at once; the loser draws
	// another.
	if quiz.ErrorCode(err) == quiz.Conflict {
		err = s.write(ctx, doing, reserve)
	}
	if err != nil {
		return 0, err
	}
	return index, nil
}

// RevokedIndexes lists the places in the status list whose certificates are
// revoked, in order.
func (s *Store) RevokedIndexes(ctx context.Context) ([]int, error) {
	var places []int
	err := s.read(ctx).Model(&statusRow{}).Joins("JOIN certificates ON certificates.number = statuses.number").
		Where("certificates.revocation <> ?", text(nil)).Order("statuses.place").Pluck("statuses.place", &places).Error
	return places, s.fail("list the revoked places of the status list", err)
}

// KeepFiles keeps the files of a certificate, once: the same again change
// nothing, others are a quiz.Conflict. The place in the status list must be
// reserved before.
func (s *Store) KeepFiles(ctx context.Context, number string, f Files) error {
	row := filesRow{Number: number, JSON: filled(f.JSON), JWT: filled(f.JWT), PDF: filled(f.PDF), PNG: filled(f.PNG)}
	return s.write(ctx, "keep the files of certificate "+number, func(tx *gorm.DB) error {
		place, err := find[statusRow](tx, "place in the status list", "number = ?", number)
		if err != nil {
			return err
		}
		if int(place.Place) != f.StatusIndex {
			return quiz.Errorf(quiz.Invalid, "certificate %s has place %d in the status list, not %d", number, place.Place, f.StatusIndex)
		}
		added, err := createOnce(tx, &row)
		if err != nil || added {
			return err
		}
		kept, err := find[filesRow](tx, "certificate", "number = ?", number)
		if err != nil {
			return err
		}
		if !bytes.Equal(kept.JSON, f.JSON) || !bytes.Equal(kept.JWT, f.JWT) || !bytes.Equal(kept.PDF, f.PDF) || !bytes.Equal(kept.PNG, f.PNG) {
			return quiz.Errorf(quiz.Conflict, "certificate %s was issued with other files", number)
		}
		return nil
	})
}

// CertificateFiles reads the files of a certificate.
func (s *Store) CertificateFiles(ctx context.Context, number string) (Files, error) {
	const doing = "read the files of a certificate"
	row, err := find[filesRow](s.read(ctx), "file of a certificate", "number = ?", number)
	if err != nil {
		return Files{}, s.fail(doing, err)
	}
	place, err := find[statusRow](s.read(ctx), "place in the status list", "number = ?", number)
	if err != nil {
		return Files{}, s.fail(doing, err)
	}
	return Files{JSON: unfilled(row.JSON), JWT: unfilled(row.JWT), PDF: unfilled(row.PDF), PNG: unfilled(row.PNG), StatusIndex: int(place.Place)}, nil
}
