package main

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/agnivade/levenshtein"
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// usageError is wrong use. The program says where to read more about the
// command.
type usageError struct{ text string }

func (e *usageError) Error() string { return e.text }

func usagef(format string, args ...any) error { return &usageError{fmt.Sprintf(format, args...)} }

// group makes a command that only holds others.
func group(use, short string, commands ...*cobra.Command) *cobra.Command {
	cmd := &cobra.Command{
		Use: use, Short: short, Args: cobra.ArbitraryArgs, SuggestionsMinimumDistance: 2,
		RunE: func(cmd *cobra.Command, args []string) error { return noCommand(cmd, args) },
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return nil, cobra.ShellCompDirectiveNoFileComp
		},
	}
	cmd.AddCommand(commands...)
	return cmd
}

// noCommand says that a command has none of the name given.
func noCommand(cmd *cobra.Command, args []string) error {
	var names []string
	for _, c := range cmd.Commands() {
		if c.IsAvailableCommand() && c.Name() != "completion" && c.Name() != "help" {
			names = append(names, c.Name())
		}
	}
	list := strings.Join(names, ", ")
	if len(args) == 0 {
		return usagef("say what to do: %s %s", cmd.CommandPath(), strings.Join(names, "|"))
	}
	if near := cmd.SuggestionsFor(args[0]); len(near) > 0 {
		return usagef("there is no command %s %s; did you mean %s?", cmd.CommandPath(), args[0], strings.Join(near, " or "))
	}
	return usagef("there is no command %s %s; there are %s", cmd.CommandPath(), args[0], list)
}

// arguments demands exactly the arguments that the Use line of the command
// names.
func arguments(cmd *cobra.Command, args []string) error {
	names := strings.Fields(cmd.Use)[1:]
	switch {
	case len(args) < len(names):
		return usagef("%s is missing: %s %s", strings.Join(names[len(args):], " and "), cmd.CommandPath(), strings.Join(names, " "))
	case len(args) > len(names) && len(names) == 0:
		return usagef("%s takes flags only, not %q", cmd.CommandPath(), args[0])
	case len(args) > len(names):
		return usagef("%q is one too many: %s %s", args[len(names)], cmd.CommandPath(), strings.Join(names, " "))
	}
	if i := slices.Index(args, ""); i >= 0 {
		return usagef("%s is empty", names[i])
	}
	return nil
}

// flagError puts an error about a flag into words.
func flagError(cmd *cobra.Command, err error) error {
	var unknown *pflag.NotExistError
	var bare *pflag.ValueRequiredError
	var invalid *pflag.InvalidValueError
	switch {
	case errors.As(err, &unknown):
		name := unknown.GetSpecifiedName()
		if unknown.GetSpecifiedShortnames() != "" {
			return usagef("there is no flag -%s", name)
		}
		best, near := 3, ""
		cmd.Flags().VisitAll(func(f *pflag.Flag) {
			if d := levenshtein.ComputeDistance(f.Name, name); d < best {
				best, near = d, f.Name
			}
		})
		if near != "" {
			return usagef("there is no flag --%s; did you mean --%s?", name, near)
		}
		return usagef("there is no flag --%s", name)
	case errors.As(err, &bare):
		return usagef("--%s needs a value: %s", bare.GetFlag().Name, bare.GetFlag().Usage)
	case errors.As(err, &invalid):
		f := invalid.GetFlag()
		want := "another value"
		switch f.Value.Type() {
		case "int", "int64":
			want = "a whole number"
		case "uint64":
			want = "a whole number from 0"
		case "bool":
			want = "true or false"
		}
		if errors.Is(err, strconv.ErrRange) {
			want += " that is nearer to zero"
		}
		return usagef("--%s %s: write %s", f.Name, invalid.GetValue(), want)
	}
	return usagef("%v", err)
}

// formatFlag adds the flag --format with its choices, the first being the
// default.
func formatFlag(cmd *cobra.Command, p *string, choices ...string) {
	list := strings.Join(choices[:len(choices)-1], ", ") + " or " + choices[len(choices)-1]
	cmd.Flags().StringVar(p, "format", choices[0], "`form` of the output: "+list)
	_ = cmd.RegisterFlagCompletionFunc("format", cobra.FixedCompletions(choices, cobra.ShellCompDirectiveNoFileComp))
	check := cmd.PreRunE
	cmd.PreRunE = func(c *cobra.Command, args []string) error {
		if !slices.Contains(choices, *p) {
			return usagef("--format %s is unknown: choose %s", *p, list)
		}
		if check != nil {
			return check(c, args)
		}
		return nil
	}
}

// The files that completion offers for a flag.
func completeFiles(cmd *cobra.Command, flag string, extensions ...string) {
	_ = cmd.MarkFlagFilename(flag, extensions...)
}

// catalogFlag adds the flag --catalog.
func catalogFlag(cmd *cobra.Command, p *string) {
	cmd.Flags().StringVar(p, "catalog", "", "catalog at `PATH`: a folder of CSV files or an XLSX workbook")
}
