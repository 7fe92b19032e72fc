package store

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"rightpage/quiz"
)

func (s *Store) siteOf(r siteRow) (quiz.Site, error) {
	return quiz.Site{ID: r.ID, Name: r.Name, Zone: r.Zone, Version: int(r.Version)}, nil
}

// SaveSite adds a site (Version 0) or changes it, and sets its ID and Version.
func (s *Store) SaveSite(ctx context.Context, actor string, x *quiz.Site) error {
	if err := x.Check(); err != nil {
		return err
	}
	saved := *x
	if saved.ID == "" {
		saved.ID = newID()
	}
	saved.Version++
	row := siteRow{ID: saved.ID, Name: saved.Name, Zone: saved.Zone, Version: int64(saved.Version)}
	err := s.write(ctx, "save the site "+x.Name, func(tx *gorm.DB) error {
		if err := put(tx, &row, x.Version, "the site "+x.Name); err != nil {
			return err
		}
		return appendAudit(tx, s.entry(actor, "site.save", "site/"+row.ID, nil))
	})
	if err == nil {
		*x = saved
	}
	return err
}

// Sites lists the sites by name.
func (s *Store) Sites(ctx context.Context) ([]quiz.Site, error) {
	l, err := list(s.read(ctx).Order("name, id"), s.siteOf)
	return l, s.fail("list the sites", err)
}

func rowOfPerson(p quiz.Person) personRow {
	return personRow{ID: p.ID, Name: p.Name, Number: optional(p.Number), Mail: p.Mail, SiteID: optional(p.Site), Roles: text(p.Roles),
		LeftAt: micros(p.Left), Created: micros(p.Created), Version: int64(p.Version), Locale: p.Locale,
		Apart: p.Apart, Erased: micros(p.Erased)}
}

func personOf(r personRow) (quiz.Person, error) {
	p := quiz.Person{ID: r.ID, Name: r.Name, Number: given(r.Number), Mail: r.Mail, Site: given(r.SiteID), Locale: r.Locale,
		Left: instant(r.LeftAt), Created: instant(r.Created), Version: int(r.Version), Apart: r.Apart, Erased: instant(r.Erased)}
	return p, parse(r.Roles, &p.Roles, "list of roles of person "+r.ID)
}

// savePerson adds or changes a person within a transaction.
func (s *Store) savePerson(tx *gorm.DB, actor string, p *quiz.Person) error {
	if !p.Erased.IsZero() {
		return quiz.Errorf(quiz.Closed, "the data of this person was erased")
	}
	version := p.Version
	if p.ID == "" {
		p.ID = newID()
	}
	if p.Created.IsZero() {
		p.Created = s.now()
	}
	if p.Locale == "" {
		p.Locale = quiz.DefaultLocale
	}
	p.Version++
	row := rowOfPerson(*p)
	if err := put(tx, &row, version, "the person"); err != nil {
		return err
	}
	return appendAudit(tx, s.entry(actor, "person.save", "person/"+p.ID, map[string]any{"roles": p.Roles, "site": p.Site, "left": !p.Left.IsZero()}))
}

// SavePerson adds a person (Version 0) or changes one, and sets ID, Created,
// Locale and Version.
func (s *Store) SavePerson(ctx context.Context, actor string, p *quiz.Person) error {
	if err := p.Check(); err != nil {
		return err
	}
	var saved quiz.Person
	err := s.write(ctx, "save the person "+p.Name, func(tx *gorm.DB) error {
		saved = *p
		return s.savePerson(tx, actor, &saved)
	})
	if err == nil {
		*p = saved
	}
	return err
}

// AddPerson adds a person together with an account; the hash is made by
// quiz.Passwords. This is what user add and the first set-up do.
func (s *Store) AddPerson(ctx context.Context, actor string, p *quiz.Person, login, hash string, mustChange bool) error {
	if err := p.Check(); err != nil {
		return err
	}
	if p.Version != 0 {
		return quiz.Errorf(quiz.Invalid, "the person %s is there already", p.Name)
	}
	var saved quiz.Person
	err := s.write(ctx, "add the person "+p.Name, func(tx *gorm.DB) error {
		saved = *p
		if err := s.savePerson(tx, actor, &saved); err != nil {
			return err
		}
		return s.saveAccount(tx, actor, &quiz.Account{Person: saved.ID, Login: login, Hash: hash, Must: mustChange})
	})
	if err == nil {
		*p = saved
	}
	return err
}

