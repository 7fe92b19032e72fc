package web_test

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/store"
	"rightpage/server/web"
	"rightpage/server/web/webtest"
)

func TestWhoMayUseARoute(t *testing.T) {
	a, _ := webtest.Open(t)
	north, south := &quiz.Site{Name: "North"}, &quiz.Site{Name: "South"}
	for _, s := range []*quiz.Site{north, south} {
		if err := a.Store.SaveSite(t.Context(), "", s); err != nil {
			t.Fatal(err)
		}
	}
	people := map[string]*quiz.Person{
		"tech":        webtest.Person(t, a, "Tech", north.ID, quiz.Technician),
		"colleague":   webtest.Person(t, a, "Colleague", north.ID, quiz.Technician),
		"elsewhere":   webtest.Person(t, a, "Elsewhere", south.ID, quiz.Technician),
		"manager":     webtest.Person(t, a, "Manager", north.ID, quiz.Manager),
		"director":    webtest.Person(t, a, "Director", "", quiz.Manager),
		"coordinator": webtest.Person(t, a, "Coordinator", south.ID, quiz.Coordinator),
		"admin":       webtest.Person(t, a, "Admin", "", quiz.Administrator),
	}
	srv := webtest.Serve(t, a, []web.Route{{Method: "GET", Path: "/people/:person",
		Access: web.Access{Technician: web.Own, Manager: web.Site, Coordinator: web.All},
		Owner:  func(c *web.Context) (string, error) { return c.Param("person"), nil },
		Handle: func(c *web.Context) error { return c.String(http.StatusOK, c.Subject.Name) },
	}})
	for _, c := range []struct {
		who, whose string
		want       int
	}{
		{"tech", "tech", 200}, {"tech", "colleague", 404}, {"tech", "elsewhere", 404},
		{"manager", "tech", 200}, {"manager", "elsewhere", 404}, {"manager", "manager", 200},
		{"director", "elsewhere", 200}, {"coordinator", "tech", 200}, {"admin", "tech", 403},
	} {
		b := webtest.As(t, a, srv, people[c.who])
		if got := b.Get("/people/" + people[c.whose].ID); got.Status != c.want {
			t.Errorf("%s asks for %s: status %d, want %d", c.who, c.whose, got.Status, c.want)
		}
	}
	b := webtest.As(t, a, srv, people["coordinator"])
	if got := b.Get("/people/nobody"); got.Status != http.StatusNotFound {
		t.Errorf("a person that there is not: status %d", got.Status)
	}
	req, _ := http.NewRequest("GET", srv.URL+"/people/x", nil)
	if got := webtest.Visit(t, srv).Do(req); got.Status != http.StatusSeeOther || got.Header.Get("Location") != "/sign-in?next=%2Fpeople%2Fx" {
		t.Errorf("signed out: %d to %s", got.Status, got.Header.Get("Location"))
	}
}

func TestSessionsEnd(t *testing.T) {
	a, clock := webtest.Open(t)
	p := webtest.Person(t, a, "Tech", "", quiz.Technician)
	srv := webtest.Serve(t, a, []web.Route{{Method: "GET", Path: "/x", Access: web.Everybody(),
		Handle: func(c *web.Context) error { return c.String(http.StatusOK, c.Visitor.Name) }}})
	status := func(b *webtest.Browser) int {
		req, _ := http.NewRequest("GET", srv.URL+"/x", nil)
		return b.Do(req).Status
	}
	b := webtest.As(t, a, srv, p)
	for range 5 { // used every hour and a half it lasts
		clock.Move(90 * time.Minute)
		if got := status(b); got != http.StatusOK {
			t.Fatalf("in use: status %d", got)
		}
	}
	clock.Move(3 * time.Hour)
	if got := status(b); got != http.StatusSeeOther {
		t.Errorf("after three idle hours: status %d", got)
	}
	b = webtest.As(t, a, srv, p)
	if _, err := a.Store.Sessions().EndAll(t.Context(), p.ID); err != nil {
		t.Fatal(err)
	}
	if got := status(b); got != http.StatusSeeOther {
		t.Errorf("after signing out everywhere: status %d", got)
	}
	b = webtest.As(t, a, srv, p)
	p.Left = clock.Now()
	if err := a.Store.SavePerson(t.Context(), "", p); err != nil {
		t.Fatal(err)
	}
	if got := status(b); got != http.StatusSeeOther {
		t.Errorf("of a person who has left: status %d", got)
	}
}

func TestForgedAndOversizedRequests(t *testing.T) {
	a, _ := webtest.Open(t)
	p := webtest.Person(t, a, "Tech", "", quiz.Technician)
	done := 0
	srv := webtest.Serve(t, a, []web.Route{{Method: "POST", Path: "/x", Access: web.Everybody(),
		Handle: func(c *web.Context) error { done++; return c.Go("/") }}})
	b := webtest.As(t, a, srv, p)
	send := func(header, value, body string) int {
		req, _ := http.NewRequest("POST", srv.URL+"/x", strings.NewReader(body))
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		req.Header.Set(header, value)
		return b.Do(req).Status
	}
	b.CSRF()
	if got := send("X-No", "thing", "a=1"); got == http.StatusSeeOther || done != 0 {
		t.Errorf("without a token: status %d, done %d", got, done)
	}
	if got := send("Sec-Fetch-Site", "cross-site", "csrf="+b.CSRF()); got == http.StatusSeeOther || done != 0 {
		t.Errorf("from another site: status %d, done %d", got, done)
	}
	if got := send("X-No", "thing", "csrf="+b.CSRF()+"&a="+strings.Repeat("x", web.MaxForm)); got == http.StatusSeeOther || done != 0 {
		t.Errorf("too large: status %d, done %d", got, done)
	}
	if got := b.Post("/x", url.Values{}); got.Status != http.StatusSeeOther || done != 1 {
		t.Errorf("with its token: status %d, done %d", got.Status, done)
	}
}

