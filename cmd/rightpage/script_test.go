package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/spf13/cobra"
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
			// status N COMMAND… runs the program and wants this exit status.
			"status": func(ts *testscript.TestScript, neg bool, args []string) {
				cmd := exec.Command(lookIn(ts.Getenv("PATH"), "rightpage"), args[1:]...)
				cmd.Dir = ts.Getenv("WORK")
				var out, errs strings.Builder
				cmd.Stdout, cmd.Stderr = &out, &errs
				if err := cmd.Run(); cmd.ProcessState == nil {
					ts.Check(err)
				}
				ts.Check(os.WriteFile(ts.MkAbs("out"), []byte(out.String()), 0o644))
				ts.Check(os.WriteFile(ts.MkAbs("err"), []byte(errs.String()), 0o644))
				if got := strconv.Itoa(cmd.ProcessState.ExitCode()); got != args[0] {
					ts.Fatalf("exit status %s, want %s\n%s%s", got, args[0], out.String(), errs.String())
				}
			},
		},
	})
}

// lookIn finds a program in a list of folders.
func lookIn(path, name string) string {
	for _, dir := range filepath.SplitList(path) {
		if file := filepath.Join(dir, name); exists(file) {
			return file
		}
	}
	return name
}

func exists(file string) bool {
	_, err := os.Stat(file)
	return err == nil
}

// Every command that does something shows how it is used.
func TestExamples(t *testing.T) {
	n := 0
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		if !c.HasSubCommands() && c.Runnable() && c.Example == "" && c.Name() != "help" && c.Parent() != nil && c.Parent().Name() != "completion" {
			t.Errorf("%s has no example", c.CommandPath())
		}
		n += strings.Count(c.Example, "rightpage ")
		for _, s := range c.Commands() {
			walk(s)
		}
	}
	walk(rootCommand())
	if n < 12 {
		t.Errorf("only %d examples", n)
	}
}
