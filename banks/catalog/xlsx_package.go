package catalog

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path"
	"slices"
	"strings"
)

const (
	// workbookPart bounds the parts of a workbook other than sheets, shared
	// strings and media, which are taken into memory whole; sheets and shared
	// strings beyond it are kept on disk.
	workbookPart = 4 << 20
	// workbookParts bounds their number.
	workbookParts = 5000
	// sharedStrings bounds the number of different texts.
	sharedStrings = 2_000_000
	// ratioFrom is the unpacked size from which the ratio counts: short texts of
	// one repeated character compress as well as a bomb.
	ratioFrom = 1 << 20
)

// packageParts are the parts of a workbook (ISO/IEC 29500-2), once they are
// known to keep within limits.
type packageParts struct {
	parts  map[string]*zip.File
	texts  int               // number of shared strings
	sheets map[string]string // name of a sheet in lower case → part
}

// openPackage checks a workbook before anything in it is unpacked.
func openPackage(b []byte, lim Limits) (*packageParts, *cellFault) {
	switch {
	case bytes.HasPrefix(b, []byte{0xd0, 0xcf, 0x11, 0xe0}):
		return nil, &cellFault{"binary", "the workbook is protected by a password or of the old binary form", "save it as .xlsx without a password"}
	case !bytes.HasPrefix(b, []byte("PK\x03\x04")):
		return nil, &cellFault{"binary", "this is not an .xlsx workbook", "save the workbook as .xlsx"}
	}
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		f := damaged(err.Error())
		return nil, &f
	}
	if len(z.File) > workbookParts {
		return nil, &cellFault{"too-large", fmt.Sprintf("the workbook has %d parts; at most %d are allowed", len(z.File), workbookParts), "keep nothing but the tables in it"}
	}
	p := &packageParts{parts: make(map[string]*zip.File, len(z.File)), sheets: map[string]string{}}
	left := uint64(lim.Bytes)
	for _, f := range z.File {
		size, name := f.UncompressedSize64, partName(f.Name)
		if size > left {
			return nil, &cellFault{"too-large", fmt.Sprintf("the workbook unpacks to more than %d bytes", lim.Bytes), "keep nothing but the tables in it, or split the catalog"}
		}
		left -= size
		if size > ratioFrom && size/uint64(lim.Ratio) > f.CompressedSize64 {
			return nil, &cellFault{"too-large", fmt.Sprintf("the part %s unpacks to more than %d times its size, as only a zip bomb does", clip(name), lim.Ratio), "open the workbook in a spreadsheet program and save it again; do not use it if it comes from a stranger"}
		}
		if _, twice := p.parts[name]; twice {
			d := damaged("the part " + name + " is there twice")
			return nil, &d
		}
		if size > workbookPart && !largePart(name) {
			return nil, &cellFault{"too-large", fmt.Sprintf("the part %s has %d bytes; at most %d are allowed", clip(name), size, workbookPart), "open the workbook in a spreadsheet program, keep nothing but the tables, and save it again"}
		}
		p.parts[name] = f
	}
	var f *cellFault
	if p.texts, f = p.countStrings(sharedStrings); f != nil {
		return nil, f
	}
	if err := p.findSheets(); err != nil {
		d := damaged(err.Error())
		return nil, &d
	}
	return p, nil
}

// partName is the name under which parts are compared.
func partName(s string) string {
	return strings.ToLower(strings.TrimPrefix(strings.ReplaceAll(s, "\\", "/"), "/"))
}

func largePart(name string) bool {
	return strings.HasPrefix(name, "xl/worksheets/sheet") || name == "xl/sharedstrings.xml" || strings.HasPrefix(name, "xl/media/")
}

