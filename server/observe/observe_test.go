package observe_test

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"

	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"

	"rightpage/banks"
	"rightpage/quiz"
	"rightpage/quiz/store"
	"rightpage/server/observe"
	"rightpage/server/web"
	"rightpage/server/web/webtest"
)

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// scrape reads the metrics as Prometheus does.
func scrape(t *testing.T, o *observe.Observer) map[string]*dto.MetricFamily {
	t.Helper()
	w := httptest.NewRecorder()
	o.Admin().ServeHTTP(w, httptest.NewRequest("GET", "/metrics", nil))
	if w.Code != http.StatusOK {
		t.Fatalf("metrics: %d %s", w.Code, w.Body)
	}
	p := expfmt.NewTextParser(model.UTF8Validation)
	families, err := p.TextToMetricFamilies(w.Body)
	must(t, err)
	return families
}

// value adds up the series of a metric that have the labels.
func value(t *testing.T, families map[string]*dto.MetricFamily, name string, labels ...string) float64 {
	t.Helper()
	f := families[name]
	if f == nil {
		t.Fatalf("there is no metric %s", name)
	}
	sum := 0.0
	for _, m := range f.Metric {
		have := map[string]string{}
		for _, l := range m.Label {
			have[l.GetName()] = l.GetValue()
		}
		fits := true
		for i := 0; i+1 < len(labels); i += 2 {
			fits = fits && have[labels[i]] == labels[i+1]
		}
		if fits {
			sum += m.GetCounter().GetValue() + m.GetGauge().GetValue() + float64(m.GetHistogram().GetSampleCount())
		}
	}
	return sum
}

func serve(t *testing.T, a *web.App, o *observe.Observer, routes []web.Route) *httptest.Server {
	t.Helper()
	h, err := a.Handler(routes, nil, o.Middleware())
	must(t, err)
	srv := httptest.NewServer(o.Probes(h))
	t.Cleanup(srv.Close)
	return srv
}

func TestRequestsAreCountedByRoute(t *testing.T) {
	a, _ := webtest.Open(t)
	o := observe.New(a.Store, observe.Options{})
	p := webtest.Person(t, a, "Tech", "", quiz.Technician)
	answer := func(c *web.Context) error { return c.String(http.StatusOK, c.Param("attempt")) }
	srv := serve(t, a, o, []web.Route{
		{Method: "GET", Path: "/attempts/:attempt", Access: web.Everybody(), Handle: answer},
		{Method: "POST", Path: "/attempts/:attempt/questions/:n", Access: web.Everybody(), Handle: func(c *web.Context) error {
			if c.Param("n") == "9" {
				return quiz.Errorf(quiz.Closed, "too late")
			}
			return c.Go("/")
		}},
		{Method: "GET", Path: "/broken", Access: web.Everybody(), Handle: func(*web.Context) error { panic("on purpose") }},
	})
	b := webtest.As(t, a, srv, p)
	b.Get("/attempts/a1")
	b.Get("/attempts/a2")
	b.Post("/attempts/a1/questions/1", nil)
	b.Post("/attempts/a1/questions/2", nil)
	b.Post("/attempts/a1/questions/9", nil)
	b.Get("/broken")
	b.Get("/nobody/knows/" + p.Name)
	req, _ := http.NewRequest("BREW", srv.URL+"/pot", nil)
	b.Do(req)
	m := scrape(t, o)
	for _, c := range []struct {
		labels []string
		want   float64
	}{
		{[]string{"method", "GET", "route", "/attempts/:attempt", "status", "200"}, 2},
		{[]string{"method", "POST", "route", "/attempts/:attempt/questions/:n", "status", "303"}, 2},
		{[]string{"method", "POST", "route", "/attempts/:attempt/questions/:n", "status", "409"}, 1},
		{[]string{"route", "/broken", "status", "500"}, 1},
		{[]string{"method", "other"}, 1},
	} {
		if got := value(t, m, "rightpage_requests_total", c.labels...); got != c.want {
			t.Errorf("%v: %v, want %v", c.labels, got, c.want)
		}
	}
	if got := value(t, m, "rightpage_request_seconds", "route", "/attempts/:attempt"); got != 2 {
		t.Errorf("times of %v requests, want 2", got)
	}
	if got := value(t, m, "rightpage_answers_saved_total", "of", "quiz"); got != 2 {
		t.Errorf("%v answers saved, want 2: a refusal is none", got)
	}
	if got := value(t, m, "rightpage_requests_under_way"); got != 0 {
		t.Errorf("%v requests under way", got)
	}
	known := map[string]bool{"none": true, "/attempts/:attempt": true, "/attempts/:attempt/questions/:n": true, "/broken": true}
	for _, x := range m["rightpage_requests_total"].Metric {
		for _, l := range x.Label {
			if l.GetName() == "route" && !known[l.GetValue()] {
				t.Errorf("an address became a route: %s", l.GetValue())
			}
		}
	}
	if value(t, m, "go_goroutines") < 1 || m["process_cpu_seconds_total"] == nil {
		t.Error("nothing is told of the process")
	}
}

