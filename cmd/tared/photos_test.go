package main

import (
	"image"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/photo"
)

func pictureFile(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "tile.png")
	f, err := os.Create(path)
	require.NoError(t, err)
	require.NoError(t, png.Encode(f, image.NewGray(image.Rect(0, 0, 8, 8))))
	require.NoError(t, f.Close())
	return path
}

// A photograph goes with the record wherever the record goes, and one that was
// lost or changed is found.
func TestPhotographsAreKeptVerifiedAndCopied(t *testing.T) {
	dir := keptBatch(t)
	file := pictureFile(t)
	code, _, errs := tared(t, "judge", "260302a", "--tile", "AC-A", "--photo", file, "--by", "Mara", "--data", dir)
	require.Equal(t, 0, code, errs)
	names, err := photo.List(dir)
	require.NoError(t, err)
	require.Len(t, names, 1)
	code, out, _ := tared(t, "record", "260302a", "--data", dir)
	require.Equal(t, 0, code)
	assert.Contains(t, out, "Photographs: "+names[0][:8])
	code, out, errs = tared(t, "verify", "--data", dir)
	require.Equal(t, 0, code, errs)
	assert.Contains(t, out, "photos 1, 1 of them as the lines name them")

	// Refused, and named; nothing is recorded.
	text := filepath.Join(t.TempDir(), "tile.svg")
	require.NoError(t, os.WriteFile(text, []byte("<svg><script/></svg>"), 0o600))
	for _, bad := range []string{text, filepath.Join(dir, "nothing.jpg"), dir} {
		code, _, errs = tared(t, "judge", "260302a", "--tile", "AC-A", "--photo", bad, "--by", "Mara", "--data", dir)
		assert.Equal(t, 1, code)
		assert.Contains(t, errs, filepath.Base(bad))
	}
	empty := t.TempDir()
	code, _, errs = tared(t, "judge", "260302a", "--tile", "AC-A", "--photo", file, "--by", "Mara", "--data", empty)
	assert.Equal(t, 1, code)
	assert.Contains(t, errs, "no journal")
	assert.NoDirExists(t, filepath.Join(empty, photo.Dir), "a wrong --data begins nothing")

	// The page to send has it in itself; one that is lost is named.
	code, out, errs = tared(t, "export", "260302a", "--as", "page", "--data", dir)
	require.Equal(t, 0, code, errs)
	assert.Contains(t, out, `<img src="data:image/jpeg;base64,`)
	assert.Contains(t, out, "Photograph "+names[0]+", made smaller")

	copyTo := filepath.Join(t.TempDir(), "glaze.tared")
	for range 2 { // the second finds the photograph there
		code, out, errs = tared(t, "backup", copyTo, "--data", dir)
		require.Equal(t, 0, code, errs)
		assert.Contains(t, out, "photos 1")
	}
	again := t.TempDir()
	code, out, errs = tared(t, "restore", copyTo, "--data", again)
	require.Equal(t, 0, code, errs)
	assert.Contains(t, out, "photos 1")
	code, _, errs = tared(t, "verify", "--data", again)
	require.Equal(t, 0, code, errs)

	// A copy that came without its photographs says so, and so does verify.
	require.NoError(t, os.RemoveAll(photosBeside(copyTo)))
	bare := t.TempDir()
	code, out, errs = tared(t, "restore", copyTo, "--data", bare)
	require.Equal(t, 0, code, errs)
	assert.Contains(t, out, "were not there: 1\n    "+names[0])
	assert.Contains(t, strings.Join(strings.Fields(out), " "), "Put them into "+filepath.Join(bare, photo.Dir)+" under these names")
	code, out, errs = tared(t, "verify", "--data", bare)
	assert.Equal(t, 1, code)
	assert.Contains(t, out, "every line is intact")
	assert.Contains(t, errs, "Photograph "+names[0]+" is missing")

	code, out, errs = tared(t, "export", "260302a", "--as", "page", "--data", bare)
	require.Equal(t, 0, code, errs)
	assert.Contains(t, out, "Photograph "+names[0]+": not on this page")

	require.NoError(t, os.WriteFile(filepath.Join(dir, photo.Dir, names[0]), []byte("another tile"), 0o644))
	code, out, errs = tared(t, "verify", "--data", dir, "--json")
	assert.Equal(t, 1, code)
	assert.Contains(t, errs, "was changed")
	assert.Contains(t, out, `"ok":false`)
	before, err := os.ReadFile(copyTo)
	require.NoError(t, err)
	code, _, errs = tared(t, "backup", copyTo, "--data", dir)
	assert.Equal(t, 1, code, "a changed photograph is not copied over a good one")
	assert.Contains(t, errs, "was changed")
	after, err := os.ReadFile(copyTo)
	require.NoError(t, err)
	assert.Equal(t, before, after)

	// A file that no line names harms nothing.
	orphan := strings.Repeat("0", 64) + ".jpg"
	require.NoError(t, os.WriteFile(filepath.Join(again, photo.Dir, orphan), []byte("x"), 0o644))
	code, out, errs = tared(t, "verify", "--data", again)
	assert.Equal(t, 0, code, errs)
	assert.Contains(t, out, "that no line names: 1")
}

