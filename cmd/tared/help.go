package main

import (
	"embed"
	"strings"

	"github.com/spf13/cobra"
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
