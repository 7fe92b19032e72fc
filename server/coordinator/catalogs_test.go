package coordinator_test

import (
	"archive/zip"
	"bytes"
	"html"
	"net/url"
	"strings"
	"testing"

	"rightpage/quiz/library"
	"rightpage/server/web/webtest"
)

func TestACatalogIsCheckedKeptAndPutInForce(t *testing.T) {
	s := openShop(t)
	says(t, s.b.Get("/catalogs"), 200, "There is no catalog yet")
	id := s.upload("quillan")
	says(t, s.b.Get("/catalogs/"+id), 200, "Quillan engine literature 18", "not yet in force", "Check report", "Put revision 18 in force", "No certificate would be touched")
	// The same again changes nothing.
	s.clock.Move(2e11)
	if again := s.upload("quillan"); again != id {
		t.Errorf("the same catalog got the ID %s, then %s", id, again)
	}
	says(t, s.b.Get("/catalogs"), 200, "was here already")
	form := url.Values{"instead": {""}}
	for range 2 { // a double click
		if got := s.b.Post("/catalogs/"+id+"/force", form); got.Status != 303 {
			t.Fatalf("put in force: %d %s", got.Status, words(got.Body))
		}
	}
	says(t, s.b.Get("/catalogs/"+id), 200, "in force since", "is in force. 0 certificates")
	if got := s.b.Get("/catalogs/" + id + "/file"); got.Status != 200 || !strings.HasPrefix(got.Body, "PK") || got.Header.Get("Content-Disposition") != "attachment; filename=Quillan-engine-literature-18.zip" {
		t.Errorf("the catalog as a file: status %d, %q", got.Status, got.Header.Get("Content-Disposition"))
	}
}

func TestWhatARevisionChangesIsShownBeforeItIsPutInForce(t *testing.T) {
	s := openShop(t)
	before := s.inForce("quillan")
	after := s.upload("quillan-next")
	// Revision 19 moves the limit of QR-230-A from 38000 to 39500: testdata/README.md.
	says(t, s.compared("/catalogs/"+after), 200, "Compared with revision 18", "lookups lead elsewhere", "takes the place of revision 18")
	at := "/catalogs/" + after + "/against/" + before
	says(t, s.compared(at), 200, "from 18 to 19", "QR-230-A", "38000", "39500", "QN-21")
	records := s.b.Get(at + "/records?as=csv")
	if records.Status != 200 || !strings.Contains(records.Body, "changed,publications,QR-230-A,serial_through,38000,39500") {
		t.Errorf("changed records as a file: %d\n%.500s", records.Status, records.Body)
	}
	lookups := s.b.Get(at + "/lookups?as=csv")
	if n := strings.Count(lookups.Body, "\r\n"); lookups.Status != 200 || n < 100 || !strings.Contains(lookups.Body, ",engine oil capacity,") {
		t.Errorf("changed lookups as a file: %d with %d lines", lookups.Status, n)
	}
	if got := s.b.Get(at + "/lookups?as=xlsx"); !strings.HasPrefix(got.Body, "PK") {
		t.Errorf("changed lookups as a workbook: %.20q", got.Body)
	}
	says(t, s.b.Get(at+"/notice"), 409, "never in force")
	// Somebody who saw no revision in force, or another, decides on what is no more.
	says(t, s.b.Post("/catalogs/"+after+"/force", url.Values{"instead": {""}}), 409, "was put in force in the meantime")
	if got := s.b.Post("/catalogs/"+after+"/force", url.Values{"instead": {before}}); got.Status != 303 {
		t.Fatalf("put in force: %d %s", got.Status, words(got.Body))
	}
	says(t, s.b.Get("/catalogs/"+after), 200, "What it changed", "What follows")
	says(t, s.b.Get("/catalogs/"+before), 200, "replaced")
}

// broken is a catalog with a publication of a class that there is not.
func broken(t *testing.T) []byte {
	return zipped(t, "quillan", func(name string, data []byte) []byte {
		if name == "publications.csv" {
			return bytes.Replace(data, []byte("QR-230-A,repair"), []byte("QR-230-A,repairs"), 1)
		}
		return data
	})
}

func TestACatalogWithErrorsIsRefusedWithItsWholeReport(t *testing.T) {
	s := openShop(t)
	got := s.b.Upload("/catalogs", nil, webtest.File{Field: "file", Name: "quillan.zip", Data: broken(t)})
	says(t, got, 422, "The catalog cannot be used yet", "Nothing of it was kept", "publications.csv", "class", "repairs", "unknown word", "How to mend it")
	if list := s.b.Get("/catalogs"); !strings.Contains(list.Body, "no catalog yet") {
		t.Error("a refused catalog is kept")
	}
	packed := html.UnescapeString(field(t, got.Body, "report"))
	says(t, s.b.Post("/catalogs/refused", url.Values{"report": {packed}, "severity": {"error"}}), 200, "publications.csv", "All findings")
	says(t, s.b.Post("/catalogs/refused", url.Values{"report": {packed}, "severity": {"note"}}), 200, "All findings")
	csv := s.b.Post("/catalogs/refused", url.Values{"report": {packed}, "severity": {"error"}, "as": {"csv"}})
	if csv.Status != 200 || !strings.Contains(csv.Body, "error,unknown word,publications.csv,") {
		t.Errorf("the report as a file: %d %.300s", csv.Status, csv.Body)
	}
	if got := s.b.Post("/catalogs/refused", url.Values{"report": {"nonsense"}}); got.Status != 422 {
		t.Errorf("a report that is none: status %d", got.Status)
	}
}

func TestUploadsThatAreNoCatalog(t *testing.T) {
	s := openShop(t)
	bomb := func() []byte {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		w, _ := z.Create("models.csv")
		for range 300 {
			_, _ = w.Write(make([]byte, 1<<20))
		}
		_ = z.Close()
		return b.Bytes()
	}()
	outside := func() []byte {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		w, _ := z.Create("../models.csv")
		_, _ = w.Write([]byte("code\nX\n"))
		_ = z.Close()
		return b.Bytes()
	}()
	for _, c := range []struct {
		why, name string
		data      []byte
		says      string
	}{
		{"nothing chosen", "", nil, "Choose a file"},
		{"an empty file", "quillan.zip", []byte{}, "Choose a file"},
		{"another kind of file", "report.pdf", []byte("%PDF-1.7"), "neither a .zip file nor an .xlsx workbook"},
		{"a zip file that is none", "quillan.zip", []byte("this is no zip file"), "no zip file"},
		{"a zip bomb", "quillan.zip", bomb, "The file cannot be read"},
		{"a file outside the folder", "quillan.zip", outside, "outside"},
		{"too large", "quillan.zip", make([]byte, library.MaxUpload+1), "too large: at most 64 MB"},
	} {
		t.Run(c.why, func(t *testing.T) {
			var list []webtest.File
			if c.data != nil {
				list = []webtest.File{{Field: "file", Name: c.name, Data: c.data}}
			}
			got := s.b.Upload("/catalogs", nil, list...)
			says(t, got, 422, c.says)
		})
	}
}

func TestTheCatalogPagesAreTheCoordinatorsAlone(t *testing.T) {
	s := openShop(t)
	ann := webtest.As(t, s.app, s.server, s.ann)
	for _, path := range []string{"/catalogs", "/forms", "/forms/new", "/assignments", "/assignments/new"} {
		if got := ann.Get(path); got.Status != 403 {
			t.Errorf("a technician asks for %s: status %d", path, got.Status)
		}
	}
}
