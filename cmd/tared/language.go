package main

import (
	"cmp"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"tared/session/text"
)

// language is that of the terminal. There is one terminal, so it is set once, before a
// command begins, and where it is not English.
var language = text.English.Plain()

// addLanguage has every command ask which language it is to speak: --lang, else that of the
// terminal, as POSIX says it (the first of LC_ALL, LC_MESSAGES and LANG that is set). Help
// and the words of commands, flags and files are English.
func addLanguage(root *cobra.Command) {
	wish := root.PersistentFlags().String("lang", "", "the language to speak: "+strings.Join(tags(), ", ")+"; without it that of the terminal (LC_ALL, LC_MESSAGES, LANG)")
	root.PersistentPreRunE = func(*cobra.Command, []string) error {
		l := text.For(cmp.Or(os.Getenv("LC_ALL"), os.Getenv("LC_MESSAGES"), os.Getenv("LANG")))
		if *wish != "" {
			if l = text.Named(*wish); l == nil {
				return usagef("--lang %q: give one of %s", *wish, strings.Join(tags(), ", "))
			}
		}
		if l != text.English {
			language = l.Plain()
		}
		return nil
	}
}

func tags() (all []string) {
	for _, l := range text.All {
		tag, _, _ := strings.Cut(l.Tag, "-")
		all = append(all, tag)
	}
	return all
}

// inWords is what an error says, in the language of the terminal.
func inWords(err error) string {
	m := text.Of(err)
	return strings.Replace(err.Error(), m.String(), language.Say(m), 1)
}
