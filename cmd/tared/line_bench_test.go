//go:build linux

package main

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"net/http"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gorilla/websocket"
	"github.com/stretchr/testify/require"
)

// BenchmarkLine is what the way of a line costs: written to a pseudo-terminal, until
// twenty pages hold what came of it, in the midst of a pour. Beside it runs the plainest
// bridge there is (testdata/bridge), a program of its own too. They take turns, a pass
// of two seconds each, so that what else the machine does meets both; each round of the
// benchmark is a pass of either, and a ratio is the median of the rounds:
//
//	go test ./cmd/tared -run '^$' -bench 'Line$' -benchtime 15x
//
// "kept" has a note recorded each half second; "stopped" has one page more that reads nothing;
// of "still" the scale says the same ten times a second; "first" is the first visit of a
// browser. Latency is in microseconds at the median
// and at the 99th percentile of all lines and pages; cpu is what a line cost, in
// microseconds; merged is how many of a hundred lines a page was not told, since a newer
// one was there, in the worst round, and more how many more than of the bridge; MiB is resident memory with the pages on, program text included.
func BenchmarkLine(b *testing.B) {
	for _, rate := range []int{10, 20, 100, 1000} {
		b.Run(fmt.Sprint(rate), func(b *testing.B) { line(b, rate, "") })
	}
	for _, rate := range []int{10, 20, 100} {
		b.Run(fmt.Sprint(rate, "-kept"), func(b *testing.B) { line(b, rate, "kept") })
	}
	b.Run("still", still)
	b.Run("first", first)
	b.Run("100-stopped", func(b *testing.B) { line(b, 100, "stopped") })
}

const (
	linePages = 20
	linePass  = 2 * time.Second
)

func line(b *testing.B, rate int, beside string) {
	sides := []*side{newSide(b, startServe), newSide(b, startBridge)}
	us := sides[0]
	post(b, us.http+"/api/start", `{"recipe":"Quartz 60\nWhiting 40\n","base":"1500g","by":"Mara"}`)
	post(b, us.http+"/api/do", `{"word":"yes","rest":"Mara"}`)
	for range 60 { // a container, until it is tared
		for _, s := range sides {
			s.say()
		}
		time.Sleep(50 * time.Millisecond)
	}
	for _, s := range sides {
		for range linePages {
			s.watch(b)
		}
	}
	if beside == "stopped" {
		keepOneStopped(b, strings.TrimPrefix(us.http, "http://"))
	}
	var stop chan struct{}
	var noted sync.WaitGroup
	var p50, p99, cpu, merged, size [2][]float64
	b.ResetTimer()
	for b.Loop() {
		for i, s := range sides {
			if stop = make(chan struct{}); beside == "kept" && i == 0 {
				noted.Go(func() {
					for every := time.NewTicker(500 * time.Millisecond); ; {
						select {
						case <-stop:
							every.Stop()
							return
						case <-every.C:
							post(b, us.http+"/api/do", `{"word":"note","rest":"the whiting is damp"}`)
						}
					}
				})
			}
			used := s.cpu(b)
			lines := s.pass(rate, sides[1-i])
			used = s.cpu(b) - used
			close(stop)
			noted.Wait()
			took, bytes := s.heard()
			if len(took) == 0 {
				b.Fatal("a page heard nothing")
			}
			p50[i] = append(p50[i], took[len(took)/2])
			p99[i] = append(p99[i], took[len(took)*99/100])
			cpu[i] = append(cpu[i], float64(used.Microseconds())/float64(lines))
			merged[i] = append(merged[i], 100-100*float64(len(took))/float64(lines*linePages))
			size[i] = append(size[i], float64(bytes)/float64(len(took)))
		}
	}
	b.ReportMetric(0, "ns/op")
	ratio := func(of [2][]float64, what string) {
		ratios := make([]float64, len(of[0]))
		for i := range ratios {
			ratios[i] = of[0][i] / of[1][i]
		}
		slices.Sort(ratios)
		b.ReportMetric(quantile(ratios, 0.25), what+"-ratio-low")
		b.ReportMetric(quantile(ratios, 0.5), what+"-ratio")
		b.ReportMetric(quantile(ratios, 0.75), what+"-ratio-high")
		for i, name := range []string{"", "bridge-"} {
			slices.Sort(of[i])
			b.ReportMetric(quantile(of[i], 0.5), name+what+"-µs")
		}
	}
	ratio(p50, "p50")
	ratio(p99, "p99")
	ratio(cpu, "cpu")
	for i, name := range []string{"", "bridge-"} {
		b.ReportMetric(sides[i].resident(b), name+"MiB")
		b.ReportMetric(slices.Max(merged[i]), name+"merged-%")
	}
	b.ReportMetric(max(0, slices.Max(merged[0])-slices.Max(merged[1])), "merged-more-%")
	b.ReportMetric(quantile(size[0], 0.5), "message-bytes")
}

