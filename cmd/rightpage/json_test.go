package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"
	"regexp"
	"sort"
	"strings"
	"testing"
)

// documented reads json.txt: command → path → type.
func documented(t *testing.T) map[string]map[string]string {
	t.Helper()
	docs := map[string]map[string]string{}
	head := regexp.MustCompile(`^(catalog|resolve|bank|form|grade|stats|cut|certificate|try|migrate|user|backup|restore)( [a-z]+)?( --[a-z]+)?$`)
	row := regexp.MustCompile(`^  ([a-z0-9_.*\[\]]+)\s+(text|number or null|number|yes/no|object)(\s{2,}\S.*)?$`)
	command := ""
	for i, line := range strings.Split(jsonText, "\n") {
		switch {
		case head.MatchString(line):
			command = line
			docs[command] = map[string]string{}
		case command != "" && line != "":
			m := row.FindStringSubmatch(line)
			if m == nil {
				t.Fatalf("json.txt line %d is no row: %q", i+1, line)
			}
			if docs[command][m[1]] != "" {
				t.Errorf("json.txt line %d: %s has %s twice", i+1, command, m[1])
			}
			docs[command][m[1]] = m[2]
		}
	}
	return docs
}

// walk calls f for every value within v, with its path as json.txt writes it.
func walk(v any, path string, known map[string]string, f func(path, kind string)) {
	switch x := v.(type) {
	case map[string]any:
		f(path, "object")
		for name, e := range x {
			at := strings.TrimPrefix(path+"."+name, ".")
			if _, ok := known[path+".*"]; ok {
				at = path + ".*"
			}
			walk(e, at, known, f)
		}
	case []any:
		for _, e := range x {
			walk(e, path+"[]", known, f)
		}
	case string:
		f(path, "text")
	case float64:
		f(path, "number")
	case bool:
		f(path, "yes/no")
	case nil:
		f(path, "null")
	}
}

