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

// spoken is the language that a command line is answered in: that of --lang, else that of the
// terminal, as POSIX says it (the first of LC_ALL, LC_MESSAGES and LANG that is set). It is
// looked for before anything else, for what is wrong with a command line is said in it too. The
// words of commands, flags and files are English in each.
func spoken(args []string) *text.Language {
	for i, a := range args {
		wish, said := strings.CutPrefix(a, "--lang=")
		if a == "--lang" && i+1 < len(args) {
			wish, said = args[i+1], true
		}
		if l := text.Named(wish); said && l != nil {
			return l
		}
	}
	return text.For(cmp.Or(os.Getenv("LC_ALL"), os.Getenv("LC_MESSAGES"), os.Getenv("LANG")))
}

// addLanguage has every command take --lang.
func addLanguage(root *cobra.Command) {
	wish := root.PersistentFlags().String("lang", "", "")
	root.PersistentPreRunE = func(*cobra.Command, []string) error {
		if *wish != "" && text.Named(*wish) == nil {
			return usagef("cli.lang-give-one-of", *wish, strings.Join(tags(), ", "))
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
