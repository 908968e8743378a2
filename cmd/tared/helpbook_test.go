package main

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/text"
	"tared/web/help"
)

var (
	commandLine = regexp.MustCompile(`\btared ([a-z]+)((?: [^\n` + "`" + `'|]*)?)`)
	flagNamed   = regexp.MustCompile(`--[a-z][a-z-]*`)
	inCode      = regexp.MustCompile("`[^`\n]+`|(?m)^ {4,}.*$")
)

// The help names no command and no flag that does not exist.
func TestHelpNamesWhatExists(t *testing.T) {
	root := newRoot()
	flags := map[string]bool{"--help": true, "--lang": true, "--version": true, "--install": false}
	for _, c := range root.Commands() {
		for _, f := range flagNamed.FindAllString(c.Flags().FlagUsages(), -1) {
			flags[f] = true
		}
	}
	foreign := regexp.MustCompile(`^(systemctl|sudo (apt|usermod|systemctl|modprobe|timedatectl|chmod|udevadm))`)
	for _, topic := range helpBook(newRoot()).Topics(text.English) {
		for _, piece := range inCode.FindAllString(topic.Text, -1) {
			piece = strings.Trim(piece, "` ")
			if foreign.MatchString(piece) {
				continue
			}
			for _, m := range commandLine.FindAllStringSubmatch(piece, -1) {
				cmd, _, err := root.Find([]string{m[1]})
				if !assert.NoError(t, err, "%s: %s", topic.Name, piece) || cmd == root {
					t.Errorf("%s: %q: there is no command %s", topic.Name, piece, m[1])
					continue
				}
				for _, f := range flagNamed.FindAllString(m[2], -1) {
					assert.True(t, hasFlag(cmd, f), "%s: %q: %s has no %s", topic.Name, piece, m[1], f)
				}
			}
			for _, f := range flagNamed.FindAllString(piece, -1) {
				assert.True(t, flags[f] || hasFlag(root, f), "%s: %q: no command has %s", topic.Name, piece, f)
			}
		}
		assert.NotContains(t, topic.Text, "{{", "%s: a part is not made", topic.Name)
	}
}

func hasFlag(cmd *cobra.Command, flag string) bool {
	name := strings.TrimPrefix(flag, "--")
	return cmd.Flags().Lookup(name) != nil || cmd.InheritedFlags().Lookup(name) != nil || name == "help"
}

// What is made from tables has all of them.
func TestHelpIsMadeOfTheTables(t *testing.T) {
	b := helpBook(newRoot())
	for name, wants := range map[string]func() []string{
		"my-scale": func() (all []string) {
			for _, f := range protocol.All() {
				all = append(all, "## "+f.Name+" {#", "    "+f.Example)
			}
			return all
		},
		"journal": func() (all []string) {
			for _, k := range fact.Kinds {
				all = append(all, "| `"+k.Name+"` |")
			}
			return all
		},
		"configuration": func() (all []string) {
			for _, s := range (settings{}).report(settingsCommand().Flags()).Settings {
				all = append(all, "| `"+s.Key+"` |")
			}
			for _, c := range commands() {
				all = append(all, "| `tared "+c.Name()+"` |")
			}
			return all
		},
	} {
		topic, ok := b.Topic(text.English, name)
		require.True(t, ok)
		for _, want := range wants() {
			if want != "| `scale` |" { // it is a table of its own
				assert.Contains(t, topic.Text, want)
			}
		}
	}
	topic, _ := b.Topic(text.English, "my-scale")
	assert.Contains(t, string(topic.HTML()), `<h2 id="header-comma">`)
}

// An error whose mend the help tells more of says where, and that place is there.
func TestErrorsLeadToTheHelp(t *testing.T) {
	t.Parallel()
	got := runTared(t, "", "verify", "/no/such/file")
	assert.Contains(t, got.err, "More: 'tared help files'")
	got = runTared(t, "", "help", "files")
	assert.Equal(t, exitDone, got.code, got.err)
	assert.Contains(t, got.out, "A file cannot be read or written")
	got = runTared(t, "", "help", "first-batch")
	assert.Contains(t, got.out, "This recipe is made up. Do not fire it.")
	got = runTared(t, "", "help")
	assert.Contains(t, got.out, "first-batch")
	mends := regexp.MustCompile(`(?m)^  "([a-z-]+-mend)"`)
	found, err := os.ReadFile("../../session/text/en/checkup.json")
	require.NoError(t, err)
	require.NotEmpty(t, mends.FindAll(found, -1))
	for _, m := range mends.FindAllSubmatch(found, -1) {
		assert.NotEmpty(t, help.Section("checkup."+string(m[1])), "%s is a mend and has no place in the help", m[1])
	}
	assert.Contains(t, manPage(newRoot(), edition{}), "tared help troubleshooting")
}
