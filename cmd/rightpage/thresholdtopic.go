package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"rightpage/grading/psychometrics"
)

// thresholdTopic is a help topic: below which numbers nothing is claimed, and
// why.
func thresholdTopic() *cobra.Command {
	var b strings.Builder
	w := newWrapper(&b)
	fmt.Fprintln(w, "Where a figure would rest on too little, “too few to tell” stands in its place. The bounds, and why they are where they are:")
	fmt.Fprintln(w)
	for _, t := range psychometrics.Thresholds() {
		what, _, _ := strings.Cut(string(t.Phrase), ".")
		bound := fmt.Sprintf("below %.0f", t.Value)
		if t.Phrase == psychometrics.PhraseAbilityFew {
			bound = fmt.Sprintf("above a standard error of %.2f", t.Value)
		}
		fmt.Fprintf(w, "- %s, %s: %s\n", what, bound, english(t.Reason))
	}
	_ = w.Close()
	return &cobra.Command{Use: "thresholds", Short: "Where “too few to tell” begins, and why", Long: strings.TrimRight(b.String(), "\n")}
}
