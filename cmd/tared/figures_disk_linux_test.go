package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"tared/scale/sim"
	"tared/session"
	"tared/session/journal"
)

// eyeBalance needs no port, so these tests are about nothing but the disk.
const eyeBalance = "name=fine,port=eye,step=0.01g,max=300g"

// say carries a word to a daemon and gives the status and the answer.
func say(t *testing.T, d *daemon, word string) (int, string) {
	t.Helper()
	c := session.ParseCommand(word)
	j, err := json.Marshal(c)
	require.NoError(t, err)
	res, err := http.Post(d.url+"api/do", "application/json", bytes.NewReader(j))
	require.NoError(t, err)
	defer res.Body.Close()
	var b bytes.Buffer
	_, err = b.ReadFrom(res.Body)
	require.NoError(t, err)
	return res.StatusCode, b.String()
}

// delivered is what the page shows as taken, material by material.
func delivered(v session.View) (all []string) {
	if v.Batch != nil {
		for _, s := range v.Batch.Steps {
			all = append(all, s.Material+" "+s.Delivered)
		}
	}
	return all
}

// untilFull types amounts into a batch until the disk takes no more, and holds
// what must hold from then on. It gives what the page showed as taken.
func untilFull(t *testing.T, d *daemon, path, why string) []string {
	t.Helper()
	taken := delivered(benchView(t, d.url))
	for n := 0; ; n++ {
		require.Less(t, n, 1000, "the disk is never full")
		status, said := say(t, d, "typed 0.02g")
		if status < 300 {
			taken = delivered(benchView(t, d.url))
			continue
		}
		assert.GreaterOrEqual(t, status, 500, "it is not the person's fault")
		assert.Contains(t, said, why)
		break
	}
	v := benchView(t, d.url)
	assert.False(t, v.Recording.OK)
	assert.Contains(t, v.Recording.Why.String(), why)
	assert.Equal(t, taken, delivered(v), "what is not on the disk is not shown as taken")
	left, err := os.ReadFile(path)
	require.NoError(t, err)
	for _, word := range []string{"typed 0.02g", "skip", "note is it full"} {
		status, said := say(t, d, word)
		assert.GreaterOrEqual(t, status, 400)
		assert.Contains(t, said, why, word)
	}
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, left, after, "nothing is tried again")
	return taken
}

// onward starts the program again where there is room, and ends the batch.
func onward(t *testing.T, dir string, taken []string) {
	t.Helper()
	d := startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--data", dir, "--log", "error", "--scale", eyeBalance)
	v := benchView(t, d.url)
	assert.True(t, v.Recording.OK)
	assert.Equal(t, taken, delivered(v), "it goes on where the disk stands")
	for v.Now.State != "finished" {
		m := strings.TrimSpace(v.Now.Target)
		status, said := say(t, d, "typed "+m+"g")
		require.Less(t, status, 300, said)
		v = benchView(t, d.url)
	}
	assert.Equal(t, exitDone, d.end(t))
	got := runTared(t, "", "verify", "--data", dir)
	assert.Equal(t, exitDone, got.code, got.err)
	// Each portion is there once: they add up to what the record says.
	got = runTared(t, "", "record", "--data", dir, "--json")
	require.Equal(t, exitDone, got.code, got.err)
	var row struct {
		Mark, State string
		Off         int
	}
	require.NoError(t, json.Unmarshal([]byte(got.out), &row))
	assert.Equal(t, "finished", row.State)
	assert.Zero(t, row.Off)
}

func startOnEye(t *testing.T, dir string) *daemon {
	d := startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--data", dir, "--log", "error", "--scale", eyeBalance)
	send(t, d.url+"api/start", `{"recipe":"Quartz 60\nWhiting 40\n","base":"100g","by":"Mara"}`)
	status, said := say(t, d, "yes Mara")
	require.Less(t, status, 300, said)
	return d
}

// The file may not grow any further: at once, within a line, after some lines.
func TestJournalMeetsALimit(t *testing.T) {
	t.Parallel()
	for _, more := range []uint64{0, 1, 150, 1200} {
		t.Run(fmt.Sprint(more), func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			d := startOnEye(t, dir)
			path := filepath.Join(dir, journal.Name)
			info, err := os.Stat(path)
			require.NoError(t, err)
			limit := uint64(info.Size()) + more
			require.NoError(t, unix.Prlimit(d.cmd.Process.Pid, unix.RLIMIT_FSIZE, &unix.Rlimit{Cur: limit, Max: limit}, nil))
			taken := untilFull(t, d, path, "file too large")
			assert.Equal(t, exitDone, d.end(t), "it ends as it should")
			onward(t, dir, taken)
		})
	}
}

