package main

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/web"
)

// talkers is a machine with ports at each of which something talks.
type talkers map[string]string

func (m talkers) List() (all []scale.Found, err error) {
	for port := range m {
		all = append(all, scale.Found{Port: port, Resource: "serial"})
	}
	return all, nil
}

func (m talkers) Open(path string, _ protocol.Line) (scale.Port, error) { return talker(m[path]), nil }

type talker string

func (t talker) Read(b []byte) (int, error) {
	time.Sleep(10 * time.Millisecond)
	return copy(b, t), nil
}
func (t talker) Write(b []byte) (int, error) { return len(b), nil }
func (t talker) Close() error                { return nil }

// Without any settings every port is heard. One press writes the scale into the file of
// settings, which then reads as it should and keeps what was there; another keeps what
// a scale that nobody understands sends.
func TestAScaleIsSetUpFromThePage(t *testing.T) {
	t.Parallel()
	file, data := filepath.Join(t.TempDir(), "tared", configName), t.TempDir()
	reload := make(chan struct{}, 1)
	p := newOpenPorts(talkers{"/dev/ttyA": "ST,+00123.45  g\r\n", "/dev/ttyB": "WT<  012.3>gram\r\n", "/dev/ttyZ": "S S     100.00 g\r\n"}, settings{file: file, data: data}, nil, reload)
	p.Log = zerolog.Nop()
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() { defer close(ended); _ = p.Run(ctx) }()
	defer func() { stop(); <-ended }()
	var v web.PortsView
	require.Eventually(t, func() bool {
		v = p.Seen()
		return len(v.Ports) == 3 && v.Ports[2].Shows != "" && v.Ports[0].Shows != "" && v.Ports[1].Why != "" && v.Ports[1].Raw != ""
	}, patience(t), 20*time.Millisecond)
	assert.True(t, v.Looking)
	assert.Equal(t, "123.45 g", v.Ports[0].Shows)
	assert.Contains(t, v.Ports[1].Raw, "WT<  012.3>gram")

	at, err := p.Take(web.TakePort{Port: "/dev/ttyA", Name: "bench", Max: "2000g"})
	require.NoError(t, err)
	assert.Equal(t, file, at)
	assert.Len(t, reload, 1, "it is taken up")
	c, err := readConfig(file)
	require.NoError(t, err)
	assert.Equal(t, []string{"format=header-comma,max=2000g,name=bench,port=/dev/ttyA"}, c.lists()["scale"])

	require.NoError(t, os.WriteFile(file, []byte("# the bath house\nwater = \"85%\"\n[[format]]\nname = \"x\"\nexpr = '(?P<number>[0-9]+)'\nunit = \"g\""), 0o640))
	require.NoError(t, os.Chmod(file, 0o640))
	_, err = p.Take(web.TakePort{Port: "/dev/ttyB", Name: "odd"})
	require.ErrorContains(t, err, "known weight first")
	_, err = p.Take(web.TakePort{Port: "/dev/ttyZ", Name: "odd"})
	require.NoError(t, err)
	c, err = readConfig(file)
	require.NoError(t, err)
	assert.EqualValues(t, "85%", c.Water)
	assert.Len(t, c.formats, 1)
	assert.Equal(t, []string{"format=letter-status,name=odd,port=/dev/ttyZ"}, c.lists()["scale"])
	info, err := os.Stat(file)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o640), info.Mode().Perm(), "the mode is kept")

	before, err := os.ReadFile(file)
	require.NoError(t, err)
	for name, take := range map[string]web.TakePort{
		"the name is taken": {Port: "/dev/ttyA", Name: "odd"},
		"no name":           {Port: "/dev/ttyA", Name: "my scale"},
		"no capacity":       {Port: "/dev/ttyA", Name: "bench", Max: "much"},
		"nothing there":     {Port: "/dev/ttyC", Name: "bench"},
		"a break-out":       {Port: "/dev/ttyA", Name: "bench", Step: "0.1g\"\nlisten = \"0.0.0.0:1"},
	} {
		_, err := p.Take(take)
		assert.Error(t, err, name)
		after, err := os.ReadFile(file)
		require.NoError(t, err)
		assert.Equal(t, string(before), string(after), name)
	}
	files, err := os.ReadDir(filepath.Dir(file))
	require.NoError(t, err)
	assert.Len(t, files, 1, "nothing half-written stays")

	for range 2 {
		at, err = p.KeepCapture("/dev/ttyB")
		require.NoError(t, err)
		kept, err := os.ReadFile(at)
		require.NoError(t, err)
		assert.Contains(t, string(kept), `WT<  012.3>gram\r\n`)
		assert.Contains(t, string(kept), "# maker and model: (fill in)")
	}
	kept, err := os.ReadDir(filepath.Join(data, capturesDir))
	require.NoError(t, err)
	assert.Len(t, kept, 2, "each press keeps one more")

	p.s.given.specs = []string{"name=a,port=eye,step=1g"}
	_, err = p.Take(web.TakePort{Port: "/dev/ttyA", Name: "c"})
	assert.ErrorContains(t, err, "with its scales named")
}

// Two scales are set up one behind the other: the second press comes while the settings of
// the first are taken up and nothing is heard anew, and writes all the same what was heard.
func TestTwoScalesAreSetUpAtOnce(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), configName)
	heard := []scale.Sighting{
		{Found: scale.Found{Port: "/dev/ttyA", USB: "0403:6001:A"}, Format: "header-comma"},
		{Found: scale.Found{Port: "/dev/ttyB"}, Format: "letter-status"},
		{Found: scale.Found{Port: "/dev/ttyC"}, Format: "letter-status"},
	}
	s := settings{file: file, scales: []scale.Config{{Name: "bench", Port: "usb:0403:6001:A"}}}
	p := newOpenPorts(talkers{"/dev/ttyA": "", "/dev/ttyB": "", "/dev/ttyC": ""}, s, heard, make(chan struct{}, 1))
	assert.True(t, p.Seen().Looking, "the others are listened to for a while")
	_, err := p.Take(web.TakePort{Port: "/dev/ttyA", Name: "again"})
	assert.Error(t, err, "it is set up")
	_, err = p.Take(web.TakePort{Port: "/dev/ttyB", Name: "fine"})
	require.NoError(t, err)
	c, err := readConfig(file)
	require.NoError(t, err)
	assert.Equal(t, []string{"format=letter-status,name=fine,port=/dev/ttyB"}, c.lists()["scale"])
}
