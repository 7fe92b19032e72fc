package credential

import (
	"bytes"
	"strings"
	"testing"
)

func TestAttachAndDetach(t *testing.T) {
	base := smallPDF(t)
	// Text that looks like parts of a PDF does not confuse the way back.
	inner := []byte(`{"a":"%%EOF endstream endobj << >> stream startxref 0"}`)
	out, err := AttachToPDF(base, inner)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.HasPrefix(out, base) {
		t.Error("attaching changed what was there")
	}
	back, text, err := DetachFromPDF(out)
	if err != nil || !bytes.Equal(back, base) || !bytes.Equal(text, inner) {
		t.Errorf("detached %d bytes and %q, %v", len(back), text, err)
	}
}

func TestPDFsThatAreRefused(t *testing.T) {
	base := smallPDF(t)
	attached, err := AttachToPDF(base, []byte("{}"))
	if err != nil {
		t.Fatal(err)
	}
	for name, tt := range map[string]struct {
		base, inner string
		want        string
	}{
		"not a PDF":             {"hello", "{}", "not a PDF"},
		"no trailer":            {string(base[:len(base)-10]), "{}", "not a PDF"},
		"attached to already":   {string(attached), "{}", "not a PDF"},
		"catalog elsewhere":     {strings.Replace(string(base), "\n/Root ", "\n/Root 9", 1), "{}", "trailer"},
		"not a JSON object":     {string(base), "x", "not a credential"},
		"JSON of several lines": {string(base), "{\n}", "not a credential"},
		"files in it already":   {strings.Replace(string(base), "/EmbeddedFiles", "/EmbeddedFilez", 1), "{}", "attached files"},
		"no catalog object":     {strings.Replace(string(base), "\n<<\n/Type /Catalog", "\n<< /Type /Catalog", 1), "{}", "no catalog"},
	} {
		_, err := AttachToPDF([]byte(tt.base), []byte(tt.inner))
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: got %v, want an error with %q", name, err, tt.want)
		}
	}
	for name, data := range map[string][]byte{
		"not a PDF":        []byte("hello"),
		"nothing attached": base,
		"no end mark":      attached[:len(attached)-1],
		"update cut":       bytes.Replace(attached, []byte("\nendstream\nendobj\n"), []byte("\nendobj\n"), -1),
	} {
		if _, text, err := DetachFromPDF(data); err == nil {
			t.Errorf("%s: detached %q, want an error", name, text)
		}
	}
}
