package account_test

import (
	"net/url"
	"strings"
	"testing"

	"rightpage/server/account"
)

// Wherever it leads, it is a path of the server that the page came from, as
// browsers (which drop tabs and line feeds, and take \ for /: WHATWG URL, 4.4)
// read it.
func FuzzNext(f *testing.F) {
	for _, s := range []string{"/", "/due?x=1", "//bad.example", `/\bad.example`, "/\t/bad.example", "https://bad.example", "/%2f/x", "/a//b"} {
		f.Add(s)
	}
	base, err := url.Parse("https://training.example.org/sign-in")
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, next string) {
		got := account.Local(next)
		asRead := strings.NewReplacer("\t", "", "\n", "", "\r", "", `\`, "/").Replace(strings.TrimSpace(got))
		u, err := base.Parse(asRead)
		if err != nil || u.Host != base.Host || u.Scheme != "https" || strings.HasPrefix(asRead, "//") {
			t.Fatalf("%q leads to %q: %v, %v", next, got, u, err)
		}
	})
}
