package main

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"tared/session/text"
)

//go:embed setup
var setupFiles embed.FS

// piece is a file that an installation on a machine is made of.
type piece struct {
	name  string
	about string                                    // in the help of cobra, so in English
	os    string                                    // for which system; "": any
	local string                                    // where it belongs when put there by hand; "": no one place
	deb   string                                    // where a Debian package has it; "": not in it
	keep  bool                                      // a file of that name that is there already stays
	make  func(root *cobra.Command) (string, error) // its text
}

func pieces() []piece {
	shipped := func(name string) func(*cobra.Command) (string, error) {
		return func(*cobra.Command) (string, error) {
			b, err := setupFiles.ReadFile("setup/" + name)
			return string(b), err
		}
	}
	completion := func(gen func(*cobra.Command, io.Writer) error) func(*cobra.Command) (string, error) {
		return func(root *cobra.Command) (string, error) {
			var b bytes.Buffer
			err := gen(root, &b)
			return b.String(), err
		}
	}
	all := []piece{
		{"unit", says("cli.piece-unit"), "linux", "/etc/systemd/system/tared.service", "/usr/lib/systemd/system/tared.service", false, shipped("tared.service")},
		{"rules", says("cli.piece-rules"), "linux", "/etc/udev/rules.d/70-tared.rules", "/usr/lib/udev/rules.d/70-tared.rules", false, shipped("70-tared.rules")},
		{"modules", says("cli.piece-modules"), "linux", "/etc/modules-load.d/tared.conf", "/usr/lib/modules-load.d/tared.conf", false, shipped("modules.conf")},
		{"settings", says("cli.piece-settings"), "linux", "/etc/tared/tared.toml", "/usr/share/tared/tared.toml", true, shipped("tared.toml")},
		{"bash", says("cli.piece-bash"), "linux", "/etc/bash_completion.d/tared", "/usr/share/bash-completion/completions/tared", false,
			completion(func(c *cobra.Command, w io.Writer) error { return c.GenBashCompletionV2(w, true) })},
		{"zsh", says("cli.piece-zsh"), "linux", "/usr/local/share/zsh/site-functions/_tared", "/usr/share/zsh/vendor-completions/_tared", false, completion((*cobra.Command).GenZshCompletion)},
		{"fish", says("cli.piece-fish"), "linux", "/etc/fish/completions/tared.fish", "/usr/share/fish/vendor_completions.d/tared.fish", false,
			completion(func(c *cobra.Command, w io.Writer) error { return c.GenFishCompletion(w, true) })},
		{"launchd", says("cli.piece-launchd"), "darwin", "", "", false, shipped("launchd.plist")},
		{"windows", says("cli.piece-windows"), "windows", "", "", false, shipped("windows.txt")},
		{"man", says("cli.piece-man"), "linux", "/usr/local/share/man/man1/tared.1", "/usr/share/man/man1/tared.1", false, manOf("")},
	}
	for _, c := range commands() {
		n := c.Name()
		all = append(all, piece{"man-" + n, says("cli.piece-man-of", n), "linux", "/usr/local/share/man/man1/tared-" + n + ".1", "/usr/share/man/man1/tared-" + n + ".1", false, manOf(n)})
	}
	return all
}

func manOf(name string) func(*cobra.Command) (string, error) {
	return func(root *cobra.Command) (string, error) {
		describe(root, text.English.Plain()) // a man page is English, whatever the terminal speaks
		cmd := root
		if name != "" {
			cmd, _, _ = root.Find([]string{name})
		}
		return manPage(cmd, thisEdition()), nil
	}
}

func setupCommand() *cobra.Command {
	var root string
	var write, deb bool
	cmd := &cobra.Command{
		Use: "setup [PIECE…]",
		RunE: func(cmd *cobra.Command, args []string) error {
			var wanted []piece
			for _, p := range pieces() {
				if slices.Contains(args, p.name) || len(args) == 0 && (!write || p.os == runtime.GOOS && p.local != "") {
					wanted = append(wanted, p)
				}
			}
			for _, name := range args {
				if !slices.ContainsFunc(wanted, func(p piece) bool { return p.name == name }) {
					return usage(text.Refuse("setup.no-piece", text.Name("name", name)))
				}
			}
			switch {
			case write:
				return writePieces(cmd, wanted, root, deb)
			case len(args) == 0:
				return listPieces(cmd.OutOrStdout(), wanted, deb)
			}
			for _, p := range wanted {
				words, err := p.make(cmd.Root())
				if err == nil {
					_, err = io.WriteString(cmd.OutOrStdout(), words)
				}
				if err != nil {
					return err
				}
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&write, "write", false, "")
	cmd.Flags().StringVar(&root, "root", "/", "")
	cmd.Flags().BoolVar(&deb, "debian", false, "")
	_ = cmd.Flags().MarkHidden("debian")
	return cmd
}

// listPieces lists them; for the maker of a package, the names of those in it alone.
func listPieces(out io.Writer, all []piece, deb bool) error {
	if deb {
		for _, p := range all {
			if p.deb != "" {
				if _, err := fmt.Fprintln(out, p.name); err != nil {
					return err
				}
			}
		}
		return nil
	}
	t := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	for _, p := range all {
		if !strings.HasPrefix(p.name, "man-") { // one stands for all
			_, _ = fmt.Fprintf(t, "%s\t%s\t%s\n", p.name, p.about, p.local)
		}
	}
	return t.Flush()
}

// writePieces writes pieces below root. A file that is there already and is to stay does.
func writePieces(cmd *cobra.Command, all []piece, root string, deb bool) error {
	for _, p := range all {
		at := p.local
		if deb {
			at = p.deb
		}
		if at == "" {
			return usage(text.Refuse("setup.no-place", text.Name("name", p.name)))
		}
		words, err := p.make(cmd.Root())
		if err != nil {
			return err
		}
		file := filepath.Join(root, filepath.FromSlash(at))
		if p.name == "unit" && !deb {
			words = ownProgram(words)
		}
		switch err := putPiece(file, words, p.keep); {
		case errors.Is(err, fs.ErrPermission):
			return text.Kind(err, text.Refuse("setup.denied", text.Name("file", file)))
		case err != nil:
			return notWritten(file, err)
		}
		if !deb {
			if _, err := fmt.Fprintln(cmd.OutOrStdout(), language.Say(text.New("setup.wrote", text.Name("file", file)))); err != nil {
				return err
			}
		}
	}
	if deb {
		return nil
	}
	_, err := fmt.Fprintln(cmd.OutOrStdout(), language.Say(text.New("setup.next")))
	return err
}

// ownProgram has the unit start this very program.
func ownProgram(unit string) string {
	if self, err := os.Executable(); err == nil {
		return strings.Replace(unit, "ExecStart=/usr/bin/tared", "ExecStart="+self, 1)
	}
	return unit
}

func putPiece(file, words string, keep bool) error {
	if _, err := os.Stat(file); err == nil && keep {
		return nil
	}
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		return err
	}
	return replaceFile(file, []byte(words), 0o644)
}
