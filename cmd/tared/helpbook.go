package main

import (
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"tared/protocol"
	"tared/scale"
	"tared/session/fact"
	"tared/session/text"
	"tared/web/help"
)

// helpBook is the help, with what is made from the program's own tables.
func helpBook(root *cobra.Command) help.Book {
	return help.Book{Parts: map[string]func(*text.Language) string{
		"formats":  formatsHelp,
		"settings": func(l *text.Language) string { return settingsHelp(root, l) },
		"kinds":    kindsHelp,
		"commands": func(l *text.Language) string { return commandsHelp(root, l) },
	}}
}

// heads is the first row of a table, in Markdown, and the line below it.
func heads(l *text.Language, cells ...text.Message) string {
	var b strings.Builder
	for _, c := range cells {
		b.WriteString("| " + l.Say(c) + " ")
	}
	return b.String() + "|\n" + strings.Repeat("|---", len(cells)) + "|\n"
}

// formatsHelp is a section for each format: a line of it, and what it is.
func formatsHelp(l *text.Language) string {
	var b strings.Builder
	for _, f := range protocol.All() {
		fmt.Fprintf(&b, "## %s {#%s}\n\n    %s\n\n%s.", f.Name, f.Name, f.Example, l.Term(f.Summary))
		if len(f.Lines) > 0 {
			var lines []string
			for _, of := range f.Lines {
				lines = append(lines, scale.LineText(of))
			}
			slices.Sort(lines)
			b.WriteString(" " + l.Say(text.Put("help.usual-lines", strings.Join(slices.Compact(lines), ", "))))
		}
		if f.Ask != nil {
			b.WriteString(" " + l.Say(text.Put("help.can-ask", "`ask=yes`")))
		}
		if f.Pairs {
			b.WriteString(" " + l.Say(text.Put("help.pairs")))
		}
		b.WriteString("\n\n")
	}
	return b.String()
}

// settingsHelp is the table of what can be set: by the flags of serve, which all of it has.
func settingsHelp(root *cobra.Command, l *text.Language) string {
	var b strings.Builder
	b.WriteString(heads(l, text.Put("help.col-key"), text.Put("help.col-environment"), text.Put("help.col-flag"), text.Put("help.col-what")))
	serve, _, _ := root.Find([]string{"serve"})
	serve.Flags().VisitAll(func(f *pflag.Flag) {
		key := f.Annotations[fromFile]
		if key == nil || f.Hidden {
			return
		}
		env := "`" + envName(key[0]) + "`"
		if _, list := f.Value.(pflag.SliceValue); list {
			env = ""
		}
		fmt.Fprintf(&b, "| `%s` | %s | `--%s` | %s |\n", key[0], env, f.Name, inCell(flagUse(serve, f, l)))
	})
	return b.String()
}

func inCell(s string) string { return strings.ReplaceAll(s, "|", `\|`) }

func commandsHelp(root *cobra.Command, l *text.Language) string {
	var b strings.Builder
	b.WriteString(heads(l, text.Put("help.col-command"), text.Put("help.col-does")))
	for _, c := range root.Commands() {
		fmt.Fprintf(&b, "| `%s` | %s |\n", c.CommandPath(), inCell(l.Say(text.Message{Code: "short." + c.Name()})))
	}
	return b.String()
}

// kindsHelp is the table of all kinds of line, with the fields of each.
func kindsHelp(l *text.Language) string {
	var b strings.Builder
	b.WriteString(heads(l, text.Put("help.col-kind"), text.Put("help.col-says"), text.Put("help.col-fields"), text.Put("help.col-readers")))
	for _, k := range fact.Kinds {
		var fields, readers []string
		for _, f := range reflect.VisibleFields(reflect.TypeOf(k.Zero)) {
			if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); name != "" && name != "-" {
				fields = append(fields, "`"+name+"`")
			}
		}
		for _, r := range k.Readers {
			readers = append(readers, l.Term(string(r)))
		}
		fmt.Fprintf(&b, "| `%s` | %s | %s | %s |\n", k.Name, inCell(l.Term(k.Says)), strings.Join(fields, ", "), strings.Join(readers, ", "))
	}
	return b.String()
}

// helpOn tells of a command, else of a topic of the help, or one of its sections.
func helpOn(c *cobra.Command, args []string) error {
	out := c.OutOrStdout()
	if cmd, rest, err := c.Root().Find(args); err == nil && len(rest) == 0 {
		cmd.InitDefaultHelpFlag()
		if err := cmd.Help(); err != nil || len(args) > 0 {
			return err
		}
		_, err := io.WriteString(out, "\n"+topicsHelp(c.Root()))
		return err
	}
	if t, ok := helpBook(c.Root()).Topic(language, strings.Join(args, "-")); ok {
		_, err := io.WriteString(out, t.Plain())
		return err
	}
	return usagef("cli.no-topic", strings.Join(args, " "))
}

// topicsHelp lists the topics.
func topicsHelp(root *cobra.Command) string {
	var b strings.Builder
	b.WriteString(says("cli.topics") + "\n")
	for _, t := range helpBook(root).Topics(language) {
		fmt.Fprintf(&b, "  %-16s %s\n", t.Name, t.Title)
	}
	return b.String()
}

// moreOn is where the help tells more of an error; "" where it does not.
func moreOn(err error) string {
	if file, m := ofFile(err); file != "" && !m.None() {
		return help.Section(m.Code)
	}
	for _, code := range text.Of(err).Codes() {
		if s := help.Section(code); s != "" && !errors.As(err, new(*usageError)) {
			return s
		}
	}
	return ""
}
