// Command rightpage answers lookups in an organisation's service literature and
// makes, grades and certifies exercises in looking things up.
//
// Exit status: 0 done; 1 the answer is no (an invalid catalog, a lookup that is
// not covered, a failed verification); 2 wrong use, or something that could not
// be read or written.
package main

import (
	"errors"
	"fmt"
	"os"
)

func main() { os.Exit(run(os.Args[1:])) }

// errNo is the error of a command whose answer is no. What there is to say has
// been printed.
var errNo = errors.New("no")

func run(args []string) int {
	cmd := rootCommand()
	cmd.SetArgs(args)
	err := cmd.Execute()
	switch {
	case err == nil:
		return 0
	case errors.Is(err, errNo):
		return 1
	}
	fmt.Fprintf(os.Stderr, "rightpage: %v\n", err)
	return 2
}
