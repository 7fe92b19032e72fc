package library

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/base32"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"rightpage/banks/catalog"
	"rightpage/quiz"
	"rightpage/quiz/store"
)

// Upload is a catalog as somebody sent it.
type Upload struct {
	// Content is what to keep of it: a zip file of the tables and settings as
	// they were sent, packed always in the same way, so that the same catalog
	// sent again is known for the same.
	Content []byte
	Catalog *catalog.Catalog // nil if it cannot be used; Report says why
	Report  catalog.Report   // every finding, of reading and of checking
	Info    store.CatalogInfo
}

// MaxUpload bounds an upload in bytes, as it is sent.
const MaxUpload = 64 << 20

const (
	maxParts  = 64      // files in a zip file
	ratioFrom = 1 << 20 // unpacked size from which the ratio counts
)

// ReadUpload reads a catalog that was sent as a file: a .zip of a folder of CSV
// files, or of a workbook, each with its catalog.yaml, or an .xlsx workbook
// alone, which lacks the settings and is judged without them (see
// [ReadWorkbook]). What is wrong with the catalog is in the report; the error
// (quiz.Invalid) is of a file that is none of these, or not to be opened
// safely.
func ReadUpload(name string, data []byte) (Upload, error) {
	switch {
	case len(data) > MaxUpload:
		return Upload{}, invalid(fmt.Sprintf("the file has more than %d MB", MaxUpload>>20), "send the tables and settings alone")
	case hasSuffix(name, ".xlsx"):
		return ReadWorkbook(name, data, nil)
	case hasSuffix(name, ".zip"):
		files, skipped, err := unpack(data)
		if err != nil {
			return Upload{}, err
		}
		return read(files, skipped)
	}
	return Upload{}, invalid("the file "+clip(name)+" is neither a .zip file nor an .xlsx workbook", "send the folder of the catalog as a .zip file, or the workbook")
}

