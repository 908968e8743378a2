package peer

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/session/fact"
	"tared/session/journal"
	"tared/session/signer"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// written is the journal of a bench with a key: a beginning, notes, and a batch that was
// closed and signed, so many times.
func written(t testing.TB, notes int, change func(n int) string) ([]byte, *signer.Key) {
	t.Helper()
	dir := t.TempDir()
	k, err := signer.Open(dir)
	require.NoError(t, err)
	j, _, err := journal.Open(dir, journal.Options{})
	require.NoError(t, err)
	add := func(batch string, b fact.Body) journal.Record {
		r, err := j.Append(noon, b.Kind(), batch, "Mara", b)
		require.NoError(t, err)
		return r
	}
	add("", fact.Began{Epoch: 1, Format: fact.Format, Bench: k.ID(), Key: k.Public(), Sign: "KA"})
	for i := range notes {
		words := fmt.Sprintf("note %d", i)
		if change != nil {
			words += change(i)
		}
		add("", fact.Noted{Text: words})
		if i%5 == 4 {
			r := add("KA1", fact.Finished{})
			if i%2 == 0 {
				add("", fact.Noted{Text: "between"})
			}
			sum := sha256.Sum256(r.Line)
			add("KA1", fact.Signed{Of: r.Seq, Hash: journal.Hash(sum).String(), Key: k.Public(), Signature: k.Sign(r.Line)})
		}
	}
	b, err := os.ReadFile(j.Path())
	require.NoError(t, err)
	require.NoError(t, j.Close())
	return b, k
}

func kept(t testing.TB, dir string) []byte {
	b, err := os.ReadFile(filepath.Join(dir, journal.Name))
	require.NoError(t, err)
	return b
}

func openKept(t testing.TB, dir string) *Kept {
	k, err := Open(dir)
	require.NoError(t, err)
	t.Cleanup(func() { _ = k.Close() })
	return k
}

// However the bytes are cut on their way, and however often the way breaks, what is kept is
// the journal of the peer, byte for byte.
func TestWhatIsKeptIsWhatCame(t *testing.T) {
	b, key := written(t, 40, nil)
	rapid.Check(t, func(rt *rapid.T) {
		dir, err := os.MkdirTemp(t.TempDir(), "")
		require.NoError(t, err)
		at := 0
		for at < len(b) {
			k, err := Open(dir)
			require.NoError(t, err)
			require.Equal(t, at, int(k.Place.Bytes))
			part := b[at:min(len(b), at+rapid.IntRange(1, 4000).Draw(rt, "part"))]
			require.NoError(t, k.Take(&pieces{part, rapid.IntRange(1, 700).Draw(rt, "piece")}, noon, nil))
			at = int(k.Place.Bytes)
			require.NoError(t, k.Close())
			require.True(t, bytes.HasPrefix(b, kept(t, dir)))
			if at < len(b) && len(part) < 400 { // no whole line may have been in it
				require.NoError(t, os.WriteFile(filepath.Join(dir, "x"), nil, 0o600))
			}
		}
		k, err := Open(dir)
		require.NoError(t, err)
		require.Equal(t, key.ID(), k.Bench)
		require.Equal(t, "KA", k.Sign)
		require.NoError(t, k.Close())
	})
}

type pieces struct {
	b []byte
	n int
}

func (p *pieces) Read(to []byte) (int, error) {
	if len(p.b) == 0 {
		return 0, io.EOF
	}
	n := copy(to[:min(len(to), p.n)], p.b)
	p.b = p.b[n:]
	return n, nil
}

// Whatever a liar changes in lines that are still to come, none of what he changed is kept, but
// the last line of what he sends; what is kept is the beginning of some true history.
func TestALiarIsRefused(t *testing.T) {
	b, _ := written(t, 20, nil)
	lines := slices.Collect(bytes.Lines(b))
	rapid.Check(t, func(rt *rapid.T) {
		dir, err := os.MkdirTemp(t.TempDir(), "")
		require.NoError(t, err)
		k, err := Open(dir)
		require.NoError(t, err)
		defer func() { _ = k.Close() }()
		had := rapid.IntRange(1, len(lines)-2).Draw(rt, "had")
		require.NoError(t, k.Take(bytes.NewReader(bytes.Join(lines[:had], nil)), noon, nil))
		rest := bytes.Join(lines[had:], nil)
		i := rapid.IntRange(0, len(rest)-len(lines[len(lines)-1])-1).Draw(rt, "at")
		rest[i] ^= rapid.ByteRange(1, 255).Draw(rt, "by")
		require.Error(t, k.Take(bytes.NewReader(rest), noon, nil))
		now := slices.Collect(bytes.Lines(kept(t, dir)))
		for n, line := range now[:len(now)-1] {
			require.Equal(t, string(lines[n]), string(line))
		}
	})
}

