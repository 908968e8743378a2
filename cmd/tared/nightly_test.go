package main

import (
	"bytes"
	"encoding/json"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/copies"
	"tared/session/journal"
	"tared/session/photo"
)

// recordWithPhoto is a record with one batch and the photograph of its tile.
func recordWithPhoto(t *testing.T) string {
	t.Helper()
	dir := keptBatch(t)
	code, _, errs := tared(t, "judge", "260302a", "--tile", "AC-A", "--photo", pictureFile(t), "--by", "Mara", "--data", dir)
	require.Equal(t, 0, code, errs)
	return dir
}

// Three months of nights: one copy each, and those that the schedule names are there; the
// machine is off for a week, and the disk is away for a night.
func TestNightsOfCopies(t *testing.T) {
	t.Parallel()
	dir, to := recordWithPhoto(t), t.TempDir()
	n := newNightly(dir, backupSettings{dir: to}, zerolog.Nop())
	where := time.FixedZone("bench", 3600)
	at := time.Date(2026, 9, 1, 14, 0, 0, 0, where)
	there := func() []time.Time {
		all, err := copiesIn(to, n.who(), where)
		require.NoError(t, err)
		return all
	}
	n.look(at)
	assert.Len(t, there(), 1, "the first is made at once")
	nights := 0
	for ; at.Before(time.Date(2026, 12, 1, 14, 0, 0, 0, where)); at = at.Add(47 * time.Minute) {
		if at.Month() == time.October && at.Day() < 8 {
			continue // off
		}
		before := len(there())
		last, _, _ := n.state(at)
		n.look(at)
		if now, _, _ := n.state(at); now.After(last) {
			nights++
			require.Less(t, at.Sub(time.Date(at.Year(), at.Month(), at.Day(), 3, 30, 0, 0, where)), 24*time.Hour)
		} else {
			require.Len(t, there(), before)
		}
		require.False(t, copies.Late(last, at) && at.Month() != time.October, at.String())
	}
	assert.Equal(t, 85, nights, "one a night: 91 nights, 7 when the machine was off, and one made good when it was on again")
	all := there()
	assert.Empty(t, copies.Usual.Drop(all))
	assert.GreaterOrEqual(t, len(all), 11, "7 days, the weeks before them, the ends of months")
	files, err := os.ReadDir(filepath.Join(to, photo.Dir))
	require.NoError(t, err)
	assert.Len(t, files, 1, "a photograph is kept once")

	// Each is a whole record, photograph and all.
	for _, c := range all {
		again := filepath.Join(t.TempDir(), "again")
		code, out, errs := tared(t, "restore", filepath.Join(to, copies.Name(n.who(), c)), "--data", again)
		require.Equal(t, 0, code, errs)
		assert.Contains(t, out, "photos 1")
		code, _, errs = tared(t, "verify", "--data", again)
		require.Equal(t, 0, code, errs)
	}

	// The disk is away: it is told, tried once an hour, and made good when it is back.
	require.NoError(t, os.Rename(to, to+"-away"))
	night := time.Date(2026, 12, 2, 3, 31, 0, 0, where)
	n.look(night)
	_, why, failed := n.state(night)
	assert.Equal(t, "backup.folder-gone", why.Code)
	assert.NoDirExists(t, to, "a folder that is away is not made: its disk is not this one")
	n.look(night.Add(30 * time.Minute))
	_, _, again := n.state(night)
	assert.Equal(t, failed, again)
	require.NoError(t, os.Rename(to+"-away", to))
	n.look(night.Add(61 * time.Minute))
	last, why, _ := n.state(night)
	assert.True(t, why.None(), why.String())
	assert.Equal(t, night.Add(61*time.Minute), last)

	// A damaged record is not copied, and drops no good copy.
	before := there()
	path := filepath.Join(dir, journal.Name)
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	b[len(b)/2] ^= 1
	require.NoError(t, os.WriteFile(path, b, 0o600))
	n.look(night.AddDate(0, 0, 1))
	_, why, _ = n.state(night)
	assert.Equal(t, "backup.failed", why.Code)
	assert.Equal(t, before, there())
	left, err := filepath.Glob(filepath.Join(to, "*.part"))
	require.NoError(t, err)
	assert.Empty(t, left)
}

// What lies in the folder besides is not touched, be it the copy of another bench.
func TestNightsLeaveOthersAlone(t *testing.T) {
	t.Parallel()
	dir, to := keptBatch(t), t.TempDir()
	others := []string{"tared-00000000-2020-01-01-033000.jsonl", "holiday.jpg", "tared-notes.jsonl"}
	for _, name := range others {
		require.NoError(t, os.WriteFile(filepath.Join(to, name), []byte("mine"), 0o600))
	}
	n := newNightly(dir, backupSettings{dir: to, keep: "1 day"}, zerolog.Nop())
	for i := range 5 {
		n.look(time.Date(2026, 12, 1+i, 4, 0, 0, 0, time.UTC))
	}
	files, err := os.ReadDir(to)
	require.NoError(t, err)
	assert.Len(t, files, len(others)+1)
	for _, name := range others {
		assert.FileExists(t, filepath.Join(to, name))
	}
}