func TestAttemptsAndTimers(t *testing.T) {
	a, clock := webtest.Open(t)
	o := observe.New(a.Store, observe.Options{Now: clock.Now, Keep: -1, Pools: func() map[string]sql.DBStats {
		return map[string]sql.DBStats{"write": {MaxOpenConnections: 1, WaitCount: 3, WaitDuration: 1500 * time.Millisecond}, "read": {MaxOpenConnections: 4}}
	}})
	ctx := context.Background()
	q := &banks.Question{Catalog: "T", Revision: "1", Kind: "edition", Skill: "editions", Form: banks.OneOf, Stem: "Which?", Trace: []banks.TraceLine{},
		Options: []banks.Option{{Text: "2", Value: "2", Right: true}, {Text: "1", Value: "1"}}}
	_, err := banks.Encode(q)
	must(t, err)
	f := &banks.TestForm{Title: "T", Catalog: "T", Revision: "1", Variants: []banks.Variant{{Name: "A", Questions: []*banks.Question{q}}},
		Blueprint: banks.Blueprint{Title: "T", Questions: 1, Book: banks.OpenBook, Order: banks.Mixed, Variants: 1, Cut: 0.5}}
	must(t, a.Store.AddForm(ctx, "", f))
	as := quiz.Assignment{Title: "T", Form: f.ID, Targets: []quiz.Target{{Kind: quiz.ToRole, ID: "technician"}}, Open: clock.Now(),
		Close: clock.Now().Add(24 * time.Hour), Limit: time.Hour, Attempts: 1, Release: quiz.Release{When: quiz.ReleaseAtEnd}}
	must(t, a.Store.SaveAssignment(ctx, "", &as))
	var first quiz.Attempt
	for i := range 3 {
		p := webtest.Person(t, a, fmt.Sprint("Tech ", i), "", quiz.Technician)
		if first, err = a.Store.StartAttempt(ctx, as.ID, p.ID); err != nil {
			t.Fatal(err)
		}
		clock.Move(10 * time.Minute)
	}
	tell := func() string {
		m := scrape(t, o)
		return fmt.Sprint(value(t, m, "rightpage_attempts_in_progress"), value(t, m, "rightpage_timers_late"), value(t, m, "rightpage_timers_late_seconds"))
	}
	if got := tell(); got != "3 0 0" {
		t.Errorf("in progress, late, by: %s", got)
	}
	_, err = a.Store.HandIn(ctx, first.ID, "handin-1")
	must(t, err)
	if got := tell(); got != "2 0 0" {
		t.Errorf("one handed in: %s", got)
	}
	clock.Move(30*time.Minute + quiz.Grace) // 60 after the first started: its grace ends now
	if got := tell(); got != "2 0 0" {
		t.Errorf("within the grace: %s", got)
	}
	clock.Move(90 * time.Second)
	if got := tell(); got != "1 1 90" {
		t.Errorf("nobody ended the first: %s", got)
	}
	m := scrape(t, o)
	if value(t, m, "rightpage_database_connections_most", "pool", "read") != 4 || value(t, m, "rightpage_database_wait_seconds_total") != 1.5 {
		t.Error("the pools are not told")
	}
	must(t, a.Store.Close())
	m = scrape(t, o)
	if value(t, m, "rightpage_database_counted") != 0 || m["rightpage_attempts_in_progress"] != nil {
		t.Error("without a database there are numbers of it")
	}
}

