package main

import (
	"fmt"
	"io"
	"time"

	"github.com/schollz/progressbar/v3"
)

// progress shows how far long work is, on standard error and only on a
// terminal. total -1 is a total not known yet.
func progress(w io.Writer, total int, what string) *progressbar.ProgressBar {
	if !isTerminal(w) {
		w = io.Discard
	}
	return progressbar.NewOptions(total,
		progressbar.OptionSetWriter(w),
		progressbar.OptionSetDescription(what),
		progressbar.OptionSetWidth(24),
		progressbar.OptionClearOnFinish(),
		progressbar.OptionShowCount(),
		progressbar.OptionSetSpinnerChangeInterval(0), // its goroutine races with the counter
		progressbar.OptionThrottle(100*time.Millisecond),
	)
}

// note says what is going on where there is no telling how far it is, on a
// terminal only.
func note(w io.Writer, what string) {
	if isTerminal(w) {
		fmt.Fprintln(w, what+" …")
	}
}
