package banks

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
)

// maxLine bounds a line of a bank file: far beyond any question, far below
// what would hurt.
const maxLine = 1 << 20

// ReadBank reads a bank file (JSON Lines), one question at a time. An error
// names the line and ends the sequence.
func ReadBank(r io.Reader) iter.Seq2[*Question, error] {
	return func(yield func(*Question, error) bool) {
		sc := bufio.NewScanner(r)
		sc.Buffer(make([]byte, 0, 64<<10), maxLine)
		n := 0
		for sc.Scan() {
			n++
			if len(bytes.TrimSpace(sc.Bytes())) == 0 {
				continue
			}
			q, err := Decode(sc.Bytes())
			if err != nil {
				yield(nil, fmt.Errorf("bank line %d: %w", n, err))
				return
			}
			if !yield(q, nil) {
				return
			}
		}
		if err := sc.Err(); err != nil {
			if errors.Is(err, bufio.ErrTooLong) {
				err = fmt.Errorf("longer than %d bytes: this is no bank file", maxLine)
			}
			yield(nil, fmt.Errorf("bank line %d: %w", n+1, err))
		}
	}
}

// Decode reads a line of a bank file and checks that its ID is the hash of its
// content, so that a line edited by hand does not pass unnoticed, and that it can
// be asked and graded (see [Question.Check]).
func Decode(line []byte) (*Question, error) {
	var q Question
	d := json.NewDecoder(bytes.NewReader(line))
	d.DisallowUnknownFields()
	if err := d.Decode(&q); err != nil {
		return nil, fmt.Errorf("not a question of a bank file: %w; make the bank again with bank make", err)
	}
	if d.More() {
		return nil, errors.New("more than one question on a line; make the bank again with bank make")
	}
	id := q.ID
	if _, err := Encode(&q); err != nil {
		return nil, err
	}
	if q.ID != id {
		return nil, fmt.Errorf("question %s was changed by hand: its content hashes to %s; change the catalog instead and make the bank again", id, q.ID)
	}
	if err := q.Check(); err != nil {
		return nil, fmt.Errorf("question %s cannot be asked: %w; make the bank again with bank make", id, err)
	}
	return &q, nil
}