func TestProbes(t *testing.T) {
	ctx := context.Background()
	s, err := store.Open(ctx, filepath.Join(t.TempDir(), "x.db"), store.Options{})
	must(t, err)
	o := observe.New(s, observe.Options{})
	h := o.Probes(http.NotFoundHandler())
	ask := func(h http.Handler, method, path string) string {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest(method, path, nil))
		var x struct{ State string }
		_ = json.NewDecoder(w.Body).Decode(&x)
		return fmt.Sprint(w.Code, " ", x.State)
	}
	both := func(when, alive, ready string) {
		t.Helper()
		for name, h := range map[string]http.Handler{"beside the pages": h, "beside the metrics": o.Admin()} {
			if got := ask(h, "GET", "/healthz"); got != alive {
				t.Errorf("%s, %s: /healthz %s", when, name, got)
			}
			if got := ask(h, "GET", "/readyz"); got != ready {
				t.Errorf("%s, %s: /readyz %s, want %s", when, name, got, ready)
			}
		}
	}
	both("not migrated", "200 alive", "503 not migrated")
	must(t, s.Migrate(ctx))
	both("migrated", "200 alive", "200 ready")
	if got := ask(h, "POST", "/readyz"); got != "404 " {
		t.Errorf("a change is no probe: %s", got)
	}
	if got := ask(h, "GET", "/metrics"); got != "404 " {
		t.Errorf("the metrics are beside the pages: %s", got)
	}
	must(t, s.Close())
	both("without a database", "200 alive", "503 no database")
	o.Drain()
	both("draining", "200 alive", "503 draining")
}

