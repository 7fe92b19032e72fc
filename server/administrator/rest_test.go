package administrator_test

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"rightpage/quiz"
	"rightpage/quiz/store"
	"rightpage/server/account"
	"rightpage/server/web/webtest"
)

func TestSites(t *testing.T) {
	o := open(t, account.Mailer{})
	b := o.as(t, o.admin)
	wantText(t, "the list", b.Get("/sites"), "Wexcombe North", "Europe/London")
	wantTo(t, "adding", b.Post("/sites", url.Values{"name": {"Wexcombe South"}, "zone": {"America/Chicago"}}), "/sites")
	for field, v := range map[string]url.Values{"name": {"name": {"wexcombe NORTH"}}, "zone": {"name": {"East"}, "zone": {"Mars/Base"}}} {
		got := b.Post("/sites", v)
		wantStatus(t, field, got, http.StatusUnprocessableEntity)
		wantText(t, field, got, `id="e-`+field+`"`)
	}
	change := url.Values{"name": {"Wexcombe Far North"}, "zone": {""}, "version": {"1"}}
	wantTo(t, "changing", b.Post("/sites/"+o.site.ID, change), "/sites")
	wantStatus(t, "an old form", b.Post("/sites/"+o.site.ID, change), http.StatusConflict)
	wantStatus(t, "without a version", b.Post("/sites/"+o.site.ID, url.Values{"name": {"X"}}), http.StatusConflict)
	wantStatus(t, "none of that ID", b.Get("/sites/nowhere"), http.StatusNotFound)
}

func settingsForm() url.Values {
	return url.Values{"organisation": {"Wexcombe Estate & Farm Services"}, "address": {"https://training.wexcombe.example"}, "prefix": {"WX"}, "months": {"24"}, "outdated": {"0"},
		"retention": {"6"}, "aim": {"85"}, "signatory": {"Cora Coordinator"}, "signatory-role": {"Training"}, "paper": {"Letter"}, "language": {"de"}, "version": {"0"}}
}

func TestSettings(t *testing.T) {
	o := open(t, account.Mailer{})
	b := o.as(t, o.admin)
	for field, value := range map[string]string{"organisation": "", "address": "ftp://x", "prefix": "wx!", "months": "0", "outdated": "101", "retention": "-1", "aim": "0"} {
		v := settingsForm()
		v.Set(field, value)
		got := b.Post("/settings", v)
		wantStatus(t, field, got, http.StatusUnprocessableEntity)
		wantText(t, field, got, `id="e-`+field+`"`, `value="Cora Coordinator"`)
	}
	wantTo(t, "saving", b.Post("/settings", settingsForm()), "/settings")
	s, err := o.app.Store.Settings(t.Context())
	want := quiz.Settings{Organisation: "Wexcombe Estate & Farm Services", Prefix: "WX", BaseURL: "https://training.wexcombe.example", CertificateMonths: 24, RetentionMonths: 6,
		Aim: 0.85, Signatory: "Cora Coordinator", SignatoryRole: "Training", Paper: "Letter", Locale: "de", Version: 1}
	if err != nil || s != want {
		t.Errorf("%+v, %v", s, err)
	}
	wantStatus(t, "an old form", b.Post("/settings", settingsForm()), http.StatusConflict)
	wantText(t, "the warnings of the keys", b.Get("/settings"), "two years old")
}

func TestANewKeyNeedsThePassword(t *testing.T) {
	o := open(t, account.Mailer{})
	o.give(t, o.admin, "ada")
	b := o.as(t, o.admin)
	wantStatus(t, "without", b.Post("/settings/keys", nil), http.StatusUnprocessableEntity)
	wantStatus(t, "another", b.Post("/settings/keys", url.Values{"password": {"guess"}}), http.StatusUnprocessableEntity)
	wantTo(t, "with it", b.Post("/settings/keys", url.Values{"password": {password}}), "/settings")
	if !slices.Equal(o.keys.turns, []string{o.admin.ID}) {
		t.Errorf("turned by %v", o.keys.turns)
	}
	if log, err := o.app.Store.AuditLog(t.Context(), 0, 1); err != nil || len(log) != 1 || log[0].Action != "keys.rotate" || log[0].Actor != o.admin.ID {
		t.Errorf("the audit log ends with %+v, %v", log, err)
	}
}

