package account

import (
	"net/url"
	"strings"
)

// local gives an address of this server to go on to: the path and query that
// were asked for, or "/" if they are not of this server. A browser takes //host,
// \\host and /\host for another server's, and drops tabs and line feeds, so that
// anything of that kind is refused.
func local(next string) string {
	if !strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") || strings.Contains(next, `\`) ||
		strings.ContainsFunc(next, func(r rune) bool { return r < ' ' || r == 0x7f }) {
		return "/"
	}
	u, err := url.Parse(next)
	if err != nil || u.Scheme != "" || u.Host != "" || u.User != nil || strings.HasPrefix(u.Path, "//") || strings.Contains(u.Path, `\`) {
		return "/"
	}
	return next
}
