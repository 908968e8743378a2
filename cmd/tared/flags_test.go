package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// rubbish is what no flag that takes a value of a kind can mean.
const rubbish = "?!rubbish"

// Flags whose values are words of a person, taken as they are.
var freeText = strings.Fields("by note reason name supplier kiln cone hold atmosphere tile clay coats thickness place words tag verdict next find without link of add printer code token")

// Flags that name a file or a directory, and what of it is asked for.
var namesFile = strings.Fields("analyses bundle config curve formats materials out photo recipe save data root tls-cert tls-key backup-dir")

// inOrder is what each command needs besides the flag that is looked at.
func inOrder(t *testing.T) map[string][]string {
	recipe := writeFile(t, "tidewrack.txt", tidewrack)
	bench := "--scale=name=bench,port=/dev/null,step=0.1g,max=2000g"
	kept := keptBatch(t)
	require.Equal(t, exitDone, runTared(t, "", "recipe", "--save", recipe, "--name=Tidewrack", "--by=Mara", "--data", kept).code)
	dir, empty := "--data="+kept, "--data="+t.TempDir()
	return map[string][]string{
		"demo": {}, "serve": {bench, empty}, "weigh": {recipe, bench, empty}, "scales": {empty},
		"plan": {recipe, bench, empty}, "water": {"260302a", "--by=Mara", dir}, "fire": {"260302a", "--by=Mara", "--kiln=small", dir}, "judge": {"260302a", "--by=Mara", dir},
		"correct": {"260302a", "--by=Mara", dir}, "strike": {"260302a", "--by=Mara", dir}, "vessel": {"cup", "--by=Mara", dir}, "label": {"260302a", dir}, "export": {"260302a", dir},
		"import": {recipe, dir}, "stock": {"--by=Mara", dir}, "recipe": {"Tidewrack", dir}, "checkup": {bench, empty}, "settings": {bench, empty}, "record": {dir}, "verify": {dir}, "oxides": {"260302a", dir},
		"backup": {recipe}, "restore": {recipe},
	}
}

// with is what a flag needs beside it.
var with = map[string][]string{
	"weigh --steps": {"--cup=100g"}, "weigh --blend": {"--cup=100g", "--vary=Rutile=1 2"}, "weigh --spare": {"--cup=100g", "--vary=Rutile=1 2"}, "weigh --vary": {"--cup=100g"}, "weigh --swap": {"--cup=100g"},
	"stock --amount": {"--add=Quartz"}, "stock --opened": {"--add=Quartz", "--amount=25kg"}, "stock --moisture": {"--add=Quartz", "--amount=25kg"}, "stock --price": {"--add=Quartz", "--amount=25kg"},
	"stock --in": {"--mix=Cobalt sulfate=8.0g"}, "stock --mix": {"--in=Quartz=312.0g"},
	"water --volume": {"--sample=148.7g"}, "water --bottle": {"--sample=148.7g"}, "water --vessel": {"--sample=148.7g"}, "water --celsius": {"--sample=148.7g", "--bottle=99.8g"}, "water --sample": {"--volume=100ml"},
	"water --standard": {"--mesh=80"}, "water --mesh": {"--standard=US"}, "vessel --celsius": {"--water=99.8g"}, "vessel --water": {"--celsius=20"},
	"label --printer-as": {"--print", "--printer=cat"},
	"correct --weight":   {"--entry=3", "--reason=x"},
}

// Each wrong value of each flag of each command ends in 64, nothing on standard output, and a
// sentence that names the flag and the value.
func TestRubbishInAnyFlagIsNamed(t *testing.T) {
	alone(t)
	right := inOrder(t)
	for _, cmd := range newRoot().Commands() {
		if cmd.Name() == completionName {
			continue // our library's own
		}
		cmd.Flags().VisitAll(func(f *pflag.Flag) {
			if f.Hidden || f.Value.Type() == "bool" || contains(freeText, f.Name) || contains(namesFile, f.Name) {
				return
			}
			t.Run(cmd.Name()+" "+f.Name, func(t *testing.T) {
				refusesRubbish(t, cmd, f, right[cmd.Name()])
			})
		})
	}
}

func refusesRubbish(t *testing.T, cmd *cobra.Command, f *pflag.Flag, right []string) {
	key := cmd.Name() + " --" + f.Name
	key = strings.Replace(key, "plan --", "weigh --", 1)
	args := append([]string{cmd.Name()}, right...)
	args = append(args, with[key]...)
	if (cmd.Name() == "weigh" || cmd.Name() == "plan") && !strings.Contains(strings.Join(args, " "), "--cup") && !contains([]string{"base", "dry", "wet", "cup"}, f.Name) {
		args = append(args, "--base=750g")
	}
	code, out, errs := tared(t, append(args, "--"+f.Name+"="+rubbish)...)
	assert.Equal(t, exitUsage, code, "%s\n%s%s", args, out, errs)
	assert.Contains(t, errs, "--"+f.Name, "the flag is not named")
	assert.Contains(t, errs, rubbish, "the value is not named")
	assert.Empty(t, out)
	notRaw(t, errs)
}

// notRaw holds that no text of a library reaches a person.
func notRaw(t *testing.T, said string) {
	t.Helper()
	said = regexp.MustCompile(`(?m)^\{.*$`).ReplaceAllString(said, "") // the log
	for _, raw := range []string{"strconv.", "invalid syntax", "invalid argument", "no such file or directory", "permission denied", "open /", "parsing ", "%!"} {
		assert.NotContains(t, said, raw)
	}
}

func contains(all []string, s string) bool {
	for _, x := range all {
		if x == s {
			return true
		}
	}
	return false
}

// Each flag that names a file says of one that is not there which flag and which file, and what to do.
func TestAFileThatIsNotThereIsNamed(t *testing.T) {
	t.Parallel()
	right := inOrder(t)
	for _, cmd := range newRoot().Commands() {
		cmd.Flags().VisitAll(func(f *pflag.Flag) {
			if f.Hidden || !contains(namesFile, f.Name) || cmd.Name() == "serve" && contains([]string{"data", "backup-dir"}, f.Name) {
				return // a bench that cannot record, or copy its record, says so on its page, and goes on
			}
			t.Run(cmd.Name()+" "+f.Name, func(t *testing.T) {
				t.Parallel()
				args := append([]string{cmd.Name()}, right[cmd.Name()]...)
				switch {
				case cmd.Name() == "oxides" && f.Name == "recipe":
					args = []string{cmd.Name()}
				case cmd.Name() == "recipe" && f.Name == "save":
					args = []string{cmd.Name(), "--by=Mara", "--data=" + t.TempDir()}
				}
				if cmd.Name() == "weigh" || cmd.Name() == "plan" {
					args = append(args, "--base=750g")
				}
				if other := map[string]string{"tls-cert": "tls-key", "tls-key": "tls-cert"}[f.Name]; other != "" {
					args = append(args, "--"+other+"="+writeFile(t, "other.pem", ""))
				}
				gone := filepath.Join(t.TempDir(), "nowhere", "x")
				if f.Name == "data" {
					require.NoError(t, os.WriteFile(filepath.Dir(gone), nil, 0o600))
				}
				got := runTared(t, "", append(args, "--"+f.Name+"="+gone)...)
				notRaw(t, got.err)
				if got.code != exitDone && got.out == "" { // a look around says it in its list
					assert.Contains(t, []int{exitFailed, exitConfig}, got.code, got.err)
					assert.Contains(t, got.err, filepath.Base(filepath.Dir(gone)), "the file is not named")
				}
			})
		})
	}
}