func TestWhatIsSentAfterTheSessionEndedIsKept(t *testing.T) {
	a, _ := webtest.Open(t)
	srv := webtest.Serve(t, a, []web.Route{{Method: "POST", Path: "/x", Access: web.Everybody(), Handle: func(c *web.Context) error { return c.Go("/") }}})
	got := webtest.Visit(t, srv).Post("/x", url.Values{"answer": {`page 12 "<b>`}, "new-password": {"marsh kettle"}})
	if strings.Contains(got.Body, "marsh") {
		t.Error("a password is written into the page")
	}
	if got.Status != http.StatusUnauthorized || !strings.Contains(got.Body, `name="answer" value="page 12 &#34;&lt;b&gt;"`) {
		t.Errorf("status %d:\n%s", got.Status, got.Body)
	}
}

func TestHeaders(t *testing.T) {
	a, _ := webtest.Open(t)
	got := webtest.Visit(t, webtest.Serve(t, a, nil)).Get("/no-such-page")
	for name, want := range map[string]string{
		"Content-Security-Policy": "default-src 'none'", "X-Content-Type-Options": "nosniff", "X-Frame-Options": "DENY",
		"Referrer-Policy": "same-origin", "Cache-Control": "no-store",
	} {
		if !strings.HasPrefix(got.Header.Get(name), want) {
			t.Errorf("%s: %q", name, got.Header.Get(name))
		}
	}
	if strings.Contains(got.Header.Get("Content-Security-Policy"), "unsafe") {
		t.Error("the policy lets something unsafe in")
	}
	if got.Status != http.StatusNotFound || !strings.Contains(got.Body, "Not found") {
		t.Errorf("status %d:\n%s", got.Status, got.Body)
	}
}

func TestTablesAreSafeInSpreadsheets(t *testing.T) {
	for in, want := range map[string]string{"=1+1": "'=1+1", "+1": "'+1", "-1": "'-1", "@x": "'@x", "\tx": "'\tx", "a=1": "a=1", "": "", "＝1": "'＝1", "＠x": "'＠x", "é": "é"} {
		if got := web.Safe(in); got != want {
			t.Errorf("%q: %q", in, got)
		}
	}
	table := web.Table{Name: "x", Columns: []string{"who", "points"}, Rows: [][]any{{"=cmd", 1.5}, {"Ann, B", nil}}}
	data, err := table.CSV(time.UTC)
	if want := "\ufeffwho,points\r\n'=cmd,1.5\r\n\"Ann, B\",\r\n"; err != nil || string(data) != want {
		t.Errorf("%q, %v", data, err)
	}
}

// IDs of requests that come from outside are taken if they are such.
func TestIDsOfRequests(t *testing.T) {
	a, _ := webtest.Open(t)
	b := webtest.Visit(t, webtest.Serve(t, a, nil))
	for sent, kept := range map[string]bool{"": false, "4bf92f3577b34da6-A": true, "Ines Gil, signed in": false, strings.Repeat("a", 65): false, "a=1 status=200": false} {
		req, _ := http.NewRequest("GET", b.Server.URL+"/x", nil)
		if sent != "" {
			req.Header.Set("X-Request-Id", sent)
		}
		if got := b.Do(req).Header.Get("X-Request-Id"); got == "" || (got == sent) != kept {
			t.Errorf("%q gives %q", sent, got)
		}
	}
}

// One line of IPv6 has more addresses than there are tries to count: they count
// as one.
func TestRatesByAddressCountALine(t *testing.T) {
	a, _ := webtest.Open(t)
	rate := &store.Rate{Burst: 2, Every: time.Hour}
	h, err := a.Handler([]web.Route{{Method: "GET", Path: "/x", Access: web.Access{Public: true}, Rate: rate,
		Handle: func(c *web.Context) error { return c.NoContent(http.StatusNoContent) }}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	from := func(address string) int {
		req := httptest.NewRequest("GET", "/x", nil)
		req.RemoteAddr = address
		w := httptest.NewRecorder()
		h.ServeHTTP(w, req)
		return w.Code
	}
	for i, c := range []struct {
		address string
		want    int
	}{{"[2001:db8:0:1::1]:1", 204}, {"[2001:db8:0:1::2]:1", 204}, {"[2001:db8:0:1:ffff::3]:1", 429}, {"[2001:db8:0:2::1]:1", 204},
		{"192.0.2.1:1", 204}, {"[::ffff:192.0.2.1]:1", 204}, {"192.0.2.1:2", 429}, {"192.0.2.2:1", 204}} {
		if got := from(c.address); got != c.want {
			t.Errorf("request %d, from %s: status %d, want %d", i+1, c.address, got, c.want)
		}
	}
}
