package main

import (
	"embed"
	"errors"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"tared/session/text"
)

// What --help says of a command at length is a file of its name: help/weigh.txt in English,
// help/de/weigh.txt in German, where it is there. The line that tells a command and those of its flags are
// sentences like others, by the codes short.weigh and flag.base; where a flag of one command
// says something else it is flag.weigh.water.
//
//go:embed help
var helpTexts embed.FS

// describe gives every command its words in a language.
func describe(root *cobra.Command, l *text.Language) {
	for _, cmd := range append(root.Commands(), root) {
		cmd.Short = l.Say(text.Message{Code: "short." + cmd.Name()})
		switch cmd.Name() {
		case helpName:
		case completionName: // how a shell takes it in is told by our library, in English
			cmd.Example = "  tared completion bash"
			for _, shell := range cmd.Commands() {
				shell.Example = "  " + shell.CommandPath()
				shell.Short = l.Say(text.Put("help.completion-of", shell.Name()))
			}
		default:
			addHelp(cmd, l)
		}
	}
	every(root, func(cmd *cobra.Command) {
		cmd.Flags().SortFlags, cmd.PersistentFlags().SortFlags = false, false // in the order of the work
		say := func(f *pflag.Flag) {
			if !f.Hidden {
				f.Usage = flagUse(cmd, f, l)
			}
		}
		cmd.LocalNonPersistentFlags().VisitAll(say)
		cmd.PersistentFlags().VisitAll(say)
		cmd.InitDefaultHelpFlag()
		cmd.Flags().Lookup("help").Usage = l.Say(text.Put("flag.help", cmd.Name()))
	})
	if v := root.Flags().Lookup("version"); v != nil {
		v.Usage = l.Say(text.Put("flag.version"))
	}
}

func every(cmd *cobra.Command, do func(*cobra.Command)) {
	do(cmd)
	for _, c := range cmd.Commands() {
		every(c, do)
	}
}

// flagUse says what a flag of a command takes.
func flagUse(cmd *cobra.Command, f *pflag.Flag, l *text.Language) string {
	own := text.Message{Code: "flag." + cmd.Name() + "." + f.Name}
	if l.Check(own) == nil {
		return l.Say(own)
	}
	return l.Say(text.Message{Code: "flag." + f.Name, Values: []text.Value{text.Name("1", strings.Join(tags(), ", "))}})
}

// The commands that need no file of their own.
const (
	helpName       = "help"
	completionName = "completion"
)

// examples stands in a file of help between what the command does and its examples.
const examples = "\n\nExamples:\n"

// addHelp gives a command what --help says of it at length. The examples stand with the English
// words: what is typed is the same in each language.
func addHelp(cmd *cobra.Command, l *text.Language) {
	words, err := helpTexts.ReadFile("help/" + cmd.Name() + ".txt")
	if err != nil {
		panic(err) // the files are part of the program
	}
	cmd.Long, cmd.Example, _ = strings.Cut(strings.TrimRight(string(words), "\n"), examples)
	stem, _, _ := strings.Cut(l.Tag, "-")
	if own, err := helpTexts.ReadFile("help/" + stem + "/" + cmd.Name() + ".txt"); err == nil {
		cmd.Long = l.Spelt(strings.TrimRight(string(own), "\n"))
	}
}

// helpWidth is how long a line of --help may be.
const helpWidth = 98

// flagWords tells flags as --help does, in lines that fit a terminal. What may be given
// more than once is a text like others; the type of our library's is nobody's business.
func flagWords(f *pflag.FlagSet) string {
	return strings.ReplaceAll(strings.ReplaceAll(f.FlagUsagesWrapped(helpWidth), "stringArray", "string     "), "(default ", "("+says("help.default")+" ")
}

// usageTemplate is that of our library, in the reader's language.
func usageTemplate(was string) string {
	return strings.NewReplacer(
		".LocalFlags.FlagUsages", "flags .LocalFlags", ".InheritedFlags.FlagUsages", "flags .InheritedFlags",
		"Usage:", says("help.usage"), "Examples:", says("help.examples"), "Available Commands:", says("help.commands"), "Additional Commands:", says("help.commands"),
		"Global Flags:", says("help.global"), "Flags:", says("help.flags"), "Additional help topics:", says("help.more"),
		`Use "{{.CommandPath}} [command] --help" for more information about a command.`, says("help.of-command", "{{.CommandPath}}"),
	).Replace(was)
}

// wrongFlag says in our words what our library has against a flag.
func wrongFlag(err error) error {
	var bad *pflag.InvalidValueError
	var none *pflag.NotExistError
	var empty *pflag.ValueRequiredError
	switch {
	case errors.As(err, &bad) && errors.As(err, new(*strconv.NumError)):
		return usagef("cli.give-a-number-for-example", bad.GetFlag().Name, bad.GetValue())
	case errors.As(err, &bad):
		return usagef("cli.flag-value", bad.GetFlag().Name, bad.GetValue(), bad.Unwrap())
	case errors.As(err, &none) && none.GetSpecifiedShortnames() != "":
		return usagef("cli.no-short-flag", none.GetSpecifiedShortnames())
	case errors.As(err, &none):
		return usagef("cli.no-flag", none.GetSpecifiedName())
	case errors.As(err, &empty):
		return usagef("cli.flag-empty", empty.GetSpecifiedName())
	}
	return usage(err)
}
