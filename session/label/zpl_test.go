package label

import (
	"encoding/hex"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// field is one of a label, as a printer takes it: where, which commands, and its data.
type field struct {
	x, y     int
	commands string
	data     string
}

// taken reads ZPL as the guide has it: a caret begins a command, a tilde one that is done at
// once, whatever stands before; ^FD takes all up to the next caret; with ^FH_ an underscore
// and two digits are a byte. It is strict: what it does not know fails.
func taken(t require.TestingT, zpl string) (fields []field, setup map[string]string) {
	require.NotContains(t, zpl, "~")
	setup = map[string]string{}
	var now field
	hexed := false
	for i, c := range strings.Split(strings.ReplaceAll(zpl, "\n", ""), "^") {
		if i == 0 {
			require.Empty(t, c)
			continue
		}
		require.GreaterOrEqual(t, len(c), 2, zpl)
		name, rest := c[:2], c[2:]
		switch name {
		case "XA", "XZ", "CI", "PW", "LL", "LH", "PQ":
			setup[name] += rest + ";"
		case "FO":
			x, y, _ := strings.Cut(rest, ",")
			var err error
			now, hexed = field{}, false
			now.x, err = strconv.Atoi(x)
			require.NoError(t, err)
			now.y, err = strconv.Atoi(y)
			require.NoError(t, err)
		case "A0", "BQ":
			now.commands += name + rest
		case "FH":
			require.Equal(t, "_", rest)
			hexed = true
		case "FD":
			require.True(t, hexed)
			now.data = regexp.MustCompile(`_[0-9A-F]{2}`).ReplaceAllStringFunc(rest, func(s string) string {
				b, err := hex.DecodeString(s[1:])
				require.NoError(t, err)
				return string(b)
			})
		case "FS":
			fields = append(fields, now)
		default:
			require.Fail(t, "unknown command", "^%s", name)
		}
	}
	return fields, setup
}

// What the printer is told to write is what the SVG has, at the same places, and the code
// says the same.
func TestZPLSaysWhatTheSVGDoes(t *testing.T) {
	for dpi, per := range map[int]float64{203: 8, 300: 12} {
		zpl, err := invented.ZPL(105, 74, dpi, 2)
		require.NoError(t, err)
		fields, setup := taken(t, zpl)
		assert.Equal(t, map[string]string{"XA": ";", "XZ": ";", "CI": "28;", "LH": "0,0;", "PQ": "2;",
			"PW": strconv.Itoa(int(105*per)) + ";", "LL": strconv.Itoa(int(74*per)) + ";"}, setup)
		f := invented.fitted(105, 74)
		require.Len(t, fields, len(f.set)+1)
		assert.Equal(t, "MA,"+invented.Link, fields[0].data, "M is the level of correction, A that the printer finds the mode")
		m := regexp.MustCompile(`^BQN,2,(\d+)$`).FindStringSubmatch(fields[0].commands)
		require.NotNil(t, m)
		module, _ := strconv.Atoi(m[1])
		assert.GreaterOrEqual(t, float64(module)/per, 0.33, "mm for each module: a phone reads it")
		for i, s := range f.set {
			assert.Equal(t, s.words, fields[i+1].data)
			assert.InDelta(t, s.y-s.size*0.75, float64(fields[i+1].y)/per, 1/per)
			assert.Less(t, fields[i+1].y, int(74*per))
			assert.GreaterOrEqual(t, fields[i+1].y, int(4*per))
		}
	}
}

// No text of a label can end its field or begin a command: whatever it holds is written.
func TestZPLTakesAnyText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := invented
		l.Title = "x" + rapid.StringOf(rapid.SampledFrom([]rune("ab^~_\\\n\r\t\x00,5Eäß€"))).Draw(t, "title")
		l.Lines = []string{rapid.StringOf(rapid.SampledFrom([]rune("^XZ~JR_5E^FD"))).Draw(t, "line")}
		zpl, err := l.ZPL(105, 74, 203, 1)
		require.NoError(t, err)
		fields, setup := taken(t, zpl)
		require.Equal(t, ";", setup["XZ"])
		require.Equal(t, "1;", setup["PQ"])
		clean := func(s string) string {
			return strings.Map(func(r rune) rune {
				if r < ' ' {
					return ' '
				}
				return r
			}, s)
		}
		for i, s := range l.fitted(105, 74).set {
			require.Equal(t, clean(s.words), fields[i+1].data)
		}
	})
}

func TestZPLRefuses(t *testing.T) {
	_, err := invented.ZPL(105, 74, 600, 1)
	require.ErrorContains(t, err, "600")
	_, err = invented.ZPL(30, 20, 203, 1)
	require.ErrorContains(t, err, "30")
}
