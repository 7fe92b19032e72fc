package coordinator_test

import (
	"context"
	"net/url"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/issuing"
	"rightpage/server/web/webtest"
)

// touchedForm keeps a form with some questions that revision 19 answers
// otherwise, and some that it does not.
func (s *shop) touchedForm(id string) string {
	s.t.Helper()
	e, err := s.library.Entry(s.t.Context(), id)
	if err != nil {
		s.t.Fatal(err)
	}
	bank, err := e.Bank(s.t.Context())
	if err != nil {
		s.t.Fatal(err)
	}
	next, err := catalog.Load(filepath.Join("..", "..", "testdata", "quillan-next"))
	if err != nil {
		s.t.Fatal(err)
	}
	change := grading.Revision(resolver.New(next))
	var touched, same []*banks.Question
	for _, q := range bank.Questions {
		switch change(q).Outcome {
		case grading.KeyChanged:
			touched = append(touched, q)
		case grading.Unchanged:
			same = append(same, q)
		}
	}
	if len(touched) < 2 {
		s.t.Fatalf("revision 19 changes the key of %d questions", len(touched))
	}
	list := append(touched[:min(4, len(touched))], same[:2]...)
	f := &banks.TestForm{Title: "At the limits", Catalog: list[0].Catalog, Revision: list[0].Revision, Blueprint: banks.NewBlueprint("At the limits", len(list)),
		Variants: []banks.Variant{{Name: "A", Questions: list}}}
	if err := s.app.Store.AddForm(s.t.Context(), s.cora.ID, f); err != nil {
		s.t.Fatal(err)
	}
	return f.ID
}

func TestWhatARevisionDoesToQuizzesAndCertificatesIsShownFirst(t *testing.T) {
	s := openShop(t)
	ctx := context.Background()
	before := s.inForce("quillan")
	form := s.touchedForm(before)
	assigned := s.b.Post("/assignments/new", s.assignment(form))
	id := strings.TrimPrefix(assigned.Header.Get("Location"), "/assignments/")
	at, err := s.marker.Begin(ctx, id, s.ann.ID)
	if err == nil {
		at, err = s.marker.HandIn(ctx, at.ID, "hand-in-key-1")
	}
	if err != nil {
		t.Fatal(err)
	}
	f, err := s.marker.Form(ctx, form)
	if err != nil {
		t.Fatal(err)
	}
	c := quiz.Certified{PersonID: s.ann.ID, Attempt: at.ID, Certificate: certificate.Certificate{Person: s.ann.Name, Organisation: "Wexcombe", Quiz: "At the limits", CatalogTitle: f.Catalog,
		CatalogRevision: f.Revision, Skills: []certificate.Skill{{Name: "editions", Level: "mastered"}}, Issued: webtest.Start(), Expires: webtest.Start().AddDate(1, 0, 0)}}
	for _, q := range f.Variants[at.Variant].Questions {
		c.Lookups = append(c.Lookups, issuing.LookupOf(q))
	}
	if err := s.app.Store.IssueCertificate(ctx, s.cora.ID, "WX", &c); err != nil {
		t.Fatal(err)
	}
	after := s.upload("quillan-next")
	page := s.b.Get("/catalogs/" + after)
	says(t, page, 200, "Monday quiz", "New key", c.Number, "Ann Orrick", "certified lookups would lead elsewhere", "One certificate would become outdated", "valid → outdated")
	if got, _ := s.app.Store.Certificate(ctx, c.Number); len(got.Changes) != 0 {
		t.Error("looking changed the certificate")
	}
	if got := s.b.Post("/catalogs/"+after+"/force", url.Values{"instead": {before}}); got.Status != 303 {
		t.Fatalf("put in force: %d %s", got.Status, words(got.Body))
	}
	says(t, s.b.Get("/catalogs/"+after), 200, "One certificate was touched", "Monday quiz", "made from revision 18")
	if !strings.Contains(s.b.Get("/catalogs/"+after).Body, `href="/assignments/`+id+`/regrade"`) {
		t.Error("there is no way to regrade the quiz")
	}
	notices, err := s.app.Store.Notices(ctx, s.ann.ID, 10)
	if err != nil || !slices.ContainsFunc(notices, func(n quiz.Notice) bool { return n.Kind == quiz.NoticeOutdated }) {
		t.Errorf("Ann is told %+v, %v", notices, err)
	}
	if got := s.b.Get("/catalogs/" + after + "/against/" + before + "/notice"); got.Status != 200 || !strings.HasPrefix(got.Body, "%PDF") {
		t.Errorf("the page for the noticeboard: %d %s", got.Status, words(got.Body))
	}
}
