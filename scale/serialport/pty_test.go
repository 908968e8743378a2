//go:build linux

package serialport

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"tared/protocol"
	"tared/scale"
)

// device is a pseudo-terminal that plays the adapter of a scale.
type device struct {
	master *os.File
	path   string
}

// patience is how long a test waits for what must come. Only a fault meets it, also
// on a busy machine.
const patience = 2 * time.Minute

// plug makes a pseudo-terminal. Its master does not block, so that a full or
// closed one cannot hang a test. Its other end stays open until the test is over, even
// when it was unplugged: the system gives its number to nobody else as long, so what
// still looks for the port by its name never meets the terminal of another test.
func plug(t testing.TB) *device {
	t.Helper()
	m, s, err := pty.Open()
	require.NoError(t, err)
	t.Cleanup(func() { s.Close() })
	path := s.Name()
	fd, err := syscall.Dup(int(m.Fd()))
	require.NoError(t, err)
	require.NoError(t, m.Close())
	require.NoError(t, syscall.SetNonblock(fd, true))
	d := &device{os.NewFile(uintptr(fd), "master"), path}
	t.Cleanup(func() { d.master.Close() })
	return d
}

func (d *device) unplug(t testing.TB) {
	t.Helper()
	require.NoError(t, d.master.Close())
}

func (d *device) send(t testing.TB, b string) {
	t.Helper()
	require.NoError(t, d.master.SetWriteDeadline(time.Now().Add(patience)))
	_, err := d.master.Write([]byte(b))
	require.NoError(t, err)
}

const weight = "ST,+00123.45  g\r\n"

var usual = protocol.Line{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1}

func kind(t *testing.T, err error) *scale.PortError {
	t.Helper()
	var pe *scale.PortError
	require.ErrorAs(t, err, &pe)
	return pe
}

// read reads as many bytes as are wanted; a busy system may hand them over late, and
// in parts.
func read(t *testing.T, p io.Reader, want string) {
	t.Helper()
	got, buf := "", make([]byte, 100)
	for limit := time.Now().Add(patience); len(got) < len(want) && time.Now().Before(limit); {
		n, err := p.Read(buf)
		require.NoError(t, err, "after %q", got)
		got += string(buf[:n])
	}
	require.Equal(t, want, got)
}

func TestOpenReads(t *testing.T) {
	d := plug(t)
	p, err := Ports{}.Open(d.path, usual)
	require.NoError(t, err)
	defer p.Close()
	buf := make([]byte, 100)
	start := time.Now()
	n, err := p.Read(buf)
	require.NoError(t, err)
	assert.Zero(t, n, "a time-out is no error")
	assert.GreaterOrEqual(t, time.Since(start), readWait)
	p.(scale.Patient).Patient(true)
	start = time.Now()
	_, err = p.Read(buf)
	require.NoError(t, err)
	assert.GreaterOrEqual(t, time.Since(start), time.Second)
	d.send(t, weight)
	read(t, p, weight) // raw: CR and LF come as they are

	require.NoError(t, p.(scale.LineSetter).SetLine(protocol.Line{Baud: 2400, Bits: 7, Parity: 'E', Stop: 2}))
	n, err = p.Write([]byte("Q\r\n"))
	require.NoError(t, err)
	assert.Equal(t, 3, n)
	require.NoError(t, d.master.SetReadDeadline(time.Now().Add(patience)))
	read(t, d.master, "Q\r\n")

	d.unplug(t)
	_, err = p.Read(buf)
	assert.ErrorIs(t, err, scale.ErrGone)
}

