package main

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/jedib0t/go-pretty/v6/text"
	"github.com/rogpeppe/go-internal/testscript"

	"rightpage/banks/catalog"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"rightpage": main})
}

// TestScripts runs the scripts of testdata/script: each reads as what somebody
// does at the command line. $DATA is the folder testdata of the repository.
func TestScripts(t *testing.T) {
	data, err := filepath.Abs("../../testdata")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("DATA", data)
			return nil
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"status": status, "json": jsonHas, "alike": alike, "width": width,
			"interrupt": interrupt, "workbook": workbook, "expand": expand, "pasted": pasted,
		},
	})
}

// status N ARGUMENTS… runs rightpage and wants this exit status. The output is
// left in the files out and err.
func status(ts *testscript.TestScript, _ bool, args []string) {
	err := ts.Exec("rightpage", args[1:]...)
	got := 0
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		got = exit.ExitCode()
	} else {
		ts.Check(err)
	}
	ts.Check(os.WriteFile(ts.MkAbs("out"), []byte(ts.ReadFile("stdout")), 0o644))
	ts.Check(os.WriteFile(ts.MkAbs("err"), []byte(ts.ReadFile("stderr")), 0o644))
	if strconv.Itoa(got) != args[0] {
		ts.Fatalf("exit status %d, want %s", got, args[0])
	}
}

// json PATH [VALUE] wants a value in the JSON document of the file out: names
// and indexes joined by points. With ! there must be none.
func jsonHas(ts *testscript.TestScript, neg bool, args []string) {
	var doc any
	ts.Check(json.Unmarshal([]byte(ts.ReadFile("out")), &doc))
	v, ok := doc, true
	for _, name := range strings.Split(args[0], ".") {
		switch x := v.(type) {
		case map[string]any:
			v, ok = x[name]
		case []any:
			i, err := strconv.Atoi(name)
			if ok = err == nil && i < len(x); ok {
				v = x[i]
			}
		default:
			ok = false
		}
		if !ok {
			break
		}
	}
	switch {
	case neg && ok:
		ts.Fatalf("%s is %v", args[0], v)
	case neg:
	case !ok:
		ts.Fatalf("there is no %s", args[0])
	case len(args) > 1 && fmt.Sprint(v) != args[1]:
		ts.Fatalf("%s is %v, want %s", args[0], v, args[1])
	}
}

// alike A B wants two JSON documents to say the same of a folder and of a
// workbook: paths and the endings of file names do not count.
func alike(ts *testscript.TestScript, _ bool, args []string) {
	var docs [2]any
	for i := range docs {
		ts.Check(json.Unmarshal([]byte(ts.ReadFile(args[i])), &docs[i]))
		docs[i] = placeless(docs[i])
	}
	if !reflect.DeepEqual(docs[0], docs[1]) {
		ts.Fatalf("%v\ndiffers from\n%v", docs[0], docs[1])
	}
}

func placeless(v any) any {
	switch x := v.(type) {
	case map[string]any:
		delete(x, "path")
		if f, ok := x["file"].(string); ok {
			x["file"] = strings.TrimSuffix(f, ".csv")
		}
		for _, e := range x {
			placeless(e)
		}
	case []any:
		for _, e := range x {
			placeless(e)
		}
	}
	return v
}

// width FILE wants every line to fit the width that text is laid out for, but
// for commands that are to be pasted.
func width(ts *testscript.TestScript, _ bool, args []string) {
	for i, line := range strings.Split(ts.ReadFile(args[0]), "\n") {
		if w := text.StringWidthWithoutEscSequences(line); w > outputWidth && !strings.HasPrefix(strings.TrimSpace(line), "rightpage ") {
			ts.Fatalf("line %d is %d wide: %s", i+1, w, line)
		}
	}
}

// interrupt ARGUMENTS… runs rightpage, interrupts it as soon as it has begun to
// write a file, and wants the exit status of an interrupt.
func interrupt(ts *testscript.TestScript, _ bool, args []string) {
	if runtime.GOOS == "windows" {
		return // a process cannot be sent an interrupt there
	}
	cmd := exec.Command(program(ts), args...)
	cmd.Dir = ts.MkAbs(".")
	var errs strings.Builder
	cmd.Stderr = &errs
	ts.Check(cmd.Start())
	defer cmd.Process.Kill()
	for began := time.Now(); ; time.Sleep(5 * time.Millisecond) {
		if parts, _ := filepath.Glob(ts.MkAbs(".*.part")); len(parts) > 0 {
			break
		}
		if time.Since(began) > time.Minute {
			ts.Fatalf("it never began to write: %s", errs.String())
		}
	}
	ts.Check(cmd.Process.Signal(os.Interrupt))
	_ = cmd.Wait()
	if got := cmd.ProcessState.ExitCode(); got != exitInterrupted {
		ts.Fatalf("exit status %d, want %d: %s", got, exitInterrupted, errs.String())
	}
	if parts, _ := filepath.Glob(ts.MkAbs(".*.part")); len(parts) > 0 {
		ts.Fatalf("left behind: %v", parts)
	}
}

// program is the path of rightpage.
func program(ts *testscript.TestScript) string {
	for _, dir := range filepath.SplitList(ts.Getenv("PATH")) {
		for _, name := range []string{"rightpage", "rightpage.exe"} {
			if _, err := os.Stat(filepath.Join(dir, name)); err == nil {
				return filepath.Join(dir, name)
			}
		}
	}
	ts.Fatalf("rightpage is not on the path")
	return ""
}

// workbook FOLDER FILE writes a catalog as a workbook.
func workbook(ts *testscript.TestScript, _ bool, args []string) {
	c, err := catalog.Load(ts.MkAbs(args[0]))
	ts.Check(err)
	ts.Check(catalog.WriteWorkbook(ts.MkAbs(args[1]), c))
}

// expand PATTERNS FILE turns a table of answer patterns and how many people gave
// them into a table of scores, a row a person.
func expand(ts *testscript.TestScript, _ bool, args []string) {
	rows, err := csv.NewReader(strings.NewReader(ts.ReadFile(args[0]))).ReadAll()
	ts.Check(err)
	var b strings.Builder
	b.WriteString("person,q1,q2,q3,q4,q5\n")
	n := 0
	for _, r := range rows[1:] {
		times, err := strconv.Atoi(r[1])
		ts.Check(err)
		for range times {
			n++
			fmt.Fprintf(&b, "p%d,%s\n", n, strings.Join(strings.Split(r[0], ""), ","))
		}
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(b.String()), 0o644))
}

// pasted FILE N runs every command that the file shows, as somebody would who
// pastes it into a shell: at least N, none of which may be wrong use.
func pasted(ts *testscript.TestScript, _ bool, args []string) {
	sh, err := exec.LookPath("sh")
	if err != nil {
		return
	}
	least, err := strconv.Atoi(args[1])
	ts.Check(err)
	var commands []string
	for _, line := range strings.Split(ts.ReadFile(args[0]), "\n") {
		if line = strings.TrimSpace(line); strings.HasPrefix(line, "rightpage ") && !slices.Contains(commands, line) {
			commands = append(commands, line)
		}
	}
	if len(commands) < least {
		ts.Fatalf("%d commands, want at least %d", len(commands), least)
	}
	for _, c := range commands {
		if err := ts.Exec(sh, "-c", c); err != nil && !strings.Contains(err.Error(), "exit status 1") {
			ts.Fatalf("%s: %v", c, err)
		}
	}
}
