package main

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

type person struct{ id, name string }

// readPeople reads who gets a booklet: a name a line, or a CSV file whose first
// row names the columns id and name. Without a file it is one person unknown.
func readPeople(file string) ([]person, error) {
	if file == "" {
		return []person{{id: "P1"}}, nil
	}
	text, err := readBounded(file, 8<<20)
	if err != nil {
		return nil, err
	}
	list, err := parsePeople(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	return list, nil
}

func parsePeople(text []byte) ([]person, error) {
	text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
	if !utf8.Valid(text) || bytes.IndexByte(text, 0) >= 0 {
		return nil, errors.New("it is not text in UTF-8; save it as “CSV UTF-8” or plain text")
	}
	out, table, err := peopleTable(text)
	if err != nil {
		return nil, err
	}
	if !table {
		for line := range strings.Lines(string(text)) {
			if name := strings.TrimSpace(line); name != "" {
				out = append(out, person{fmt.Sprintf("P%d", len(out)+1), name})
			}
		}
	}
	if len(out) == 0 {
		return nil, errors.New("it names nobody; write one person a line")
	}
	return out, nil
}

// peopleTable reads a CSV file of people and tells whether it is one.
func peopleTable(text []byte) (out []person, table bool, err error) {
	first, _, _ := bytes.Cut(text, []byte("\n"))
	for _, sep := range []rune{',', ';', '\t'} {
		header := strings.Split(strings.ToLower(string(first)), string(sep))
		for i := range header {
			header[i] = strings.Trim(strings.TrimSpace(header[i]), `"`)
		}
		id, name := slices.Index(header, "id"), slices.Index(header, "name")
		if id < 0 || name < 0 {
			continue
		}
		r := csv.NewReader(bytes.NewReader(text))
		r.Comma, r.FieldsPerRecord, r.LazyQuotes = sep, -1, true
		rows, err := r.ReadAll()
		if err != nil {
			return nil, true, err
		}
		seen := map[string]int{}
		for i, row := range rows[1:] {
			var p person
			if id < len(row) {
				p.id = strings.TrimSpace(row[id])
			}
			if name < len(row) {
				p.name = strings.TrimSpace(row[name])
			}
			switch {
			case p.id == "" && p.name == "":
				continue
			case p.id == "":
				return nil, true, fmt.Errorf("row %d: %s has no id; fill it in", i+2, p.name)
			case seen[p.id] > 0:
				return nil, true, fmt.Errorf("row %d: the id %s is that of row %d already; each person has an id of their own", i+2, p.id, seen[p.id])
			}
			seen[p.id] = i + 2
			out = append(out, p)
		}
		return out, true, nil
	}
	return nil, false, nil
}