// What came before the port was opened is old, and is dropped.
func TestOpenFlushes(t *testing.T) {
	d := plug(t)
	// Someone must have it open for the kernel to keep the bytes.
	s, err := os.OpenFile(d.path, os.O_RDWR|syscall.O_NOCTTY, 0)
	require.NoError(t, err)
	defer s.Close()
	d.send(t, "ST,+00666.00  g\r\n")
	require.Eventually(t, func() bool {
		n, err := unix.IoctlGetInt(int(s.Fd()), unix.TIOCINQ)
		return err == nil && n > 0
	}, patience, time.Millisecond, "the kernel has the old bytes")
	p, err := Ports{}.Open(d.path, usual)
	require.NoError(t, err)
	defer p.Close()
	d.send(t, weight)
	read(t, p, weight)
}

// A Write to an instrument that does not read fails; it does not hang.
func TestWriteDoesNotHang(t *testing.T) {
	d := plug(t)
	p, err := Ports{}.Open(d.path, usual)
	require.NoError(t, err)
	defer p.Close()
	done := make(chan error)
	go func() {
		for {
			if _, err := p.Write([]byte(strings.Repeat("Q\r\n", 100))); err != nil {
				done <- err
				return
			}
		}
	}()
	select {
	case err := <-done:
		assert.ErrorContains(t, err, "does not take it")
	case <-time.After(patience):
		t.Fatal("write hangs")
	}
}

func TestReasons(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	dangling := filepath.Join(dir, "dangling")
	require.NoError(t, os.Symlink(filepath.Join(dir, "nothing"), dangling))
	fifo := filepath.Join(dir, "fifo")
	require.NoError(t, syscall.Mkfifo(fifo, 0o600))
	for _, c := range []struct {
		path  string
		kind  error
		words string
	}{
		{filepath.Join(dir, "nothing"), scale.ErrNoPort, "there is no such port: plug the scale in"},
		{dangling, scale.ErrNoPort, "the link leads nowhere"},
		{file, scale.ErrNotPort, "it is a file"},
		{dir, scale.ErrNotPort, "it is a directory"},
		{fifo, scale.ErrNotPort, "it is a pipe"},
		{"/dev/null", scale.ErrNotPort, "it is a device, but no terminal"},
	} {
		t.Run(c.words, func(t *testing.T) {
			_, err := Ports{}.Open(c.path, usual)
			pe := kind(t, err)
			assert.ErrorIs(t, err, c.kind)
			assert.Contains(t, err.Error(), c.words)
			assert.Equal(t, c.path, pe.Port)
			assert.NotEmpty(t, pe.Mend)
		})
	}
	_, err := Ports{}.Open("/dev/null", protocol.Line{Baud: 9600, Bits: 9, Parity: 'N', Stop: 1})
	assert.ErrorIs(t, err, scale.ErrSetting)
}

// Two programs cannot have the port, not even as root, whom exclusive mode does
// not stop.
func TestBusy(t *testing.T) {
	d := plug(t)
	p, err := Ports{}.Open(d.path, usual)
	require.NoError(t, err)
	_, err = Ports{}.Open(d.path, usual)
	assert.ErrorIs(t, err, scale.ErrBusy)
	require.NoError(t, p.Close())
	p, err = Ports{}.Open(d.path, usual)
	require.NoError(t, err)
	require.NoError(t, p.Close())
}

func TestBusyNamesTheOther(t *testing.T) {
	d := plug(t)
	sleep, err := exec.LookPath("sleep")
	require.NoError(t, err)
	s, err := os.OpenFile(d.path, os.O_RDWR|syscall.O_NOCTTY, 0)
	require.NoError(t, err)
	require.NoError(t, syscall.Flock(int(s.Fd()), syscall.LOCK_EX|syscall.LOCK_NB))
	cmd := exec.Command(sleep, "60")
	cmd.ExtraFiles = []*os.File{s}
	require.NoError(t, cmd.Start())
	defer func() { cmd.Process.Kill(); cmd.Wait() }()
	require.NoError(t, s.Close())
	_, err = Ports{}.Open(d.path, usual)
	assert.ErrorIs(t, err, scale.ErrBusy)
	assert.Contains(t, err.Error(), fmt.Sprintf("sleep, process %d", cmd.Process.Pid))
}

