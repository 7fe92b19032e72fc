package observe

import (
	"errors"
	"io"
	"log/slog"
	"regexp"
	"strings"

	"rightpage/quiz"
)

// LogOptions say how a log is written.
type LogOptions struct {
	Format string // "text" or "json"; empty: text
	// Level is the least that is written: debug, info, warn or error; empty:
	// info. With debug, errors are written as they are, which may name people:
	// it is for finding a fault, not for keeping.
	Level string
}

// Logger makes a log that holds no personal data, whatever is logged by it:
// errors are written as [Describe] has them, and mail and network addresses
// are taken out of every text.
func Logger(w io.Writer, o LogOptions) (*slog.Logger, error) {
	var level slog.Level
	if o.Level != "" {
		if err := level.UnmarshalText([]byte(o.Level)); err != nil {
			return nil, &quiz.Error{Code: quiz.Invalid, Text: "there is no log level " + o.Level, Mend: "use debug, info, warn or error"}
		}
	}
	h := &slog.HandlerOptions{Level: level, ReplaceAttr: clean}
	if level <= slog.LevelDebug {
		h.ReplaceAttr = nil
	}
	switch o.Format {
	case "", "text":
		return slog.New(slog.NewTextHandler(w, h)), nil
	case "json":
		return slog.New(slog.NewJSONHandler(w, h)), nil
	}
	return nil, &quiz.Error{Code: quiz.Invalid, Text: "there is no log format " + o.Format, Mend: "use text or json"}
}

// clean takes personal data out of an attribute. That of the name listen is the
// server's own address.
func clean(_ []string, a slog.Attr) slog.Attr {
	if a.Key == "listen" {
		return a
	}
	switch v := a.Value.Any().(type) {
	case error:
		a.Value = slog.StringValue(Describe(v))
	case string:
		a.Value = slog.StringValue(scrub(v))
	}
	return a
}

// Describe says what kind of error it is without saying about whom. The text of
// an error may name people, and those around it repeat it; so of the errors in
// its chain it gives their codes and the text of the cause alone, which is that
// of the database or the operating system, without what is quoted in it.
func Describe(err error) string {
	var parts []string
	for err != nil {
		if many, ok := err.(interface{ Unwrap() []error }); ok {
			var each []string
			for _, e := range many.Unwrap() {
				each = append(each, Describe(e))
			}
			parts = append(parts, strings.Join(each, " and "))
			break
		}
		next := errors.Unwrap(err)
		if q, ok := err.(*quiz.Error); ok {
			if code := string(q.Code); len(parts) == 0 || parts[len(parts)-1] != code {
				parts = append(parts, code)
			}
		} else if next == nil {
			parts = append(parts, quoted.ReplaceAllString(scrub(err.Error()), "[…]"))
		}
		err = next
	}
	return strings.Join(parts, ": ")
}

var (
	quoted = regexp.MustCompile("\"[^\"]*\"|'[^']*'|`[^`]*`|“[^”]*”|«[^»]*»")
	mail   = regexp.MustCompile(`[^\s"'<>(),:;=@\[\]]+@[^\s"'<>(),:;=@\[\]]+`)
	ipv4   = regexp.MustCompile(`\b\d{1,3}(\.\d{1,3}){3}(:\d+)?\b`)
	ipv6   = regexp.MustCompile(`\[[0-9a-fA-F:.%]*:[0-9a-zA-Z:.%]*\](:\d+)?`)
)

// scrub takes mail and network addresses out of a text.
func scrub(s string) string {
	if strings.ContainsRune(s, '@') {
		s = mail.ReplaceAllString(s, "[mail]")
	}
	return ipv6.ReplaceAllString(ipv4.ReplaceAllString(s, "[address]"), "[address]")
}
