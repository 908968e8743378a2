package main

import (
	"bufio"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const captureDir = top + "/testdata/captures"

// decodeFlags turns the options that stand in a capture's notes into flags.
func decodeFlags(t *testing.T, notes string) (flags []string, whole bool) {
	t.Helper()
	for line := range strings.Lines(notes) {
		rest, ok := strings.CutPrefix(line, "Options:")
		if !ok {
			continue
		}
		for _, word := range strings.Fields(strings.ReplaceAll(rest, ",", " ")) {
			key, value, _ := strings.Cut(word, "=")
			switch key {
			case "blank":
				flags = append(flags, "--unit", value)
			case "midstream":
				flags = append(flags, "--midstream")
			case "parity":
				flags = append(flags, "--parity", map[string]string{"E": "even", "O": "odd"}[value])
			case "pairs":
				return nil, false // a rule of weighing; decode shows each frame
			default:
				require.Fail(t, "unknown option", word)
			}
		}
	}
	return flags, true
}

// TestDecodeReadsEveryCapture starts the program on each capture of every
// format and compares what it prints with the golden file beside it.
func TestDecodeReadsEveryCapture(t *testing.T) {
	paths, err := filepath.Glob(filepath.Join(captureDir, "*", "*.cap"))
	require.NoError(t, err)
	require.Greater(t, len(paths), 40, "the captures are not where they should be")
	for _, path := range paths {
		format := filepath.Base(filepath.Dir(path))
		t.Run(format+"/"+strings.TrimSuffix(filepath.Base(path), ".cap"), func(t *testing.T) {
			t.Parallel()
			b, err := os.ReadFile(path)
			require.NoError(t, err)
			notes, err := os.ReadFile(strings.TrimSuffix(path, ".cap") + ".txt")
			require.NoError(t, err)
			want, err := os.ReadFile(strings.TrimSuffix(path, ".cap") + ".golden")
			require.NoError(t, err)
			flags, whole := decodeFlags(t, string(notes))
			if !whole {
				t.Skip("this capture is about pairs")
			}
			got := runTared(t, string(b), append([]string{"decode", "--format", format}, flags...)...)
			assert.Equal(t, string(want), withoutText(got.out))
			understood := strings.Contains(string(want), `"status":`) && strings.Count(string(want), `"status":"invalid"`) < strings.Count(string(want), "\n")
			assert.Equal(t, understood, got.code == exitDone, "exit %d: %s", got.code, got.err)
		})
	}
}

func TestDecodeDetects(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, in, format string
		code             int
		says             string
	}{
		{"one format", "ST,GS,+011.120kg\r\nUS,GS,+011.130kg\r\n", "header-comma-mode", exitDone, ""},
		{"look-alikes", "=000.3000=000.3000=000.3000", "", exitFailed, "equals-reversed or --format equals-forward"},
		{"no scale", "good morning\r\n", "", exitFailed, "tared formats"},
		{"silence", "", "", exitFailed, "no byte"},
		{"line ends only", "\r\n\x00\r\n", "", exitFailed, "only line ends"},
		{"binary garbage", strings.Repeat("\x06\x91q\x82\xb3z\r\x17", 3000), "", exitFailed, "only few of the frames"},
		{"a print-out", "Gross\r\n    62.34 g \r\nTare\r\n    50.00 g \r\nNet\r\n    12.34 g \r\n", "", exitFailed, "print-out"},
		{"one spoilt byte among look-alikes", strings.Repeat("=000.3000", 9) + "=000.3001", "", exitFailed, "--format equals-reversed"},
		{"parity left in, and not in every byte", "\xd3\xd4,\xc7S,\xa0\xa0\xa0245.6\xa0g\x8d\n\xd5S,\xc7S,\xa0\xa0\xa0245.3\xa0g\x8d\n", "", exitFailed, "tared formats"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := runTared(t, c.in, "decode")
			assert.Equal(t, c.code, got.code, got.err)
			assert.Contains(t, got.err, c.says)
			if c.format == "" {
				assert.Empty(t, got.out, "no doubtful weight is shown")
			} else {
				assert.Equal(t, 2, strings.Count(got.out, `"format":"`+c.format+`"`), got.out)
			}
		})
	}
}

func TestDecodeNothingUnderstood(t *testing.T) {
	got := runTared(t, "hello\r\nworld\r\n", "decode", "--format", "header-comma")
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, "none of 2 frames")
	assert.Equal(t, 2, strings.Count(got.out, `"status":"invalid"`))
}

