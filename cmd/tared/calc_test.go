package main

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/calc"
)

// The worked example in the help of every topic is run as it stands there, and
// must give what stands there.
func TestCalcHelpHoldsWhatItShows(t *testing.T) {
	t.Parallel()
	for _, topic := range calc.Topics() {
		t.Run(topic.Name, func(t *testing.T) {
			code, help, errs := tared(t, "calc", topic.Name, "--help")
			require.Equal(t, exitDone, code, errs)
			lines := strings.Split(help, "\n")
			shown := 0
			for i, l := range lines {
				if !strings.HasPrefix(l, "Worked example (") {
					continue
				}
				shown++
				args := strings.Fields(strings.TrimPrefix(lines[i+1], "  tared "))
				code, out, errs := tared(t, args...)
				require.Equal(t, exitDone, code, errs)
				first, _, _ := strings.Cut(out, "\n")
				assert.Equal(t, strings.TrimSpace(lines[i+2]), first)
				_, asJSON, _ := tared(t, append(args, "--json")...)
				assert.Equal(t, strings.TrimSpace(lines[i+3]), strings.TrimSpace(asJSON))
			}
			assert.Equal(t, len(topic.Forms), shown)
			for _, f := range topic.Forms {
				for _, words := range append(append([]string{}, f.Formula...), f.Source...) {
					assert.Contains(t, help, words)
				}
			}
		})
	}
}

func TestCalcListsItsTopics(t *testing.T) {
	t.Parallel()
	got := runTared(t, "", "calc")
	assert.Equal(t, exitDone, got.code, got.err)
	asJSON := runTared(t, "", "calc", "--json")
	lines := strings.Split(strings.TrimSpace(asJSON.out), "\n")
	require.Len(t, lines, len(calc.Topics()))
	for i, topic := range calc.Topics() {
		assert.Contains(t, got.out, "tared calc "+topic.Name+" ")
		var l struct {
			Topic string
			Usage []string
		}
		require.NoError(t, json.Unmarshal([]byte(lines[i]), &l))
		assert.Equal(t, topic.Name, l.Topic)
		assert.Len(t, l.Usage, len(topic.Forms))
	}
}

func TestCalcAnswersAPersonWithTheAnswerFirst(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ args, says string }{
		{"least step=0.1g share=2% spread=0.03g", "For 2 %, weigh no less than 5.067 g"},
		{"aliquot need=2mg least=120mg times=60 take=125mg", "Weigh 0.12 g, 60 times what is needed; mix it into 7.38 g"},
		{"slip gravity=1,5 solid=2,5", "A litre holds 833.333 g dry and 666.667 g of water."},
		{"water dry=5kg gravity=1.6 solid=2.6", "3205.128 g of water"},
		{"thin volume=10l gravity=1.6 to=1.45", "3333.333 g of water"},
		{"metal from=MnO2 to=MnCO3 mass=1g", "1.322 g of MnCO3"},
		{"moisture need=1kg wet_basis=3%", "Weigh 1030.928 g"},
		{"parts 30 25 20 30 10 --places 1", "In percent: 26.1, 21.7, 17.4, 26.1, 8.7; together exactly 100."},
		{"blend corners=3 steps=4", "A blend of 3 corners in 4 steps has 15 points, 3 of them"},
		{"limits class=III interval=0.1g load=50.1g", "At 50.1 g a class III scale"},
	} {
		got := runTared(t, "", append([]string{"calc"}, strings.Fields(c.args)...)...)
		assert.Equal(t, exitDone, got.code, got.err)
		assert.True(t, strings.HasPrefix(got.out, c.says), "%s: %s", c.args, got.out)
	}
}

func TestCalcRefusesByExitCode(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		args string
		code int
		says string
	}{
		{"leest step=0.1g", exitUsage, "did you mean least?"},
		{"tonnage", exitUsage, "take one of least, doubt, aliquot"},
		{"least", exitUsage, "share=2%"},
		{"least step=0.1g 2%", exitUsage, `"2%": give a name, an equals sign`},
		{"least step=0.1g share=2% --places 3", exitUsage, "--places is not a flag"},
		{"least step=1,234g share=2%", exitUsage, "two ways"},
		{"parts", exitUsage, "amounts"},
		{"parts 30 20 --places two", exitUsage, "not a number"},
		{"parts 30 20 -x", exitUsage, "is not a flag"},
		{"parts 30 -5", exitFailed, "negative"},
		{"parts 30 0", exitFailed, "leave it out"},
		{"least step=0.1g share=0%", exitFailed, "more than zero"},
		{"moisture need=1kg wet_basis=100%", exitFailed, "less than 100 %"},
		{"metal from=Cr2O3 to=K2Cr2O7", exitFailed, "chromium(VI)"},
		{"aliquot need=2mg least=120mg times=10", exitFailed, "Use 60 times or more"},
		{"blend corners=1 steps=4", exitFailed, "nothing to blend with"},
	} {
		t.Run(c.args, func(t *testing.T) {
			for _, more := range [][]string{nil, {"--json"}} {
				code, out, errs := tared(t, append(append([]string{"calc"}, strings.Fields(c.args)...), more...)...)
				assert.Equal(t, c.code, code, errs)
				assert.Contains(t, strings.ReplaceAll(errs, `\"`, `"`), c.says)
				if more == nil {
					assert.Contains(t, errs, "tared calc")
				}
				assert.Empty(t, out)
			}
		})
	}
}
