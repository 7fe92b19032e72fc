package main

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"

	"rightpage/banks"
)

// questionFinder gives questions by their IDs: of a form, or of a bank of any
// size, of which only the places of the questions are kept in memory.
type questionFinder struct {
	name string
	list map[string]*banks.Question // of a form
	bank *os.File
	at   map[string]span
	err  error // the first question that could not be read
}

// span is where a question stands in a bank.
type span struct {
	offset int64
	length int
	line   int
}

// findQuestions opens a bank or a form.
func findQuestions(name string) (*questionFinder, error) {
	form, err := isForm(name)
	if err != nil {
		return nil, err
	}
	f := &questionFinder{name: name}
	if form {
		list, err := formQuestions(name)
		f.list = make(map[string]*banks.Question, len(list))
		for _, q := range list {
			f.list[q.ID] = q
		}
		return f, err
	}
	if f.bank, err = os.Open(name); err != nil {
		return nil, err
	}
	if err := f.index(); err != nil {
		f.bank.Close()
		return nil, err
	}
	return f, nil
}

// index notes where each question stands. A line of a bank begins with the ID.
func (f *questionFinder) index() error {
	f.at = map[string]span{}
	r := bufio.NewReaderSize(f.bank, 1<<20)
	var offset int64
	for line := 1; ; line++ {
		begin := offset
		head, err := r.ReadSlice('\n')
		offset += int64(len(head))
		begun := len(bytes.TrimSpace(head)) > 0
		rest, ok := bytes.CutPrefix(bytes.TrimPrefix(head, []byte("\ufeff")), []byte(`{"id":"`))
		id, _, closed := bytes.Cut(rest[:min(len(rest), 64)], []byte{'"'})
		if begun && (!ok || !closed) {
			return fmt.Errorf("%s line %d is no question of a bank, and the file is no form; make a bank with: rightpage bank make", f.name, line)
		}
		key := string(id)
		for errors.Is(err, bufio.ErrBufferFull) {
			head, err = r.ReadSlice('\n')
			offset += int64(len(head))
		}
		if begun {
			f.at[key] = span{begin, int(offset - begin), line}
		}
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
	}
	if len(f.at) == 0 {
		return fmt.Errorf("%s holds no questions; make a bank with: rightpage bank make", f.name)
	}
	return nil
}

// find gives a question. One that cannot be read is not there, and Close tells
// why.
func (f *questionFinder) find(id string) (*banks.Question, bool) {
	if f.list != nil {
		q, ok := f.list[id]
		return q, ok
	}
	s, ok := f.at[id]
	if !ok {
		return nil, false
	}
	line := make([]byte, s.length)
	_, err := f.bank.ReadAt(line, s.offset)
	if err != nil && !errors.Is(err, io.EOF) {
		f.err = errors.Join(f.err, err)
		return nil, false
	}
	q, err := banks.Decode(bytes.TrimSpace(bytes.TrimPrefix(line, []byte("\ufeff"))))
	if err != nil && f.err == nil {
		f.err = fmt.Errorf("%s line %d: %w", f.name, s.line, err)
	}
	return q, err == nil
}

// Close closes the bank and tells of the first question that could not be read.
func (f *questionFinder) Close() error {
	if f.bank != nil {
		f.err = errors.Join(f.err, f.bank.Close())
	}
	return f.err
}