// An endless stream is answered while it runs: each frame's line is there before
// the next frame is sent, with the format given and once it is found.
func TestDecodeStreams(t *testing.T) {
	t.Parallel()
	for name, args := range map[string][]string{"given": {"decode", "--format", "header-comma"}, "found": {"decode"}} {
		t.Run(name, func(t *testing.T) {
			cmd := exec.Command(program, args...)
			in, err := cmd.StdinPipe()
			require.NoError(t, err)
			out, err := cmd.StdoutPipe()
			require.NoError(t, err)
			require.NoError(t, cmd.Start())
			kill := time.AfterFunc(time.Minute, func() { _ = cmd.Process.Kill() })
			defer kill.Stop()
			frame := "ST,+00123.45  g\r\n"
			if name == "found" {
				_, err := io.WriteString(in, strings.Repeat(frame, 2)) // the third one decides
				require.NoError(t, err)
			}
			buf := make([]byte, 64<<10)
			for range 3 {
				_, err := io.WriteString(in, frame)
				require.NoError(t, err)
				n, err := out.Read(buf)
				require.NoError(t, err, "nothing came while the stream ran")
				assert.Contains(t, string(buf[:n]), `"value":"123.45"`)
			}
			require.NoError(t, in.Close())
			require.NoError(t, ends(t, cmd))
		})
	}
}

// The object of a frame has these keys, in this order, whatever the frame was.
// withoutText takes out the text beside the hex.
func withoutText(lines string) string {
	return regexp.MustCompile(`,"text":"(?:[^"\\]|\\.)*"`).ReplaceAllString(lines, "")
}

func TestDecodeShape(t *testing.T) {
	got := runTared(t, "ST,+00123.45  g\r\nOL,+9999999E+19\r\nEC,E11\r\nhello\r\n\x06", "decode", "--format", "header-comma")
	require.Equal(t, exitDone, got.code, got.err)
	want := []string{
		`{"format":"header-comma","value":"123.45","unit":"g","stable":true,"mode":"-","status":"ok","raw":"53542c2b30303132332e3435202067"}`,
		`{"format":"header-comma","value":null,"unit":"","stable":null,"mode":"-","status":"overload","raw":"4f4c2c2b39393939393939452b3139"}`,
		`{"format":"header-comma","value":null,"unit":"","stable":null,"mode":"-","status":"error","raw":"45432c453131"}`,
		`{"format":"header-comma","value":null,"unit":"","stable":null,"mode":"-","status":"invalid","raw":"68656c6c6f"}`,
		`{"format":"header-comma","value":null,"unit":"","stable":null,"mode":"-","status":"invalid","raw":"06"}`,
	}
	assert.Equal(t, strings.Join(want, "\n")+"\n", withoutText(got.out))
	assert.Contains(t, got.out, `"raw":"45432c453131","text":"EC,E11"}`)
	assert.Contains(t, got.out, `"raw":"06","text":"\\x06"}`)
	assert.Empty(t, got.err)
}

func TestDecodeWrongFormatName(t *testing.T) {
	for name, says := range map[string]string{
		"header-coma":     "did you mean header-comma?",
		"HEADER-COMMA":    "did you mean header-comma?",
		"header comma":    "did you mean header-comma?",
		"letter-satus":    "did you mean letter-status?",
		"equals":          "did you mean equals-reversed, equals-forward?",
		"quite something": "no such format: 'tared formats'",
	} {
		got := runTared(t, "ST,+00123.45  g\r\n", "decode", "--format", name)
		assert.Equal(t, exitUsage, got.code, name)
		assert.Empty(t, got.out, name)
		assert.Contains(t, got.err, says)
		assert.Contains(t, got.err, "'tared formats'")
	}
}

// A file of one's own formats is read whether or not a format is named, and
// what it declares goes first.
func TestDecodeOwnFormats(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "own.toml")
	require.NoError(t, os.WriteFile(file, []byte("[[format]]\nname = \"till\"\nexpr = '(?P<sign>[ -]) *(?P<number>[0-9.]+) (?P<unit>g) '\n"), 0o600))
	for _, args := range [][]string{{"decode", "--formats", file}, {"decode", "--formats", file, "--format", "till"}} {
		got := runTared(t, "    0.665 g \r\n", args...)
		assert.Equal(t, exitDone, got.code, got.err)
		assert.Contains(t, got.out, `{"format":"till","value":"0.665"`)
	}
	require.NoError(t, os.WriteFile(file, []byte("[[format]\n"), 0o600))
	for _, args := range [][]string{{"--formats", file}, {"--formats", file, "--format", "header-comma"}, {"--formats", file + ".not"}} {
		got := runTared(t, "ST,+00123.45  g\r\n", append([]string{"decode"}, args...)...)
		assert.Equal(t, exitConfig, got.code, got.err)
		assert.Empty(t, got.out)
	}
}

