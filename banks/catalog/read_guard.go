package catalog

import (
	"errors"
	"io"
)

var (
	errRunBytes  = errors.New("row too long")
	errFileBytes = errors.New("file too long")
)

// byteGuard ends a reading when the whole, or one row of it, is too long. The
// reader of rows sets run anew before each.
type byteGuard struct {
	in   io.Reader
	left int64 // bytes of the whole
	run  int   // bytes of the row
}

func (g *byteGuard) Read(p []byte) (int, error) {
	if g.run <= 0 {
		return 0, errRunBytes
	}
	if g.left < 0 {
		return 0, errFileBytes
	}
	n, err := g.in.Read(p)
	g.left -= int64(n)
	g.run -= n
	if g.left < 0 {
		return 0, errFileBytes
	}
	return n, err
}
