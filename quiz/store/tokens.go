package store

import (
	"context"
	"crypto/rand"
	"time"

	"gorm.io/gorm"

	"rightpage/quiz"
)

// tokenMark begins the secret of each token, so that one that got into a file
// or a log is recognised.
const tokenMark = "rightpage_"

// tokenUsed is how exactly the last use of a token is noted.
const tokenUsed = time.Minute

func tokenOf(r tokenRow) (quiz.Token, error) {
	return quiz.Token{ID: r.ID, Person: r.PersonID, Name: r.Name, Created: instant(r.Created), Expires: instant(r.Expires), Used: instant(r.Used), Revoked: instant(r.Revoked)}, nil
}

// AddToken makes a token for Person with the Name and Expires given, sets ID
// and Created, and gives its secret: 130 random bits, shown once and stored as
// SHA-256.
func (s *Store) AddToken(ctx context.Context, actor string, t *quiz.Token) (secret string, err error) {
	now := s.now()
	if err := t.Check(now); err != nil {
		return "", err
	}
	secret = tokenMark + rand.Text()
	saved := quiz.Token{ID: newID(), Person: t.Person, Name: t.Name, Created: now, Expires: t.Expires}
	row := tokenRow{ID: saved.ID, PersonID: saved.Person, Name: saved.Name, Digest: digest(secret), Created: micros(now), Expires: micros(saved.Expires)}
	err = s.write(ctx, "make the token "+t.Name, func(tx *gorm.DB) error {
		p, err := s.person(tx, t.Person)
		if err != nil {
			return err
		}
		if !p.Active(now) {
			return quiz.Errorf(quiz.Closed, "%s has left", p.Name)
		}
		if err := create(tx, &row); err != nil {
			return err
		}
		return appendAudit(tx, s.entry(actor, "token.add", "token/"+row.ID, map[string]any{"person": t.Person}))
	})
	if err != nil {
		return "", err
	}
	*t = saved
	return secret, nil
}

// TokenOf gives the token of a secret and notes that it was used. One that is
// unknown, expired or revoked, or whose owner has left, is quiz.Unidentified.
func (s *Store) TokenOf(ctx context.Context, secret string) (quiz.Token, error) {
	none := &quiz.Error{Code: quiz.Unidentified, Text: "the token is not valid, or is not valid any more", Mend: "make another"}
	now := s.now()
	row, err := find[tokenRow](s.read(ctx), "token", "digest = ?", digest(secret))
	if quiz.ErrorCode(err) == quiz.NotFound {
		return quiz.Token{}, none
	}
	if err != nil {
		return quiz.Token{}, s.fail("read a token", err)
	}
	p, err := s.Person(ctx, row.PersonID)
	if err != nil {
		return quiz.Token{}, err
	}
	if t, _ := tokenOf(row); !t.Alive(now) || !p.Active(now) {
		return quiz.Token{}, none
	}
	if last := micros(now.Add(-tokenUsed)); row.Used <= last {
		err := s.write(ctx, "note the use of a token", func(tx *gorm.DB) error {
			return tx.Model(&tokenRow{}).Where("id = ? AND used <= ?", row.ID, last).Update("used", micros(now)).Error
		})
		if err != nil {
			return quiz.Token{}, err
		}
		row.Used = micros(now)
	}
	return tokenOf(row)
}

// Tokens lists the tokens of a person, the latest first, those that are not
// valid any more too.
func (s *Store) Tokens(ctx context.Context, person string) ([]quiz.Token, error) {
	l, err := list(s.read(ctx).Where("person_id = ?", person).Order("created DESC, id"), tokenOf)
	return l, s.fail("list the tokens of a person", err)
}

// RevokeToken makes a token void; the first time counts.
func (s *Store) RevokeToken(ctx context.Context, actor, id string) error {
	return s.write(ctx, "revoke a token", func(tx *gorm.DB) error {
		row, err := find[tokenRow](tx.Clauses(forUpdate), "token", "id = ?", id)
		if err != nil || row.Revoked != 0 {
			return err
		}
		if err := tx.Model(&tokenRow{}).Where("id = ?", id).Update("revoked", micros(s.now())).Error; err != nil {
			return err
		}
		return appendAudit(tx, s.entry(actor, "token.revoke", "token/"+id, map[string]any{"person": row.PersonID}))
	})
}
