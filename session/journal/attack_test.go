package journal

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// However a journal is attacked (bytes changed, taken out and put in; lines
// swapped, doubled, taken out, put in with a prev that fits; cut off), the chain
// lets through only what the package comment says it must: lines missing at the
// very end, and another last line. The hash of the last line, kept outside, shows
// those, too.
func TestAttack(t *testing.T) {
	_, dir := begin(t, 12, Options{})
	whole := content(t, dir)
	rep, err := Scan(bytes.NewReader(whole), nil)
	require.NoError(t, err)
	honest := slices.Collect(bytes.Lines(whole))
	passed := 0
	rapid.Check(t, func(t *rapid.T) {
		b := bytes.Clone(whole)
		forged := false
		for range rapid.IntRange(1, 3).Draw(t, "attacks") {
			if len(b) < 2 {
				break
			}
			lines := slices.Collect(bytes.Lines(b))
			line := func(name string) int { return rapid.IntRange(0, len(lines)-1).Draw(t, name) }
			at := rapid.IntRange(0, len(b)-1).Draw(t, "at")
			switch rapid.SampledFrom([]string{"change", "delete", "insert", "swap", "double", "drop", "forge", "cut", "move"}).Draw(t, "how") {
			case "change":
				b[at] ^= rapid.Byte().Draw(t, "by")
			case "delete":
				end := min(len(b), at+rapid.IntRange(1, 400).Draw(t, "bytes"))
				b = slices.Delete(b, at, end)
			case "insert":
				b = slices.Insert(b, at, rapid.SliceOfN(rapid.Byte(), 1, 20).Draw(t, "bytes")...)
			case "swap":
				i, j := line("i"), line("j")
				lines[i], lines[j] = lines[j], lines[i]
				b = bytes.Join(lines, nil)
			case "double":
				i := line("i")
				b = bytes.Join(slices.Insert(lines, i, lines[i]), nil)
			case "drop":
				i := line("i")
				b = bytes.Join(slices.Delete(lines, i, i+1), nil)
			case "move": // a piece elsewhere
				end := min(len(b), at+rapid.IntRange(1, 100).Draw(t, "bytes"))
				piece := bytes.Clone(b[at:end])
				b = slices.Delete(b, at, end)
				b = slices.Insert(b, rapid.IntRange(0, len(b)).Draw(t, "to"), piece...)
			case "forge": // a number is changed and the next line's prev made to fit
				i := line("i")
				k := bytes.IndexByte(lines[i], '5')
				if k < 0 || i+1 >= len(lines) {
					continue
				}
				old := sha256.Sum256(lines[i])
				lines[i] = bytes.Clone(lines[i])
				lines[i][k] = '6'
				now := sha256.Sum256(lines[i])
				lines[i+1] = bytes.ReplaceAll(lines[i+1], []byte(Hash(old).String()), []byte(Hash(now).String()))
				forged = true
				b = bytes.Join(lines, nil)
			case "cut":
				b = b[:at]
			}
		}
		got, err := Scan(bytes.NewReader(b), nil)
		if err != nil {
			if !errors.Is(err, ErrDamaged) {
				t.Fatalf("%v", err)
			}
			return
		}
		// What held is the honest lines, all but the last of it byte by byte.
		held := slices.Collect(bytes.Lines(b[:got.Bytes]))
		if len(held) > len(honest)+1 {
			t.Fatalf("%d lines pass for %d", len(held), len(honest))
		}
		for i := range len(held) - 1 {
			// Who writes the chain anew up to the end is only found by the hash outside.
			if !forged && (i >= len(honest) || !bytes.Equal(held[i], honest[i])) {
				t.Fatalf("line %d passes and is not the honest one: %s", i+1, held[i])
			}
		}
		same := bytes.Equal(b[:got.Bytes], whole)
		if same != (got.Lines == rep.Lines && got.Head == rep.Head) {
			t.Fatalf("the hash of the last line is the witness: %d lines, %s", got.Lines, got.Head)
		}
		if !same {
			passed++
		}
	})
	require.Positive(t, passed, "no attack at the end got through, so the sentence about them is not tried")
}