// A user without rights is told which group to join. Root is let in everywhere, so
// the test starts itself again as nobody.
func TestDenied(t *testing.T) {
	if path := os.Getenv("TARED_TEST_DENIED"); path != "" {
		_, err := Ports{}.Open(path, usual)
		fmt.Println("says:", err)
		return
	}
	const words = `it belongs to the group `
	if os.Getuid() != 0 {
		t.Skip("only root can make a port that it may not open")
	}
	d := plug(t)
	require.NoError(t, os.Chown(d.path, 0, 20)) // dialout on Debian
	require.NoError(t, os.Chmod(d.path, 0o660))
	dir, err := os.MkdirTemp("/tmp", "tared-denied")
	require.NoError(t, err)
	defer os.RemoveAll(dir)
	require.NoError(t, os.Chmod(dir, 0o755))
	self, err := os.ReadFile(os.Args[0])
	require.NoError(t, err)
	bin := filepath.Join(dir, "test")
	require.NoError(t, os.WriteFile(bin, self, 0o755))
	cmd := exec.Command(bin, "-test.run=^TestDenied$")
	cmd.Dir = "/"
	cmd.Env = append(os.Environ(), "TARED_TEST_DENIED="+d.path)
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s", out)
	assert.Contains(t, string(out), fmt.Sprintf("says: port %q: permission denied (%s", d.path, words))
	assert.Regexp(t, `run "sudo usermod -aG \S+ \S+", then log out and in again`, string(out))
}

func TestDeniedWords(t *testing.T) {
	what, mend := deniedTo(0, 0o600, "mara")
	assert.Equal(t, "only root may open it", what)
	assert.Contains(t, mend, "udev rule")
	what, mend = deniedTo(4294967, 0o660, "mara")
	assert.Equal(t, "it belongs to the group 4294967", what)
	assert.Equal(t, `run "sudo usermod -aG 4294967 mara", then log out and in again`, mend)
}

// bench runs an instrument on real ports.
type bench struct {
	mu   sync.Mutex
	all  []scale.Update
	last string // what came last
	got  chan struct{}
}

func start(t testing.TB, spec string) (*bench, *scale.Instrument) {
	t.Helper()
	c, err := scale.ParseSpec(spec)
	require.NoError(t, err)
	b := &bench{got: make(chan struct{}, 1)}
	i := scale.New(c, Ports{LowDTR: c.LowDTR}, b.feed, zerolog.Nop())
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- i.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		require.NoError(t, <-done)
	})
	return b, i
}

func (b *bench) feed(u scale.Update) {
	b.mu.Lock()
	b.all = append(b.all, u)
	b.last = fmt.Sprintf("%v %q %q, %+v", u.Link, u.Why, u.Reading.Raw, u.Counts)
	b.mu.Unlock()
	select {
	case b.got <- struct{}{}:
	default:
	}
}

// await takes updates until one fits.
func (b *bench) await(t testing.TB, what string, fits func(scale.Update) bool) scale.Update {
	t.Helper()
	late := time.After(patience)
	for {
		b.mu.Lock()
		for k, u := range b.all {
			if fits(u) {
				b.all = b.all[k+1:]
				b.mu.Unlock()
				return u
			}
		}
		b.all = b.all[:0]
		b.mu.Unlock()
		select {
		case <-b.got:
		case <-late:
			b.mu.Lock()
			defer b.mu.Unlock()
			t.Fatalf("no update says %q; the last said %s", what, b.last)
		}
	}
}

func linked(l scale.Link) func(scale.Update) bool {
	return func(u scale.Update) bool { return !u.HasReading && u.Link == l }
}

func weighs(g string) func(scale.Update) bool {
	return func(u scale.Update) bool { return u.HasMass && u.Mass.String() == g }
}

const givenLine = ",format=header-comma,baud=9600,line=8N1"

