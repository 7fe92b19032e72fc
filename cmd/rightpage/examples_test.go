package main

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// TestExamples pastes every example of every help text into a shell, in a
// folder that has the testdata of the repository, and wants no wrong use. Every
// command that does something has an example.
func TestExamples(t *testing.T) {
	sh, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("there is no sh to paste the examples into")
	}
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	data, err := filepath.Abs("../../testdata")
	if err != nil {
		t.Fatal(err)
	}
	dir, bin := t.TempDir(), t.TempDir()
	// Under this name the test binary is the program: see TestMain.
	for link, to := range map[string]string{filepath.Join(bin, "rightpage"): exe, filepath.Join(dir, "testdata"): data} {
		if err := os.Symlink(to, link); err != nil {
			t.Skip(err)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "password.txt"), []byte("four words of mine\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	done := map[string]bool{}
	for _, c := range commandsOf(rootCommand()) {
		if c.Example == "" {
			t.Errorf("%s has no example", c.CommandPath())
		}
		for _, line := range strings.Split(c.Example, "\n") {
			if line = strings.TrimSpace(line); done[line] {
				continue // what it made is still there
			}
			done[line] = true
			if !strings.HasPrefix(line, "rightpage ") {
				t.Errorf("%s: the example %q is no command", c.CommandPath(), line)
				continue
			}
			if c.Annotations[patient] != "" && !strings.Contains(line, "--once") {
				continue // it goes on until it is interrupted: TestServe and its like run those
			}
			cmd := exec.Command(sh, "-c", line)
			cmd.Dir = dir
			cmd.Env = append(os.Environ(), "PATH="+bin+string(os.PathListSeparator)+os.Getenv("PATH"), "TMPDIR="+t.TempDir())
			out, err := cmd.CombinedOutput()
			var exit *exec.ExitError
			if err != nil && (!errors.As(err, &exit) || exit.ExitCode() != exitNo) {
				t.Errorf("%s: %v\n%s", line, err, out)
			}
		}
	}
}

// commandsOf lists the commands that do something, without those that cobra
// brings along.
func commandsOf(c *cobra.Command) []*cobra.Command {
	var out []*cobra.Command
	if c.Runnable() && !c.HasAvailableSubCommands() {
		out = append(out, c)
	}
	for _, s := range c.Commands() {
		if s.Name() != "completion" && s.Name() != "help" {
			out = append(out, commandsOf(s)...)
		}
	}
	return out
}

// Every flag is explained, and the words of the explanation that stand for the
// value are not left to the type of a variable.
func TestFlagsAreExplained(t *testing.T) {
	for _, c := range commandsOf(rootCommand()) {
		usage := c.LocalFlags().FlagUsages()
		for _, goism := range []string{" string ", " stringArray ", " int ", " uint ", " int64 ", "strings"} {
			if strings.Contains(usage, goism) {
				t.Errorf("%s: the help shows the type%sto people:\n%s", c.CommandPath(), goism, usage)
			}
		}
		if slices.Contains(strings.Fields(c.Use), "[flags]") {
			t.Errorf("%s: flags in the use line", c.CommandPath())
		}
	}
}
