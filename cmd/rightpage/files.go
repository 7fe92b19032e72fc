package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
)

// createFile opens a file to write so that it appears under its name only when
// it is whole. finish takes the error of the writing; with one, or when ctx is
// done, nothing is left behind and what stood under the name before stays. The
// name - is standard output; what is no regular file is written as it is.
func createFile(ctx context.Context, name string, stdout io.Writer) (w io.Writer, finish func(error) error, err error) {
	if name == "-" {
		return stdout, func(err error) error { return err }, nil
	}
	target, mode := name, fs.FileMode(0o666)
	if real, err := filepath.EvalSymlinks(name); err == nil {
		target = real
	}
	if info, err := os.Stat(target); err == nil {
		switch {
		case info.IsDir():
			return nil, nil, usagef("-o %s is a folder; name a file", name)
		case !info.Mode().IsRegular():
			f, err := os.OpenFile(target, os.O_WRONLY, 0)
			if err != nil {
				return nil, nil, err
			}
			return f, func(err error) error { return errors.Join(err, f.Close()) }, nil
		}
		mode = info.Mode().Perm()
	}
	temp := filepath.Join(filepath.Dir(target), fmt.Sprintf(".%s.%08x.part", filepath.Base(target), rand.Uint32()))
	f, err := os.OpenFile(temp, os.O_CREATE|os.O_EXCL|os.O_RDWR, mode)
	if err != nil {
		var pe *fs.PathError
		if errors.As(err, &pe) {
			if dir := filepath.Dir(name); errors.Is(err, fs.ErrNotExist) {
				return nil, nil, fmt.Errorf("cannot write %s: there is no folder %s", name, dir)
			}
			return nil, nil, fmt.Errorf("cannot write %s: %s", name, cause(pe.Err))
		}
		return nil, nil, err
	}
	// Should the command not stop in time after an interrupt, the file goes
	// all the same.
	stop := context.AfterFunc(ctx, func() { _ = os.Remove(temp) })
	return f, func(err error) error {
		stop()
		if err == nil {
			err = ctx.Err()
		}
		if err == nil {
			err = f.Sync()
		}
		if cerr := f.Close(); err == nil {
			err = cerr
		}
		if err == nil {
			err = os.Rename(temp, target)
		}
		if err != nil {
			_ = os.Remove(temp)
		}
		return err
	}, nil
}

// writeFile writes a whole file by createFile.
func writeFile(ctx context.Context, name string, stdout io.Writer, write func(io.Writer) error) error {
	w, finish, err := createFile(ctx, name, stdout)
	if err != nil {
		return err
	}
	b := bufio.NewWriterSize(w, 1<<20)
	if err = write(b); err == nil {
		err = b.Flush()
	}
	return finish(err)
}

// sameFile refuses to write a file over the one that it is made from.
func sameFile(in, out string) error {
	a, err := os.Stat(in)
	if err != nil {
		return nil // what is wrong shows when it is read
	}
	if b, err := os.Stat(out); err == nil && out != "-" && os.SameFile(a, b) {
		return usagef("-o %s would overwrite the file that is read; name another", out)
	}
	return nil
}

// readBounded reads a file of at most max bytes.
func readBounded(name string, max int64) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var b bytes.Buffer
	n, err := io.Copy(&b, io.LimitReader(f, max+1))
	if err != nil {
		return nil, err
	}
	if n > max {
		return nil, fmt.Errorf("%s is larger than %s, the most that is read of such a file", name, bytesInWords(max))
	}
	return b.Bytes(), nil
}

func bytesInWords(n int64) string {
	if n >= 1<<20 {
		return fmt.Sprintf("%d MiB", n>>20)
	}
	return fmt.Sprintf("%d KiB", n>>10)
}