// A daemon makes its first copy by itself, its page tells of it, and so does a checkup.
func TestTheDaemonMakesCopies(t *testing.T) {
	t.Parallel()
	to, home := t.TempDir(), t.TempDir()
	config := writeFile(t, "tared.toml", "backup_dir = \""+to+"\"\nbackup_at = \"02:15\"\nbackup_keep = \"3 days\"\n")
	dir := keptBatch(t)
	d := startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--data", dir, "--log", "error", "--config", config)
	page := func(path string) string {
		res, err := http.Get(d.url + path)
		if err != nil {
			return ""
		}
		defer func() { _ = res.Body.Close() }()
		b, _ := io.ReadAll(res.Body)
		return string(b)
	}
	require.Eventually(t, func() bool { return strings.Contains(page("workshop"), "The last good copy was made on") }, patience(t), 100*time.Millisecond)
	assert.Contains(t, page("archive"), "Each night at 02:15")
	files, err := os.ReadDir(to)
	require.NoError(t, err)
	require.Len(t, files, 1)
	code, _, errs := tared(t, "verify", filepath.Join(to, files[0].Name()))
	assert.Equal(t, 0, code, errs)

	// The page packs, gives the file away, and makes a record of it.
	ask := func(path, kind string, body []byte) (end struct {
		File  string
		Words []string
		Error string
	}) {
		res, err := http.Post(d.url+path, kind, bytes.NewReader(body))
		require.NoError(t, err)
		defer func() { _ = res.Body.Close() }()
		b, err := io.ReadAll(res.Body)
		require.NoError(t, err)
		lines := strings.Split(strings.TrimSpace(string(b)), "\n")
		require.NoError(t, json.Unmarshal([]byte(lines[len(lines)-1]), &end), string(b))
		return end
	}
	made := ask("api/pack", "application/json", []byte("{}"))
	require.NotEmpty(t, made.File, made.Error)
	assert.Contains(t, strings.Join(made.Words, " "), "all intact")
	file := page(strings.TrimPrefix(made.File, "/"))
	require.True(t, strings.HasPrefix(file, "PK"))
	back := ask("api/restore", "application/octet-stream", []byte(file))
	require.Empty(t, back.Error)
	assert.Contains(t, strings.Join(back.Words, " "), "begins a new epoch")
	places, err := filepath.Glob(filepath.Join(dir, restored, "*"))
	require.NoError(t, err)
	require.Len(t, places, 1)
	code, _, errs = tared(t, "verify", "--data", places[0])
	assert.Equal(t, 0, code, errs)
	assert.NotEmpty(t, ask("api/restore", "application/octet-stream", []byte("my glazes")).Error)
	assert.NotEmpty(t, ask("api/restore", "application/octet-stream", nil).Error)
	places, err = filepath.Glob(filepath.Join(dir, restored, "*"))
	require.NoError(t, err)
	assert.Len(t, places, 1, "what was refused leaves nothing")
	require.Equal(t, exitDone, d.end(t))

	// A bench that is started on it says that it is a copy.
	d = startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--data", places[0], "--log", "error", "--config", "none")
	require.Equal(t, exitDone, d.end(t))
	b, err := os.ReadFile(filepath.Join(places[0], journal.Name))
	require.NoError(t, err)
	assert.Contains(t, string(b), `"why":"copy"`)

	all := findings(t, home, exitDone, "--config", config, "--data", dir)
	assert.Equal(t, isWell, all["backup"].How, all["backup"].Says)
	require.NoError(t, os.RemoveAll(to))
	all = findings(t, home, exitFailed, "--config", config, "--data", dir)
	assert.Contains(t, all["backup"].Mend, "plugged in")
}

// A packed copy comes back as it was, from the terminal too; one that was spoilt anywhere is
// refused and leaves nothing, or is still the same record.
func TestAPackedCopy(t *testing.T) {
	t.Parallel()
	dir := recordWithPhoto(t)
	file := filepath.Join(t.TempDir(), "glaze.zip")
	var last, of int64
	made, err := packRecord(file, dir, func(d, o int64) {
		require.GreaterOrEqual(t, d, last)
		last, of = d, o
	})
	require.NoError(t, err)
	assert.Equal(t, 1, made.photos)
	assert.Equal(t, of, last, "at the end all is done")
	code, out, errs := tared(t, "verify", file)
	require.Equal(t, 0, code, errs)
	assert.Contains(t, out, "all intact")
	again := filepath.Join(t.TempDir(), "again")
	code, out, errs = tared(t, "import", file, "--data", again)
	require.Equal(t, 0, code, errs)
	assert.Contains(t, out, "photos 1")
	was, err := os.ReadFile(filepath.Join(dir, journal.Name))
	require.NoError(t, err)
	is, err := os.ReadFile(filepath.Join(again, journal.Name))
	require.NoError(t, err)
	assert.Equal(t, was, is)
	code, _, errs = tared(t, "verify", "--data", again)
	require.Equal(t, 0, code, errs)
	left, err := filepath.Glob(filepath.Join(again, "unpacked-*"))
	require.NoError(t, err)
	assert.Empty(t, left)

	good, err := os.ReadFile(file)
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(1, 2))
	refused := 0
	a := pageArchive{dir: t.TempDir(), nightly: newNightly(dir, backupSettings{}, zerolog.Nop())}
	for range 300 {
		bad := bytes.Clone(good)
		if rng.IntN(4) == 0 {
			bad = bad[:rng.IntN(len(bad))]
		} else {
			bad[rng.IntN(len(bad))] ^= byte(1 + rng.IntN(255))
		}
		words, err := a.Restore(bytes.NewReader(bad))
		places, globErr := filepath.Glob(filepath.Join(a.dir, restored, "*"))
		require.NoError(t, globErr)
		if err != nil {
			refused++
			require.Empty(t, places)
			for _, word := range []string{"`", "--", "'tared", a.dir, os.TempDir()} {
				require.NotContains(t, err.Error(), word)
			}
			continue
		}
		require.Len(t, places, 1, words)
		is, err := os.ReadFile(filepath.Join(places[0], journal.Name))
		require.NoError(t, err)
		require.Equal(t, was, is)
		require.NoError(t, os.RemoveAll(places[0]))
	}
	assert.Greater(t, refused, 200)
}
