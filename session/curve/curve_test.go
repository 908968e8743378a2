package curve

import (
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestCurve(t *testing.T) {
	c, err := Parse("time,temperature\r\n0,20\r\n60;598.5\r\n90,1000\r\n")
	require.NoError(t, err)
	require.Len(t, c, 3)
	assert.Equal(t, "1000", Number(c.Hottest()))
	assert.Empty(t, c.Gaps(nil))
	svg := c.SVG(nil)
	assert.Contains(t, svg, "1.5 hours")
	assert.Equal(t, 1, strings.Count(svg[strings.LastIndex(svg, ` d="M`):], "M"), "one line without a hole")

	var log strings.Builder
	for m := 0; m <= 200; m += 10 {
		if m < 60 || m > 130 {
			log.WriteString(big.NewRat(int64(m), 1).RatString() + ",500\n")
		}
	}
	c, err = Parse(log.String())
	require.NoError(t, err)
	assert.Equal(t, []string{"No kiln readings from minute 50 to minute 140."}, c.Gaps(nil))
	svg = c.SVG(nil)
	assert.Equal(t, 2, strings.Count(svg[strings.LastIndex(svg, ` d="M`):], "M"), "the hole is not bridged")

	for text, words := range map[string]string{
		"":                         "at least two",
		"0,20":                     "at least two",
		"0,20\n60,":                "line 2",
		"0,20\n,600":               "the time is missing",
		"0,20\n60,hot":             "the temperature",
		"0,20\n0,30":               "goes back",
		"0,20\n60,600,1":           "give two numbers",
		"0,20\n60,3000":            "from -50 to 2000",
		"-5,20\n60,600":            "minutes must be",
		"<script>,20\n60,600":      "line 1",
		strings.Repeat("1", 1<<17): "longer than",
	} {
		_, err := Parse(text)
		assert.ErrorContains(t, err, words, "%.30q", text)
	}
}

func FuzzCurve(f *testing.F) {
	f.Add("0,20\n60,600\n90,1000")
	f.Add("t;c\n0;20,5\n1;21")
	f.Fuzz(func(t *testing.T, text string) {
		c, err := Parse(text)
		if err != nil {
			return
		}
		for i := 1; i < len(c); i++ {
			require.Positive(t, c[i].Minute.Cmp(c[i-1].Minute))
		}
		require.NotContains(t, c.SVG(nil), "script")
	})
}
