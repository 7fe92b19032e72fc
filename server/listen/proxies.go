package listen

import (
	"context"
	"net"
	"net/http"
	"net/netip"
	"strings"

	"github.com/labstack/echo/v4"

	"rightpage/quiz"
)

// Proxies are the ranges of addresses from which proxies ask on behalf of
// others. The zero value is none.
type Proxies struct{ ranges []netip.Prefix }

// ParseProxies reads ranges such as 10.0.0.0/8, 2001:db8::/32 or 192.0.2.7.
func ParseProxies(list ...string) (Proxies, error) {
	var p Proxies
	for _, s := range list {
		if s = strings.TrimSpace(s); s == "" {
			continue
		}
		r, err := netip.ParsePrefix(s)
		if err != nil {
			a, err := netip.ParseAddr(s)
			if err != nil {
				return Proxies{}, &quiz.Error{Code: quiz.Invalid, Text: s + " is no range of addresses", Err: err, Mend: "write it as in 10.0.0.0/8 or 192.0.2.7"}
			}
			r = netip.PrefixFrom(a.Unmap(), a.Unmap().BitLen())
		}
		p.ranges = append(p.ranges, r.Masked())
	}
	return p, nil
}

// Trust gives the same to echo, which finds the address of the visitor by it:
// the last in X-Forwarded-For that is no proxy's. Nothing is trusted that was
// not named, local addresses neither. Empty if there are no proxies.
func (p Proxies) Trust() []echo.TrustOption {
	if len(p.ranges) == 0 {
		return nil
	}
	o := []echo.TrustOption{echo.TrustLoopback(false), echo.TrustLinkLocal(false), echo.TrustPrivateNet(false)}
	for _, r := range p.ranges {
		o = append(o, echo.TrustIPRange(&net.IPNet{IP: r.Addr().AsSlice(), Mask: net.CIDRMask(r.Bits(), r.Addr().BitLen())}))
	}
	return o
}

// trusts tells whether the other end of a connection is a proxy.
func (p Proxies) trusts(remote string) bool {
	a, err := netip.ParseAddrPort(remote)
	if err != nil {
		return false
	}
	at := a.Addr().Unmap().WithZone("")
	for _, r := range p.ranges {
		if r.Contains(at) {
			return true
		}
	}
	return false
}

// forwarded are the headers by which proxies tell of whoever asked them.
var forwarded = []string{"Forwarded", "X-Forwarded-For", "X-Forwarded-Proto", "X-Forwarded-Protocol", "X-Forwarded-Ssl", "X-Forwarded-Host", "X-Forwarded-Port", "X-Url-Scheme", "X-Real-Ip"}

// viaProxy marks the context of requests that came by a proxy.
type viaProxy struct{}

// Handler drops what only a proxy may say from requests that did not come from
// one, so that nothing behind it can be told lies about where a request comes
// from or whether it was encrypted.
func (p Proxies) Handler(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if p.trusts(r.RemoteAddr) {
			next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), viaProxy{}, true)))
			return
		}
		for _, name := range forwarded {
			r.Header.Del(name)
		}
		next.ServeHTTP(w, r)
	})
}

// Scheme is how a request reached the outermost of the servers, http or https:
// a proxy's word where there is one. It is for requests that went through
// [Proxies.Handler], and can be echo's SchemeExtractor, which by itself takes the
// word of proxies at private addresses alone.
func Scheme(r *http.Request) string {
	if r.TLS != nil {
		return "https"
	}
	if r.Context().Value(viaProxy{}) != nil {
		// Of several proxies the outermost comes first.
		first, _, _ := strings.Cut(r.Header.Get("X-Forwarded-Proto"), ",")
		if s := strings.ToLower(strings.TrimSpace(first)); s == "http" || s == "https" {
			return s
		}
	}
	return "http"
}
