package listen_test

import (
	"net/http"
	"net/http/httptest"
	"testing"

	"rightpage/server/listen"
)

// A range that is read is one, and nobody outside of it is believed.
func FuzzParseProxies(f *testing.F) {
	for _, s := range []string{"10.0.0.0/8", "::1", "192.0.2.7/32", "::ffff:10.0.0.1/104", "fe80::1%eth0", "0.0.0.0/0", "10.0.0.0/-1"} {
		f.Add(s, "203.0.113.9:1")
	}
	f.Fuzz(func(t *testing.T, text, from string) {
		p, err := listen.ParseProxies(text)
		if err != nil {
			return
		}
		p.Trust()
		r := httptest.NewRequest("GET", "/", nil)
		r.RemoteAddr = from
		r.Header.Set("X-Forwarded-Proto", "https")
		p.Handler(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
			if told := r.Header.Get("X-Forwarded-Proto") != ""; !told && listen.Scheme(r) != "http" {
				t.Errorf("%q from %q: believed without being told", text, from)
			}
		})).ServeHTTP(httptest.NewRecorder(), r)
	})
}