func TestInstrumentOnAPort(t *testing.T) {
	d := plug(t)
	b, _ := start(t, "name=bench,port="+d.path+givenLine)
	b.await(t, "open", linked(scale.Waiting))
	d.send(t, "23.45  g\r\n") // the rest of a line
	d.send(t, weight)
	u := b.await(t, "weight", weighs("123.45 g"))
	assert.Equal(t, uint64(1), u.Counts.Frames)
	d.unplug(t)
	u = b.await(t, "lost", linked(scale.Lost))
	assert.Contains(t, u.Why, "the device is gone")
}

// The bytes of a scale come in every size and with every end of line.
func TestInstrumentOnAwkwardLines(t *testing.T) {
	for name, send := range map[string]func(*device){
		"byte by byte": func(d *device) {
			for _, c := range []byte(weight + weight) {
				d.send(t, string(c))
			}
		},
		"CR only":          func(d *device) { d.send(t, strings.ReplaceAll(weight+weight, "\n", "")) },
		"LF only":          func(d *device) { d.send(t, strings.ReplaceAll(weight+weight, "\r", "")) },
		"NULs in front":    func(d *device) { d.send(t, "\x00\x00\x7f\x7f\r\n"+"\x00\x00"+weight) },
		"in one heap":      func(d *device) { d.send(t, strings.Repeat(weight, 100)) },
		"behind a garbage": func(d *device) { d.send(t, strings.Repeat("\xfe\x00\x91garbage", 300)+"\r\n"+weight) },
	} {
		t.Run(name, func(t *testing.T) {
			d := plug(t)
			b, _ := start(t, "name=bench,port="+d.path+givenLine)
			b.await(t, "open", linked(scale.Waiting))
			send(d)
			b.await(t, "weight", weighs("123.45 g"))
		})
	}
}

// evenParity sends seven-bit text as an adapter shows it that cannot do parity.
func evenParity(s string) string {
	b := []byte(s)
	for i, c := range b {
		ones := 0
		for x := c; x > 0; x &= x - 1 {
			ones++
		}
		if ones%2 == 1 {
			b[i] |= 0x80
		}
	}
	return string(b)
}

// A pseudo-terminal hands out the parity bit whatever its setting, as some adapters
// do. The line is read all the same where the user says 7E1, where nothing is
// said, and not where the user says 8N1: then the mend is named.
func TestInstrumentSevenBitsReadAsEight(t *testing.T) {
	for spec, good := range map[string]bool{
		",format=header-comma,baud=2400,line=7E1": true,
		",format=header-comma,baud=2400":          true,
		"":                                        true,
		givenLine:                                 false,
	} {
		t.Run(spec, func(t *testing.T) {
			d := plug(t)
			b, _ := start(t, "name=bench,port="+d.path+spec)
			b.await(t, "open", linked(scale.Waiting))
			stop := make(chan struct{})
			var wg sync.WaitGroup
			defer wg.Wait()
			defer close(stop)
			wg.Go(func() {
				for {
					select {
					case <-stop:
						return
					case <-time.After(50 * time.Millisecond):
						d.master.Write([]byte(evenParity(weight)))
					}
				}
			})
			if good {
				b.await(t, "weight", weighs("123.45 g"))
				return
			}
			b.await(t, "mend", func(u scale.Update) bool { return strings.Contains(u.Why, "Set line=7E1") })
		})
	}
}

