package administrator_test

import (
	"archive/zip"
	"bytes"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"rightpage/quiz"
	"rightpage/server/account"
	"rightpage/server/administrator"
	"rightpage/server/web/webtest"
)

func upload(b *webtest.Browser, name, list string) webtest.Answer {
	return b.Upload("/people/import", nil, webtest.File{Field: "file", Name: name, Data: []byte(list)})
}

var hidden = regexp.MustCompile(`name="(key|rows)" value="([^"]*)"`)

// confirm gives the form that adds what a preview shows.
func confirm(t *testing.T, preview webtest.Answer) url.Values {
	t.Helper()
	v := url.Values{}
	for _, m := range hidden.FindAllStringSubmatch(preview.Body, -1) {
		v.Set(m[1], html.UnescapeString(m[2]))
	}
	if v.Get("rows") == "" {
		t.Fatalf("nothing to add:\n%s", preview.Body)
	}
	return v
}

func TestImportingAList(t *testing.T) {
	o := open(t, account.Mailer{})
	b := o.as(t, o.coordinator)
	// As a German spreadsheet program saves it: semicolons, a mark at the start,
	// German names of columns, one that is not used, an empty row.
	list := "\ufeffNummer;NAME;Rollen;Abteilung;Anmeldename;mail;Standort;Sprache\r\n" +
		"101;\"Öhm, Jürgen\";Techniker/in;Bay 1;ohm;ohm@wexcombe.example;wexcombe  NORTH;Deutsch\r\n;;;;;;;\r\n" +
		"102;Bea Bay;;Bay 2;bea;;;\r\n103;'=Paul;technician;;;;;fr\r\n"
	page := upload(b, "staff.csv", list)
	wantStatus(t, "the preview", page, http.StatusOK)
	wantText(t, "the preview", page, "3 people would be added", "1 with a login has no mail address", "1 has no login", "not used: Abteilung", "Öhm, Jürgen")
	if people, _ := o.app.Store.People(t.Context()); len(people) != 5 {
		t.Fatalf("the preview kept something: %d people", len(people))
	}
	add := confirm(t, page)
	wantTo(t, "adding", b.Post("/people/import/add", add), "/people?state=waiting")
	wantText(t, "who has no password yet", b.Get("/people?state=waiting"), "3 people were added", "Öhm, Jürgen", "Bea Bay", "Print one-time codes")
	wantTo(t, "sent twice", b.Post("/people/import/add", add), "/people")
	people, err := o.app.Store.People(t.Context())
	if err != nil || len(people) != 8 {
		t.Fatalf("%d people, %v", len(people), err)
	}
	find := func(number string) quiz.Person {
		return people[slices.IndexFunc(people, func(p quiz.Person) bool { return p.Number == number })]
	}
	if p := find("101"); p.Name != "Öhm, Jürgen" || p.Site != o.site.ID || p.Locale != "de" || p.Mail != "ohm@wexcombe.example" || !slices.Equal(p.Roles, []quiz.Role{quiz.Technician}) {
		t.Errorf("%+v", p)
	}
	if p := find("102"); p.Site != "" || p.Locale != "en" || !slices.Equal(p.Roles, []quiz.Role{quiz.Technician}) {
		t.Errorf("%+v", p)
	}
	if p := find("103"); p.Name != "=Paul" || p.Locale != "fr" { // the apostrophe of a safe list is taken off
		t.Errorf("%+v", p)
	}
	if a, err := o.app.Store.Account(t.Context(), "ohm"); err != nil || !a.Must || a.Hash != "" {
		t.Errorf("%+v, %v", a, err)
	}
}

