package credential

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strconv"
)

// pdfAttachment is the name under which a PDF carries its credential.
const pdfAttachment = "credential.json"

var pdfEnd = []byte("%%EOF\n")

// pdfTail is the end of a PDF that this program prints: what an incremental
// update (ISO 32000-1, 7.5.6) has to know of it.
type pdfTail struct {
	size, root, info int
	startxref        int
	catalog          string // the text of the catalog's dictionary
}

var (
	pdfTrailer = regexp.MustCompile(`trailer\n<<\n/Size (\d{1,9})\n/Root (\d{1,9}) 0 R\n/Info (\d{1,9}) 0 R\n>>\nstartxref\n(\d{1,9})\n%%EOF\n$`)
	// The PDF library writes an empty list of attached files into each catalog.
	pdfNoFiles = regexp.MustCompile(`/EmbeddedFiles << /Names \[\s*\] >>`)
)

// readTail reads the trailer and catalog of a PDF by the library that prints
// certificates.
func readTail(base []byte) (pdfTail, error) {
	m := pdfTrailer.FindSubmatch(base[max(0, len(base)-200):])
	if m == nil || !bytes.HasPrefix(base, []byte("%PDF-1.")) {
		return pdfTail{}, errors.New("not a PDF that this program printed")
	}
	var t pdfTail
	for i, into := range []*int{&t.size, &t.root, &t.info, &t.startxref} {
		n, err := strconv.Atoi(string(m[i+1]))
		if err != nil {
			return pdfTail{}, err
		}
		*into = n
	}
	if t.root >= t.size || t.startxref >= len(base) {
		return pdfTail{}, errors.New("the PDF's trailer is damaged")
	}
	begin := fmt.Appendf(nil, "\n%d 0 obj\n<<\n", t.root)
	at := bytes.LastIndex(base, begin)
	if at < 0 {
		return pdfTail{}, errors.New("the PDF has no catalog where its trailer says")
	}
	at += len(begin)
	length := bytes.Index(base[at:], []byte("\n>>\nendobj\n"))
	if length < 0 {
		return pdfTail{}, errors.New("the PDF's catalog is damaged")
	}
	t.catalog = string(base[at : at+length])
	if len(pdfNoFiles.FindAllStringIndex(t.catalog, -1)) != 1 {
		return pdfTail{}, errors.New("the PDF's catalog has attached files already")
	}
	return t, nil
}

// AttachToPDF attaches a signed credential to a printed certificate as an
// embedded file (ISO 32000-1, 7.11.4), in an incremental update: the bytes of
// base stay as they are and the attachment follows them. The same base and
// credential give the same bytes. Only PDFs of package paper are accepted.
func AttachToPDF(base, credential []byte) ([]byte, error) {
	t, err := readTail(base)
	if err != nil {
		return nil, fmt.Errorf("credential: attaching to a PDF: %w", err)
	}
	if !bytes.HasPrefix(credential, []byte("{")) || !bytes.HasSuffix(credential, []byte("}")) ||
		bytes.ContainsAny(credential, "\r\n") {
		return nil, errors.New("credential: attaching to a PDF: not a credential in canonical JSON")
	}
	out := bytes.NewBuffer(bytes.Clone(base))
	var offsets []int
	object := func(number int, body string) {
		offsets = append(offsets, out.Len())
		fmt.Fprintf(out, "%d 0 obj\n%s\nendobj\n", number, body)
	}
	file, spec := t.size, t.size+1
	object(file, fmt.Sprintf("<< /Type /EmbeddedFile /Subtype /application#2Fvc /Length %d /Params << /Size %d >> >>\nstream\n%s\nendstream",
		len(credential), len(credential), credential))
	object(spec, fmt.Sprintf("<< /Type /Filespec /F (%s) /UF (%s) /Desc (Signed credential, Open Badges 3.0) /AFRelationship /Data /EF << /F %d 0 R /UF %d 0 R >> >>",
		pdfAttachment, pdfAttachment, file, file))
	object(t.root, "<<\n"+pdfNoFiles.ReplaceAllLiteralString(t.catalog,
		fmt.Sprintf("/EmbeddedFiles << /Names [ (%s) %d 0 R ] >>", pdfAttachment, spec))+
		fmt.Sprintf("\n/AF [ %d 0 R ]\n>>", spec))
	startxref := out.Len()
	fmt.Fprintf(out, "xref\n%d 1\n%010d 00000 n \n%d 2\n%010d 00000 n \n%010d 00000 n \n",
		t.root, offsets[2], file, offsets[0], offsets[1])
	fmt.Fprintf(out, "trailer\n<<\n/Size %d\n/Root %d 0 R\n/Info %d 0 R\n/Prev %d\n>>\nstartxref\n%d\n%%%%EOF\n",
		t.size+2, t.root, t.info, t.startxref, startxref)
	return out.Bytes(), nil
}

// DetachFromPDF gives the PDF as it was before AttachToPDF and the
// credential. It does not check that nothing else was changed; attaching
// again and comparing does.
func DetachFromPDF(data []byte) (base, credential []byte, err error) {
	if !bytes.HasPrefix(data, []byte("%PDF-")) {
		return nil, nil, errors.New("not a PDF")
	}
	attached := errors.New("the PDF carries no credential of ours, or has been saved again by another program: ask for the original file")
	// The update begins behind the end mark of what it updates. A credential
	// is one line, so the mark cannot be part of it.
	body, found := bytes.CutSuffix(data, pdfEnd)
	if !found {
		return nil, nil, attached
	}
	at := bytes.LastIndex(body, pdfEnd)
	if at < 0 {
		return nil, nil, attached
	}
	base = data[:at+len(pdfEnd)]
	update := data[len(base):]
	_, rest, found := bytes.Cut(update, []byte(" >> >>\nstream\n"))
	if !found || !bytes.HasPrefix(rest, []byte("{")) {
		return nil, nil, attached
	}
	credential, _, found = bytes.Cut(rest, []byte("\nendstream\n"))
	if !found {
		return nil, nil, attached
	}
	return base, credential, nil
}