func TestWhatIsRefusedIsNamed(t *testing.T) {
	b, key := written(t, 12, nil)
	lines := slices.Collect(bytes.Lines(b))
	other, _ := written(t, 12, func(n int) string { return strings.Repeat("x", n/6) }) // another key: another beginning
	next := func(k *Kept, kind, body string) string {
		return fmt.Sprintf(`{"seq":%d,"at":"2026-03-02T12:00:00Z","kind":%q,"batch":"","by":"","prev":"%s"%s}`+"\n", k.Place.Lines+1, kind, k.Place.Head, body)
	}
	for name, c := range map[string]struct {
		send func(k *Kept) string
		says string
	}{
		"rubbish":                 {func(*Kept) string { return "<html>\n" }, "JSON"},
		"a line too long":         {func(k *Kept) string { return strings.Repeat("x", MaxLine+1) }, "longer than"},
		"a long line with an end": {func(k *Kept) string { return next(k, "noted", `,"text":"`+strings.Repeat("x", MaxLine)+`"`) }, "longer than"},
		"a line that is missing":  {func(k *Kept) string { return string(lines[k.Place.Lines+1]) }, "seq"},
		"another bench":           {func(k *Kept) string { return next(k, "began", `,"epoch":2,"format":1`+beganBy(t, nil)) }, "other"},
		"a key that is not its": {func(k *Kept) string {
			return next(k, "began", `,"epoch":2,"format":1,"bench":"`+key.ID()+`","key":"AAAA"`)
		}, "fingerprint"},
		"an epoch twice":  {func(k *Kept) string { return next(k, "began", `,"epoch":1,"format":1`) }, "epoch"},
		"a newer program": {func(k *Kept) string { return next(k, "began", `,"epoch":2,"format":99`) }, "newer"},
		"a signature of nothing": {func(k *Kept) string {
			return next(k, "signed", `,"of":2,"hash":"","key":"`+key.Public()+`","signature":"`+key.Sign([]byte("x"))+`"`)
		}, "signature"},
		"a signature of no line": {func(k *Kept) string {
			return next(k, "signed", `,"of":999,"hash":"","key":"`+key.Public()+`","signature":""`)
		}, "signature"},
		"all of another journal": {func(*Kept) string { return string(other) }, "seq"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			k := openKept(t, dir)
			require.NoError(t, k.Take(bytes.NewReader(bytes.Join(lines[:9], nil)), noon, nil))
			err := k.Take(strings.NewReader(c.send(k)), noon, nil)
			require.Error(t, err)
			if c.says != "other" {
				assert.Contains(t, err.Error(), c.says)
			} else {
				assert.Contains(t, err.Error(), "another key")
			}
			assert.Nil(t, k.Fork)
			assert.Equal(t, string(bytes.Join(lines[:9], nil)), string(kept(t, dir)))
			require.NoError(t, k.Take(bytes.NewReader(lines[9]), noon, nil), "and the true line is taken all the same")
		})
	}
}

func beganBy(t *testing.T, _ any) string {
	k, err := signer.Open(t.TempDir())
	require.NoError(t, err)
	return `,"bench":"` + k.ID() + `","key":"` + k.Public() + `","sign":"KC"`
}

// Another history is seen, kept apart for good, and nothing more is taken; a journal that is
// only shorter is called that, and taken up again when it has grown as it was.
func TestAnotherHistoryEndsTheTaking(t *testing.T) {
	b, _ := written(t, 12, nil)
	lines := slices.Collect(bytes.Lines(b))
	place := func(n int) (p journal.Place) {
		_, err := journal.Scan(bytes.NewReader(bytes.Join(lines[:n], nil)), func(r journal.Record) error { p.Add(r); return nil })
		require.NoError(t, err)
		return p
	}
	dir := t.TempDir()
	k := openKept(t, dir)
	require.NoError(t, k.Take(bytes.NewReader(bytes.Join(lines[:9], nil)), noon, nil))
	require.NoError(t, k.Head(9, place(9).Head, noon))
	require.NoError(t, k.Head(12, journal.Hash{1}, noon), "it has more: its lines will tell")
	require.ErrorIs(t, k.Head(5, place(5).Head, noon), ErrOlder)
	require.ErrorIs(t, k.Head(0, journal.Hash{}, noon), ErrOlder)
	require.NoError(t, k.Take(bytes.NewReader(lines[9]), noon, nil))

	// The next line follows another tenth one.
	prev := sha256.Sum256(lines[8])
	line := fmt.Sprintf(`{"seq":11,"at":"2026-03-02T12:00:00Z","kind":"noted","batch":"","by":"","prev":"%x","text":"x"}`+"\n", prev)
	require.ErrorIs(t, k.Take(strings.NewReader(line), noon, nil), ErrFork)
	again := openKept(t, dir)
	require.NotNil(t, again.Fork, "it is known after a restart")
	assert.Equal(t, Fork{10, place(10).Head, prev, noon}, *again.Fork)
	require.ErrorIs(t, again.Take(bytes.NewReader(lines[10]), noon, nil), ErrFork)
	require.ErrorIs(t, again.Head(10, place(10).Head, noon), ErrFork)
	assert.Equal(t, string(bytes.Join(lines[:10], nil)), string(kept(t, dir)), "what was taken first stays")

	k = openKept(t, t.TempDir())
	require.NoError(t, k.Take(bytes.NewReader(bytes.Join(lines[:9], nil)), noon, nil))
	require.ErrorIs(t, k.Head(5, journal.Hash{7}, noon), ErrFork, "shorter, and of another history")
	assert.Equal(t, uint64(5), k.Fork.Line)
}