// Everything about a person that can be in a request is in one here; none of it
// may be in the log.
func TestTheLogNamesNobody(t *testing.T) {
	for _, format := range []string{"text", "json"} {
		t.Run(format, func(t *testing.T) {
			var log bytes.Buffer
			l, err := observe.Logger(&log, observe.LogOptions{Format: format})
			must(t, err)
			base, clock := webtest.Open(t)
			a, err := web.New(base.Store, web.Options{Now: clock.Now, Log: l})
			must(t, err)
			o := observe.New(a.Store, observe.Options{})
			p := &quiz.Person{Name: "Odalys Verhoeven", Number: "WX-4711", Mail: "odalys@wexcombe.example", Roles: []quiz.Role{quiz.Technician}}
			must(t, a.Store.AddPerson(context.Background(), "", p, "odalysv", "$argon2id$v=19$secret", false))
			answer := "page 12 of TF-210"
			fail := func(err error) func(*web.Context) error { return func(*web.Context) error { return err } }
			leaf := fmt.Errorf("550 <%s> unknown, from 192.0.2.77:4711 and [2001:db8::77]:25", p.Mail)
			routes := []web.Route{
				{Method: "GET", Path: "/fine/:who", Access: web.Everybody(), Handle: func(c *web.Context) error { return c.String(200, p.Name) }},
				{Method: "POST", Path: "/fine/:who", Access: web.Everybody(), Handle: func(c *web.Context) error { return c.Go("/") }},
				{Method: "GET", Path: "/1/:who", Access: web.Everybody(), Handle: fail(&quiz.Error{Code: quiz.Unavailable, Text: "save the person " + p.Name, Err: errors.New("database is locked")})},
				{Method: "GET", Path: "/2/:who", Access: web.Everybody(), Handle: fail(fmt.Errorf("readiness of %s: %w", p.Name, leaf))},
				{Method: "GET", Path: "/3/:who", Access: web.Everybody(), Handle: fail(errors.Join(fmt.Errorf("mail to %s: %w", p.Mail, leaf), &quiz.Error{Code: quiz.Internal, Text: p.Name}))},
				{Method: "GET", Path: "/4/:who", Access: web.Everybody(), Handle: func(*web.Context) error { panic(fmt.Sprintf("answer %q of %s", answer, p.Mail)) }},
				{Method: "GET", Path: "/5/:who", Access: web.Everybody(), Handle: fail(fmt.Errorf("strconv: parsing %q: invalid", answer))},
			}
			srv := serve(t, a, o, routes)
			b := webtest.As(t, a, srv, p)
			token := b.Client.Jar.Cookies(must1(t, srv.URL))[0].Value
			in := url.Values{"name": {p.Name}, "mail": {p.Mail}, "login": {"odalysv"}, "answer": {answer}, "password": {"correct horse battery"}}
			for _, r := range routes {
				path := strings.Replace(r.Path, ":who", url.PathEscape(p.Name), 1)
				if r.Method == "POST" {
					b.Post(path+"?"+in.Encode(), in)
				} else {
					b.Get(path + "?" + in.Encode())
				}
			}
			b.Get("/nowhere/" + url.PathEscape(p.Name) + "?" + in.Encode())
			l.Error("http: TLS handshake error from 192.0.2.77:4711: "+p.Mail, "mail", p.Mail, slog.Group("of", "address", "198.51.100.7"))
			text := log.String()
			if strings.Count(text, "\n") < 10 || !strings.Contains(text, "database is locked") || !strings.Contains(text, "/1/:who") {
				t.Errorf("the log says too little:\n%s", text)
			}
			for _, secret := range []string{p.Name, "Odalys", "Verhoeven", p.Number, p.Mail, "wexcombe", "odalysv", answer, "TF-210", "correct horse", "192.0.2", "2001:db8", "198.51", token, p.ID, "argon2"} {
				for _, s := range []string{secret, url.QueryEscape(secret), url.PathEscape(secret)} {
					if strings.Contains(text, s) {
						t.Errorf("the log holds %q:\n%s", s, text)
						break
					}
				}
			}
		})
	}
}

func must1(t testing.TB, s string) *url.URL {
	t.Helper()
	u, err := url.Parse(s)
	must(t, err)
	return u
}

func TestLogOptions(t *testing.T) {
	for _, o := range []observe.LogOptions{{Format: "xml"}, {Level: "loud"}} {
		if _, err := observe.Logger(io.Discard, o); quiz.ErrorCode(err) != quiz.Invalid {
			t.Errorf("%+v: %v", o, err)
		}
	}
	var b bytes.Buffer
	l, err := observe.Logger(&b, observe.LogOptions{Format: "json", Level: "warn"})
	must(t, err)
	l.Info("quiet")
	l.Warn("loud", "error", error(&quiz.Error{Code: quiz.Closed, Text: "of Ann", Err: &quiz.Error{Code: quiz.Closed, Text: "Bo"}}))
	var line struct{ Level, Msg, Error string }
	if err := json.Unmarshal(b.Bytes(), &line); err != nil || line.Level != "WARN" || line.Msg != "loud" || line.Error != "closed" {
		t.Errorf("%s: %v", b.String(), err)
	}
	b.Reset()
	l, err = observe.Logger(&b, observe.LogOptions{Level: "debug"})
	must(t, err)
	l.Error("x", "error", quiz.Errorf(quiz.Closed, "of Ann"))
	if !strings.Contains(b.String(), "of Ann") {
		t.Errorf("debug takes something out: %s", b.String())
	}
}
