//go:build unix

package main

import (
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/session/photo"
	"tared/session/signer"
)

// What the daemon writes in its directory is for its user and group; the key that pairs
// browsers for its user alone.
func TestFilesAreNotForOthers(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "data")
	d := startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--data", dir, "--log", "error", "--scale", "name=fine,port=eye,step=0.01g,max=300g")
	f, err := os.Open(pictureFile(t))
	require.NoError(t, err)
	name, err := photo.Keep(dir, f)
	require.NoError(t, err)
	_, err = photo.Small(dir, name)
	require.NoError(t, err)
	m, err := scale.OpenMemory(filepath.Join(dir, memoryName))
	require.NoError(t, err)
	require.NoError(t, m.Store("a cable", scale.Remembered{Line: protocol.Line{Baud: 9600}, Format: "header-comma"}))
	modes := map[string]fs.FileMode{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		require.NoError(t, err)
		info, err := e.Info()
		require.NoError(t, err)
		modes[e.Name()] = info.Mode().Perm()
		return nil
	}))
	for name, mode := range modes {
		want := fs.FileMode(0o640)
		switch {
		case name == pairingKeyName || name == signer.Name:
			want = 0o600
		case name == controlName:
			want = 0o660
		case filepath.Ext(name) == "":
			want = 0o750
		}
		assert.Equal(t, want, mode, name)
	}
	for _, there := range []string{"journal.jsonl", pairingKeyName, signer.Name, memoryName, addressName, controlName, name} {
		assert.Contains(t, modes, there)
	}
	assert.Equal(t, exitDone, d.end(t))
}

// A key that others can read pairs them too: it is not used.
func TestKeyThatOthersCanReadIsRefused(t *testing.T) {
	dir := t.TempDir()
	key, err := pairingKey(dir)
	require.NoError(t, err)
	again, err := pairingKey(dir)
	require.NoError(t, err)
	assert.Equal(t, key, again)
	require.NoError(t, os.Chmod(filepath.Join(dir, pairingKeyName), 0o640))
	again, err = pairingKey(dir)
	require.ErrorContains(t, err, "can be read by others")
	assert.Nil(t, again)
}

// A file that is written over keeps its mode: who may read it stays as somebody had it.
func TestAFileWrittenOverKeepsItsMode(t *testing.T) {
	t.Parallel()
	dir, file := keptBatch(t), filepath.Join(t.TempDir(), "copy")
	for _, args := range [][]string{{"backup", file}, {"export", "--all", "--as", "lines", "--out", file}} {
		for _, mode := range []fs.FileMode{0o600, 0o640, 0o644} {
			require.NoError(t, os.WriteFile(file, nil, 0o600))
			require.NoError(t, os.Chmod(file, mode))
			got := runTared(t, "", append(args, "--data", dir)...)
			require.Equal(t, exitDone, got.code, got.err)
			info, err := os.Stat(file)
			require.NoError(t, err)
			assert.Equal(t, mode, info.Mode().Perm(), args)
		}
	}
}
