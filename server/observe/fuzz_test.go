package observe_test

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"rightpage/server/observe"
)

// A mail address is taken out of whatever stands around it, and an error that is
// described is still one line of the log.
func FuzzLog(f *testing.F) {
	for _, s := range []string{"550 <", ">", "to=", "a@", "\"", "ü", "\n", "::1]", ""} {
		f.Add(s, s)
	}
	const address = "odalys.verhoeven@wexcombe.example"
	f.Fuzz(func(t *testing.T, before, after string) {
		var b bytes.Buffer
		l, err := observe.Logger(&b, observe.LogOptions{Format: "json"})
		must(t, err)
		text := before + " " + address + " " + after
		l.Error("x", "error", errors.New(text), "text", text)
		if strings.Contains(b.String(), "verhoeven") || strings.Count(b.String(), "\n") != 1 {
			t.Errorf("%q: %s", text, b.String())
		}
	})
}
