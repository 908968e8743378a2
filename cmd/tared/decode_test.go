package main

import (
	"io"
	"os"
	"os/exec"
	"path/filepath"
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
			assert.Equal(t, string(want), got.out)
			understood := strings.Contains(string(want), `"status":`) && strings.Count(string(want), `"status":"invalid"`) < strings.Count(string(want), "\n")
			assert.Equal(t, understood, got.code == exitDone, "exit %d: %s", got.code, got.err)
		})
	}
}

func TestDecodeDetects(t *testing.T) {
	for _, c := range []struct {
		name, in, format string
		code             int
		says             string
	}{
		{"one format", "ST,GS,+011.120kg\r\nUS,GS,+011.130kg\r\n", "header-comma-mode", exitDone, ""},
		{"look-alikes", "=000.3000=000.3000=000.3000", "", exitFailed, "equals-reversed or --format equals-forward"},
		{"no scale", "good morning\r\n", "", exitFailed, "tared formats"},
		{"silence", "", "", exitFailed, "no byte"},
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
			require.NoError(t, cmd.Wait())
		})
	}
}
