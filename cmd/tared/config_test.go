package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
)

func TestConfigFile(t *testing.T) {
	s, err := parseConfig("tared.toml", strings.NewReader(`
# the bath house workshop
listen = "0.0.0.0:7410"   # the tablet on the wall
names = ["glaze.local", "glaze"]
pair = true

[[scale]]
name = "bench"
port = "/dev/ttyUSB0"
baud = 9600
step = "0.1g"
max = "2000g"

[[scale]] # read by eye
name = "fine"
port = "eye"
step = "0.01g"
`))
	require.NoError(t, err)
	assert.Equal(t, "0.0.0.0:7410", s.listen)
	assert.Equal(t, []string{"glaze.local", "glaze"}, s.names)
	assert.True(t, s.pair)
	require.Len(t, s.scales, 2)
	assert.Equal(t, "bench", s.scales[0].Name)
	assert.Equal(t, 9600, s.scales[0].Baud)
	assert.Equal(t, 100*protocol.Milligram, s.scales[0].Step)
	assert.True(t, s.scales[1].ByEye())
}

func TestConfigFileRefuses(t *testing.T) {
	for name, c := range map[string]struct{ text, says string }{
		"unknown key":      {"colour = \"blue\"\n", `line 1: there is no key "colour"`},
		"unknown table":    {"[web]\n", "line 1: [web] is not a table"},
		"no equals sign":   {"\nlisten\n", `line 2: "listen" is not key = value`},
		"bare text":        {"listen = localhost\n", "put a text in quotes"},
		"twice":            {"listen = \"a\"\nlisten = \"b\"\n", "line 2: listen was given before"},
		"wrong kind":       {"names = \"glaze\"\n", "names: want a list"},
		"a number":         {"data = 5\n", "want a text in quotes"},
		"two values":       {"listen = \"a\" \"b\"\n", "one value a line"},
		"open list":        {"names = [\"a\" \"b\"]\n", "want a list on one line"},
		"open string":      {"listen = \"a\n", "double quotes"},
		"bad scale":        {"[[scale]]\nname = \"bench\"\nport = \"/dev/ttyUSB0\"\nstep = \"0.1\"\n", "the scale in line 1"},
		"smuggled keys":    {"[[scale]]\nname = \"a,port=/dev/null\"\n", "without a comma"},
		"same name twice":  {"[[scale]]\nname=\"a\"\nport=\"/dev/x\"\n[[scale]]\nname=\"a\"\nport=\"/dev/y\"\n", `two scales are called "a"`},
		"same port twice":  {"[[scale]]\nname=\"a\"\nport=\"/dev/x\"\n[[scale]]\nname=\"b\"\nport=\"/dev/x\"\n", "two scales are on port /dev/x"},
		"nothing behind =": {"data =\n", "nothing stands behind"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := parseConfig("tared.toml", strings.NewReader(c.text))
			require.Error(t, err)
			assert.Contains(t, err.Error(), c.says)
			assert.Contains(t, err.Error(), "tared.toml")
			assert.Equal(t, exitConfig, exitCode(err))
		})
	}
}
