package main

import (
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"
)

func rootCommand() *cobra.Command {
	cmd := group("rightpage", "Find the right page in service literature, and train people to find it",
		tryCommand(), catalogCommand(), resolveCommand(), bankCommand(), formCommand(), gradeCommand(),
		statsCommand(), cutCommand(), certificateCommand(), serveCommand(), migrateCommand(), backupCommand(), restoreCommand(), userCommand(), jsonTopic(), thresholdTopic())
	cmd.Long = `rightpage reads an organisation's catalog of its service literature, answers
lookups in it with every step shown, makes exercises from it whose wrong options
each come from a known slip, grades answers, and writes certificates.

New here? Start with: rightpage try --once

A certificate proves skill in looking things up. It is no licence to do the work.

Exit status: 0 done; 1 the answer is no, such as a catalog with errors or a
certificate that does not verify; 2 wrong use, or something that could not be
read or written; 130 interrupted.`
	cmd.Version = version()
	// A command that only holds others does nothing by itself: no usage line.
	cmd.SetUsageTemplate(strings.Replace(cmd.UsageTemplate(), "{{if .Runnable}}\n  {{.UseLine}}", "{{if and .Runnable (not .HasAvailableSubCommands)}}\n  {{.UseLine}}", 1))
	cmd.SilenceUsage, cmd.SilenceErrors = true, true
	cmd.SetFlagErrorFunc(flagError)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) == 0 {
			return cmd.Help()
		}
		return noCommand(cmd, args)
	}
	return cmd
}

// version is the version of the module, where the program was built from one.
func version() string {
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" && info.Main.Version != "(devel)" {
		return info.Main.Version
	}
	return "unreleased"
}
