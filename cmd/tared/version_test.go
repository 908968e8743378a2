package main

import (
	"encoding/json"
	"runtime/debug"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/fact"
)

// The commit and its date are what Go notes in the program, by the keys that
// runtime/debug documents for BuildSetting.
func TestVersionNamesTheCommit(t *testing.T) {
	e := edition{Version: "(devel)", Go: "go1", System: "linux/arm64", Format: 1}
	e.built(&debug.BuildInfo{Main: debug.Module{Version: "v1.2.3"}, Settings: []debug.BuildSetting{
		{Key: "vcs.revision", Value: "e0046125d0b470560e225ffd9a3b0c81f6740f2d"},
		{Key: "vcs.time", Value: "2026-12-01T10:18:46Z"}, {Key: "vcs.modified", Value: "true"}}})
	var out strings.Builder
	require.NoError(t, e.tell(&out, false))
	assert.Equal(t, `tared v1.2.3
  commit e0046125d0b470560e225ffd9a3b0c81f6740f2d of 1 December 2026
  built from files that were changed since that commit
  built by go1 for linux/arm64
  writes journals of format 1
`, out.String())
}

// A program built without its history says so and invents nothing.
func TestVersionWithoutACommit(t *testing.T) {
	var out strings.Builder
	require.NoError(t, edition{Version: "(devel)", Go: "go1", System: "plan9/mips", Format: 1}.tell(&out, false))
	assert.Contains(t, out.String(), "commit not known")
	assert.NotContains(t, out.String(), "changed")
}

func TestVersionOfTheProgram(t *testing.T) {
	t.Parallel()
	got := runTared(t, "", "version", "--json")
	require.Equal(t, exitDone, got.code, got.err)
	var e edition
	require.NoError(t, json.Unmarshal([]byte(got.out), &e))
	assert.Equal(t, fact.Format, e.Format)
	first := runTared(t, "", "--version")
	require.Equal(t, exitDone, first.code, first.err)
	assert.Equal(t, "tared "+e.Version+"\n", first.out)
}
