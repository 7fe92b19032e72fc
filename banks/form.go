package banks

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// TestForm is a form: what people are given to answer. It is complete in
// itself; each variant holds whole questions in their order, with their keys,
// so that a form must be kept as close as a key is.
type TestForm struct {
	Format    string    `json:"format"` // FormFormat
	ID        string    `json:"id"`     // hash of everything below
	Title     string    `json:"title"`
	Catalog   string    `json:"catalog"`
	Revision  string    `json:"revision"`
	Blueprint Blueprint `json:"blueprint"`
	Variants  []Variant `json:"variants"`
}

// Variant is one of the versions of a form, which are alike in what they ask
// for and in predicted difficulty.
type Variant struct {
	Name      string      `json:"name"` // A, B, …
	Questions []*Question `json:"questions"`
}

// FormFormat names the format of a form file and its version.
const FormFormat = "rightpage form 1"

// maxForm bounds a form file in bytes: 26 variants of 1000 questions of the
// usual size fit, and no more than a program can hold.
const maxForm = 128 << 20

// EncodeForm sets the form's ID and gives its file: one JSON document, closed
// by a line feed. Equal forms give equal bytes.
func EncodeForm(f *TestForm) ([]byte, error) {
	f.Format = FormFormat
	f.ID = ""
	body, err := json.Marshal(f)
	if err != nil {
		return nil, fmt.Errorf("encode form: %w", err)
	}
	sum := sha256.Sum256(body)
	f.ID = idEncoding.EncodeToString(sum[:10])
	if body, err = json.Marshal(f); err != nil {
		return nil, fmt.Errorf("encode form: %w", err)
	}
	return append(body, '\n'), nil
}

// DecodeForm reads a form file. It is strict: fields that it does not know, a
// second document, a form or question whose ID is not the hash of its content,
// and more than the file may hold are errors.
func DecodeForm(r io.Reader) (*TestForm, error) {
	const again = "make the form again with form make"
	text, err := io.ReadAll(io.LimitReader(r, maxForm+1))
	if err != nil {
		return nil, fmt.Errorf("read form: %w", err)
	}
	if len(text) > maxForm {
		return nil, fmt.Errorf("the form file has more than %d bytes: this is no form; %s", maxForm, again)
	}
	var f TestForm
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&f); err != nil {
		return nil, fmt.Errorf("not a form file: %w; %s", err, again)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("something follows the form in its file; %s", again)
	}
	if f.Format != FormFormat {
		return nil, fmt.Errorf("the file says that it is %q, not %q; %s", clipText(f.Format), FormFormat, again)
	}
	if err := f.check(); err != nil {
		return nil, fmt.Errorf("%w; %s", err, again)
	}
	id := f.ID
	if _, err := EncodeForm(&f); err != nil {
		return nil, err
	}
	if f.ID != id {
		return nil, fmt.Errorf("form %s was changed by hand: its content hashes to %s; %s", clipText(id), f.ID, again)
	}
	return &f, nil
}

func (f *TestForm) check() error {
	if err := f.Blueprint.Check(); err != nil {
		return err
	}
	if len(f.Variants) < 1 || len(f.Variants) > maxVariants {
		return fmt.Errorf("the form has %d variants; it must have 1 to %d", len(f.Variants), maxVariants)
	}
	for i := range f.Variants {
		v := &f.Variants[i]
		if v.Name != Letter(i) {
			return fmt.Errorf("variant %d is named %q, not %s", i+1, clipText(v.Name), Letter(i))
		}
		if len(v.Questions) < 1 || len(v.Questions) > maxQuestions {
			return fmt.Errorf("variant %s has %d questions; it must have 1 to %d", v.Name, len(v.Questions), maxQuestions)
		}
		seen := map[string]bool{}
		for j, q := range v.Questions {
			if q == nil {
				return fmt.Errorf("variant %s has no question %d", v.Name, j+1)
			}
			if q.Catalog != f.Catalog || q.Revision != f.Revision {
				return fmt.Errorf("question %d of variant %s is of another catalog or revision than the form", j+1, v.Name)
			}
			id := q.ID
			if _, err := Encode(q); err != nil {
				return err
			}
			if q.ID != id {
				return fmt.Errorf("question %d of variant %s was changed by hand: its content hashes to %s, its ID is %s", j+1, v.Name, q.ID, clipText(id))
			}
			if err := q.Check(); err != nil {
				return fmt.Errorf("question %d of variant %s cannot be asked: %w", j+1, v.Name, err)
			}
			if seen[id] {
				return fmt.Errorf("question %s stands twice in variant %s", id, v.Name)
			}
			seen[id] = true
		}
	}
	return nil
}
