package issuing

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"rightpage/banks"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/credential"
)

func TestPassingEarnsACertificate(t *testing.T) {
	o := open(t)
	ctx := context.Background()
	qs := distinct(pools().same, 10)
	a := o.take(o.assign("Editions and limits", qs...), 2)
	c, err := o.x.Issue(ctx, o.boss.ID, a.ID)
	if err != nil {
		t.Fatal(err)
	}
	if c.Number != "WX-2031-0001" || c.Person != "Ilse Marrow" || c.Site != "North yard" || c.Quiz != "Editions and limits" || c.PersonID != o.person.ID || c.Attempt != a.ID || c.By != o.boss.ID {
		t.Errorf("certificate %+v", c)
	}
	if c.Issued.Format(time.DateOnly) != "2031-03-04" || c.Expires.Format(time.DateOnly) != "2032-03-03" {
		t.Errorf("valid from %s through %s", c.Issued, c.Expires)
	}
	if len(c.Lookups) != 8 {
		t.Errorf("%d lookups certified, want the 8 that were answered", len(c.Lookups))
	}
	for i, l := range c.Lookups {
		if q := qs[i]; l.Answer != q.KeyText() || l.Skill != q.Skill || l.Task == "" || strings.Contains(l.ID, q.ID) {
			t.Errorf("lookup %d: %+v", i, l)
		}
	}
	// All four files prove the same, offline.
	files := must(o.x.Files(ctx, c.Number))
	list := must(o.x.StatusList(ctx))
	for name, data := range map[string][]byte{"JSON": files.JSON, "token": files.JWT, "PDF": files.PDF, "PNG": files.PNG} {
		r := must(credential.VerifyFile(data, credential.Options{Now: o.clock(), Trusted: must(o.x.Keys().Trusted()), StatusLists: [][]byte{list}}))
		if !r.Valid || !r.IssuerKnown || !r.StatusChecked || r.Number != c.Number || r.Person != c.Person || len(r.Skills) != len(c.Skills) {
			t.Errorf("%s: %s (%+v)", name, r.Reason, r)
		}
	}
	if n := o.notices(quiz.NoticeCertificate); len(n) != 1 || n[0].Detail[DetailNumber] != c.Number {
		t.Errorf("told %v", n)
	}
	// Asked for again, it is the same, byte for byte.
	again, err := o.x.Issue(ctx, o.boss.ID, a.ID)
	if err != nil || again.Number != c.Number || len(must(o.s.Certificates(ctx))) != 1 {
		t.Errorf("issued again: %s, %v", again.Number, err)
	}
	if other := must(o.x.Files(ctx, c.Number)); !bytes.Equal(other.PDF, files.PDF) || !bytes.Equal(other.JSON, files.JSON) {
		t.Error("the files differ when asked for again")
	}
}

func TestWhatEarnsNoCertificate(t *testing.T) {
	o := open(t)
	ctx := context.Background()
	as := o.assign("F", distinct(pools().same, 5)...)
	failed := o.take(as, 4)
	if _, err := o.x.Issue(ctx, o.boss.ID, failed.ID); !says(err, quiz.Closed, "did not pass") {
		t.Errorf("failed: %v", err)
	}
	under := must(o.m.Begin(ctx, as.ID, o.person.ID))
	if _, err := o.x.Issue(ctx, o.boss.ID, under.ID); !says(err, quiz.Closed, "not graded") {
		t.Errorf("under way: %v", err)
	}
	if _, err := o.x.Issue(ctx, o.boss.ID, "nothing"); quiz.ErrorCode(err) != quiz.NotFound {
		t.Errorf("no attempt: %v", err)
	}
}

