package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"syscall"
)

// inWords tells an error to a person: what the operating system says is put
// into words and is set where it stood in the text.
func inWords(err error) string {
	s := err.Error()
	var pe *fs.PathError
	var le *os.LinkError
	switch {
	case errors.As(err, &pe):
		s = strings.Replace(s, pe.Error(), pe.Path+": "+cause(pe.Err), 1)
	case errors.As(err, &le):
		s = strings.Replace(s, le.Error(), le.New+": "+cause(le.Err), 1)
	}
	return s
}

func cause(err error) string {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "there is no such file or folder"
	case errors.Is(err, fs.ErrPermission):
		return "access is not allowed"
	case errors.Is(err, syscall.EISDIR):
		return "that is a folder; a file is wanted"
	case errors.Is(err, syscall.ENOTDIR):
		return "a part of that path is a file, not a folder"
	case errors.Is(err, syscall.ENOSPC):
		return "the disk is full"
	case errors.Is(err, fs.ErrExist):
		return "that exists already"
	}
	return fmt.Sprint(err)
}
