package words

import (
	"io/fs"
	"testing/fstest"
)

// mapFS is a file system of texts.
type mapFS map[string]string

func (m mapFS) Open(name string) (fs.File, error) {
	files := fstest.MapFS{}
	for n, text := range m {
		files[n] = &fstest.MapFile{Data: []byte(text)}
	}
	return files.Open(name)
}

// failingFS has one file, which may not be read.
type failingFS struct{ fs.FS }

func (failingFS) Glob(string) ([]string, error) { return []string{"messages/base.en.yaml"}, nil }
func (failingFS) Open(name string) (fs.File, error) {
	return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrPermission}
}
