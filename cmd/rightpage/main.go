// Command rightpage answers lookups in an organisation's service literature and
// makes, grades and certifies exercises in looking things up.
//
// Exit status: 0 done; 1 the answer is no (an invalid catalog, a lookup that is
// not covered, a blueprint that cannot be met, a failed verification); 2 wrong
// use, or something that could not be read or written; 130 interrupted.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	"time"
	_ "time/tzdata" // Windows has no time zones of its own in the form that is needed

	"github.com/spf13/cobra"
)

func main() {
	os.Exit(run(context.Background(), os.Args[1:], os.Stdout, os.Stderr))
}

// The exit statuses.
const (
	exitDone        = 0
	exitNo          = 1
	exitWrong       = 2
	exitInterrupted = 130 // 128 + SIGINT, as shells have it
)

// errNo is the error of a command whose answer is no. What there is to say has
// been printed.
var errNo = errors.New("no")

// patience is how long a command may take to stop after an interrupt; work that
// cannot be interrupted is left behind by then. Files are safe either way: see
// createFile. Commands with the annotation patient, which run until they are
// interrupted, may take as long as they need to finish what they accepted.
const patience = time.Second

const patient = "patient"

// run runs the program and gives its exit status.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	ctx, stop := signal.NotifyContext(ctx, os.Interrupt, syscall.SIGTERM)
	defer stop()
	out := newOutput(stdout)
	root := rootCommand()
	root.SetArgs(args)
	root.SetOut(out)
	root.SetErr(stderr)

	type result struct {
		cmd *cobra.Command
		err error
	}
	done := make(chan result, 1)
	go func() {
		cmd, err := root.ExecuteContextC(ctx)
		done <- result{cmd, err}
	}()
	var r result
	select {
	case r = <-done:
	case <-ctx.Done():
		stop() // a second interrupt ends the program at once
		limit := time.After(patience)
		if cmd, _, err := root.Find(args); err == nil && cmd.Annotations[patient] != "" {
			limit = nil
		}
		select {
		case r = <-done:
		case <-limit:
			fmt.Fprintln(stderr, "rightpage: interrupted")
			return exitInterrupted
		}
	}
	if err := out.Flush(); err != nil && (r.err == nil || errors.Is(r.err, errNo)) {
		r.err = fmt.Errorf("standard output: %w", err)
	}
	var usage *usageError
	switch {
	case r.err == nil:
		return exitDone
	case errors.Is(r.err, errNo):
		return exitNo
	case errors.Is(r.err, context.Canceled):
		fmt.Fprintln(stderr, "rightpage: interrupted")
		return exitInterrupted
	case errors.As(r.err, &usage):
		fmt.Fprintf(stderr, "rightpage: %v\nSee %s --help\n", r.err, r.cmd.CommandPath())
	default:
		fmt.Fprintf(stderr, "rightpage: %s\n", inWords(r.err))
	}
	return exitWrong
}