// TestJSON runs every command that has --format json and holds its document
// against json.txt: there is nothing that is not written there, with another
// type, or under a name that is not snake_case; and every command is there.
func TestJSON(t *testing.T) {
	dir := t.TempDir()
	in := func(name string) string { return filepath.Join(dir, name) }
	const data = "../../testdata/"
	bank, quiz := in("bank.jsonl"), in("quiz.json")
	db := in("training.db")
	if got := run(context.Background(), []string{"migrate", "--db", db}, io.Discard, io.Discard); got != exitDone {
		t.Fatalf("migrate: exit status %d", got)
	}
	docs := documented(t)
	seen := map[string]map[string]bool{}
	for _, r := range []struct {
		document string
		status   int
		args     []string
	}{
		{"catalog check", 0, []string{"catalog", "check", data + "tarnfell/2026-1"}},
		{"catalog check", 1, []string{"catalog", "check", data + "broken"}},
		{"catalog diff", 0, []string{"catalog", "diff", data + "quillan", data + "quillan-next"}},
		{"resolve", 0, []string{"resolve", "--catalog", data + "quillan", "--engine", "160-031077-3", "--spec", "propeller nut torque"}},
		{"resolve", 0, []string{"resolve", "--catalog", data + "example", "--model", "KT18", "--built", "2021", "--job", "replace fuel filter"}},
		{"resolve", 1, []string{"resolve", "--catalog", data + "example", "--model", "KT18", "--built", "2021-06", "--job", "check fuel filter"}},
		{"resolve", 0, []string{"resolve", "--catalog", data + "quillan", "--engine", "330-008815-4", "--due", "400 h; last 205 h", "--duty", "salt"}},
		{"bank make", 0, []string{"bank", "make", "--catalog", data + "quillan", "--size", "300", "-o", bank}},
		{"bank show", 0, []string{"bank", "show", bank}},
		{"bank show --verify", 0, []string{"bank", "show", bank, "--verify", "--catalog", data + "quillan"}},
		{"bank show --verify", 1, []string{"bank", "show", bank, "--verify", "--catalog", data + "quillan-next"}},
		{"bank export", 0, []string{"bank", "export", bank, "-o", in("bank.zip")}},
		{"bank import", 0, []string{"bank", "import", in("bank.zip"), "-o", in("again.jsonl")}},
		{"form make", 0, []string{"form", "make", "--bank", bank, "--variants", "2", "-o", quiz}},
		{"form make", 1, []string{"form", "make", "--bank", bank, "--questions", "999", "-o", in("never.json")}},
		{"form print", 0, []string{"form", "print", quiz, "-o", in("quiz.pdf")}},
		{"form print", 0, []string{"form", "print", quiz, "--key", "--variant", "a", "-o", in("key.pdf")}},
		{"try", 0, []string{"try", "--once", "--out", dir, "--dir", data + "quillan"}},
		{"grade", 1, []string{"grade", "--bank", quiz, "--responses", in("answers.csv")}},
		{"stats", 0, []string{"stats", "--scores", in("scores.csv")}},
		{"cut page", 0, []string{"cut", "page", quiz, "--judges", "Ada,Bo", "--scores", in("scores.csv"), "-o", in("judges.csv")}},
		{"cut angoff", 0, []string{"cut", "angoff", data + "cut/judges.csv"}},
		{"cut groups", 0, []string{"cut", "groups", data + "cut/known.csv"}},
		{"certificate verify", 0, []string{"certificate", "verify", in("certificate.pdf"), "--issuer", in("issuer.txt")}},
		{"migrate", 0, []string{"migrate", "--db", db}},
		{"user add", 0, []string{"user", "add", "--db", db, "--name", "Ada", "--login", "ada", "--role", "technician"}},
		{"backup", 0, []string{"backup", "--db", db, "-o", in("backup.zip")}},
		{"restore", 0, []string{"restore", in("backup.zip"), "--db", in("copy.db")}},
		{"certificate verify", 1, []string{"certificate", "verify", in("answers.csv")}},
	} {
		var out, errs bytes.Buffer
		got := run(context.Background(), append(r.args, "--format", "json"), &out, &errs)
		if got != r.status || errs.Len() > 0 {
			t.Fatalf("%v: exit status %d, want %d; on standard error: %s", r.args, got, r.status, errs.String())
		}
		var doc map[string]any
		d := json.NewDecoder(&out)
		if err := d.Decode(&doc); err != nil {
			t.Fatalf("%v: not one JSON object: %v", r.args, err)
		}
		if d.More() {
			t.Errorf("%v prints more than one document", r.args)
		}
		known := docs[r.document]
		if known == nil {
			t.Fatalf("json.txt does not tell what %s prints", r.document)
		}
		if seen[r.document] == nil {
			seen[r.document] = map[string]bool{}
		}
		strange := map[string]bool{}
		walk(doc, "", known, func(path, kind string) {
			if path == "" {
				return
			}
			seen[r.document][path] = true
			switch want := known[path]; {
			case want == "number or null" && (kind == "number" || kind == "null"):
			case want != kind:
				strange[fmt.Sprintf("%s is %s, documented as %q", path, kind, want)] = true
			}
		})
		for s := range strange {
			t.Errorf("%s: %s", r.document, s)
		}
	}
	for _, c := range commandsOf(rootCommand()) {
		name := strings.TrimPrefix(c.CommandPath(), "rightpage ")
		if c.Flags().Lookup("format") != nil && docs[name] == nil {
			t.Errorf("json.txt does not tell what %s prints", name)
		}
		if c.Flags().Lookup("format") == nil && c.Annotations[patient] == "" {
			t.Errorf("%s has no --format", name)
		}
	}
	for document, paths := range docs {
		var unseen []string
		n := 0
		for p := range paths {
			if strings.ContainsAny(p, ".") {
				continue
			}
			n++
			if !seen[document][p] {
				unseen = append(unseen, p)
			}
		}
		sort.Strings(unseen)
		// Some is there only in some catalogs, and lists may be empty; that a
		// document has changed as a whole would show.
		if len(unseen)*2 > n {
			t.Errorf("%s: more than half of what json.txt tells was not printed: %s", document, strings.Join(unseen, ", "))
		}
	}
}