// Newcomer is a person who is added, with an account or without.
type Newcomer struct {
	Person *quiz.Person
	Login  string // empty: no account yet
	Hash   string // made by quiz.Passwords; empty: a password is set with a one-time code
	Must   bool   // the password must be changed at the next login; always where there is no hash
}

// AddPeople adds people, such as those of a list that is imported, all of them
// or none; the error tells whom it is about. It sets ID, Created, Locale and
// Version of each.
func (s *Store) AddPeople(ctx context.Context, actor string, list []Newcomer) error {
	about := func(i int, err error) error {
		return &quiz.Error{Code: quiz.ErrorCode(err), Text: fmt.Sprintf("person %d of %d, %s", i+1, len(list), list[i].Person.Name), Err: err}
	}
	for i, n := range list {
		if err := n.Person.Check(); err != nil {
			return about(i, err)
		}
		if n.Person.Version != 0 {
			return about(i, quiz.Errorf(quiz.Invalid, "is there already"))
		}
	}
	saved := make([]quiz.Person, len(list))
	err := s.write(ctx, "add the people", func(tx *gorm.DB) error {
		for i, n := range list {
			saved[i] = *n.Person
			if err := s.savePerson(tx, actor, &saved[i]); err != nil {
				return about(i, s.fail("add the person", err))
			}
			if n.Login == "" {
				continue
			}
			err := s.saveAccount(tx, actor, &quiz.Account{Person: saved[i].ID, Login: n.Login, Hash: n.Hash, Must: n.Must || n.Hash == ""})
			if err != nil {
				return about(i, s.fail("add the account "+n.Login, err))
			}
		}
		return nil
	})
	if err == nil {
		for i := range list {
			*list[i].Person = saved[i]
		}
	}
	return err
}

// Person reads a person.
func (s *Store) Person(ctx context.Context, id string) (quiz.Person, error) {
	return s.person(s.read(ctx), id)
}

func (s *Store) person(tx *gorm.DB, id string) (quiz.Person, error) {
	row, err := find[personRow](tx, "person", "id = ?", id)
	if err != nil {
		return quiz.Person{}, s.fail("read a person", err)
	}
	return personOf(row)
}

// People lists everybody by name, those who left too.
func (s *Store) People(ctx context.Context) ([]quiz.Person, error) {
	l, err := list(s.read(ctx).Order("name, id"), personOf)
	return l, s.fail("list the people", err)
}

func accountOf(r accountRow) quiz.Account {
	return quiz.Account{Person: r.PersonID, Login: r.Login, Hash: r.Hash, Changed: instant(r.Changed), Must: r.Must, Version: int(r.Version)}
}

func (s *Store) saveAccount(tx *gorm.DB, actor string, a *quiz.Account) error {
	if a.Login = quiz.FoldLogin(a.Login); a.Login == "" || a.Hash == "" && !a.Must {
		return &quiz.Error{Code: quiz.Invalid, Text: "the account has no login or no password", Mend: "give both, or have a password set at the first login"}
	}
	version := a.Version
	a.Version++
	a.Changed = s.now()
	row := accountRow{PersonID: a.Person, Login: a.Login, Hash: a.Hash, Changed: micros(a.Changed), Must: a.Must, Version: int64(a.Version)}
	if err := put(tx, &row, version, "the account"); err != nil {
		return err
	}
	return appendAudit(tx, s.entry(actor, "account.save", "person/"+a.Person, nil))
}

// SaveAccount adds a person's account (Version 0) or changes it, and sets
// Login, Changed and Version.
func (s *Store) SaveAccount(ctx context.Context, actor string, a *quiz.Account) error {
	var saved quiz.Account
	err := s.write(ctx, "save the account", func(tx *gorm.DB) error {
		saved = *a
		return s.saveAccount(tx, actor, &saved)
	})
	if err == nil {
		*a = saved
	}
	return err
}

// Account reads the account of a login, however it is written.
func (s *Store) Account(ctx context.Context, login string) (quiz.Account, error) {
	row, err := find[accountRow](s.read(ctx), "account", "login = ?", quiz.FoldLogin(login))
	return accountOf(row), s.fail("read an account", err)
}

// AccountOf reads the account of a person.
func (s *Store) AccountOf(ctx context.Context, person string) (quiz.Account, error) {
	row, err := find[accountRow](s.read(ctx), "account", "person_id = ?", person)
	return accountOf(row), s.fail("read an account", err)
}
