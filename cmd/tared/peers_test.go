package main

import (
	"bytes"
	"context"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/scale"
	"tared/session"
	"tared/session/journal"
	"tared/session/plan"
	"tared/web"
	"tared/web/peers"
)

// oneBench is a bench with its page, on an address that stays over its restarts.
type oneBench struct {
	dir, addr string
	live      *liveBench
	stop      func()
}

func newOneBench(t *testing.T, dir, addr string) *oneBench {
	t.Helper()
	eye, err := scale.ParseSpec("name=bench,port=eye,step=0.1g,max=2000g")
	require.NoError(t, err)
	w, err := newLiveBench(liveBenchConfig{dir: dir, log: zerolog.Nop(), now: time.Now, scales: []scale.Config{eye}})
	require.NoError(t, err)
	ctx, end := context.WithCancel(context.Background())
	ready, done := make(chan net.Addr, 1), make(chan error, 1)
	go func() {
		done <- withPage(ctx, w, web.Config{Addr: addr, Log: zerolog.Nop(), Book: pageBook{&w.record}, Lines: pageLines{&w.record}, Ready: func(a net.Addr) { ready <- a }})
	}()
	var at net.Addr
	select {
	case at = <-ready:
	case err := <-done:
		require.NoError(t, err)
	}
	require.NoError(t, w.bench.Alive(t.Context()))
	puller := peers.Puller{Data: dir, Witness: w.bench.Witness, Log: zerolog.Nop()}
	var group sync.WaitGroup
	group.Go(func() { _ = puller.Run(ctx) })
	b := &oneBench{dir: dir, addr: at.String(), live: w}
	b.stop = sync.OnceFunc(func() {
		end()
		group.Wait()
		assert.NoError(t, <-done)
		assert.NoError(t, w.Close())
	})
	t.Cleanup(b.stop)
	return b
}

func (b *oneBench) lines(t *testing.T) []byte {
	j, err := os.ReadFile(filepath.Join(b.dir, journal.Name))
	require.NoError(t, err)
	return j
}

// of is what b has of another bench.
func (b *oneBench) of(other *oneBench) []byte {
	files, _ := filepath.Glob(filepath.Join(b.dir, peers.Dir, ownID(other.dir)[:16], journal.Name))
	if len(files) == 0 {
		return nil
	}
	j, _ := os.ReadFile(files[0])
	return j
}

func (b *oneBench) has(t *testing.T, other *oneBench, within time.Duration) {
	t.Helper()
	require.Eventually(t, func() bool { return bytes.HasPrefix(b.of(other), other.lines(t)) }, within, 5*time.Millisecond)
}

func (b *oneBench) trouble() string {
	all := peers.List(b.dir)
	if len(all) == 0 {
		return "nobody"
	}
	return all[0].Trouble
}

// Two benches take each other's lines, byte for byte and within a second; each notes the other's
// head; one that was away is caught up with. Then one is put back to an old copy and goes on
// from there: the other names it, keeps what it had, takes nothing more, and weighs on.
func TestBenchesTakeEachOthersLines(t *testing.T) {
	a := newOneBench(t, t.TempDir(), "127.0.0.1:0")
	b := newOneBench(t, t.TempDir(), "127.0.0.1:0")
	for _, x := range []struct{ at, of *oneBench }{{a, b}, {b, a}} {
		code, out, errs := tared(t, "peers", "add", "http://"+x.of.addr, "--data", x.at.dir)
		require.Equal(t, 0, code, errs)
		assert.Contains(t, out, ownID(x.of.dir)[:12])
	}
	code, _, errs := tared(t, "peers", "add", "http://"+a.addr, "--data", a.dir)
	assert.Equal(t, exitFailed, code)
	assert.Contains(t, errs, "this bench itself")
	a.has(t, b, 30*time.Second)
	b.has(t, a, 30*time.Second)
	require.Eventually(t, func() bool {
		return bytes.Contains(a.lines(t), []byte(`"kind":"witnessed"`)) && bytes.Contains(b.lines(t), []byte(`"kind":"witnessed"`))
	}, 30*time.Second, 10*time.Millisecond)
	a.has(t, b, 30*time.Second)

	began := time.Now()
	_, err := a.live.bench.Start(t.Context(), plan.Request{Recipe: "Quartz 100\n", Base: "750g", By: "Mara"})
	require.NoError(t, err)
	b.has(t, a, 20*time.Second)
	t.Logf("a line was at the other bench after %v", time.Since(began))

	old := a.lines(t)
	b.stop()
	for i := range 2000 {
		require.NoError(t, a.live.bench.Do(t.Context(), session.Command{Word: "note", Rest: fmt.Sprint("while it was away ", i)}))
	}
	began = time.Now()
	b = newOneBench(t, b.dir, b.addr)
	b.has(t, a, 20*time.Second)
	t.Logf("2000 lines were caught up with after %v", time.Since(began))
	_, out, _ := tared(t, "peers", "--data", b.dir)
	assert.Contains(t, out, "up to date")

	// The old copy is shorter: it is called that. It goes on: that is another history.
	kept := b.of(a)
	a.stop()
	require.NoError(t, os.WriteFile(filepath.Join(a.dir, journal.Name), old, 0o640))
	require.NoError(t, os.RemoveAll(filepath.Join(a.dir, "journal.index")))
	a = newOneBench(t, a.dir, a.addr)
	for range 5 {
		require.NoError(t, a.live.bench.Do(t.Context(), session.Command{Word: "note", Rest: "from an old copy"}))
	}
	require.Eventually(t, func() bool { return b.trouble() == "fork" }, 90*time.Second, 20*time.Millisecond)
	assert.Equal(t, string(kept), string(b.of(a)), "what was taken first stays")
	require.Eventually(t, func() bool { return bytes.Contains(b.lines(t), []byte(`"other":"`)) }, 20*time.Second, 10*time.Millisecond)
	_, out, _ = tared(t, "peers", "--data", b.dir)
	assert.Contains(t, out, "another history")
	_, err = b.live.bench.Start(t.Context(), plan.Request{Recipe: "Quartz 100\n", Base: "750g", By: "Ilse"})
	require.NoError(t, err, "and it weighs on")
}

