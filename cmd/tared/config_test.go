package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
)

func configFrom(text string) (settings, error) {
	d, err := parseTOML("tared.toml", strings.NewReader(text))
	if err != nil {
		return settings{}, err
	}
	return d.settings()
}

func TestConfigFile(t *testing.T) {
	s, err := configFrom(`
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
`)
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
		"open string":      {"listen = \"a\n", "want a text in quotes"},
		"bad scale":        {"[[scale]]\nname = \"bench\"\nport = \"/dev/ttyUSB0\"\nstep = \"0.1\"\n", "the scale in line 1"},
		"smuggled keys":    {"[[scale]]\nname = \"a,port=/dev/null\"\n", "without a comma"},
		"same name twice":  {"[[scale]]\nname=\"a\"\nport=\"/dev/x\"\n[[scale]]\nname=\"a\"\nport=\"/dev/y\"\n", `two scales are called "a"`},
		"same port twice":  {"[[scale]]\nname=\"a\"\nport=\"/dev/x\"\n[[scale]]\nname=\"b\"\nport=\"/dev/x\"\n", "two scales are on port /dev/x"},
		"format key":       {"[[format]]\ncolour = 'x'\n", "line 2: a format has no key"},
		"format kind":      {"[[format]]\nstable = 'S'\n", "line 2: stable: want a list"},
		"format lines":     {"[[format]]\nlines = [\"8N1\"]\n", "9600 8N1"},
		"format expr":      {"[[format]]\nname = \"a\"\nexpr = '('\n", "the format in line 1"},
		"open literal":     {"listen = 'a\n", "a single quote is not closed"},
		"nothing behind =": {"data =\n", "nothing stands behind"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := configFrom(c.text)
			require.Error(t, err)
			assert.Contains(t, err.Error(), c.says)
			assert.Contains(t, err.Error(), "tared.toml")
			assert.Equal(t, exitConfig, exitCode(err))
		})
	}
}

const ownFormat = `[[format]]
name = "our-old-scale"  # invented for tests
expr = 'W(?P<stable>[ ?]) (?P<sign>[ -]) *(?P<number>[0-9]+\.[0-9]) (?P<unit>g|kg)'
overload = 'W.  *OVER'
stable = [" "]
moving = ["?"]
lines = ["4800 7E1"]
`

func TestOwnFormat(t *testing.T) {
	t.Parallel()
	s, err := configFrom(ownFormat + "[[scale]]\nname = \"old\"\nport = \"/dev/ttyS9\"\nformat = \"our-old-scale\"\n")
	require.NoError(t, err)
	require.Len(t, s.formats, 1)
	assert.Equal(t, 4800, s.formats[0].Lines[0].Baud)
	assert.Equal(t, 7, s.formats[0].Lines[0].Bits)
	require.Len(t, s.scales, 1)
	assert.NoError(t, s.scales[0].Check())

	file := writeFile(t, "formats.toml", ownFormat)
	got := runTared(t, "W  - 12.5 g\r\nW?   13.0 g\r\nW   OVER\r\n", "decode", "--formats", file, "--format", "our-old-scale")
	assert.Equal(t, exitDone, got.code, got.err)
	assert.Contains(t, got.out, `"value":"-12.5","unit":"g","stable":true`)
	assert.Contains(t, got.out, `"value":"13.0","unit":"g","stable":false`)
	assert.Contains(t, got.out, `"status":"overload"`)
	got = runTared(t, "", "formats", "--formats", file)
	assert.Contains(t, got.out, "our-old-scale")
	got = runTared(t, "", "formats", "--formats", writeFile(t, "bad.toml", "[[format]]\n"))
	assert.Equal(t, exitConfig, got.code)
}

// Whatever stands in the file, it is understood or refused with the file's name.
func FuzzConfig(f *testing.F) {
	f.Add(ownFormat)
	f.Add("listen = \"a\" # b\nnames = [\"a\", 'b']\n[[scale]]\nport = \"eye\"\nstep = \"1g\"\n")
	f.Add("pair = true\ndata = 'x'\n[[scale]]\nbaud = 9600\n")
	f.Fuzz(func(t *testing.T, text string) {
		if _, err := configFrom(text); err != nil {
			assert.Contains(t, err.Error(), "tared.toml")
			assert.Equal(t, exitConfig, exitCode(err))
		}
	})
}
