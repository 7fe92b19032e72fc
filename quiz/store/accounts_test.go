package store

import (
	"context"
	"strings"
	"testing"
	"time"

	"rightpage/quiz"
)

func TestAccounts(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		a := quiz.Account{Person: x.technician.ID, Login: "  Tomás ", Hash: "hash 1", Must: true}
		must(t, x.SaveAccount(ctx, x.coordinator.ID, &a))
		wantSame(t, "what is set", a, quiz.Account{Person: x.technician.ID, Login: "tomás", Hash: "hash 1", Changed: noon, Must: true, Version: 1})
		read, err := x.AccountOf(ctx, x.technician.ID)
		must(t, err)
		wantSame(t, "an account, by its person", read, a)
		stale := a
		x.clock.advance(time.Hour)
		a.Hash, a.Must = "hash 2", false
		must(t, x.SaveAccount(ctx, x.technician.ID, &a))
		read, err = x.Account(ctx, "TOMÁS")
		must(t, err)
		wantSame(t, "a new password", read, quiz.Account{Person: x.technician.ID, Login: "tomás", Hash: "hash 2", Changed: noon.Add(time.Hour), Version: 2})
		stale.Hash = "hash 3"
		wantCode(t, "a stale account", x.SaveAccount(ctx, "", &stale), quiz.Conflict)
		if stale.Version != 1 {
			t.Errorf("a refused account was changed: %+v", stale)
		}

		for _, c := range []struct {
			name string
			a    quiz.Account
			want quiz.Code
		}{
			{"a second account of a person", quiz.Account{Person: x.technician.ID, Login: "other", Hash: "h"}, quiz.Conflict},
			{"a login that is taken", quiz.Account{Person: x.stranger.ID, Login: "Tomás", Hash: "h"}, quiz.Conflict},
			{"nobody's account", quiz.Account{Person: "none", Login: "x", Hash: "h"}, quiz.Invalid},
			{"no login", quiz.Account{Person: x.stranger.ID, Login: " ", Hash: "h"}, quiz.Invalid},
			{"no password, and none to be set", quiz.Account{Person: x.stranger.ID, Login: "lene"}, quiz.Invalid},
		} {
			wantCode(t, c.name, x.SaveAccount(ctx, "", &c.a), c.want)
		}
		must(t, x.SaveAccount(ctx, "", &quiz.Account{Person: x.stranger.ID, Login: "lene", Must: true}))
		_, err = x.AccountOf(ctx, "none")
		wantCode(t, "nobody's account", err, quiz.NotFound)
	})
}

func TestAddPeopleAllOrNone(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		person := func(name, number string) *quiz.Person {
			return &quiz.Person{Name: name, Number: number, Site: x.site.ID, Roles: []quiz.Role{quiz.Technician}}
		}
		for _, c := range []struct {
			name string
			list []Newcomer
			want quiz.Code
			says string
		}{
			{"a staff number twice", []Newcomer{{Person: person("Ana Ruiz", "20")}, {Person: person("Bo Lind", "20")}}, quiz.Conflict, "person 2 of 2, Bo Lind"},
			{"a login that is taken", []Newcomer{{Person: person("Ana Ruiz", ""), Login: "INES"}, {Person: person("Bo Lind", "")}}, quiz.Conflict, "Ana Ruiz"},
			{"no name", []Newcomer{{Person: person("Ana Ruiz", "")}, {Person: person(" ", "")}}, quiz.Invalid, "person 2 of 2"},
			{"there already", []Newcomer{{Person: &x.technician}}, quiz.Invalid, "there already"},
		} {
			err := x.AddPeople(ctx, x.coordinator.ID, c.list)
			wantCode(t, c.name, err, c.want)
			if err != nil && !strings.Contains(err.Error(), c.says) {
				t.Errorf("%s: %v, want an error that says %q", c.name, err, c.says)
			}
			if c.list[0].Person.Version > 1 || c.list[0].Person != &x.technician && c.list[0].Person.ID != "" {
				t.Errorf("%s: a person who was not added was changed: %+v", c.name, c.list[0].Person)
			}
		}
		if people, _ := x.People(ctx); len(people) != 3 {
			t.Fatalf("some were added: %+v", people)
		}
		ana, bo, cy := person("Ana Ruiz", "20"), person("Bo Lind", "21"), person("Cy Moss", "")
		must(t, x.AddPeople(ctx, x.coordinator.ID, []Newcomer{{Person: ana}, {Person: bo, Login: "bo", Hash: "h"}, {Person: cy, Login: "cy"}}))
		for _, p := range []*quiz.Person{ana, bo, cy} {
			read, err := x.Person(ctx, p.ID)
			must(t, err)
			wantSame(t, "a newcomer", read, *p)
		}
		_, err := x.AccountOf(ctx, ana.ID)
		wantCode(t, "without a login", err, quiz.NotFound)
		if a, err := x.AccountOf(ctx, bo.ID); err != nil || a.Hash != "h" || a.Must {
			t.Errorf("%+v, %v", a, err)
		}
		if a, err := x.AccountOf(ctx, cy.ID); err != nil || a.Hash != "" || !a.Must {
			t.Errorf("an account that waits for its first password: %+v, %v", a, err)
		}
		must(t, x.AddPeople(ctx, "", nil))
	})
}
