// Command tared weighs glaze batches: it plans what can be weighed at all,
// guides each pour, and keeps what really went in beside what should have.
//
// This package is the command line and the wiring, nothing else: one file for
// each command, and a few files that they share.
//
//   - exit.go: the exit codes, and which error earns which;
//   - options.go: what several commands ask for (scales, size, allowances, data directory);
//   - help.go: what --help says, from the files in help;
//   - bench.go: scales, journal and session joined into one running bench;
//   - house_test.go: the rule which package may import which.
//
// Start with main, then the file of the command you are after.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strconv"
	"strings"
	"syscall"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	// The first signal asks for an orderly end. Once it has been heard, the next
	// one ends the program at once, for a person who presses twice means it.
	context.AfterFunc(ctx, stop)
	os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// run carries out one command line and returns the exit code.
func run(ctx context.Context, args []string, in io.Reader, out, errs io.Writer) int {
	root := newRoot()
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(out)
	root.SetErr(errs)
	cmd, err := root.ExecuteContextC(ctx)
	if err == nil {
		return exitDone
	}
	if !errors.Is(err, errSaid) {
		said := fmt.Sprintf("%s: %s\n", cmd.CommandPath(), inWords(err))
		if toJournal(errs) {
			said = withPriority(zerolog.ErrorLevel, said)
		}
		_, _ = io.WriteString(errs, said)
	}
	code := exitCode(err)
	if code == exitUsage && !errors.Is(err, errSaid) {
		_, _ = fmt.Fprintf(errs, "Run '%s --help' for what it takes and an example.\n", cmd.CommandPath())
	}
	return code
}

func newRoot() *cobra.Command {
	cobra.EnableCommandSorting = false // in the order of the work, as commands has them
	root := &cobra.Command{
		Use:           "tared",
		Short:         "The witness at the scale: plans, guides and records the weighing of a glaze batch",
		SilenceErrors: true,
		SilenceUsage:  true,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usagef("Which command? Try 'tared demo', or 'tared scales' with a scale plugged in")
			}
			return usagef("%q is not a command", args[0])
		},
		RunE:    func(*cobra.Command, []string) error { return nil }, // Args refuses everything that gets this far
		Version: thisEdition().Version,
	}
	root.SetVersionTemplate(language.Say(thisEdition().says()[0]) + "\n")
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error {
		var bad *pflag.InvalidValueError
		if errors.As(err, &bad) && errors.As(err, new(*strconv.NumError)) {
			return usagef("--%s %q: give a number, for example 2", bad.GetFlag().Name, bad.GetValue())
		}
		return usage(err)
	})
	root.AddCommand(commands()...)
	addHelp(append(root.Commands(), root)...)
	addConfig(root)
	addValues(root)
	cobra.AddTemplateFunc("flags", flagWords)
	root.SetUsageTemplate(strings.NewReplacer(".LocalFlags.FlagUsages", "flags .LocalFlags", ".InheritedFlags.FlagUsages", "flags .InheritedFlags").Replace(root.UsageTemplate()))
	addLanguage(root)
	// The help command would otherwise answer a wrong name with exit code 0.
	root.SetHelpCommand(&cobra.Command{
		Use:     "help [COMMAND]",
		Short:   "Help about a command",
		Example: "  tared help weigh",
		RunE: func(c *cobra.Command, args []string) error {
			cmd, rest, err := c.Root().Find(args)
			if err != nil || len(rest) > 0 {
				return usagef("%q is not a command", strings.Join(args, " "))
			}
			cmd.InitDefaultHelpFlag()
			return cmd.Help()
		},
	})
	return root
}