// Every fault of every row is said at once, by row and column, and nothing is
// added.
func TestAListWithFaults(t *testing.T) {
	o := open(t, account.Mailer{})
	o.give(t, o.tech, "tim")
	o.tech.Number = "7"
	if err := o.app.Store.SavePerson(t.Context(), "", o.tech); err != nil {
		t.Fatal(err)
	}
	b := o.as(t, o.coordinator)
	page := upload(b, "staff.csv", "name,number,mail,site,roles,login,language\n"+
		"Good One,1,good@wexcombe.example,Wexcombe North,technician,good,en\n"+
		",2,,,,,\n"+
		"Bad Mail,3,nobody,,,,\n"+
		"Bad Site,4,,Atlantis,,,\n"+
		"Bad Role,5,,,king,,\n"+
		"Too High,6,,,administrator,,\n"+
		"Tim Again,7,,,,tim,\n"+
		"Twice,1,,,,GOOD,\n"+
		"Bad Tongue,8,,,,,tlh\n"+
		strings.Repeat("x", 301)+",9,,,,,\n"+
		"Tess Technician,10,,,,,\n")
	wantStatus(t, "the preview", page, http.StatusUnprocessableEntity)
	for _, text := range []string{"Row 3</a> Name: This is needed", "Row 4</a> Mail: That is no mail address", "Row 5</a> Site: There is no such site. There are: Wexcombe North",
		"Row 6</a> Roles: There is no role king", "Row 7</a> Roles: You may give the role technician alone", "Row 8</a> Number: Tim Technician has this number",
		"Row 8</a> Login: Somebody else has this login", "Row 9</a> Number: Row 2 has the same", "Row 9</a> Login: Row 2 has the same", "Row 10</a> Language: There is no such language",
		"Row 11</a> Name: At most 300 characters", "Somebody of this name is there already"} {
		wantText(t, "the faults", page, text)
	}
	if strings.Contains(page.Body, `action="/people/import/add"`) || strings.Contains(page.Body, "Row 2</a>") {
		t.Error("it can be added, or a good row is blamed")
	}
	// Sent all the same, as by a hand-made request.
	rows := `[{"n":1,"c":["name","roles"]},{"n":2,"c":["Good","technician"]},{"n":3,"c":["Evil","administrator"]}]`
	wantStatus(t, "forged", b.Post("/people/import/add", url.Values{"rows": {rows}, "key": {"abcdefgh12345678"}}), http.StatusUnprocessableEntity)
	wantStatus(t, "nonsense", b.Post("/people/import/add", url.Values{"rows": {`{"n":`}}), http.StatusUnprocessableEntity)
	if people, _ := o.app.Store.People(t.Context()); len(people) != 5 {
		t.Errorf("%d people", len(people))
	}
	// An administrator may.
	page = upload(o.as(t, o.admin), "staff.csv", "name,roles\nTop,\"Administrator/in, responsable\"\n")
	wantText(t, "an administrator", page, "1 person would be added", "administrator, manager")
}

// Between the preview and the adding somebody else took a login.
func TestAListThatHasGoneStale(t *testing.T) {
	o := open(t, account.Mailer{})
	b := o.as(t, o.admin)
	add := confirm(t, upload(b, "staff.csv", "name,login\nAnn,ann\nBob,bob\n"))
	o.give(t, o.tech, "bob")
	got := b.Post("/people/import/add", add)
	wantStatus(t, "stale", got, http.StatusUnprocessableEntity)
	wantText(t, "stale", got, "Row 3</a> Login")
	if people, _ := o.app.Store.People(t.Context()); len(people) != 5 {
		t.Errorf("some were added: %d people", len(people))
	}
}

