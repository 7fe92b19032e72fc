package store

import (
	"context"
	"crypto/rand"
	"strings"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"rightpage/quiz"
)

// MaxCode is how long a one-time code may be valid.
const MaxCode = 31 * 24 * time.Hour

// codeLetters is Crockford's base 32, without I, L, O and U, so that a code
// read from paper is typed right.
const codeLetters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

// The letters of a one-time code, in groups: 60 bits, out of reach of guessing
// where tries are limited.
const (
	codeLength = 12
	codeGroup  = 4
)

// randomLetters draws n letters of which codes are made.
func randomLetters(n int) string {
	b := make([]byte, n)
	rand.Read(b) // never fails: see its documentation
	for i := range b {
		b[i] = codeLetters[b[i]&31] // 32 divides 256: no bias
	}
	return string(b)
}

// plainCode gives the letters of a code as it was typed: without regard to
// case, hyphens, space, and letters taken for digits.
func plainCode(typed string) string {
	return strings.NewReplacer("-", "", " ", "", "O", "0", "I", "1", "L", "1").Replace(strings.ToUpper(strings.TrimSpace(typed)))
}

// IssueCode makes a one-time code, "7K4M-2QXD-90BT", with which a person can
// set a password: printed, for people without a mailbox, or sent. Codes made
// for the person before become void. The code is nowhere stored as it is.
func (s *Store) IssueCode(ctx context.Context, actor, person string, valid time.Duration) (code string, err error) {
	if valid <= 0 || valid > MaxCode {
		return "", &quiz.Error{Code: quiz.Invalid, Text: "the time that the code is valid is out of bounds", Mend: "use up to 31 days"}
	}
	plain := randomLetters(codeLength)
	err = s.write(ctx, "make a one-time code", func(tx *gorm.DB) error {
		p, err := s.person(tx, person)
		if err != nil {
			return err
		}
		if !p.Active(s.now()) {
			return quiz.Errorf(quiz.Closed, "%s has left", p.Name)
		}
		row := codeRow{PersonID: person, Digest: digest(plain), Expires: micros(s.now().Add(valid))}
		if err := tx.Omit(clause.Associations).Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "person_id"}},
			DoUpdates: clause.AssignmentColumns([]string{"digest", "expires"})}).Create(&row).Error; err != nil {
			return err
		}
		return appendAudit(tx, s.entry(actor, "code.issue", "person/"+person, nil))
	})
	if err != nil {
		return "", err
	}
	groups := make([]string, 0, codeLength/codeGroup)
	for i := 0; i < codeLength; i += codeGroup {
		groups = append(groups, plain[i:i+codeGroup])
	}
	return strings.Join(groups, "-"), nil
}

// RedeemCode takes a one-time code, once, and gives the ID of whose it is. A
// code that is unknown, used, void or out of date is quiz.Unidentified: which
// of those, it does not tell. Whoever calls it limits the tries, see
// [Store.Allow].
func (s *Store) RedeemCode(ctx context.Context, code string) (person string, err error) {
	none := &quiz.Error{Code: quiz.Unidentified, Text: "the code is not valid, or is not valid any more", Mend: "check it against the paper, or ask for another"}
	err = s.write(ctx, "take a one-time code", func(tx *gorm.DB) error {
		row, err := find[codeRow](tx.Clauses(forUpdate), "code", "digest = ? AND expires > ?", digest(plainCode(code)), micros(s.now()))
		if quiz.ErrorCode(err) == quiz.NotFound {
			return none
		}
		if err != nil {
			return err
		}
		p, err := s.person(tx, row.PersonID)
		if err != nil {
			return err
		}
		if !p.Active(s.now()) {
			return none
		}
		if err := tx.Where("digest = ?", row.Digest).Delete(&codeRow{}).Error; err != nil {
			return err
		}
		person = p.ID
		return appendAudit(tx, s.entry(p.ID, "code.redeem", "person/"+p.ID, nil))
	})
	if err != nil {
		return "", err
	}
	return person, nil
}