// Whatever answers in the place of a bench, it is named, and this bench goes on.
func TestWhoeverAnswersForABenchIsNamed(t *testing.T) {
	real := newOneBench(t, t.TempDir(), "127.0.0.1:0")
	head := func(w http.ResponseWriter, lines string) {
		w.Header().Set("Tared-Lines", lines)
		w.Header().Set("Tared-Head", strings.Repeat("ab", 32))
	}
	for name, c := range map[string]struct {
		says string
		h    http.HandlerFunc
	}{
		"rubbish": {"refused", func(w http.ResponseWriter, r *http.Request) { head(w, "900"); _, _ = w.Write([]byte("<html>\n")) }},
		"a long line": {"refused", func(w http.ResponseWriter, r *http.Request) {
			head(w, "900")
			_, _ = w.Write(bytes.Repeat([]byte("x"), 3<<20))
		}},
		"no bench":      {"unreachable", func(w http.ResponseWriter, r *http.Request) { _, _ = w.Write([]byte("hello")) }},
		"older":         {"fork", func(w http.ResponseWriter, r *http.Request) { head(w, "1"); w.WriteHeader(http.StatusConflict) }},
		"wants pairing": {"unpaired", func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(http.StatusUnauthorized) }},
		"leads away": {"unreachable", func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, "http://127.0.0.1:1/", http.StatusFound)
		}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			var lie http.HandlerFunc
			var mu sync.Mutex
			s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				mu.Lock()
				h := lie
				mu.Unlock()
				if h != nil {
					h(w, r)
					return
				}
				r.URL.Scheme, r.URL.Host, r.RequestURI = "http", real.addr, ""
				r.Header.Del("Accept-Encoding")
				q := r.URL.Query()
				q.Del("follow")
				r.URL.RawQuery = q.Encode()
				res, err := http.DefaultTransport.RoundTrip(r)
				if err != nil {
					return
				}
				defer func() { _ = res.Body.Close() }()
				head := w.Header()
				for k := range res.Header {
					head.Set(k, res.Header.Get(k))
				}
				w.WriteHeader(res.StatusCode)
				b := new(bytes.Buffer)
				_, _ = b.ReadFrom(res.Body)
				_, _ = w.Write(b.Bytes())
			}))
			t.Cleanup(s.Close)
			own := newOneBench(t, t.TempDir(), "127.0.0.1:0")
			code, _, errs := tared(t, "peers", "add", s.URL, "--data", own.dir)
			require.Equal(t, 0, code, errs)
			own.has(t, real, 30*time.Second)
			kept := own.of(real)
			mu.Lock()
			lie = c.h
			mu.Unlock()
			require.Eventually(t, func() bool { return own.trouble() == c.says }, 60*time.Second, 10*time.Millisecond, "%v", own.trouble())
			assert.Equal(t, string(kept), string(own.of(real)))
			require.NoError(t, own.live.bench.Alive(t.Context()))
			_, out, _ := tared(t, "peers", "--data", own.dir)
			t.Log(out)
		})
	}
}