// still is what twenty pages of a batch in work are told while nothing moves.
func still(b *testing.B) {
	sides := []*side{newSide(b, startServe), newSide(b, startBridge)}
	us := sides[0]
	post(b, us.http+"/api/start", `{"recipe":"Quartz 60\nWhiting 40\n","base":"1500g","by":"Mara"}`)
	post(b, us.http+"/api/do", `{"word":"yes","rest":"Mara"}`)
	for _, s := range sides {
		for range linePages {
			s.watch(b)
		}
	}
	say := func(passes int) (time.Duration, [2]time.Duration) {
		begin, used := time.Now(), [2]time.Duration{us.cpu(b), sides[1].cpu(b)}
		for range passes * int(linePass/time.Second) * 10 {
			for _, s := range sides {
				_, _ = s.wire.master.WriteString("ST,GS,     0.0 g\r\n")
			}
			time.Sleep(100 * time.Millisecond)
		}
		return time.Since(begin), [2]time.Duration{us.cpu(b) - used[0], sides[1].cpu(b) - used[1]}
	}
	say(2) // it settles
	us.told.Store(0)
	var took time.Duration
	var used [2]time.Duration
	for b.Loop() {
		t, u := say(1)
		took, used[0], used[1] = took+t, used[0]+u[0], used[1]+u[1]
	}
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(float64(us.told.Load())/took.Seconds()/linePages, "messages/s")
	b.ReportMetric(100*used[0].Seconds()/took.Seconds(), "%CPU")
	b.ReportMetric(100*used[1].Seconds()/took.Seconds(), "bridge-%CPU")
}

var fetched = regexp.MustCompile(`(?:src|href)="(/static/[^"]+)"`)

// first is how much a browser fetches for the bench page when it has nothing of it.
func first(b *testing.B) {
	p := startServe(b, openCable(b).slave.Name())
	requests, size := 0, 0
	fetch := func(path string) []byte {
		req, err := http.NewRequest(http.MethodGet, p.http+path, nil)
		require.NoError(b, err)
		req.Header.Set("Accept-Encoding", "gzip")
		res, err := http.DefaultTransport.RoundTrip(req)
		require.NoError(b, err)
		defer res.Body.Close()
		require.Equal(b, http.StatusOK, res.StatusCode, path)
		came, err := io.ReadAll(res.Body)
		require.NoError(b, err)
		requests, size = requests+1, size+len(came)
		if res.Header.Get("Content-Encoding") == "gzip" {
			z, err := gzip.NewReader(bytes.NewReader(came))
			require.NoError(b, err)
			came, err = io.ReadAll(z)
			require.NoError(b, err)
		}
		return came
	}
	for b.Loop() {
		requests, size = 0, 0
		for _, more := range fetched.FindAllSubmatch(fetch("/"), -1) {
			fetch(string(more[1]))
		}
	}
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(float64(requests), "requests")
	b.ReportMetric(float64(size)/1024, "KiB")
}

// quantile of what is sorted.
func quantile(of []float64, q float64) float64 { return of[int(q*float64(len(of)-1)+0.5)] }

