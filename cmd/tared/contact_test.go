package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/web"
)

// oddity is a scale in a format of nobody, with a load that a test changes.
type oddity struct {
	line   string // with the place of the number
	tenths atomic.Int64
}

func (o *oddity) said() string { return fmt.Sprintf(o.line, float64(o.tenths.Load())/10) }

func (o *oddity) List() ([]scale.Found, error) {
	return []scale.Found{{Port: "/dev/ttyB", Resource: "serial"}}, nil
}

func (o *oddity) Open(string, protocol.Line) (scale.Port, error) { return oddPort{o}, nil }

type oddPort struct{ *oddity }

func (p oddPort) Read(b []byte) (int, error) {
	time.Sleep(50 * time.Millisecond)
	return copy(b, p.said()), nil
}
func (p oddPort) Write(b []byte) (int, error) { return len(b), nil }
func (p oddPort) Close() error                { return nil }

// A scale in no known format is set up from the page only when a known weight has shown
// that its lines are read right. The file keeps what is in it, its rights, and its place
// behind a link; and the bench reads the scale by what was written.
func TestAScaleOfNoFormatIsSetUpFromThePage(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	file, link := filepath.Join(dir, "real.toml"), filepath.Join(dir, configName)
	before := "# the bath house, invented\nwater = \"85%\" # by hand\n\n[[format]]\nname = \"bench-lines\" # another\nexpr = 'Q(?P<number>[0-9]+)'\nunit = \"g\"\n"
	require.NoError(t, os.WriteFile(file, []byte(before), 0o600))
	require.NoError(t, os.Symlink(file, link))
	o := &oddity{line: "%8.1f\r\n"}
	reload := make(chan struct{}, 1)
	p := newOpenPorts(o, settings{file: link, data: t.TempDir()}, nil, reload)
	p.Log = zerolog.Nop()
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() { defer close(ended); _ = p.Run(ctx) }()
	defer func() { stop(); <-ended }()
	one := func() web.Port {
		if v := p.Seen(); len(v.Ports) == 1 {
			return v.Ports[0]
		}
		return web.Port{}
	}
	trial := func(want scale.Trial) func() bool {
		return func() bool { q := one().Proposal; return q != nil && q.Trial == string(want) }
	}
	require.Eventually(t, func() bool { q := one().Proposal; return q != nil && q.Reads == "0.0" && q.NoUnit }, patience(t), 20*time.Millisecond)
	require.Eventually(t, func() bool { return strings.Contains(one().Why, "no format that tared knows") }, patience(t), 20*time.Millisecond, "never called silent")
	take := web.TakePort{Port: "/dev/ttyB", Name: "bench", Max: "2000g"}
	_, err := p.Take(take)
	require.ErrorContains(t, err, "known weight first")

	for _, bad := range []web.TryPort{{Port: "/dev/ttyB", Weight: "much"}, {Port: "/dev/ttyB", Weight: "-5g"}, {Port: "/dev/ttyB", Weight: "500g", Unit: "stone"}, {Port: "/dev/ttyX", Weight: "500g"}} {
		assert.Error(t, p.Try(bad), "%+v", bad)
	}
	require.NoError(t, p.Try(web.TryPort{Port: "/dev/ttyB", Weight: "500g"}))
	require.Eventually(t, trial(scale.TrialUnit), patience(t), 20*time.Millisecond)
	require.NoError(t, p.Try(web.TryPort{Port: "/dev/ttyB", Weight: "500g", Unit: "oz"}))
	require.Eventually(t, trial(scale.TrialPut), patience(t), 20*time.Millisecond)
	o.tenths.Store(5000)
	require.Eventually(t, trial(scale.TrialWrong), patience(t), 20*time.Millisecond)
	assert.Contains(t, language.Say(one().Proposal.Says), "14174.76", "it says what it read")
	_, err = p.Take(take)
	require.ErrorContains(t, err, "known weight first", "what was found wrong is not written")

	o.tenths.Store(0)
	require.NoError(t, p.Try(web.TryPort{Port: "/dev/ttyB", Weight: "500g", Unit: "g"}))
	require.Eventually(t, trial(scale.TrialPut), patience(t), 20*time.Millisecond)
	o.tenths.Store(5000)
	require.Eventually(t, trial(scale.TrialPassed), patience(t), 20*time.Millisecond)
	at, err := p.Take(take)
	require.NoError(t, err)
	assert.Equal(t, link, at)
	assert.Len(t, reload, 1, "it is taken up")

	after, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.True(t, strings.HasPrefix(string(after), before), "what was there stays, comments too:\n%s", after)
	info, err := os.Lstat(link)
	require.NoError(t, err)
	assert.NotZero(t, info.Mode()&os.ModeSymlink, "the link stays one")
	info, err = os.Stat(file)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	c, err := readConfig(link)
	require.NoError(t, err)
	assert.Empty(t, c.faults)
	assert.Equal(t, []string{"format=bench-lines2,max=2000g,name=bench,port=/dev/ttyB"}, c.lists()["scale"])
	require.Len(t, c.formats, 2)
	assert.Equal(t, protocol.UnitGram, c.formats[1].BlankUnit)

	// As the bench will hear it.
	stop()
	<-ended
	spec, err := scale.ParseSpec(c.lists()["scale"][0])
	require.NoError(t, err)
	spec.Formats = c.formats
	heard := make(chan scale.Update, 1000)
	ctx, stop = context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() {
		done <- scale.New(spec, o, func(u scale.Update) {
			select {
			case heard <- u:
			default:
			}
		}, zerolog.Nop()).Run(ctx)
	}()
	defer func() { stop(); <-done }()
	for over := time.After(patience(t)); ; {
		select {
		case u := <-heard:
			if u.HasMass {
				assert.Equal(t, 500*protocol.Gram, u.Mass)
				return
			}
		case <-over:
			require.Fail(t, "nothing is weighed")
		}
	}
}

