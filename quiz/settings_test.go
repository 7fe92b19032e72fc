package quiz

import (
	"strings"
	"testing"
)

func TestSettingsCheck(t *testing.T) {
	good := func() Settings {
		s := DefaultSettings()
		s.Organisation = "Wexcombe Estate & Farm Services"
		return s
	}
	for _, base := range []string{"", "https://training.wexcombe.example", "http://10.0.0.7:8080/quiz"} {
		s := good()
		if s.BaseURL = base; s.Check() != nil {
			t.Errorf("address %q: %v", base, s.Check())
		}
	}
	for what, spoil := range map[string]func(*Settings){
		"no organisation":      func(s *Settings) { s.Organisation = " " },
		"two lines":            func(s *Settings) { s.Organisation = "Wexcombe\nServices" },
		"a very long name":     func(s *Settings) { s.Signatory = strings.Repeat("a", 201) },
		"no prefix":            func(s *Settings) { s.Prefix = "" },
		"a prefix in lower":    func(s *Settings) { s.Prefix = "wx" },
		"a prefix with hyphen": func(s *Settings) { s.Prefix = "W-X" },
		"no validity":          func(s *Settings) { s.CertificateMonths = 0 },
		"a share above all":    func(s *Settings) { s.OutdatedAbove = 101 },
		"negative retention":   func(s *Settings) { s.RetentionMonths = -1 },
		"no aim":               func(s *Settings) { s.Aim = 0 },
		"paper of no size":     func(s *Settings) { s.Paper = "A9" },
		"no language":          func(s *Settings) { s.Locale = "?" },
		"no scheme":            func(s *Settings) { s.BaseURL = "training.wexcombe.example" },
		"a script":             func(s *Settings) { s.BaseURL = "javascript:alert(1)" },
		"a password":           func(s *Settings) { s.BaseURL = "https://a:b@wexcombe.example" },
		"a query":              func(s *Settings) { s.BaseURL = "https://wexcombe.example/?x" },
	} {
		s := good()
		spoil(&s)
		if code := ErrorCode(s.Check()); code != Invalid {
			t.Errorf("%s: code %q", what, code)
		}
	}
	if DefaultSettings().Check() == nil {
		t.Error("settings without an organisation are taken")
	}
}
