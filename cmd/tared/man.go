package main

import (
	"cmp"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"tared/session/text"
)

// manPage writes the help of a command as a man page, in the macros of man(7): the
// sentences are those of --help, so that they cannot differ.
func manPage(cmd *cobra.Command, of edition) string {
	var b strings.Builder
	day := ""
	if t, err := time.Parse(time.RFC3339, of.Date); err == nil {
		day = t.UTC().Format(time.DateOnly)
	}
	name := manName(cmd)
	fmt.Fprintf(&b, ".TH %q 1 %q %q\n", strings.ToUpper(name), day, "tared "+of.Version)
	fmt.Fprintf(&b, ".SH NAME\n%s \\- %s\n", roff(name), roff(cmd.Short))
	fmt.Fprintf(&b, ".SH SYNOPSIS\n.B %s\n%s\n", roff(cmd.CommandPath()), roff(strings.TrimPrefix(cmd.UseLine(), cmd.CommandPath())))
	b.WriteString(".SH DESCRIPTION\n" + paragraphs(cmd.Long))
	if below := cmd.Commands(); len(below) > 0 {
		b.WriteString(".SH COMMANDS\n")
		for _, c := range below {
			if c.IsAvailableCommand() {
				fmt.Fprintf(&b, ".TP\n.B %s\n%s\n", roff(c.Name()), roff(c.Short))
			}
		}
	}
	b.WriteString(".SH OPTIONS\n")
	cmd.InitDefaultHelpFlag()
	flags := func(f *pflag.Flag) {
		if f.Hidden {
			return
		}
		value, use := pflag.UnquoteUsage(f)
		value = strings.TrimSuffix(value, "Array")
		fmt.Fprintf(&b, ".TP\n.B \\-\\-%s\n", strings.TrimSpace(roff(f.Name)+" "+roff(value)))
		if f.DefValue != "" && f.DefValue != "false" && f.DefValue != "[]" && f.DefValue != "0" {
			use += " (default " + f.DefValue + ")"
		}
		b.WriteString(roff(use) + "\n")
	}
	cmd.NonInheritedFlags().VisitAll(flags)
	cmd.InheritedFlags().VisitAll(flags)
	if cmd.Example != "" {
		b.WriteString(".SH EXAMPLES\n.nf\n" + roff(cmd.Example) + "\n.fi\n")
	}
	if cmd == cmd.Root() {
		b.WriteString(".SH HELP\n")
		for _, t := range helpBook(cmd).Topics(text.English) {
			fmt.Fprintf(&b, ".TP\n.B tared help %s\n%s\n", roff(t.Name), roff(t.Title))
		}
	}
	b.WriteString(".SH EXIT STATUS\n0 done, 1 failed, 64 wrong usage, 78 bad configuration.\n.SH FILES\n" +
		roff("$XDG_CONFIG_HOME/tared/tared.toml, /etc/tared/tared.toml") + "\n.SH SEE ALSO\n")
	see := []string{}
	for _, c := range cmp.Or(cmd.Parent(), cmd).Commands() {
		if c.IsAvailableCommand() && c != cmd && c.Name() != "completion" && c.Name() != "help" {
			see = append(see, ".BR "+roff(manName(c))+" (1)")
		}
	}
	b.WriteString(strings.Join(see, ",\n") + "\n")
	return b.String()
}

// manName is the name of a command's man page.
func manName(cmd *cobra.Command) string { return strings.ReplaceAll(cmd.CommandPath(), " ", "-") }

// paragraphs sets text that is broken into lines: an empty line parts paragraphs, and
// lines with a margin stay as they are.
func paragraphs(text string) string {
	var b strings.Builder
	for _, p := range strings.Split(strings.TrimSpace(text), "\n\n") {
		lines := strings.Split(p, "\n")
		b.WriteString(".PP\n")
		kept := false
		for _, l := range lines {
			if margin := strings.HasPrefix(l, "  "); margin != kept {
				b.WriteString(map[bool]string{true: ".nf\n", false: ".fi\n"}[margin])
				kept = margin
			}
			b.WriteString(roff(l) + "\n")
		}
		if kept {
			b.WriteString(".fi\n")
		}
	}
	return b.String()
}

// roff has text stand for itself (groff_man(7)): a backslash and a hyphen would be changed,
// a dot or an apostrophe in front would be a request.
func roff(s string) string {
	s = strings.NewReplacer(`\`, `\e`, "-", `\-`, "…", "...").Replace(s)
	lines := strings.Split(s, "\n")
	for i, l := range lines {
		if strings.HasPrefix(l, ".") || strings.HasPrefix(l, "'") {
			lines[i] = `\&` + l
		}
	}
	return strings.Join(lines, "\n")
}
