package administrator_test

import (
	"errors"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"rightpage/quiz"
	"rightpage/server/account"
	"rightpage/server/account/postbox"
)

func TestSendingCodesByMail(t *testing.T) {
	box := postbox.Open(t)
	o := open(t, box.Mailer())
	o.tech.Mail = "tim@wexcombe.example"
	if err := o.app.Store.SavePerson(t.Context(), "", o.tech); err != nil {
		t.Fatal(err)
	}
	for login, p := range map[string]*quiz.Person{"tim": o.tech, "tess": o.other} {
		if err := o.app.Store.SaveAccount(t.Context(), "", &quiz.Account{Person: p.ID, Login: login, Must: true}); err != nil {
			t.Fatal(err)
		}
	}
	b := o.as(t, o.coordinator)
	wantTo(t, "one", b.Post("/people/"+o.tech.ID+"/mail", nil), "/people/"+o.tech.ID)
	wantText(t, "it says so", b.Get("/people/"+o.tech.ID), "A code was sent to Tim Technician")
	if l := box.All(); len(l) != 1 || l[0].To != "tim@wexcombe.example" || !strings.Contains(l[0].Text, "Your login is tim") || !strings.Contains(l[0].Text, "10 March 2031") {
		t.Errorf("%+v", l)
	}
	wantStatus(t, "without an address", b.Post("/people/"+o.other.ID+"/mail", nil), http.StatusConflict)
	wantTo(t, "those ticked", b.Post("/people/mails", url.Values{"person": {o.tech.ID, o.other.ID}}), "/people")
	wantText(t, "it says how many", b.Get("/people"), "1 mail is being sent", "1 person has no mail address")
	o.accounts.Wait()
	if l := box.All(); len(l) != 2 {
		t.Errorf("%d mails", len(l))
	}
	box.Refuse(errors.New("full"))
	got := b.Post("/people/"+o.tech.ID+"/mail", nil)
	wantStatus(t, "refused", got, http.StatusServiceUnavailable)
	wantText(t, "refused", got, "mail was not sent: sending SMTP RCPT TO command, code 451")
}

func TestWithoutAMailServer(t *testing.T) {
	o := open(t, account.Mailer{})
	o.give(t, o.tech, "tim")
	b := o.as(t, o.admin)
	wantStatus(t, "one", b.Post("/people/"+o.tech.ID+"/mail", nil), http.StatusConflict)
	wantStatus(t, "many", b.Post("/people/mails", url.Values{"person": {o.tech.ID}}), http.StatusConflict)
	if strings.Contains(b.Get("/people/"+o.tech.ID).Body, "by mail") {
		t.Error("mails are offered")
	}
}
