package main

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Six batches of one recipe through the real program, on a balance read by eye,
// one of them with too much of a strong colourant, kept as it was. 'tared record'
// of all six finds it; of the other five it says nothing.
func TestRecordComparesBatches(t *testing.T) {
	t.Parallel()
	recipe := writeFile(t, "recipe.txt", "# Bath green, invented for tests\nQuartz 60\nWhiting 40\n+ Chromium oxide 2\n")
	dir := t.TempDir()
	var marks []string
	for k, w := range [][3]string{{"180.02", "119.81", "6.02"}, {"179.55", "120.31", "5.96"}, {"180.40", "120.00", "6.05"}, {"180.11", "119.92", "6.91"}, {"180.00", "120.02", "6.00"}, {"179.90", "120.12", "5.99"}} {
		words := fmt.Sprintf("yes Mara\ntyped %sg\ntyped %sg\ntyped %sg\n", w[0], w[1], w[2])
		if k == 3 {
			words += "keep\n"
		}
		got := runTared(t, words, "weigh", recipe, "--base", "300g", "--scale", "name=old,port=eye,step=0.01g,max=2000g", "--data", dir, "--json")
		require.Equal(t, exitDone, got.code, got.out+got.err)
		mark := regexp.MustCompile(`"kind":"planned","batch":"([^"]+)"`).FindStringSubmatch(got.out)
		require.NotNil(t, mark, got.out)
		marks = append(marks, mark[1])
	}
	var c struct {
		Explains bool
		Verdict  string
		Causes   []struct {
			Material, Words string
			Weighing        bool
		}
	}
	got := runTared(t, "", append([]string{"record", "--data", dir, "--json"}, marks...)...)
	require.Equal(t, exitDone, got.code, got.err)
	require.NoError(t, json.Unmarshal([]byte(got.out), &c))
	assert.True(t, c.Explains)
	// 6.91 g of 300.03 g is 2.303 %; the others lie from 1.989 to 2.014 %.
	assert.Regexp(t, "^Yes. "+marks[3]+` is the odd one out: its Chromium oxide differs by 0\.2\d % to 0\.3\d % of the base from (\w+, ){4}\w+\. There is more of it in `+marks[3]+"[.]$", c.Verdict)
	for _, x := range c.Causes {
		assert.Equal(t, x.Material == "Chromium oxide", x.Weighing, x.Words)
	}
	rest := append(append([]string{}, marks[:3]...), marks[4:]...)
	got = runTared(t, "", append([]string{"record", "--data", dir}, rest...)...)
	require.Equal(t, exitDone, got.code, got.err)
	assert.Contains(t, got.out, "\nNo: ")
	assert.NotContains(t, got.out, "\nYes.")
	assert.NotContains(t, got.out, "stands apart")

	got = runTared(t, "", "record", "--data", dir, "--find", "chromium oxide > 2.2%", "--json")
	require.Equal(t, exitDone, got.code, got.err)
	assert.Equal(t, 1, strings.Count(got.out, "\n"))
	assert.Contains(t, got.out, marks[3])

	for _, bad := range [][]string{{marks[0], marks[0]}, {marks[0], marks[1], "--find", "quartz"}, {"--find", "quartz >"}} {
		got = runTared(t, "", append([]string{"record", "--data", dir}, bad...)...)
		assert.Equal(t, exitUsage, got.code, got.err)
	}
	got = runTared(t, "", "record", marks[0], "nobody", "--data", dir)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, "no batch ")
}

// A weight that was typed waits for a second person where the workshop asks for
// that, and the record has both names, on the page without them neither.
func TestWeighAsksForASecondPerson(t *testing.T) {
	t.Parallel()
	recipe := writeFile(t, "recipe.txt", "# Bath white, invented for tests\nQuartz 60\nWhiting 40\n")
	dir := t.TempDir()
	args := []string{"weigh", recipe, "--base", "300g", "--scale", "name=old,port=eye,step=0.1g,max=2000g", "--data", dir, "--confirm", "typed"}
	got := runTared(t, "yes Mara\ntyped 180.0g\nyes Mara\nyes Jonas\ntyped 120.0g\nyes Jonas\n", args...)
	require.Equal(t, exitDone, got.code, got.out+got.err)
	assert.Contains(t, got.out, "Second person: 180.0 g of Quartz went in, typed")
	assert.Contains(t, got.out+got.err, "Somebody else has to look")
	list := runTared(t, "", "record", "--data", dir)
	mark := strings.Fields(strings.Split(list.out, "\n")[1])[0]
	page := runTared(t, "", "export", mark, "--data", dir).out
	assert.Contains(t, page, "Typed by Mara.<br>Confirmed by Jonas.")
	page = runTared(t, "", "export", mark, "--data", dir, "--without", "names").out
	assert.NotContains(t, page, "Jonas")
	assert.NotContains(t, page, "Mara")
	got = runTared(t, "", append(args[:len(args)-1:len(args)-1], "everything")...)
	assert.Equal(t, exitUsage, got.code, got.err)
}