func TestOneAttemptEarnsOneCertificateHoweverManyIssue(t *testing.T) {
	o := open(t)
	ctx := context.Background()
	a := o.take(o.assign("F", distinct(pools().same, 5)...), 0)
	var wg sync.WaitGroup
	var mu sync.Mutex
	numbers := map[string]bool{}
	for range 4 {
		wg.Go(func() {
			c, err := o.x.Issue(ctx, o.boss.ID, a.ID)
			mu.Lock()
			defer mu.Unlock()
			if numbers[c.Number] = true; err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	if len(numbers) != 1 || len(must(o.s.Certificates(ctx))) != 1 {
		t.Errorf("numbers %v", numbers)
	}
}

// A crash between number and files leaves a certificate that gets its files
// when they are asked for.
func TestFilesLostToACrashAreMade(t *testing.T) {
	o := open(t)
	ctx := context.Background()
	day := noon.Truncate(24 * time.Hour)
	c := quiz.Certified{PersonID: o.person.ID, Certificate: certificate.Certificate{Number: "WX", Person: o.person.Name, Organisation: "Wexcombe", Quiz: "By hand",
		Skills: []certificate.Skill{{Name: "Editions", Level: LevelShown}}, CatalogTitle: "Quillan engine literature", CatalogRevision: "18", Issued: day, Expires: day.AddDate(1, 0, 0)}}
	o.ok(o.s.IssueCertificate(ctx, o.boss.ID, "WX", &c))
	files, err := o.x.Files(ctx, c.Number)
	if err != nil || !bytes.HasPrefix(files.PDF, []byte("%PDF")) || !bytes.HasPrefix(files.PNG, []byte("\x89PNG")) {
		t.Fatalf("files: %v", err)
	}
	if kept := must(o.s.CertificateFiles(ctx, c.Number)); !bytes.Equal(kept.PDF, files.PDF) {
		t.Error("they are not kept")
	}
	if _, err := o.x.Files(ctx, "WX-2031-9999"); quiz.ErrorCode(err) != quiz.NotFound {
		t.Errorf("no certificate: %v", err)
	}
	// Erased is not lost.
	o.ok(o.s.ErasePerson(ctx, o.boss.ID, o.person.ID))
	if _, err := o.x.Files(ctx, c.Number); !says(err, quiz.NotFound, "erased") {
		t.Errorf("of somebody erased: %v", err)
	}
}

func TestShopWithoutAServer(t *testing.T) {
	o := open(t)
	ctx := context.Background()
	s := must(o.s.Settings(ctx))
	s.BaseURL = ""
	o.ok(o.s.SaveSettings(ctx, "", &s))
	c, err := o.x.Issue(ctx, o.boss.ID, o.take(o.assign("F", distinct(pools().same, 5)...), 0).ID)
	if err != nil {
		t.Fatal(err)
	}
	r := must(credential.VerifyFile(must(o.x.Files(ctx, c.Number)).PDF, credential.Options{Now: o.clock(), Trusted: must(o.x.Keys().Trusted())}))
	if !r.Valid || r.StatusChecked {
		t.Errorf("%s, %+v", r.Reason, r)
	}
	if _, err := o.x.StatusList(ctx); quiz.ErrorCode(err) != quiz.NotFound {
		t.Errorf("status list: %v", err)
	}
}

func TestRevokingShowsEverywhere(t *testing.T) {
	o := open(t)
	ctx := context.Background()
	c := must(o.x.Issue(ctx, o.boss.ID, o.take(o.assign("F", distinct(pools().same, 5)...), 0).ID))
	before := must(o.x.StatusList(ctx))
	if same := must(o.x.StatusList(ctx)); !bytes.Equal(before, same) {
		t.Error("the status list is signed anew though nothing changed")
	}
	must(o.x.Revoke(ctx, o.boss.ID, c.Number, "issued to the wrong person"))
	if s := o.x.Standing(ctx, must(o.s.Certificate(ctx, c.Number))); s.State != certificate.Revoked {
		t.Errorf("standing %s", s.State)
	}
	r := must(credential.VerifyFile(must(o.x.Files(ctx, c.Number)).JSON, credential.Options{Now: o.clock(), Trusted: must(o.x.Keys().Trusted()), StatusLists: [][]byte{must(o.x.StatusList(ctx))}}))
	if r.Valid || r.Outcome != credential.Revoked {
		t.Errorf("the credential is %s", r.Outcome)
	}
	if p := must(o.x.Verify(ctx, c.Number, c.Code)); p.State != certificate.Revoked || !strings.Contains(p.Reason, "wrong person") {
		t.Errorf("public: %+v", p)
	}
	if n := o.notices(quiz.NoticeRevoked); len(n) != 1 || n[0].Detail[DetailReason] != "issued to the wrong person" {
		t.Errorf("told %v", n)
	}
	if _, err := o.x.Revoke(ctx, o.boss.ID, c.Number, "again"); quiz.ErrorCode(err) != quiz.Closed {
		t.Errorf("revoked again: %v", err)
	}
}

func TestVerifyTellsNothingWithoutTheCode(t *testing.T) {
	o := open(t)
	ctx := context.Background()
	c := must(o.x.Issue(ctx, o.boss.ID, o.take(o.assign("F", distinct(pools().same, 5)...), 0).ID))
	p := must(o.x.Verify(ctx, " wx-2031-0001 ", strings.ToLower(strings.ReplaceAll(c.Code, "-", ""))))
	if p.Person != c.Person || p.State != certificate.Valid || p.Statement != certificate.NotALicence {
		t.Errorf("public %+v", p)
	}
	_, noNumber := o.x.Verify(ctx, "WX-2031-0002", c.Code)
	_, noCode := o.x.Verify(ctx, c.Number, "AAAA-AAAA")
	_, empty := o.x.Verify(ctx, c.Number, "")
	for _, err := range []error{noCode, empty} {
		if quiz.ErrorCode(err) != quiz.NotFound || err.Error() != noNumber.Error() {
			t.Errorf("a wrong code is told from a wrong number: %v / %v", err, noNumber)
		}
	}
}

func TestSkillsOnACertificate(t *testing.T) {
	score := func(skill string, points ...float64) (out []grading.Score) {
		for _, p := range points {
			out = append(out, grading.Score{Skill: skill, Points: p})
		}
		return out
	}
	tests := []struct {
		name   string
		scores []grading.Score
		want   []certificate.Skill
	}{
		{"the aim over enough and over few", slices.Concat(score("guide", 1, 1), score("editions", 1, 1, 1, 1, 0)),
			[]certificate.Skill{{Name: "Editions", Level: LevelAssured, Score: "4 of 5"}, {Name: "Guide", Level: LevelShown, Score: "2 of 2"}}},
		{"below the aim is not stated", slices.Concat(score("guide", 1), score("editions", 1, 1, 0)), []certificate.Skill{{Name: "Guide", Level: LevelShown, Score: "1 of 1"}}},
		{"parts of points", score("chase", 1, 1, 0.67), []certificate.Skill{{Name: "Chase", Level: LevelShown, Score: "2.67 of 3"}}},
		{"the aim nowhere", slices.Concat(score("guide", 1, 0), score("editions", 0)), []certificate.Skill{{Name: "Guide", Level: LevelShown, Score: "1 of 2"}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := skills(tt.scores, 0.8); !slices.Equal(got, tt.want) {
				t.Errorf("got %v, want %v", got, tt.want)
			}
		})
	}
}

// A regrade that takes a pass away does not revoke by itself: it is shown to a
// coordinator.
func TestCertificateUnderminedByARegrade(t *testing.T) {
	o := open(t)
	ctx := context.Background()
	qs := distinct(slices.DeleteFunc(slices.Clone(pools().same), func(q *banks.Question) bool { return q.Form != banks.OneOf }), 5)
	as := o.assign("F", qs...)
	c := must(o.x.Issue(ctx, o.boss.ID, o.take(as, 2).ID))
	if list := must(o.x.Undermined(ctx)); len(list) != 0 {
		t.Errorf("undermined at once: %v", list)
	}
	other := 0
	for qs[0].Options[other].Right {
		other++
	}
	must(o.m.Apply(ctx, o.boss.ID, as.ID, grading.Rulings(grading.Ruling{Question: qs[0].ID, Key: banks.Letter(other), Why: "misprint"}), "misprint", grading.RegradeOptions{}))
	if list := must(o.x.Undermined(ctx)); len(list) != 1 || list[0].Number != c.Number {
		t.Errorf("undermined: %v", list)
	}
}

func TestKeysAreMadeOnceAndSharedByProcesses(t *testing.T) {
	path := filepath.Join(t.TempDir(), "keys.json")
	var wg sync.WaitGroup
	var mu sync.Mutex
	dids := map[string]bool{}
	for range 6 {
		wg.Go(func() {
			k, err := OpenKeys(path, "")
			if err != nil {
				t.Error(err)
				return
			}
			s, err := k.Signer()
			mu.Lock()
			defer mu.Unlock()
			if dids[s.DID] = true; err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	if len(dids) != 1 {
		t.Fatalf("%d keys were made at once", len(dids))
	}
	if info := must(os.Stat(path)); runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v", info.Mode())
	}
	a, b := must(OpenKeys(path, "")), must(OpenKeys(path, ""))
	must(b.Signer())
	o := a.Rotate(time.Now())
	if o != nil {
		t.Fatal(o)
	}
	sa, sb := must(a.Signer()), must(b.Signer())
	if sa.DID != sb.DID || dids[sb.DID] {
		t.Error("the other process signs with the old key after the rotation")
	}
	if n := len(must(b.Trusted())); n != 2 {
		t.Errorf("%d keys are trusted, want the old one and the new one", n)
	}
	if len(a.Warnings(time.Now())) == 0 {
		t.Error("keys that were never backed up give no warning")
	}
	before := len(b.Warnings(time.Now()))
	if err := a.MarkBackedUp(time.Now()); err != nil || len(b.Warnings(time.Now())) != before-1 {
		t.Errorf("backed up: %v, %v", err, b.Warnings(time.Now()))
	}
	if _, err := a.DIDDocument(); quiz.ErrorCode(err) != quiz.NotFound {
		t.Errorf("a document without a web site: %v", err)
	}
	if url, err := a.UseWeb(base); err != nil || url != base+"/.well-known/did.json" {
		t.Errorf("sign as the web site: %s, %v", url, err)
	}
	if doc, err := b.DIDDocument(); err != nil || !bytes.Contains(doc, []byte("did:web:training.wexcombe.example")) {
		t.Errorf("document %s, %v", doc, err)
	}
	if _, err := a.UseWeb("http://insecure.example"); quiz.ErrorCode(err) != quiz.Invalid {
		t.Errorf("sign as an address without https: %v", err)
	}
}

func TestKeysWithAPassphrase(t *testing.T) {
	if testing.Short() {
		t.Skip("deriving a key from a passphrase takes a second")
	}
	path := filepath.Join(t.TempDir(), "keys.json")
	k := must(OpenKeys(path, "a long enough phrase"))
	must(k.Signer())
	if data := must(os.ReadFile(path)); bytes.Contains(data, []byte("secretKeyMultibase")) {
		t.Error("the secret is stored in clear")
	}
	locked := must(OpenKeys(path, ""))
	if _, err := locked.Signer(); quiz.ErrorCode(err) != quiz.Closed {
		t.Errorf("without the passphrase: %v", err)
	}
	if n := len(must(locked.Trusted())); n != 1 {
		t.Errorf("%d keys are trusted without the passphrase", n)
	}
}