// Formats that read all frames alike are followed on: the frames that tell them
// apart are not shown by the one that happens to stand first.
func TestDecodeFollowsLookAlikes(t *testing.T) {
	t.Parallel()
	const zero = "       0.000 g  \r\n"
	for name, c := range map[string]struct {
		then string
		want []string
	}{
		"the one":            {"      29.180    \r\n      29.181    \r\n     -29.186 g  \r\n", []string{"null", `"29.181"`, `"-29.186"`}},
		"the other":          {"? -    2.237 lb \r\n? -    2.238 lb \r\n", []string{"null", `"-2.238"`}},
		"a spoilt one":       {"      29.180    \r\n" + zero + zero, []string{"null", `"0.000"`, `"0.000"`}},
		"what neither reads": {"hello\r\n" + zero, []string{"null", `"0.000"`}},
	} {
		t.Run(name, func(t *testing.T) {
			cmd := exec.Command(program, "decode")
			in, err := cmd.StdinPipe()
			require.NoError(t, err)
			out, err := cmd.StdoutPipe()
			require.NoError(t, err)
			require.NoError(t, cmd.Start())
			kill := time.AfterFunc(time.Minute, func() { _ = cmd.Process.Kill() })
			defer kill.Stop()
			lines := bufio.NewScanner(out)
			_, err = io.WriteString(in, strings.Repeat(zero, sameFrames))
			require.NoError(t, err)
			for range sameFrames {
				require.True(t, lines.Scan(), "what all read alike is shown at once")
				assert.Contains(t, lines.Text(), `"value":"0.000"`)
			}
			_, err = io.WriteString(in, c.then)
			require.NoError(t, err)
			require.NoError(t, in.Close())
			var got []string
			for lines.Scan() {
				_, rest, _ := strings.Cut(lines.Text(), `"value":`)
				value, _, _ := strings.Cut(rest, ",")
				got = append(got, value)
			}
			assert.Equal(t, c.want, got)
			require.NoError(t, ends(t, cmd))
		})
	}
}

// A format of one's own that matches but for the decimal comma says what it needs.
func TestDecodeSaysThatACommaIsWanted(t *testing.T) {
	t.Parallel()
	own := writeFile(t, "own.toml", "[[format]]\nname = \"ours\"\nexpr = 'W +(?P<number>[0-9]+,[0-9]) (?P<unit>g)'\n")
	got := runTared(t, "W  12,3 g\r\nW  12,4 g\r\n", "decode", "--formats", own, "--format", "ours")
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, "comma = true")
	for _, expr := range []string{`W +(?P<number>[0-9]+,[0-9]) (?P<unit>g)`, `W +(?P<number>[0-9]+\.[0-9]) (?P<unit>g)`} {
		own := writeFile(t, "own.toml", "[[format]]\nname = \"ours\"\nexpr = '"+expr+"'\n")
		got := runTared(t, "W  12,3 g\r\nW  12,4 g\r\n", "decode", "--formats", own)
		assert.Equal(t, exitFailed, got.code)
		assert.Contains(t, got.err, `format "ours" does not read the lines`)
		assert.Contains(t, got.err, "comma = true")
	}
}

// Of lines in no known format decode makes one that can be declared as it stands.
func TestDecodeProposesAFormat(t *testing.T) {
	t.Parallel()
	lines := "    0.0\r\n   55.5\r\n  155.5\r\n"
	got := runTared(t, lines, "decode", "--unit", "g")
	assert.Equal(t, exitFailed, got.code, "it is shown, not taken")
	assert.Empty(t, got.out)
	assert.Contains(t, got.err, "It can be read so: 155.5 g")
	assert.Contains(t, got.err, "formats --help")
	_, table, ok := strings.Cut(got.err, "[[format]]")
	require.True(t, ok, got.err)
	table, _, _ = strings.Cut(table, "\ntared decode")
	own := writeFile(t, "own.toml", "[[format]]"+table)
	got = runTared(t, lines, "decode", "--formats", own)
	assert.Equal(t, exitDone, got.code, got.err)
	assert.Equal(t, 3, strings.Count(got.out, `"status":"ok"`))
	assert.Contains(t, got.out, `"value":"155.5","unit":"g"`)
}
