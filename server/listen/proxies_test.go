package listen_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/labstack/echo/v4"

	"rightpage/quiz"
	"rightpage/server/listen"
)

// What a page finds out about where a request comes from.
func TestWhoseWordIsTaken(t *testing.T) {
	p, err := listen.ParseProxies("10.0.0.0/8", " 192.0.2.7", "", "2001:db8::/32")
	must(t, err)
	e := echo.New()
	e.IPExtractor = echo.ExtractIPFromXFFHeader(p.Trust()...)
	e.SchemeExtractor = listen.Scheme
	e.GET("/", func(c echo.Context) error { return c.String(200, c.RealIP()+" "+c.Scheme()) })
	h := p.Handler(e)
	for _, c := range []struct{ from, forFor, proto, want string }{
		{"203.0.113.9:1000", "", "", "203.0.113.9 http"},
		{"203.0.113.9:1000", "198.51.100.1", "https", "203.0.113.9 http"}, // nobody's proxy
		{"127.0.0.1:1000", "198.51.100.1", "https", "127.0.0.1 http"},     // not named either
		{"10.1.2.3:1000", "198.51.100.1", "https", "198.51.100.1 https"},
		{"192.0.2.7:1000", "198.51.100.1", "http", "198.51.100.1 http"},
		{"192.0.2.8:1000", "198.51.100.1", "https", "192.0.2.8 http"},
		{"10.1.2.3:1000", "6.6.6.6, 198.51.100.1, 192.0.2.7", "https", "198.51.100.1 https"}, // what stands first, the client may have made up
		{"[2001:db8::5]:1000", "198.51.100.1", "https", "198.51.100.1 https"},
		{"[::ffff:10.1.2.3]:1000", "198.51.100.1", "https", "198.51.100.1 https"},
		{"10.1.2.3:1000", "", "", "10.1.2.3 http"},
		{"10.1.2.3:1000", "198.51.100.1", "javascript", "198.51.100.1 http"},
	} {
		r := httptest.NewRequest("GET", "http://training.example/", nil)
		r.RemoteAddr = c.from
		if c.forFor != "" {
			r.Header.Set("X-Forwarded-For", c.forFor)
		}
		if c.proto != "" {
			r.Header.Set("X-Forwarded-Proto", c.proto)
		}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Body.String() != c.want {
			t.Errorf("from %s, for %q, %q: %s, want %s", c.from, c.forFor, c.proto, w.Body, c.want)
		}
	}
	for _, s := range []string{"10.0.0.0/40", "here", "10.0.0"} {
		if _, err := listen.ParseProxies(s); quiz.ErrorCode(err) != quiz.Invalid {
			t.Errorf("%s: %v", s, err)
		}
	}
	if none, err := listen.ParseProxies(); err != nil || len(none.Trust()) != 0 {
		t.Errorf("no proxies: %v, %v", none.Trust(), err)
	}
}

func TestPlainHTTPBehindAProxy(t *testing.T) {
	p, err := listen.ParseProxies("127.0.0.1")
	must(t, err)
	r := run(t, listen.Config{Proxies: p, Secure: true, Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { fmt.Fprint(w, r.Header.Get("X-Forwarded-Proto")) })})
	client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	for proto, want := range map[string]string{"http": "308 https://training.example/due", "https": "200 ", "https, http": "200 ", "http,https": "308 https://training.example/due"} {
		req, _ := http.NewRequest("GET", "http://"+r.at.Server.String()+"/due", nil)
		req.Host = "training.example"
		req.Header.Set("X-Forwarded-Proto", proto)
		res, err := client.Do(req)
		must(t, err)
		res.Body.Close()
		if got := fmt.Sprint(res.StatusCode, " ", res.Header.Get("Location")); got != want {
			t.Errorf("%s: %s, want %s", proto, got, want)
		}
	}
}