// vanish and come back a hundred times under a lasting link, each time as another
// node, and leave nothing behind.
func TestInstrumentReplugged(t *testing.T) {
	cycles := 100
	if testing.Short() {
		cycles = 5
	}
	routines, files := runtime.NumGoroutine(), descriptors(t)
	t.Run("cycles", func(t *testing.T) {
		link := filepath.Join(t.TempDir(), "scale")
		b, _ := start(t, "name=bench,port="+link+givenLine)
		b.await(t, "missing", linked(scale.Lost))
		var slowest time.Duration
		for k := range cycles {
			m, s, err := pty.Open()
			require.NoError(t, err)
			require.NoError(t, os.Symlink(s.Name(), link))
			plugged := time.Now()
			t.Cleanup(func() { s.Close() }) // as in plug, so that each is another node
			b.await(t, "open", linked(scale.Waiting))
			slowest = max(slowest, time.Since(plugged))
			grams := fmt.Sprintf("%d.5 g", 10+k)
			_, err = fmt.Fprintf(m, "rest\r\nST,+%06d.5  g\r\n", 10+k)
			require.NoError(t, err)
			b.await(t, "weight", weighs(grams))
			require.NoError(t, os.Remove(link))
			require.NoError(t, m.Close())
			b.await(t, "lost", linked(scale.Lost))
		}
		t.Logf("slowest to be noticed: %v", slowest)
	})
	assert.Equal(t, files, descriptors(t), "descriptors")
	// A subtest says that it is done a moment before its goroutine has gone.
	assert.Eventually(t, func() bool { return runtime.NumGoroutine() <= routines+1 }, patience, 10*time.Millisecond, "goroutines; one is the look itself")
}

func descriptors(t testing.TB) int {
	t.Helper()
	fds, err := os.ReadDir("/proc/self/fd")
	require.NoError(t, err)
	return len(fds)
}

// Opening and failing leave nothing behind either.
func TestOpenLeavesNothing(t *testing.T) {
	d := plug(t)
	before := descriptors(t)
	for range 50 {
		p, err := Ports{}.Open(d.path, usual)
		require.NoError(t, err)
		_, err = Ports{}.Open(d.path, usual)
		require.Error(t, err)
		require.NoError(t, p.Close())
		_, err = Ports{}.Open("/dev/null", usual)
		require.Error(t, err)
		_, err = (Ports{LowDTR: true}).Open(d.path, protocol.Line{})
		require.Error(t, err)
		p, err = (Ports{LowDTR: true}).Open(d.path, usual)
		require.NoError(t, err, "handshake lines are optional on a pseudo-terminal")
		require.NoError(t, p.Close())
	}
	assert.Equal(t, before, descriptors(t))
}

// A descriptor that the library cannot wait on is refused, not a panic.
func TestTooManyFiles(t *testing.T) {
	var limit syscall.Rlimit
	require.NoError(t, syscall.Getrlimit(syscall.RLIMIT_NOFILE, &limit))
	if limit.Cur < lastDescriptor+100 {
		t.Skip("the limit of open files is lower than the library's")
	}
	d := plug(t)
	var open []io.Closer
	defer func() {
		for _, f := range open {
			f.Close()
		}
	}()
	for {
		f, err := os.Open("/dev/null")
		require.NoError(t, err)
		open = append(open, f)
		if f.Fd() > lastDescriptor {
			break
		}
	}
	_, err := Ports{}.Open(d.path, usual)
	assert.ErrorIs(t, err, scale.ErrPort)
	assert.ErrorContains(t, err, "files open")
}

// From the arrival of a line to its update.
func BenchmarkLatency(b *testing.B) {
	d := plug(b)
	c, err := scale.ParseSpec("name=bench,port=" + d.path + givenLine)
	require.NoError(b, err)
	got := make(chan time.Time, 1)
	i := scale.New(c, Ports{}, func(u scale.Update) {
		if u.HasReading {
			got <- time.Now()
		}
	}, zerolog.Nop())
	ctx, cancel := context.WithCancel(b.Context())
	done := make(chan error, 1)
	go func() { done <- i.Run(ctx) }()
	time.Sleep(500 * time.Millisecond)
	var sum time.Duration
	for b.Loop() {
		at := time.Now()
		d.send(b, weight)
		sum += (<-got).Sub(at)
	}
	b.ReportMetric(float64(sum.Microseconds())/float64(b.N), "us/line")
	cancel()
	<-done
}