func workbook(t *testing.T, fill func(f *excelize.File)) string {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	fill(f)
	b, err := f.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestImportingAWorkbook(t *testing.T) {
	o := open(t, account.Mailer{})
	b := o.as(t, o.admin)
	page := upload(b, "staff.xlsx", workbook(t, func(f *excelize.File) {
		_ = f.SetSheetRow("Sheet1", "A1", &[]any{"Name", "Number", "Login"})
		_ = f.SetSheetRow("Sheet1", "A3", &[]any{"Ann Bay", 1042, "ann"})
		_ = f.SetCellFormula("Sheet1", "A4", `=HYPERLINK("http://bad.example","x")`)
	}))
	wantText(t, "the preview", page, "1042", "Ann Bay", `id="row-3"`)
	wantTo(t, "adding", b.Post("/people/import/add", confirm(t, page)), "/people?state=waiting")
	// What the server gives as a template it takes back.
	empty := b.Get("/people/import/template?as=xlsx")
	wantText(t, "the template", upload(b, "people.xlsx", empty.Body), "nobody in the list")
}

func TestFilesThatAreNoList(t *testing.T) {
	o := open(t, account.Mailer{})
	b := o.as(t, o.admin)
	bomb := func() string {
		var z bytes.Buffer
		w := zip.NewWriter(&z)
		f, _ := w.Create("xl/worksheets/sheet1.xml")
		zeros := make([]byte, 1<<20)
		for range 100 {
			_, _ = f.Write(zeros)
		}
		_ = w.Close()
		return z.String()
	}()
	many := "name\n" + strings.Repeat("x\n", 2001)
	wide := "name" + strings.Repeat(",x", 60) + "\n"
	for what, c := range map[string]struct{ name, data, text string }{
		"nothing":        {"a.csv", "", "Choose a file"},
		"one line":       {"a.csv", "name\n", "nobody in the list"},
		"no names":       {"a.csv", "number\n1\n", "no column of names"},
		"a column twice": {"a.csv", "name,Nombre\nx,y\n", "is there twice"},
		"Latin 1":        {"a.csv", "name\nJ\xfcrgen\n", "CSV UTF-8"},
		"a picture":      {"a.png", "\x89PNG\r\n\x1a\n\x00", "neither CSV"},
		"an old book":    {"a.xls", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "old binary form"},
		"a bomb":         {"a.xlsx", bomb, "damaged or too large"},
		"a damaged book": {"a.xlsx", "PK\x03\x04 and nothing else", "damaged or too large"},
		"broken quotes":  {"a.csv", "name\n\"x\n", "no CSV"},
		"too many":       {"a.csv", many, "more than 2000 rows"},
		"too wide":       {"a.csv", wide, "columns"},
		"of no kind":     {"a.html", "<p>x", "cannot be read"},
	} {
		got := upload(b, c.name, c.data)
		wantStatus(t, what, got, http.StatusUnprocessableEntity)
		wantText(t, what, got, c.text)
	}
	got := upload(b, "a.csv", "name\n"+strings.Repeat("x", 3<<20))
	wantStatus(t, "too large", got, http.StatusUnprocessableEntity)
	wantText(t, "too large", got, "too large")
	wantStatus(t, "no file at all", b.Post("/people/import", nil), http.StatusUnprocessableEntity)
	wantStatus(t, "a technician", upload(o.as(t, o.tech), "a.csv", "name\nx\n"), http.StatusForbidden)
}

func FuzzList(f *testing.F) {
	for _, s := range []string{"name,login\nAnn,ann\n", "name;mail\r\n\"a\nb\";x\r\n", "\ufeffname\t\n'=x\t\n", "PK\x03\x04", ""} {
		f.Add("a.csv", []byte(s))
	}
	f.Fuzz(func(t *testing.T, name string, data []byte) {
		rows, err := administrator.ReadSheet(name, data)
		if err != nil {
			if quiz.ErrorCode(err) != quiz.Invalid {
				t.Fatalf("%v", err)
			}
			return
		}
		last := 0
		for _, r := range rows {
			if r.Number <= last || strings.Join(r.Cells, "") == "" {
				t.Fatalf("%+v", rows)
			}
			last = r.Number
		}
	})
}

// A workbook of some kilobytes whose rows are empty up to the last column is
// refused at once, rather than read for minutes.
func TestAWorkbookOfEmptyCells(t *testing.T) {
	var blank, wide bytes.Buffer
	if err := excelize.NewFile().Write(&blank); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(blank.Bytes()), int64(blank.Len()))
	if err != nil {
		t.Fatal(err)
	}
	w := zip.NewWriter(&wide)
	for _, part := range z.File {
		if strings.HasSuffix(part.Name, "/sheet1.xml") {
			out, err := w.Create(part.Name)
			if err != nil {
				t.Fatal(err)
			}
			_, _ = out.Write([]byte(`<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>` +
				strings.Repeat(`<row><c r="XFD1" t="inlineStr"><is><t> </t></is></c></row>`, 1000) + `</sheetData></worksheet>`))
		} else if err := w.Copy(part); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if rows, err := administrator.ReadSheet("wide.xlsx", wide.Bytes()); quiz.ErrorCode(err) != quiz.Invalid {
		t.Errorf("%d rows, %v", len(rows), err)
	}
}
