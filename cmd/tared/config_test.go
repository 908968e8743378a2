package main

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
)

func TestConfigFile(t *testing.T) {
	s, err := parseConfig("tared.toml", `
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
	assert.EqualValues(t, "0.0.0.0:7410", s.Listen)
	assert.EqualValues(t, []string{"glaze.local", "glaze"}, s.Names)
	assert.EqualValues(t, true, s.Pair)
	scales, err := (&scaleFlags{configured: s.lists()["scale"]}).parse(false)
	require.NoError(t, err)
	require.Len(t, scales, 2)
	assert.Equal(t, "bench", scales[0].Name)
	assert.Equal(t, 9600, scales[0].Baud)
	assert.Equal(t, 100*protocol.Milligram, scales[0].Step)
	assert.True(t, scales[1].ByEye())
}

func TestConfigFileRefuses(t *testing.T) {
	for name, c := range map[string]struct{ text, says string }{
		"unknown key":      {"colour = \"blue\"\n", `line 1: there is no key "colour": use listen, `},
		"unknown table":    {"\n[web]\n", "line 2: [web] is not a table that is known here: use [[scale]] or [[format]], once for each"},
		"unknown tables":   {"[[web]]\nport = 1\n", "line 1: [web] is not a table that is known here"},
		"one scale only":   {"\n[scale]\nname = \"bench\"\n", "line 2: [scale] is not a table that is known here: use [[scale]]"},
		"one format only":  {"[format]\nname = \"a\"\n", "line 1: [format] is not a table that is known here"},
		"no equals sign":   {"\nlisten\n", `line 2: a line is key = value`},
		"bare text":        {"listen = localhost\n", "line 1: listen: put the text in quotes"},
		"twice":            {"listen = \"a\"\nlisten = \"b\"\n", "line 2: listen: was given before: keep one of them"},
		"wrong kind":       {"names = \"glaze\"\n", "line 1: names: give a list of texts"},
		"wrong kind in it": {"names = [\"a\", 1]\n", "line 1: names: give a list of texts"},
		"a number":         {"data = 5\n", "line 1: data: put the text in quotes"},
		"no yes or no":     {"pair = \"yes\"\n", "line 1: pair: say true or false"},
		"two values":       {"listen = \"a\" \"b\"\n", "one value per line"},
		"open list":        {"names = [\"a\" \"b\"]\n", "put a comma between the values of a list"},
		"open string":      {"listen = \"a\n", "the quotes are not closed"},
		"bad address":      {"# here\nlisten = \"here\"\n", `line 2: listen: "here": not an address: write it as 127.0.0.1:7410`},
		"bad water":        {"water = \"wet\"\n", "line 1: water: "},
		"bad confirm":      {"confirm = \"all\"\n", "line 1: confirm: "},
		"bad url":          {"url = \"phone\"\n", `line 1: url: "phone": not an address of a page`},
		"bad proxy":        {"\ntrusted_proxies = [\"10.0.0.0/24\", \"box\"]\n", "line 2: trusted_proxies: “box” is no address and no network"},
		"bad scale":        {"[[scale]]\nname = \"bench\"\nport = \"/dev/ttyUSB0\"\nstep = \"0.1\"\n", "the scale in line 1"},
		"bad second scale": {"[[scale]]\nport = \"eye\"\nname=\"eye\"\nstep=\"1g\"\n[[scale]]\nname = \"bench\"\ncolour = \"blue\"\n", "the scale in line 5"},
		"smuggled keys":    {"[[scale]]\nname = \"a,port=/dev/null\"\n", "line 2: name: give one value in quotes, without a comma"},
		"a list":           {"[[scale]]\nname = [\"a\"]\n", "line 2: name: give one value in quotes"},
		"same name twice":  {"[[scale]]\nname=\"a\"\nport=\"/dev/x\"\n[[scale]]\nname=\"a\"\nport=\"/dev/y\"\n", `two scales are called "a": give each a name of its own`},
		"same port twice":  {"[[scale]]\nname=\"a\"\nport=\"/dev/x\"\n[[scale]]\nname=\"b\"\nport=\"/dev/x\"\n", "two scales are on port /dev/x: a port has one scale"},
		"format key":       {"[[format]]\ncolour = 'x'\n", `line 2: a format has no key "colour": use name, summary, `},
		"format kind":      {"[[format]]\nstable = 'S'\n", "line 2: stable: give a list of texts"},
		"format text":      {"[[format]]\nname = 'a'\nend = 5\n", "line 3: end: put the text in quotes"},
		"format lines":     {"[[format]]\nlines = [\"8N1\"]\n", `line 2: lines: write each as "9600 8N1"`},
		"format units":     {"[[format]]\nunits = [\"gr\"]\n", `line 2: units: write each as "gr=g"`},
		"format expr":      {"[[format]]\nname = \"a\"\nexpr = '('\n", "the format in line 1"},
		"open literal":     {"listen = 'a\n", "the quotes are not closed"},
		"nothing behind =": {"data =\n", "line 1: data: nothing comes after the ="},
	} {
		t.Run(name, func(t *testing.T) {
			f, err := parseConfig("tared.toml", c.text)
			if err == nil && len(f.faults) > 0 {
				err = f.faults[0] // of one scale
			}
			require.Error(t, err)
			assert.Contains(t, err.Error(), c.says)
			assert.Contains(t, err.Error(), "tared.toml")
			assert.Equal(t, exitConfig, exitCode(err))
		})
	}
}

// Every command that has a scale or a data directory takes the same file, and its
// flags go before what the file says.
func TestEveryCommandReadsTheFile(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	recipe := writeFile(t, "recipe.txt", "Quartz 60\nWhiting 40\n")
	file := writeFile(t, "tared.toml", "data = \""+dir+"\"\nwater = \"80%\"\nconfirm = \"typed\"\n"+
		"[[scale]]\nname = \"wall\"\nport = \"/dev/ttyS8\"\nstep = \"0.5g\"\nmax = \"3000g\"\n")
	got := runTared(t, "", "plan", recipe, "--base", "100g", "--config", file)
	require.Equal(t, exitDone, got.code, got.err)
	assert.Contains(t, got.out, "wall")
	assert.Contains(t, got.out, "80.0 g of water", "the studio's habit counts for a plan too")
	got = runTared(t, "", "plan", recipe, "--base", "100g", "--config", file, "--scale", "name=fine,step=0.01g,max=500g", "--water", "none")
	require.Equal(t, exitDone, got.code, got.err)
	assert.NotContains(t, got.out, "wall")
	assert.NotContains(t, got.out, "of water")
	got = runTared(t, "", "verify", "--config", file)
	assert.Contains(t, got.err, dir)
	other := t.TempDir()
	got = runTared(t, "", "record", "--config", file, "--data", other)
	assert.Contains(t, got.err, other)
	got = runTared(t, "", "scales", "--config", file, "--zero", "fine")
	assert.Contains(t, got.err, "called fine", "a check looks among the scales of the file")
	got = runTared(t, "", "serve", "--config", writeFile(t, "bad.toml", "listen = \"here\"\n[[scale]]\nname=\"a\"\nport=\"eye\"\n"))
	assert.Equal(t, exitConfig, got.code, got.err)
	assert.Contains(t, got.err, "bad.toml, line 1: listen")
	for _, name := range []string{"weigh", "stock", "water", "fire", "judge", "vessel", "correct", "strike", "label", "export", "import", "backup", "restore", "recipe"} {
		got := runTared(t, "", name, "--help")
		assert.Contains(t, got.out, "--config", name)
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
	s, err := parseConfig("tared.toml", ownFormat+"[[scale]]\nname = \"old\"\nport = \"/dev/ttyS9\"\nformat = \"our-old-scale\"\n")
	require.NoError(t, err)
	require.Len(t, s.formats, 1)
	assert.Equal(t, 4800, s.formats[0].Lines[0].Baud)
	assert.Equal(t, 7, s.formats[0].Lines[0].Bits)
	require.Len(t, s.specs, 1)

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
		if _, err := parseConfig("tared.toml", text); err != nil {
			assert.Contains(t, err.Error(), "tared.toml")
			assert.Equal(t, exitConfig, exitCode(err))
		}
	})
}
