package qti

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"rightpage/banks"
)

// extensionFormat names the format of extension/ID.json and its version.
const extensionFormat = "rightpage question extension 1"

// extension is what QTI has no place for: the question without what its item
// holds. ID is that of the whole question, so that an edit of the item shows.
type extension struct {
	Format   string         `json:"format"`
	ID       string         `json:"id"`
	Question banks.Question `json:"question"`
}

// strip makes the extension of a question.
func strip(q *banks.Question) *extension {
	e := &extension{extensionFormat, q.ID, *q}
	x := &e.Question
	x.ID, x.Stem, x.Order, x.Cautions = "", "", nil, nil
	x.Options = bare(q.Options)
	switch q.Form {
	case banks.Typed:
		x.Key.Accept = nil
	case banks.Number:
		x.Key.Number = 0
	case banks.Ordered:
		x.Key.Order = nil
	}
	x.Steps = nil
	for _, s := range q.Steps {
		s.Ask, s.Options = "", bare(s.Options)
		if len(s.Options) == 0 {
			s.Accept = nil
		}
		x.Steps = append(x.Steps, s)
	}
	return e
}

// bare leaves of options what they stand for and their slips.
func bare(options []banks.Option) []banks.Option {
	var out []banks.Option
	for _, o := range options {
		o.Text, o.Right = "", false
		out = append(out, o)
	}
	return out
}

// readExtension reads an extension strictly.
func readExtension(text []byte) (*extension, error) {
	var e extension
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&e); err != nil {
		return nil, fmt.Errorf("the extension cannot be read: %w", err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("something follows the extension in its file")
	}
	if e.Format != extensionFormat {
		return nil, fmt.Errorf("the extension says that it is %.40q, not %q", e.Format, extensionFormat)
	}
	return &e, nil
}
