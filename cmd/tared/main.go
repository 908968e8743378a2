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
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	"tared/session/text"
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
	if l := spoken(args); l != text.English {
		language = l.Plain()
	}
	root := newRoot()
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(out)
	root.SetErr(errs)
	cmd, err := root.ExecuteContextC(ctx)
	if err = onFlag(cmd, err); err == nil {
		return exitDone
	}
	code := exitCode(err)
	if !errors.Is(err, errSaid) {
		tellError(errs, cmd, err, forProgram(cmd, args))
	}
	return code
}

// forProgram reports whether a program reads what a command says, also where the command line
// is wrong before the flag is reached.
func forProgram(cmd *cobra.Command, args []string) bool {
	f := cmd.Flags().Lookup("json")
	return f != nil && (f.Changed && f.Value.String() == "true" || slices.Contains(args, "--json"))
}

// codeOf is the code of the sentence that says what is wrong, and not of one that only names the
// flag or the file.
func codeOf(err error) string {
	all := text.Of(err).Codes()
	for _, code := range all {
		if code != "cli.of-flag" && !strings.HasPrefix(code, "cli.layout") {
			return code
		}
	}
	return strings.Join(all, " ")
}

// toldError is an error as a program reads it.
type toldError struct {
	Kind    string `json:"kind"`           // "error"
	Code    string `json:"code"`           // of its sentence, the same in each language
	Message string `json:"message"`        // in the language of the terminal
	Help    string `json:"help,omitempty"` // the topic of 'tared help' that tells more
	Exit    int    `json:"exit"`
}

// tellError says why a command failed, and where more is said.
func tellError(errs io.Writer, cmd *cobra.Command, err error, program bool) {
	more, code := moreOn(err), exitCode(err)
	if program {
		if more == "" && code == exitUsage {
			more = strings.TrimPrefix(cmd.CommandPath(), "tared ")
		}
		e := json.NewEncoder(errs)
		e.SetEscapeHTML(false)
		_ = e.Encode(toldError{"error", codeOf(err), inWords(err), more, code})
		return
	}
	said := fmt.Sprintf("%s: %s\n", cmd.CommandPath(), inWords(err))
	if toJournal(errs) {
		said = withPriority(zerolog.ErrorLevel, said)
	}
	_, _ = io.WriteString(errs, said)
	if more != "" {
		_, _ = fmt.Fprintln(errs, says("cli.more", more))
	}
	if code == exitUsage {
		_, _ = fmt.Fprintln(errs, says("cli.run-help-for-what-it", cmd.CommandPath()))
	}
}

// What our library keeps for all commands at once: they stand in the order of the work, as commands has them.
func init() {
	cobra.EnableCommandSorting = false
	cobra.AddTemplateFunc("flags", flagWords)
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:           "tared",
		SilenceErrors: true,
		SilenceUsage:  true,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usagef("cli.which-command-try-tared-demo")
			}
			return usagef("cli.is-not-a-command", args[0])
		},
		RunE:    func(*cobra.Command, []string) error { return nil }, // Args refuses everything that gets this far
		Version: thisEdition().Version,
	}
	root.SetVersionTemplate(language.Say(thisEdition().says()[0]) + "\n")
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return wrongFlag(err) })
	root.AddCommand(commands()...)
	addConfig(root)
	addValues(root)
	root.SetUsageTemplate(usageTemplate(root.UsageTemplate()))
	addLanguage(root)
	// The help command would otherwise answer a wrong name with exit code 0.
	root.SetHelpCommand(&cobra.Command{
		Use:     helpName + " [COMMAND|TOPIC]",
		Example: "  tared help weigh\n  tared help troubleshooting",
		RunE:    helpOn,
	})
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	root.InitDefaultVersionFlag()
	describe(root, language)
	return root
}