func TestRetention(t *testing.T) {
	o := open(t, account.Mailer{})
	b := o.as(t, o.admin)
	s := quiz.DefaultSettings()
	s.Organisation, s.RetentionMonths = "Wexcombe", 6
	if err := o.app.Store.SaveSettings(t.Context(), "", &s); err != nil {
		t.Fatal(err)
	}
	o.tech.Left, o.other.Left = o.clock.Now().AddDate(0, -7, 0), o.clock.Now().AddDate(0, -5, 0)
	for _, p := range []*quiz.Person{o.tech, o.other} {
		if err := o.app.Store.SavePerson(t.Context(), "", p); err != nil {
			t.Fatal(err)
		}
	}
	wantText(t, "who is due", b.Get("/settings"), "1 person left longer ago")
	wantStatus(t, "not confirmed", b.Post("/settings/retention", url.Values{"confirm": {"2"}}), http.StatusUnprocessableEntity)
	wantTo(t, "confirmed", b.Post("/settings/retention", url.Values{"confirm": {"1"}}), "/settings")
	if o.read(t, o.tech).Erased.IsZero() || !o.read(t, o.other).Erased.IsZero() {
		t.Error("the wrong one was erased")
	}
	wantStatus(t, "again", b.Post("/settings/retention", url.Values{"confirm": {"1"}}), http.StatusUnprocessableEntity)
}

func TestTheAuditLog(t *testing.T) {
	o := open(t, account.Mailer{})
	b := o.as(t, o.admin)
	for i := range 60 {
		if err := o.app.Store.RecordAudit(t.Context(), o.admin.ID, "people.export", "people", map[string]any{"rows": i}); err != nil {
			t.Fatal(err)
		}
	}
	page := b.Get("/audit")
	wantText(t, "the end", page, "Ada Admin", "list of people exported", `{&#34;rows&#34;:59}`, "Earlier entries")
	next := regexp.MustCompile(`href="(/audit\?[^"]*before=[^"]*)"`).FindStringSubmatch(page.Body)
	if next == nil {
		t.Fatal("no way to earlier entries")
	}
	page = b.Get(strings.ReplaceAll(next[1], "&amp;", "&"))
	wantText(t, "earlier", page, `{&#34;rows&#34;:0}`, "person saved", "Tim Technician")
	if strings.Contains(page.Body, "Earlier entries") {
		t.Error("there is nothing earlier")
	}
	page = b.Get("/audit?action=person&person=" + o.tech.ID)
	if n := strings.Count(page.Body, "<time "); n != 1 {
		t.Errorf("%d entries about the technician", n)
	}
	wantText(t, "nothing", b.Get("/audit?action=token"), "Nothing fits")
	wantStatus(t, "nonsense", b.Get("/audit?before=x&action=%27"), http.StatusOK)
	// The whole log, and its chain computed again as the documentation of
	// quiz.Entry has it.
	whole, n, after := b.Get("/audit/export?as=jsonl"), 0, ""
	for sc := bufio.NewScanner(strings.NewReader(whole.Body)); sc.Scan(); n++ {
		var e struct {
			Seq                                            int64
			At, Actor, Action, Subject, Detail, Prev, Hash string
		}
		if err := json.Unmarshal(sc.Bytes(), &e); err != nil {
			t.Fatal(err)
		}
		h := sha256.New()
		io.WriteString(h, "rightpage audit 1\n")
		for _, f := range []string{strconv.FormatInt(e.Seq, 10), e.At, e.Actor, e.Action, e.Subject, e.Detail, e.Prev} {
			fmt.Fprintf(h, "%d:%s,", len(f), f)
		}
		if sum := hex.EncodeToString(h.Sum(nil)); sum != e.Hash || after != "" && after != e.Hash {
			t.Fatalf("entry %d: %s, computed %s", e.Seq, e.Hash, sum)
		}
		after = e.Prev
	}
	if n < 66 || after != quiz.ChainStart {
		t.Errorf("%d entries, the first after %s", n, after)
	}
	if rows := strings.Count(b.Get("/audit/export?as=csv&action=audit").Body, "\n"); rows != 3 { // two exports, and the columns
		t.Errorf("%d rows", rows)
	}
}

