package web

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/journal"
)

// heldLines are those of a journal in a directory.
type heldLines struct {
	*journal.Journal
	mu    sync.Mutex
	place journal.Place
	news  chan struct{}
	opens int
}

func newLines(t testing.TB, count int) *heldLines {
	t.Helper()
	j, _, err := journal.Open(t.TempDir(), journal.Options{Wrap: func(f journal.File) journal.File { return lazyFile{f} }})
	require.NoError(t, err)
	t.Cleanup(func() { _ = j.Close() })
	l := &heldLines{Journal: j, news: make(chan struct{})}
	for i := range count {
		l.write(t, fmt.Sprintf("note %d, %s", i, strings.Repeat("x", i*i%700)))
	}
	return l
}

type lazyFile struct{ journal.File }

func (lazyFile) Sync() error { return nil }

func (l *heldLines) write(t testing.TB, words string) {
	r, err := l.Append(moment, "noted", "", "Mara", map[string]string{"text": words})
	require.NoError(t, err)
	l.mu.Lock()
	defer l.mu.Unlock()
	l.place.Add(r)
	close(l.news)
	l.news = make(chan struct{})
}

func (l *heldLines) Place() (journal.Place, <-chan struct{}) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.place, l.news
}

func (l *heldLines) Open() (LinesFile, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.opens++
	return os.Open(l.Path())
}

// Whatever line is asked for, the answer is the journal's own bytes from there on, and what
// was taken in two parts is what is taken in one.
func TestLinesAreTheJournalsOwnBytes(t *testing.T) {
	l := newLines(t, 300)
	s, _ := newServer(t, func(c *Config) { c.Lines = l })
	whole, err := os.ReadFile(l.Path())
	require.NoError(t, err)
	lines := slices.Collect(bytes.Lines(whole))
	for _, from := range []int{1, 2, 17, 299, 300, 301} {
		for _, coding := range []string{"", "gzip", "br;q=1, gzip;q=0.5", "gzip;q=0"} {
			r := request("GET", fmt.Sprintf("/api/v1/lines?from=%d", from), "")
			if coding != "" {
				r.Header.Set("Accept-Encoding", coding)
			}
			w := do(s, r)
			require.Equal(t, http.StatusOK, w.Code)
			assert.Equal(t, "application/jsonl", w.Header().Get("Content-Type"))
			assert.Equal(t, "300", w.Header().Get(linesHeader))
			assert.Equal(t, fmt.Sprintf("%x", sha256.Sum256(lines[299])), w.Header().Get(headHeader))
			body := io.Reader(w.Body)
			zipped := strings.Contains(coding, "gzip") && !strings.Contains(coding, "q=0") || strings.Contains(coding, "q=0.5")
			require.Equal(t, zipped, w.Header().Get("Content-Encoding") == "gzip", coding)
			if zipped {
				body, err = gzip.NewReader(body)
				require.NoError(t, err)
			}
			b, err := io.ReadAll(body)
			require.NoError(t, err)
			require.Equal(t, string(bytes.Join(lines[from-1:], nil)), string(b), "from %d, %q", from, coding)
		}
	}
	w := do(s, request("GET", "/api/v1/lines", ""))
	assert.Equal(t, string(whole), w.Body.String(), "all of them where nothing else is said")
	for from, status := range map[string]int{"0": 400, "-1": 400, "x": 400, "302": 409, "99999999999999999999": 400} {
		w := do(s, request("GET", "/api/v1/lines?from="+from, ""))
		assert.Equal(t, status, w.Code, "%s: %s", from, w.Body)
		assert.Contains(t, w.Body.String(), `"error":`)
	}
	w = do(s, request("GET", "/api/v1/lines?from=302", ""))
	assert.Equal(t, "300", w.Header().Get(linesHeader), "and who asks for too much is told how much there is")
}

// Beyond this machine they are for the paired: names, lots and prices stand in them.
func TestLinesAreForThePaired(t *testing.T) {
	l := newLines(t, 3)
	s, _ := newServer(t, func(c *Config) { c.Lines, c.Pair = l, true })
	assert.Equal(t, http.StatusUnauthorized, do(s, request("GET", "/api/v1/lines", "")).Code)
	assert.Zero(t, l.opens)
	r := request("GET", "/api/v1/lines", "")
	r.AddCookie(known(s))
	assert.Equal(t, http.StatusOK, do(s, r).Code)
}

// Who follows has each line at once, compressed or not, and the server ends all the same.
func TestFollowedLinesComeAtOnce(t *testing.T) {
	for _, coding := range []string{"identity", "gzip"} {
		l := newLines(t, 3)
		bound := make(chan net.Addr, 1)
		s, err := New(Config{Bench: newFakeBench(), Lines: l, Addr: "127.0.0.1:0", Log: zerolog.Nop(), Ready: func(a net.Addr) { bound <- a }})
		require.NoError(t, err)
		ctx, end := context.WithCancel(t.Context())
		ran := make(chan error, 1)
		go func() { ran <- s.Run(ctx) }()
		r, err := http.NewRequest(http.MethodGet, "http://"+(<-bound).String()+"/api/v1/lines?from=3&follow=1", nil)
		require.NoError(t, err)
		r.Header.Set("Accept-Encoding", coding)
		res, err := http.DefaultClient.Do(r)
		require.NoError(t, err)
		body := io.Reader(res.Body)
		if coding == "gzip" {
			body, err = gzip.NewReader(body)
			require.NoError(t, err)
		}
		came := make(chan string, 10)
		go func() {
			for line := range linesOfReader(body) {
				came <- line
			}
			close(came)
		}()
		assert.Contains(t, <-came, "note 2")
		for i := range 3 {
			began := time.Now()
			l.write(t, fmt.Sprintf("live %d", i))
			assert.Contains(t, <-came, fmt.Sprintf("live %d", i))
			assert.Less(t, time.Since(began), time.Second)
		}
		end()
		select {
		case err := <-ran:
			require.NoError(t, err)
		case <-time.After(shutdownWait + 5*time.Second):
			t.Fatal("a follower keeps the server from ending")
		}
		_, more := <-came
		assert.False(t, more)
		_ = res.Body.Close()
	}
}

func linesOfReader(r io.Reader) func(yield func(string) bool) {
	return func(yield func(string) bool) {
		var held []byte
		b := make([]byte, 4096)
		for {
			n, err := r.Read(b)
			held = append(held, b[:n]...)
			for {
				i := bytes.IndexByte(held, '\n')
				if i < 0 {
					break
				}
				if !yield(string(held[:i])) {
					return
				}
				held = held[i+1:]
			}
			if err != nil {
				return
			}
		}
	}
}

// The last of 20 000 lines costs next to nothing: nobody reads what comes before.
func BenchmarkManyLines(b *testing.B) {
	l := newLines(b, 20_000)
	s, _ := newServer(b, func(c *Config) { c.Lines = l })
	for _, c := range []struct {
		name, path string
		lines      int
	}{{"all", "/api/v1/lines", 20_000}, {"last", "/api/v1/lines?from=20000", 1}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				w := do(s, request("GET", c.path, ""))
				require.Equal(b, c.lines, strings.Count(w.Body.String(), "\n"))
			}
		})
	}
}
