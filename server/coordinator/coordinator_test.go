package coordinator_test

import (
	"archive/zip"
	"bytes"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"rightpage/quiz"
	"rightpage/quiz/issuing"
	"rightpage/quiz/library"
	"rightpage/quiz/marking"
	"rightpage/server/coordinator"
	"rightpage/server/web"
	"rightpage/server/web/webtest"
)

// shop is a small organisation with the pages of the coordinator.
type shop struct {
	t       *testing.T
	app     *web.App
	clock   *webtest.Clock
	library *library.Library
	marker  *marking.Marker
	issuer  *issuing.Issuer
	server  *httptest.Server
	north   *quiz.Site
	cora    *quiz.Person // the coordinator
	ann     *quiz.Person // a technician at the north site
	bob     *quiz.Person // a technician without a site
	b       *webtest.Browser
}

func openShop(t *testing.T) *shop {
	t.Helper()
	s := &shop{t: t}
	s.app, s.clock = webtest.Open(t)
	s.library = library.New(s.app.Store, library.Options{BankSize: 900})
	s.marker = marking.New(s.app.Store, s.library, marking.Options{Now: s.clock.Now})
	// Nothing here signs, so that no keys are needed, which take a second to make.
	s.issuer = issuing.New(s.app.Store, s.marker, s.library, nil, issuing.Options{Now: s.clock.Now})
	p, err := coordinator.New(s.app, coordinator.Deps{Library: s.library, Marker: s.marker, Issuer: s.issuer})
	if err != nil {
		t.Fatal(err)
	}
	s.app.Menu = coordinator.Menu()
	s.server = webtest.Serve(t, s.app, p.Routes())
	s.north = &quiz.Site{Name: "North yard", Zone: "Europe/Berlin"}
	if err := s.app.Store.SaveSite(t.Context(), "", s.north); err != nil {
		t.Fatal(err)
	}
	s.cora = webtest.Person(t, s.app, "Cora Pell", s.north.ID, quiz.Coordinator)
	s.ann = webtest.Person(t, s.app, "Ann Orrick", s.north.ID, quiz.Technician)
	s.bob = webtest.Person(t, s.app, "Bob Tarn", "", quiz.Technician)
	s.b = webtest.As(t, s.app, s.server, s.cora)
	return s
}

// zipped packs the folder of a catalog, with files changed or left out by edit.
func zipped(t *testing.T, folder string, edit func(name string, data []byte) []byte) []byte {
	t.Helper()
	list, err := filepath.Glob(filepath.Join("..", "..", "testdata", folder, "*"))
	if err != nil || len(list) == 0 {
		t.Fatal(err, list)
	}
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, f := range list {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if edit != nil {
			if data = edit(filepath.Base(f), data); data == nil {
				continue
			}
		}
		w, err := z.Create(folder + "/" + filepath.Base(f))
		if err == nil {
			_, err = w.Write(data)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// upload uploads a catalog and gives its ID.
func (s *shop) upload(folder string) string {
	s.t.Helper()
	got := s.b.Upload("/catalogs", nil, webtest.File{Field: "file", Name: folder + ".zip", Data: zipped(s.t, folder, nil)})
	if got.Status != 303 {
		s.t.Fatalf("upload: status %d\n%s", got.Status, words(got.Body))
	}
	return strings.TrimPrefix(got.Header.Get("Location"), "/catalogs/")
}

// inForce puts the catalog of a folder in force.
func (s *shop) inForce(folder string) string {
	s.t.Helper()
	id := s.upload(folder)
	if err := s.app.Store.PutInForce(s.t.Context(), s.cora.ID, id); err != nil {
		s.t.Fatal(err)
	}
	return id
}

var (
	tags  = regexp.MustCompile(`(?s)<script.*?</script>|<[^>]*>`)
	space = regexp.MustCompile(`\s+`)
)

// words is the text of a page.
func words(page string) string {
	if _, main, ok := strings.Cut(page, "<main"); ok {
		page, _, _ = strings.Cut("<main"+main, "</main>")
	}
	return space.ReplaceAllString(tags.ReplaceAllString(page, " "), " ")
}

// says fails unless a page holds each text, and no message that is missing.
func says(t *testing.T, got webtest.Answer, status int, texts ...string) {
	t.Helper()
	text := words(got.Body)
	if got.Status != status {
		t.Errorf("%s: status %d, want %d: %s", got.Path, got.Status, status, text)
	}
	var lacks []string
	for _, want := range texts {
		if !strings.Contains(text, want) {
			lacks = append(lacks, want)
		}
	}
	if len(lacks) > 0 {
		t.Errorf("%s does not say %q:\n%s", got.Path, lacks, text)
	}
	if strings.Contains(got.Body, "⟦") {
		t.Errorf("%s lacks a message: %s", got.Path, text)
	}
}

// compared asks for a page until the comparison of revisions on it is done.
func (s *shop) compared(path string) webtest.Answer {
	s.t.Helper()
	for range 60 {
		if got := s.b.Get(path); !strings.Contains(got.Body, `data-refresh="2"`) {
			return got
		}
	}
	s.t.Fatal("the comparison does not end")
	return webtest.Answer{}
}

// field gives the value of a hidden field.
func field(t *testing.T, page, name string) string {
	t.Helper()
	m := regexp.MustCompile(`name="` + name + `" value="([^"]*)"`).FindStringSubmatch(page)
	if m == nil {
		t.Fatalf("there is no field %s", name)
	}
	return m[1]
}