// side is one of the two programs, with a cable and its pages.
type side struct {
	process
	wire  cable
	lines int
	sent  [6000]atomic.Int64 // by line, in nanoseconds
	pages []*watching
	told  atomic.Int64 // messages to all pages
}

// watching is one page.
type watching struct {
	mu    sync.Mutex
	took  []float64 // µs
	bytes int
}

func newSide(b *testing.B, start func(testing.TB, string, ...string) process) *side {
	wire := openCable(b)
	return &side{process: start(b, wire.slave.Name()), wire: wire}
}

// say writes the next line: a pour up from 200 g in steps of 0.1 g and down again.
func (s *side) say() {
	g := max(0, s.lines-60) % (2 * len(s.sent))
	if g >= len(s.sent) {
		g = 2*len(s.sent) - 1 - g
	}
	s.lines++
	text := fmt.Sprintf("ST,GS,%8.1f g\r\n", 200+float64(g)/10)
	s.sent[g].Store(time.Now().UnixNano())
	_, _ = s.wire.master.WriteString(text)
}

// pass has the lines of one pass written, and ten a second to the other side, lest its
// scale is taken for a slow one.
func (s *side) pass(rate int, other *side) (lines int) {
	tick := time.NewTicker(time.Second / time.Duration(rate))
	defer tick.Stop()
	s.say() // what was heard in the last pass is not of this one
	time.Sleep(200 * time.Millisecond)
	s.heard()
	for lines = range int(linePass.Seconds() * float64(rate)) {
		<-tick.C
		s.say()
		if lines%max(1, rate/10) == 0 {
			other.say()
		}
	}
	time.Sleep(100 * time.Millisecond)
	return lines + 1
}

// watch opens a page, which reads all that comes.
func (s *side) watch(b *testing.B) {
	conn, _, err := websocket.DefaultDialer.Dial(s.ws, http.Header{})
	require.NoError(b, err)
	b.Cleanup(func() { conn.Close() })
	p := &watching{}
	s.pages = append(s.pages, p)
	go func() {
		var msg bytes.Buffer // the page is not what is measured: it makes no garbage
		for last := -1; ; {
			_, r, err := conn.NextReader()
			if err != nil {
				return
			}
			msg.Reset()
			if _, err := msg.ReadFrom(r); err != nil {
				return
			}
			s.told.Add(1)
			n := shown(msg.Bytes())
			if n < 0 || n >= len(s.sent) || n == last {
				continue
			}
			last = n
			p.mu.Lock()
			p.took = append(p.took, float64(time.Now().UnixNano()-s.sent[n].Load())/1e3)
			p.bytes += msg.Len()
			p.mu.Unlock()
		}
	}()
}

// shown turns the digits in a message back into the number of the line; -1: there are none.
func shown(msg []byte) int {
	// Twenty pages that parse whole views would take the cores from the one that is
	// measured: they look for the one member.
	digits, raw := bytes.CutPrefix(msg, []byte("ST,GS,"))
	if !raw {
		_, rest, _ := bytes.Cut(msg, []byte(`shows":"`))
		digits, _, _ = bytes.Cut(rest, []byte(`"`))
	}
	f, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(string(digits), "g")), 64)
	if err != nil {
		return -1
	}
	return int(f*10+0.5) - 2000
}

// heard takes what the pages heard since it was asked last: how long it took, sorted, and
// how many bytes it was.
func (s *side) heard() (took []float64, bytes int) {
	for _, p := range s.pages {
		p.mu.Lock()
		took, bytes = append(took, p.took...), bytes+p.bytes
		p.took, p.bytes = p.took[:0], 0
		p.mu.Unlock()
	}
	slices.Sort(took)
	return took, bytes
}

// startBridge builds the bridge and starts it on port.
func startBridge(b testing.TB, port string, _ ...string) process {
	bridge := filepath.Join(b.TempDir(), "bridge")
	said, err := exec.Command("go", "build", "-o", bridge, "./testdata/bridge").CombinedOutput()
	require.NoError(b, err, "%s", said)
	return start(b, exec.Command(bridge, port))
}
