package listen

import (
	"net"
	"net/http"
	"strings"
)

// toHTTPS sends requests by plain HTTP to the same address by HTTPS. What would
// change something is refused instead: it has been sent in the clear already,
// and sending it on would hide that.
type toHTTPS struct{ port string }

func (t toHTTPS) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	host := r.Host
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	host = strings.Trim(host, "[]")
	if r.Method != http.MethodGet && r.Method != http.MethodHead || host == "" {
		w.Header().Set("Connection", "close")
		http.Error(w, "Use HTTPS.", http.StatusBadRequest)
		return
	}
	if strings.Contains(host, ":") {
		host = "[" + host + "]"
	}
	if t.port != "" && t.port != "443" {
		host += ":" + t.port
	}
	http.Redirect(w, r, "https://"+host+r.URL.RequestURI(), http.StatusPermanentRedirect)
}

// onlyHTTPS serves what reached a proxy by HTTPS, and sends the rest there. What
// asks the server directly, such as a probe beside it, is served.
func onlyHTTPS(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Context().Value(viaProxy{}) != nil && Scheme(r) == "http" {
			toHTTPS{}.ServeHTTP(w, r)
			return
		}
		next.ServeHTTP(w, r)
	})
}

func portOf(a net.Addr) string {
	_, port, _ := net.SplitHostPort(a.String())
	return port
}
