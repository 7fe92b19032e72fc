package web

import (
	"io"
	"math"
	"mime/multipart"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"rightpage/quiz"
)

// Form reads the fields of a form and collects what is wrong with them, so that
// the page can say all of it at once, beside the fields.
type Form struct {
	c      *Context
	Faults map[string]string // field → what is wrong, in the visitor's language
}

// Form gives the form that was sent.
func (c *Context) Form() *Form { return &Form{c: c, Faults: map[string]string{}} }

// OK tells whether nothing is wrong so far.
func (f *Form) OK() bool { return len(f.Faults) == 0 }

// Fault notes that something is wrong with a field: the message with the ID.
func (f *Form) Fault(field, id string, pairs ...any) {
	if _, ok := f.Faults[field]; !ok {
		f.Faults[field] = f.c.T(id, pairs...)
	}
}

// Raw gives a field as it was sent.
func (f *Form) Raw(field string) string { return f.c.FormValue(field) }

// Text gives one line of text: no control characters, composed (NFC), without
// space around it.
func (f *Form) Text(field string, required bool, most int) string {
	s := strings.TrimSpace(norm.NFC.String(f.Raw(field)))
	switch {
	case s == "" && required:
		f.Fault(field, "fault.required")
	case utf8.RuneCountInString(s) > most:
		f.Fault(field, "fault.long", "Most", most)
	case !utf8.ValidString(s) || strings.ContainsFunc(s, unicode.IsControl):
		f.Fault(field, "fault.characters")
	}
	return s
}

// Lines gives text of several lines, with line feeds alone between them.
func (f *Form) Lines(field string, required bool, most int) string {
	s := strings.TrimSpace(norm.NFC.String(strings.ReplaceAll(f.Raw(field), "\r\n", "\n")))
	switch {
	case s == "" && required:
		f.Fault(field, "fault.required")
	case utf8.RuneCountInString(s) > most:
		f.Fault(field, "fault.long", "Most", most)
	case !utf8.ValidString(s):
		f.Fault(field, "fault.characters")
	}
	return s
}

// One gives a field that must be one of those; the first if it was not sent.
func (f *Form) One(field string, of ...string) string {
	s := f.Raw(field)
	if s == "" && len(of) > 0 {
		return of[0]
	}
	if !slices.Contains(of, s) {
		f.Fault(field, "fault.choice")
	}
	return s
}

// Many gives every value of a field that was ticked.
func (f *Form) Many(field string) []string {
	values, err := f.c.FormParams()
	if err != nil {
		return nil
	}
	return values[field]
}

// On tells whether a box is ticked.
func (f *Form) On(field string) bool { return f.Raw(field) != "" }

// Int gives a whole number within limits; def if the field is empty.
func (f *Form) Int(field string, least, most, def int) int {
	s := strings.TrimSpace(f.Raw(field))
	if s == "" {
		return def
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < least || n > most {
		f.Fault(field, "fault.number", "Least", least, "Most", most)
		return def
	}
	return n
}

// Float gives a number within limits, with a comma or a point; def if the field
// is empty.
func (f *Form) Float(field string, least, most, def float64) float64 {
	s := strings.ReplaceAll(strings.TrimSpace(f.Raw(field)), ",", ".")
	if s == "" {
		return def
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(x) || x < least || x > most {
		f.Fault(field, "fault.number", "Least", least, "Most", most)
		return def
	}
	return x
}

// Time gives a local time as the field datetime-local sends it, in the visitor's
// zone; zero if the field is empty.
func (f *Form) Time(field string) time.Time {
	return f.at(field, f.c.Zone, "2006-01-02T15:04", "2006-01-02 15:04", "2006-01-02T15:04:05", "2006-01-02")
}

// Date gives a date, in UTC; zero if the field is empty.
func (f *Form) Date(field string) time.Time { return f.at(field, time.UTC, "2006-01-02") }

func (f *Form) at(field string, zone *time.Location, layouts ...string) time.Time {
	s := strings.TrimSpace(f.Raw(field))
	if s == "" {
		return time.Time{}
	}
	for _, l := range layouts {
		if t, err := time.ParseInLocation(l, s, zone); err == nil && t.Year() > 1970 && t.Year() < 2200 {
			return t
		}
	}
	f.Fault(field, "fault.time")
	return time.Time{}
}

// Key gives the key of a form that must count once; a form without one gets a
// new one.
func (f *Form) Key() string {
	if k := f.Raw("key"); quiz.CheckKey(k) == nil {
		return k
	}
	return NewKey()
}

// Upload is a file that was sent.
type Upload struct {
	Name string
	Data []byte
}

// File gives a file that was sent, of at most so many bytes; an empty one and
// none are a fault if it is required.
func (f *Form) File(field string, required bool, most int64) (Upload, error) {
	h, err := f.c.FormFile(field)
	if err != nil {
		if err == http.ErrMissingFile || err == http.ErrNotMultipart {
			if required {
				f.Fault(field, "fault.file")
			}
			return Upload{}, nil
		}
		return Upload{}, err
	}
	u, err := readUpload(h, most)
	if err == nil && len(u.Data) == 0 && required {
		f.Fault(field, "fault.file")
	}
	return u, err
}

// Files gives the files of a field that takes several, of at most so many bytes
// together.
func (f *Form) Files(field string, most int64) ([]Upload, error) {
	form, err := f.c.MultipartForm()
	if err != nil {
		return nil, err
	}
	var list []Upload
	for _, h := range form.File[field] {
		u, err := readUpload(h, most)
		if err != nil {
			return nil, err
		}
		most -= int64(len(u.Data))
		list = append(list, u)
	}
	return list, nil
}

func readUpload(h *multipart.FileHeader, most int64) (Upload, error) {
	if h.Size > most {
		return Upload{}, &http.MaxBytesError{Limit: most}
	}
	r, err := h.Open()
	if err != nil {
		return Upload{}, err
	}
	defer r.Close()
	data, err := io.ReadAll(r)
	return Upload{Name: h.Filename, Data: data}, err
}