// What a format is declared with is read back as it was proposed, whatever its marks are.
func TestAProposedFormatIsWrittenAsItIs(t *testing.T) {
	for _, lines := range []string{
		"'a'\\ 12,5 g \"\r\n'a'\\ 12,6 g \"\r\n'a'\\ 12,7 g \"\r\n",
		"\x02+0012.5 g?\x03\x02-0012.5 g \x03\x02+0012.5 g \x03",
		"val:\t12.5\r\nval:\t12.6\r\nval:\t112.7\r\n",
		"    0.0\r\n   55.5\r\n  155.5\r\n",
		"      29.180    \r\n     -29.186 g  \r\n     -29.186 g  \r\n",
	} {
		all, why := protocol.Propose([]byte(lines), true, protocol.UnitGram)
		require.NotEmpty(t, all, "%q: %s", lines, why)
		file := filepath.Join(t.TempDir(), configName)
		own := &scaleFormat{all[0], "9600 8N1", []string{"x"}}
		require.NoError(t, addScale(file, scaleTable{Name: "bench", Port: "/dev/ttyB"}, own), "%q", lines)
		c, err := readConfig(file)
		require.NoError(t, err, "%q", lines)
		require.Len(t, c.formats, 1)
		d := protocol.NewDecoder(c.formats[0], protocol.Options{EachFrame: true})
		d.Push([]byte(lines))
		d.Finish()
		var last protocol.Reading
		n := 0
		for r, ok := d.Next(); ok; r, ok = d.Next() {
			if r.Status == protocol.OK {
				last, n = r, n+1
			}
		}
		assert.Equal(t, all[0].Read, n, "%q", lines)
		assert.Equal(t, all[0].Shows, last.Value, "%q", lines)
	}
}

// A length is a whole number of signs.
func TestLengthOfAFormat(t *testing.T) {
	for _, bad := range []string{`"8"`, "0", "-1", "1.5", "5000"} {
		_, err := parseConfig("tared.toml", "[[format]]\nname = \"x\"\nexpr = '(?P<number>[0-9]+)'\nlength = "+bad+"\n")
		assert.ErrorContains(t, err, "whole number", bad)
	}
}
