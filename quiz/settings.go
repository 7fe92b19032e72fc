package quiz

import (
	"net/url"
	"slices"
	"strings"

	"golang.org/x/text/language"
)

// Settings are what an organisation chooses once for everybody.
type Settings struct {
	Organisation      string  `json:"organisation"`       // as printed on certificates
	Prefix            string  `json:"prefix"`             // of certificate numbers: "WX" of "WX-2031-0042"
	BaseURL           string  `json:"base_url"`           // where people reach the server; empty: nowhere but in the shop
	CertificateMonths int     `json:"certificate_months"` // how long a certificate is valid
	OutdatedAbove     int     `json:"outdated_above"`     // percent of its lookups changed above which a certificate is outdated
	RetentionMonths   int     `json:"retention_months"`   // how long the data of people who left is kept; 0: always
	Aim               float64 `json:"aim"`                // level of a skill that practice aims at, above 0 to 1
	Signatory         string  `json:"signatory"`          // who signs certificates; may be empty
	SignatoryRole     string  `json:"signatory_role"`
	Paper             string  `json:"paper"`  // of what is printed: one of Papers
	Locale            string  `json:"locale"` // BCP 47 tag: that of people who chose none
	Version           int     `json:"-"`      // counts changes; 0: not stored yet
}

// The sizes of paper that can be printed on.
const (
	PaperA4     = "A4"
	PaperLetter = "Letter"
)

// Papers lists the sizes of paper.
func Papers() []string { return []string{PaperA4, PaperLetter} }

// The bounds of settings.
const (
	maxMonths = 120
	maxPrefix = 8
	maxLine   = 200 // characters of a line that is printed, in bytes
)

// DefaultSettings are those of an organisation that has not chosen yet: it has
// no name, and needs one before they can be saved.
func DefaultSettings() Settings {
	return Settings{Prefix: "RP", CertificateMonths: 12, OutdatedAbove: 20, Aim: 0.8, Paper: PaperA4, Locale: DefaultLocale}
}

// Check reports what is wrong with s.
func (s Settings) Check() error {
	wrong := func(text, mend string) error { return &Error{Code: Invalid, Text: "settings: " + text, Mend: mend} }
	switch {
	case !line(s.Organisation) || strings.TrimSpace(s.Organisation) == "":
		return wrong("the organisation has no name or a very long one", "give it as it is to stand on certificates, in up to 200 letters")
	case !line(s.Signatory) || !line(s.SignatoryRole):
		return wrong("who signs certificates is more than a line", "give the name and what the person is, in up to 200 letters each")
	case s.Prefix == "" || len(s.Prefix) > maxPrefix || strings.Trim(s.Prefix, "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789") != "":
		return wrong("the prefix "+s.Prefix+" of certificate numbers will not do", "use 1 to 8 capital letters A to Z and digits")
	case s.CertificateMonths < 1 || s.CertificateMonths > maxMonths:
		return wrong("the time that certificates are valid is out of bounds", "use 1 to 120 months")
	case s.OutdatedAbove < 0 || s.OutdatedAbove > 100:
		return wrong("the share of changed lookups that outdates a certificate is out of bounds", "use 0 to 100 percent")
	case s.RetentionMonths < 0 || s.RetentionMonths > maxMonths:
		return wrong("the time that the data of people who left is kept is out of bounds", "use 1 to 120 months, or 0 to keep it")
	case !(s.Aim > 0 && s.Aim <= 1):
		return wrong("the level that practice aims at is out of bounds", "use one above 0 and up to 1")
	case !slices.Contains(Papers(), s.Paper):
		return wrong("there is no paper "+s.Paper, "use A4 or Letter")
	}
	if _, err := language.Parse(s.Locale); err != nil {
		return &Error{Code: Invalid, Text: "settings: there is no language " + s.Locale, Err: err, Mend: "use a tag such as en or de-AT"}
	}
	if s.BaseURL == "" {
		return nil
	}
	u, err := url.Parse(s.BaseURL)
	if err != nil || !line(s.BaseURL) || u.Scheme != "https" && u.Scheme != "http" || u.Host == "" || u.User != nil || u.RawQuery != "" || u.Fragment != "" {
		return wrong("the address "+s.BaseURL+" of the server will not do", "write it as in https://training.example.org, or leave it empty")
	}
	return nil
}

// line tells whether s is text that fits on a line.
func line(s string) bool { return plain(s) && len(s) <= maxLine && !strings.ContainsAny(s, "\r\n") }