// ReadWorkbook reads a workbook and its settings (catalog.yaml), which were
// sent as two files.
func ReadWorkbook(name string, data, settings []byte) (Upload, error) {
	if len(data) > MaxUpload || len(settings) > 1<<20 {
		return Upload{}, invalid("the workbook or its settings are too large", fmt.Sprintf("a workbook may have %d MB, settings 1 MB", MaxUpload>>20))
	}
	base := path.Base(strings.ReplaceAll(name, `\`, "/"))
	if !hasSuffix(base, ".xlsx") || !plainName(base) {
		return Upload{}, invalid("the name "+clip(name)+" is not that of a workbook", "send an .xlsx file")
	}
	files := map[string][]byte{base: data}
	if settings != nil {
		files[catalog.SettingsFile] = settings
	}
	return read(files, nil)
}

// unpack takes the files of a catalog out of a zip file. They lie at its top,
// or all in one folder.
func unpack(data []byte) (files map[string][]byte, skipped []string, err error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, nil, &quiz.Error{Code: quiz.Invalid, Text: "the file is no zip file, or a damaged one", Err: err, Mend: "pack the folder of the catalog again"}
	}
	if len(z.File) > maxParts {
		return nil, nil, invalid(fmt.Sprintf("the zip file holds %d files; at most %d are read", len(z.File), maxParts), "pack the tables and settings alone")
	}
	lim := catalog.DefaultLimits()
	left := lim.Bytes
	files = map[string][]byte{}
	folder, some := "", false
	for _, f := range z.File {
		name := f.Name
		if strings.Contains(name, `\`) || path.IsAbs(name) || !isLocal(name) {
			return nil, nil, invalid("the zip file holds a file that lies outside of it: "+clip(name), "pack the folder of the catalog again")
		}
		dir, base := path.Split(path.Clean(name))
		if f.FileInfo().IsDir() || strings.HasPrefix(dir, "__MACOSX/") || strings.HasPrefix(base, ".") {
			continue
		}
		if !f.Mode().IsRegular() || !ofCatalog(base) {
			skipped = append(skipped, base)
			continue
		}
		if some && dir != folder {
			return nil, nil, invalid("the catalog lies in more than one folder of the zip file: "+clip(folder+", "+dir), "pack one folder alone")
		}
		folder, some = dir, true
		for other := range files {
			if strings.EqualFold(other, base) {
				return nil, nil, invalid("the zip file holds "+clip(base)+" twice", "keep one of them")
			}
		}
		b, err := unpackFile(f, left, uint64(lim.Ratio))
		if err != nil {
			return nil, nil, err
		}
		left -= int64(len(b))
		files[base] = b
	}
	if len(files) == 0 {
		return nil, nil, invalid("the zip file holds no table", "pack the folder that holds the CSV files and "+catalog.SettingsFile)
	}
	return files, skipped, nil
}

// unpackFile trusts what is unpacked, not what the zip file says of it.
func unpackFile(f *zip.File, left int64, ratio uint64) ([]byte, error) {
	bomb := func() error {
		return invalid(clip(f.Name)+" unpacks to far more than it should", "pack the tables and settings alone")
	}
	if f.UncompressedSize64 > uint64(left) {
		return nil, bomb()
	}
	r, err := f.Open()
	if err != nil {
		return nil, &quiz.Error{Code: quiz.Invalid, Text: "the zip file is damaged at " + clip(f.Name), Err: err, Mend: "pack it again, without a password"}
	}
	defer r.Close()
	most := left
	if packed := f.CompressedSize64; packed < uint64(left)/ratio {
		most = min(left, max(ratioFrom, int64(packed*ratio)))
	}
	b, err := io.ReadAll(io.LimitReader(r, most+1))
	if err != nil {
		return nil, &quiz.Error{Code: quiz.Invalid, Text: "the zip file is damaged at " + clip(f.Name), Err: err, Mend: "pack it again"}
	}
	if int64(len(b)) > most {
		return nil, bomb()
	}
	return b, nil
}

// read reads and checks the files of a catalog. The reader of catalogs works on
// files, so that they are laid out in a folder for as long as it takes.
func read(files map[string][]byte, skipped []string) (Upload, error) {
	up := Upload{}
	var err error
	if up.Content, err = pack(files); err != nil {
		return up, err
	}
	internal := func(err error) error {
		return &quiz.Error{Code: quiz.Internal, Text: "lay out the catalog to read it", Err: err, Mend: "see that there is space for temporary files"}
	}
	dir, err := os.MkdirTemp("", "catalog-")
	if err != nil {
		return up, internal(err)
	}
	defer os.RemoveAll(dir)
	from, workbooks := dir, 0
	for name, b := range files {
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
			return up, internal(err)
		}
		if hasSuffix(name, ".xlsx") {
			from = filepath.Join(dir, name)
			workbooks++
		}
	}
	if workbooks > 1 || workbooks == 1 && slices.ContainsFunc(names(files), func(n string) bool { return hasSuffix(n, ".csv") }) {
		return up, invalid("the zip file holds more than one catalog: several workbooks, or a workbook and CSV files", "pack one of them alone")
	}
	c, report, err := catalog.Read(from, catalog.Limits{})
	if err != nil {
		return up, internal(err)
	}
	if report.Err() == nil {
		report = append(report, catalog.Check(c)...)
	}
	for _, name := range skipped {
		report = append(report, catalog.Finding{Severity: catalog.Note, Code: "not-read", Origin: catalog.Origin{File: name}, What: "the file is no part of a catalog and is not kept",
			Mend: "leave it out"})
	}
	report.Sort()
	up.Report = report
	if report.Err() == nil {
		up.Catalog = c
	}
	m := c.Meta()
	up.Info = store.CatalogInfo{ID: contentID(up.Content), Title: m.Title, Maker: m.Maker, Revision: m.Revision, Issued: m.Issued, Bytes: int64(len(up.Content))}
	return up, nil
}

// pack packs files always in the same way.
func pack(files map[string][]byte) ([]byte, error) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range names(files) {
		w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate})
		if err == nil {
			_, err = w.Write(files[name])
		}
		if err != nil {
			return nil, &quiz.Error{Code: quiz.Internal, Text: "pack the catalog", Err: err}
		}
	}
	if err := z.Close(); err != nil {
		return nil, &quiz.Error{Code: quiz.Internal, Text: "pack the catalog", Err: err}
	}
	return b.Bytes(), nil
}

// contentID is the ID under which the store keeps a content.
func contentID(content []byte) string {
	sum := sha256.Sum256(content)
	return strings.ToLower(base32.StdEncoding.EncodeToString(sum[:]))[:26]
}

func names(files map[string][]byte) []string {
	list := make([]string, 0, len(files))
	for n := range files {
		list = append(list, n)
	}
	slices.Sort(list)
	return list
}

// ofCatalog tells whether a file can be part of a catalog by its name.
func ofCatalog(base string) bool {
	return plainName(base) && (hasSuffix(base, ".csv") || hasSuffix(base, ".xlsx") || hasSuffix(base, ".yaml"))
}

// plainName tells whether a name is that of a file on any system.
func plainName(base string) bool {
	return base != "" && len(base) <= 120 && !strings.ContainsAny(base, `/\:*?"<>|`) && strings.IndexFunc(base, func(r rune) bool { return r < ' ' }) < 0
}

func isLocal(name string) bool {
	return filepath.IsLocal(filepath.FromSlash(strings.TrimSuffix(name, "/")))
}

func hasSuffix(name, suffix string) bool {
	return strings.HasSuffix(strings.ToLower(name), suffix)
}

// clip shortens what somebody sent for a message.
func clip(s string) string {
	if r := []rune(s); len(r) > 80 {
		s = string(r[:80]) + "…"
	}
	return strings.ToValidUTF8(s, "?")
}

func invalid(text, mend string) error {
	return &quiz.Error{Code: quiz.Invalid, Text: text, Mend: mend}
}