// Hands at a scale give no word that could be refused: the program says that it
// records nothing any more, and ends, and so does whoever waits for it. Started again
// it goes on.
func TestWeighMeetsALimit(t *testing.T) {
	t.Parallel()
	r := newRig(t, grotto, "100g")
	r.start()
	r.until("asked", nil)
	r.say("yes Ilse")
	r.state("container")
	info, err := os.Stat(filepath.Join(r.dir, journal.Name))
	require.NoError(t, err)
	limit := uint64(info.Size()) + 100
	require.NoError(t, unix.Prlimit(r.cmd.Process.Pid, unix.RLIMIT_FSIZE, &unix.Rlimit{Cur: limit, Max: limit}, nil))
	r.hand(sim.Put)
	stopped := r.until("stopped", nil)
	assert.Contains(t, stopped["words"], "file too large")
	require.Error(t, ends(t, r.cmd))
	assert.Equal(t, exitFailed, r.cmd.ProcessState.ExitCode())
	assert.Contains(t, r.errs.String(), "Nothing is recorded any more")
	assert.Empty(t, only(r.kinds(), "tared"), "it was not said to be there")

	r.start()
	r.until("resumed", nil)
	r.until("tared", nil) // the container stands there still
	assert.Equal(t, "in", r.weigh("Quartz")["verdict"])
	require.NoError(t, r.cmd.Process.Kill())
	_ = r.cmd.Wait()
}

// smallDisk is a file system of so many KiB, where this test may make one.
func smallDisk(t *testing.T, kib int) string {
	t.Helper()
	dir := t.TempDir()
	if err := unix.Mount("tared-test", dir, "tmpfs", 0, fmt.Sprintf("size=%dk", kib)); err != nil {
		t.Skipf("this test needs to mount a small file system, which root may: %v", err)
	}
	t.Cleanup(func() { _ = unix.Unmount(dir, unix.MNT_DETACH) })
	return dir
}

// fill lets a file take all the room that is left.
func fill(t *testing.T, path string) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o600)
	require.NoError(t, err)
	for err == nil {
		_, err = f.Write(make([]byte, 512))
	}
	require.ErrorIs(t, err, unix.ENOSPC)
	require.NoError(t, f.Close())
}

// A disk that is really full: recording stops visibly, and goes on after room was
// made and the program started again.
func TestDiskIsFull(t *testing.T) {
	t.Parallel()
	disk := smallDisk(t, 64)
	dir := filepath.Join(disk, "data")
	d := startOnEye(t, dir)
	ballast := filepath.Join(disk, "photos")
	fill(t, ballast)
	taken := untilFull(t, d, filepath.Join(dir, journal.Name), "no space left on device")

	assert.Equal(t, exitDone, d.end(t))
	fill(t, ballast) // the end of the program may have made some room
	// While the disk is still full the line that was cut off cannot be set aside, and
	// so nothing may be cut: the page comes up, and says why nothing is recorded.
	path := filepath.Join(dir, journal.Name)
	left, err := os.ReadFile(path)
	require.NoError(t, err)
	if !bytes.HasSuffix(left, []byte("\n")) {
		notRecording(t, dir, "no space left on device")
		after, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, left, after)
	}
	require.NoError(t, os.Remove(ballast))
	onward(t, dir, taken)
}

// notRecording starts a daemon that must show at once why it records nothing.
func notRecording(t *testing.T, dir, why string) session.View {
	t.Helper()
	d := startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--data", dir, "--log", "error", "--scale", eyeBalance)
	v := benchView(t, d.url)
	assert.False(t, v.Recording.OK)
	assert.Contains(t, v.Recording.Why.String(), why)
	assert.Equal(t, exitDone, d.end(t))
	return v
}

// Where a journal cannot be written the page comes up and says so in words; what is in
// it can be read all the same.
func TestJournalIsReadOnly(t *testing.T) {
	t.Parallel()
	disk := smallDisk(t, 64)
	dir := filepath.Join(disk, "data")
	d := startOnEye(t, dir)
	status, said := say(t, d, "typed 10g")
	require.Less(t, status, 300, said)
	assert.Equal(t, exitDone, d.end(t))
	before, err := os.ReadFile(filepath.Join(dir, journal.Name))
	require.NoError(t, err)
	require.NoError(t, unix.Mount("", disk, "", unix.MS_REMOUNT|unix.MS_RDONLY, ""))

	v := notRecording(t, dir, "read-only file system")
	assert.Equal(t, []string{"Quartz 10.00", "Whiting 0.00"}, delivered(v), "what is known is shown")
	got := runTared(t, "yes Mara\n", "weigh", writeFile(t, "r.txt", tidewrack), "--base", "100g", "--data", dir, "--scale", eyeBalance)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, "the disk is mounted read-only. Take another place, or mount it for writing")
	for _, command := range []string{"verify", "record"} {
		got = runTared(t, "", command, "--data", dir)
		assert.Equal(t, exitDone, got.code, "%s: %s", command, got.err)
	}
	after, err := os.ReadFile(filepath.Join(dir, journal.Name))
	require.NoError(t, err)
	assert.Equal(t, before, after)
}
