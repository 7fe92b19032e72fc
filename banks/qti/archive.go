package qti

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"net/url"
	"path"
	"strings"
)

// Limits bound what is read of a package. Zero fields mean the value of
// [DefaultLimits].
type Limits struct {
	Package int64 // bytes of the archive
	Files   int   // in the archive
	File    int64 // bytes of an item or extension, unpacked
	List    int64 // bytes of the manifest, unpacked
	Total   int64 // bytes unpacked in all
}

// DefaultLimits are far beyond any bank of questions, far below what would
// hurt.
func DefaultLimits() Limits {
	return Limits{Package: 64 << 20, Files: 3 * maxItems, File: 1 << 20, List: 64 << 20, Total: 512 << 20}
}

func (l Limits) filled() Limits {
	d := DefaultLimits()
	if l.Package == 0 {
		l.Package = d.Package
	}
	if l.Files == 0 {
		l.Files = d.Files
	}
	if l.File == 0 {
		l.File = d.File
	}
	if l.List == 0 {
		l.List = d.List
	}
	if l.Total == 0 {
		l.Total = d.Total
	}
	return l
}

// archive is a package open for reading. Sizes are counted as the files are
// unpacked: what the archive says of them is not believed.
type archive struct {
	files map[string]*zip.File
	lim   Limits
	left  int64
}

func openArchive(r io.ReaderAt, size int64, lim Limits) (*archive, error) {
	lim = lim.filled()
	if size > lim.Package {
		return nil, fmt.Errorf("the package has %d bytes; no more than %d are read", size, lim.Package)
	}
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, fmt.Errorf("not a QTI package: it is no zip archive: %w", err)
	}
	if len(z.File) > lim.Files {
		return nil, fmt.Errorf("the package has %d files; no more than %d are read", len(z.File), lim.Files)
	}
	a := &archive{files: map[string]*zip.File{}, lim: lim, left: lim.Total}
	for _, f := range z.File {
		if strings.HasSuffix(f.Name, "/") {
			continue
		}
		if _, twice := a.files[f.Name]; twice {
			return nil, fmt.Errorf("the package holds %.80q twice", f.Name)
		}
		a.files[f.Name] = f
	}
	return a, nil
}

var errTooLarge = errors.New("it is larger than what is read of a file")

// read unpacks a file.
func (a *archive) read(name string, most int64) ([]byte, error) {
	f, ok := a.files[name]
	if !ok {
		return nil, fmt.Errorf("the package has no file %.80q", name)
	}
	most = min(most, a.left)
	if f.UncompressedSize64 > uint64(most) {
		return nil, errTooLarge
	}
	r, err := f.Open()
	if err != nil {
		return nil, err
	}
	defer r.Close()
	b, err := io.ReadAll(io.LimitReader(r, most+1))
	a.left -= int64(len(b))
	if err != nil {
		return nil, err
	}
	if int64(len(b)) > most {
		return nil, errTooLarge
	}
	return b, nil
}

// href gives the name of a file from a reference in the manifest. References
// are URLs relative to the root of the package; one that leads out of it finds
// nothing.
func href(ref string) (string, error) {
	u, err := url.Parse(ref)
	if err != nil || u.Scheme != "" || u.Host != "" || u.Path == "" || path.IsAbs(u.Path) {
		return "", fmt.Errorf("%.80q does not name a file of the package", ref)
	}
	name := path.Clean(u.Path)
	if name == ".." || strings.HasPrefix(name, "../") {
		return "", fmt.Errorf("%.80q leads out of the package", ref)
	}
	return name, nil
}