// Export, wipe, import: the photographs are there again, or somebody is told which are
// not, and what to do.
func TestLinesAndTheirPhotographs(t *testing.T) {
	dir := keptBatch(t)
	code, _, errs := tared(t, "judge", "260302a", "--tile", "AC-A", "--photo", pictureFile(t), "--by", "Mara", "--data", dir)
	require.Equal(t, 0, code, errs)
	names, err := photo.List(dir)
	require.NoError(t, err)
	require.Len(t, names, 1)
	lies := filepath.Join(dir, photo.Dir)

	// On standard output they cannot go along: which, from where, to where.
	for _, what := range []string{"--all", "260302a"} {
		code, out, errs := tared(t, "export", what, "--as", "lines", "--data", dir)
		require.Equal(t, 0, code, errs)
		assert.NotContains(t, out, "FILE.files", "the lines stay lines")
		for _, want := range []string{"1 photograph", names[0], lies, "FILE.files/photos", "--out FILE"} {
			assert.Contains(t, errs, want)
		}
	}
	code, out, errs := tared(t, "export", "--all", "--as", "lines", "--data", dir)
	require.Equal(t, 0, code, errs)
	saved := filepath.Join(t.TempDir(), "record.jsonl")
	require.NoError(t, os.WriteFile(saved, []byte(out), 0o600))
	require.NoError(t, os.CopyFS(filepath.Join(saved+".files", photo.Dir), os.DirFS(lies))) // as it says
	holds := func(file string) {
		t.Helper()
		to := t.TempDir()
		code, out, errs := tared(t, "import", file, "--data", to)
		require.Equal(t, 0, code, errs)
		assert.Contains(t, out, "photos 1, in "+filepath.Join(to, photo.Dir))
		code, _, errs = tared(t, "verify", "--data", to)
		assert.Equal(t, 0, code, errs)
	}
	holds(saved)

	// With --out they do, of all batches and of one.
	file := filepath.Join(t.TempDir(), "record.jsonl")
	code, out, errs = tared(t, "export", "--all", "--as", "lines", "--out", file, "--data", dir)
	require.Equal(t, 0, code, errs)
	assert.Empty(t, errs)
	assert.Contains(t, out, "photos 1, in "+filepath.Join(file+".files", photo.Dir))
	holds(file)
	written, err := os.ReadFile(file)
	require.NoError(t, err)
	again, err := os.ReadFile(saved)
	require.NoError(t, err)
	assert.Equal(t, string(again), string(written), "one form, whichever way")
	one := filepath.Join(t.TempDir(), "one.jsonl")
	code, _, errs = tared(t, "export", "260302a", "--as", "lines", "--out", one, "--data", dir)
	require.Equal(t, 0, code, errs)
	require.NoError(t, photo.Check(one+".files", names[0]))
	code, out, errs = tared(t, "export", "260302a", "--as", "csv", "--out", one, "--data", dir)
	require.Equal(t, 0, code, errs)
	assert.Contains(t, out, "is written")

	// A directory photos beside the lines does, too.
	require.NoError(t, os.Rename(filepath.Join(file+".files", photo.Dir), filepath.Join(filepath.Dir(file), photo.Dir)))
	holds(file)

	// A byte of a photograph changed: refused, named, and nothing is written.
	kept := filepath.Join(filepath.Dir(file), photo.Dir, names[0])
	b, err := os.ReadFile(kept)
	require.NoError(t, err)
	b[len(b)/2] ^= 1
	require.NoError(t, os.WriteFile(kept, b, 0o600))
	to := t.TempDir()
	code, _, errs = tared(t, "import", file, "--data", to)
	assert.Equal(t, 1, code)
	for _, want := range []string{names[0], "was changed", "nothing was taken in", "Move that file away"} {
		assert.Contains(t, errs, want)
	}
	left, err := os.ReadDir(to)
	require.NoError(t, err)
	assert.Empty(t, left)

	// As it says: moved away, the rest is taken in, and what to do is said.
	require.NoError(t, os.Remove(kept))
	code, out, errs = tared(t, "import", file, "--data", to)
	require.Equal(t, 0, code, errs)
	for _, want := range []string{"were not there: 1", names[0], filepath.Join(file+".files", photo.Dir), "Put them into " + filepath.Join(to, photo.Dir)} {
		assert.Contains(t, strings.Join(strings.Fields(out), " "), want)
	}
	require.NoError(t, os.CopyFS(filepath.Join(to, photo.Dir), os.DirFS(lies)))
	code, _, errs = tared(t, "verify", "--data", to)
	assert.Equal(t, 0, code, errs)
}