// countStrings counts the shared strings and bounds them, since each costs more
// memory than it takes in the file.
func (p *packageParts) countStrings(most int) (int, *cellFault) {
	f, ok := p.parts["xl/sharedstrings.xml"]
	if !ok {
		return 0, nil
	}
	rc, err := f.Open()
	if err != nil {
		d := damaged(err.Error())
		return 0, &d
	}
	defer rc.Close()
	g := &byteGuard{in: rc, left: math.MaxInt64, run: xlsxRowBytes}
	dec := xml.NewDecoder(g)
	for n := 0; ; {
		tok, err := dec.RawToken()
		switch {
		case errors.Is(err, io.EOF):
			return n, nil
		case errors.Is(err, errRunBytes):
			return 0, &cellFault{"too-long", fmt.Sprintf("a text of the workbook is longer than %d characters", cellChars), "shorten it; the text of the literature belongs in the literature"}
		case err != nil:
			d := damaged(err.Error())
			return 0, &d
		}
		if el, ok := tok.(xml.StartElement); ok && el.Name.Local == "si" {
			g.run = xlsxRowBytes
			if n++; n > most {
				return 0, &cellFault{"too-large", fmt.Sprintf("the workbook has more than %d different texts", most), "split the catalog"}
			}
		}
	}
}

// relationships is a .rels part.
type relationships struct {
	Relationship []struct {
		ID     string `xml:"Id,attr"`
		Type   string `xml:"Type,attr"`
		Target string `xml:"Target,attr"`
	}
}

// findSheets finds the part of every sheet.
func (p *packageParts) findSheets() error {
	var root, rels relationships
	if err := p.decode("_rels/.rels", &root); err != nil {
		return err
	}
	book := ""
	for _, r := range root.Relationship {
		if strings.HasSuffix(r.Type, "/officeDocument") {
			book = strings.TrimPrefix(r.Target, "/")
			break
		}
	}
	if book == "" {
		return errors.New("it does not say where its sheets are")
	}
	var wb struct {
		Sheets struct {
			Sheet []struct {
				Name string `xml:"name,attr"`
				ID   string `xml:"http://schemas.openxmlformats.org/officeDocument/2006/relationships id,attr"`
				ISO  string `xml:"http://purl.oclc.org/ooxml/officeDocument/relationships id,attr"`
			} `xml:"sheet"`
		} `xml:"sheets"`
	}
	if err := p.decode(book, &wb); err != nil {
		return err
	}
	if err := p.decode(path.Join(path.Dir(book), "_rels", path.Base(book)+".rels"), &rels); err != nil {
		return err
	}
	target := make(map[string]string, len(rels.Relationship))
	for _, r := range rels.Relationship {
		t := r.Target
		if !strings.HasPrefix(t, "/") {
			t = path.Join(path.Dir(book), t)
		}
		target[r.ID] = partName(t)
	}
	for _, s := range wb.Sheets.Sheet {
		id := s.ID
		if id == "" {
			id = s.ISO
		}
		p.sheets[strings.ToLower(s.Name)] = target[id]
	}
	return nil
}

func (p *packageParts) decode(name string, v any) error {
	f, ok := p.parts[partName(name)]
	if !ok {
		return fmt.Errorf("the part %s is missing", name)
	}
	rc, err := f.Open()
	if err != nil {
		return err
	}
	defer rc.Close()
	if err := xml.NewDecoder(rc).Decode(v); err != nil {
		return fmt.Errorf("the part %s: %w", name, err)
	}
	return nil
}

// sheet opens the part of a sheet.
func (p *packageParts) sheet(name string) (io.ReadCloser, *cellFault) {
	f, ok := p.parts[p.sheets[strings.ToLower(name)]]
	if !ok {
		d := damaged("the sheet " + name + " has no content")
		return nil, &d
	}
	rc, err := f.Open()
	if err != nil {
		d := damaged(err.Error())
		return nil, &d
	}
	return rc, nil
}

func isFile(name string) bool {
	st, err := os.Stat(name)
	return err == nil && st.Mode().IsRegular()
}

// inOrder puts the parts of a package in the order of their names, which the
// library leaves to chance, so that equal catalogs give equal bytes.
func inOrder(b []byte) ([]byte, error) {
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		return nil, err
	}
	slices.SortFunc(z.File, func(a, b *zip.File) int { return strings.Compare(a.Name, b.Name) })
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, f := range z.File {
		if err := w.Copy(f); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}
