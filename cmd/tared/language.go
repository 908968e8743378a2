package main

import (
	"cmp"
	"errors"
	"io/fs"
	"os"
	"strings"
	"syscall"

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
	terminal := cmp.Or(os.Getenv("LC_ALL"), os.Getenv("LC_MESSAGES"), os.Getenv("LANG"))
	for i, a := range args {
		wish, said := strings.CutPrefix(a, "--lang=")
		if a == "--lang" && i+1 < len(args) {
			wish, said = args[i+1], true
		}
		if l := text.Named(wish); said && l != nil {
			return l.In(terminal)
		}
	}
	return text.For(terminal)
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

// inWords is what an error says, in the language of the terminal. What the system said of
// a file is told with its mend.
func inWords(err error) string {
	m := text.Of(err)
	said := strings.Replace(err.Error(), m.String(), language.Say(m), 1)
	if raw, file := ofFile(err); !file.None() {
		said = strings.Replace(said, raw, language.Say(file), 1)
	}
	return said
}

// ofFile finds what the system said of a file in the chain of an error: its own words, and
// what they are for a person. The zero Message where it said nothing that is known here.
func ofFile(err error) (raw string, m text.Message) {
	var path *fs.PathError
	var link *os.LinkError
	var file string
	switch {
	case errors.As(err, &path):
		raw, file, err = path.Error(), path.Path, path.Err
	case errors.As(err, &link):
		raw, file, err = link.Error(), link.New, link.Err
	}
	for _, f := range faults(file) {
		if raw != "" && errors.Is(err, f.err) {
			return raw, f.said
		}
	}
	return raw, m
}

// fault is what a system says of a file, and the sentence for it.
type fault struct {
	err  error
	said text.Message
}

func faults(file string) []fault {
	return []fault{
		{fs.ErrNotExist, text.New("file.none", ofName(file))},
		{fs.ErrPermission, text.New("file.denied", ofName(file))},
		{fs.ErrExist, text.New("file.there", ofName(file))},
		{syscall.ENOSPC, text.New("file.full", ofName(file))},
		{syscall.EROFS, text.New("file.read-only", ofName(file))},
		{syscall.EISDIR, text.New("file.directory", ofName(file))},
		{syscall.ENOTDIR, text.New("file.no-directory", ofName(file))},
	}
}

func ofName(file string) text.Value { return text.Name("file", file) }

// whyFile is what an error says in a sentence about a file.
func whyFile(err error) text.Message {
	if raw, m := ofFile(err); raw == err.Error() && !m.None() {
		return m
	}
	return text.Of(err)
}
