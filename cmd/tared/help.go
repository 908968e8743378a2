package main

import (
	"embed"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

//go:embed help
var helpTexts embed.FS

// examples stands in a file of help between what the command does and its examples.
const examples = "\n\nExamples:\n"

// addHelp gives commands what --help says of them: the file of their name.
func addHelp(all ...*cobra.Command) {
	for _, cmd := range all {
		text, err := helpTexts.ReadFile("help/" + cmd.Name() + ".txt")
		if err != nil {
			panic(err) // the files are part of the program
		}
		cmd.Long, cmd.Example, _ = strings.Cut(strings.TrimRight(string(text), "\n"), examples)
	}
}

// helpWidth is how long a line of --help may be.
const helpWidth = 98

// flagWords tells flags as --help does, in lines that fit a terminal. What may be given
// more than once is a text like others; the type of our library's is nobody's business.
func flagWords(f *pflag.FlagSet) string {
	return strings.ReplaceAll(f.FlagUsagesWrapped(helpWidth), "stringArray", "string     ")
}
