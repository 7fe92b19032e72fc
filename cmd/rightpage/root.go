package main

import (
	"github.com/spf13/cobra"
)

func rootCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "rightpage",
		Short: "Find the right page in service literature, and train people to find it",
		Long: `rightpage reads an organisation's catalog of its service literature, answers
lookups in it with every step shown, makes exercises from it whose wrong options
each come from a known slip, grades answers, and writes certificates.

A certificate proves skill in looking things up. It is no licence to do the work.`,
		SilenceUsage:  true,
		SilenceErrors: true,
	}
	cmd.AddCommand(tryCommand(), catalogCommand(), resolveCommand(), bankCommand(), formCommand(), gradeCommand(),
		statsCommand(), certificateCommand())
	return cmd
}

// formatFlag is the flag --format.
func formatFlag(cmd *cobra.Command, p *string, choices ...string) {
	list := choices[0]
	for _, c := range choices[1:] {
		list += ", " + c
	}
	cmd.Flags().StringVar(p, "format", choices[0], "form of the output: "+list)
	_ = cmd.RegisterFlagCompletionFunc("format", cobra.FixedCompletions(choices, cobra.ShellCompDirectiveNoFileComp))
	check := cmd.PreRunE
	cmd.PreRunE = func(c *cobra.Command, args []string) error {
		for _, ch := range choices {
			if ch == *p {
				if check != nil {
					return check(c, args)
				}
				return nil
			}
		}
		return &usageError{"--format " + *p + " is unknown; choose " + list}
	}
}

// usageError is wrong use that cobra does not notice by itself.
type usageError struct{ text string }

func (e *usageError) Error() string { return e.text }