func TestTheChainOfTheAuditLog(t *testing.T) {
	o := open(t, account.Mailer{})
	b := o.as(t, o.admin)
	page := b.Post("/audit/verify", nil)
	wantText(t, "unbroken", page, "The chain is unbroken")
	head := regexp.MustCompile(`<dd>(\d+)</dd>.*<code class="head">([0-9a-f]{64})</code>`).FindStringSubmatch(page.Body)
	if head == nil {
		t.Fatalf("no head:\n%s", page.Body)
	}
	if err := o.app.Store.RecordAudit(t.Context(), "", "backup.download", "backup", nil); err != nil {
		t.Fatal(err)
	}
	spaced := head[2][:32] + " " + strings.ToUpper(head[2][32:])
	wantText(t, "what was written down", b.Post("/audit/verify", url.Values{"seq": {head[1]}, "hash": {spaced}}), "is as you wrote it down: nothing")
	wantText(t, "another", b.Post("/audit/verify", url.Values{"seq": {head[1]}, "hash": {strings.Repeat("0", 64)}}), "is not as you wrote it down")
	wantText(t, "cut short", b.Post("/audit/verify", url.Values{"seq": {"99999"}, "hash": {head[2]}}), "is not as you wrote it down")
	wantStatus(t, "half of it", b.Post("/audit/verify", url.Values{"seq": {"3"}}), http.StatusUnprocessableEntity)
}

func TestBackups(t *testing.T) {
	o := open(t, account.Mailer{})
	o.give(t, o.admin, "ada")
	b := o.as(t, o.admin)
	wantText(t, "how to restore", b.Get("/backup"), "rightpage restore")
	wantStatus(t, "without the password", b.Post("/backup", nil), http.StatusUnprocessableEntity)
	got := b.Post("/backup", url.Values{"password": {password}})
	if got.Status != 200 || !strings.Contains(got.Header.Get("Content-Disposition"), "rightpage-2031-03-03-0900.zip") {
		t.Fatalf("status %d, %v", got.Status, got.Header)
	}
	if m, err := store.VerifyBackup(t.Context(), strings.NewReader(got.Body), int64(len(got.Body))); err != nil || m.Schema != store.Version {
		t.Errorf("%+v, %v", m, err)
	}
	verify := func(data string) webtest.Answer {
		return b.Upload("/backup/verify", nil, webtest.File{Field: "file", Name: "b.zip", Data: []byte(data)})
	}
	wantText(t, "checked", verify(got.Body), "b.zip is whole", "Hash (SHA-256)")
	bad := []byte(got.Body)
	bad[len(bad)/3] ^= 1
	for what, data := range map[string]string{"a bit turned": string(bad), "cut short": got.Body[:len(got.Body)/2], "no zip": "hello"} {
		wantText(t, what, verify(data), "b.zip cannot be restored")
	}
	wantStatus(t, "no file", verify(""), http.StatusUnprocessableEntity)
	log, err := o.app.Store.AuditLog(t.Context(), 0, 1)
	if err != nil || log[0].Action != "backup.download" || log[0].Actor != o.admin.ID {
		t.Errorf("%+v, %v", log, err)
	}
}
