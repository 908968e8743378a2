//go:build unix

package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gorilla/websocket"
	"github.com/stretchr/testify/require"

	"tared/session"
	"tared/session/journal"
)

// benchPage is a served bench and what its page has shown.
type benchPage struct {
	*daemon
	t   *testing.T
	dir string // of the journal

	mu   sync.Mutex
	last *session.View
	told []string // each change of what the page asks of the hands
	news chan struct{}
}

// watch serves a bench on scales and opens its page.
func watch(t *testing.T, dir string, scales ...string) *benchPage {
	t.Helper()
	args := []string{"serve", "--listen", "127.0.0.1:0", "--data", dir, "--log", "error"}
	for _, s := range scales {
		args = append(args, "--scale", s)
	}
	b := &benchPage{daemon: startDaemon(t, args...), t: t, dir: dir, news: make(chan struct{}, 1)}
	conn, _, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(b.url, "http")+"live", nil)
	require.NoError(t, err)
	closed := make(chan struct{})
	go func() {
		defer close(closed)
		var page pageMemory
		for {
			_, msg, err := conn.ReadMessage()
			if err != nil {
				return
			}
			if v, ok := page.hear(msg); ok {
				b.show(v)
			}
		}
	}()
	t.Cleanup(func() { _ = conn.Close(); <-closed })
	return b
}

// pageMemory is the view that a page has: whole at first, then told what changed.
type pageMemory struct{ view map[string]any }

// hear takes in a message, and gives the view; of a beat there is none.
func (p *pageMemory) hear(msg []byte) (v session.View, ok bool) {
	var told map[string]any
	if json.Unmarshal(msg, &told) != nil || told["beat"] != nil {
		return v, false
	}
	if set, part := told["set"].(map[string]any); part {
		for place, value := range set {
			setAt(p.view, strings.Split(place, "."), value)
		}
	} else {
		p.view = told
	}
	b, err := json.Marshal(p.view)
	return v, err == nil && json.Unmarshal(b, &v) == nil && v.Seq > 0
}

// setAt puts a value at its place, where places in a list are numbers.
func setAt(part any, place []string, value any) {
	switch at := part.(type) {
	case map[string]any:
		if len(place) == 1 {
			at[place[0]] = value
			return
		}
		setAt(at[place[0]], place[1:], value)
	case []any:
		if n, err := strconv.Atoi(place[0]); err == nil && len(place) == 1 {
			at[n] = value
		} else if err == nil {
			setAt(at[n], place[1:], value)
		}
	}
}

func (b *benchPage) show(v session.View) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.last = &v
	if s := asTold(v); len(b.told) == 0 || b.told[len(b.told)-1] != s {
		b.told = append(b.told, s)
	}
	select {
	case b.news <- struct{}{}:
	default:
	}
}

// asTold is a view without the numbers that move all the time.
func asTold(v session.View) string {
	s := fmt.Sprintf("%s %s on %s: %s. %s", v.Now.State, v.Now.Material, v.Now.Scale, v.Now.Headline, v.Now.Detail)
	if v.Asked != nil {
		s += " ASKED " + v.Asked.Question + ": " + v.Asked.Says.String()
	}
	for _, c := range v.Scales {
		s += fmt.Sprintf(" [%s %s %s", c.Name, c.Link, c.On)
		if c.Settled {
			s += " " + c.Shows
		}
		s += "]"
	}
	return s
}

// until waits until the page shows what ok looks for.
func (b *benchPage) until(what string, ok func(session.View) bool) session.View {
	b.t.Helper()
	limit := time.After(patience(b.t))
	for {
		b.mu.Lock()
		v := b.last
		b.mu.Unlock()
		if v != nil && ok(*v) {
			return *v
		}
		select {
		case <-b.news:
		case <-limit:
			b.mu.Lock()
			defer b.mu.Unlock()
			require.Fail(b.t, "it never came: "+what, "the page showed, last line last:\n%s\nThe journal:\n%s",
				strings.Join(b.told[max(0, len(b.told)-40):], "\n"), strings.Join(b.facts(""), "\n"))
		}
	}
}

// facts gives the lines of a kind that are in the journal; "" gives all.
func (b *benchPage) facts(kind string) (some []string) {
	b.t.Helper()
	j, err := os.ReadFile(filepath.Join(b.dir, journal.Name))
	require.NoError(b.t, err)
	for l := range strings.Lines(string(j)) {
		if kind == "" || strings.Contains(l, `"kind":"`+kind+`"`) {
			some = append(some, strings.TrimSpace(l))
		}
	}
	return some
}

func (b *benchPage) do(word, rest string) {
	b.t.Helper()
	j, err := json.Marshal(session.Command{Word: word, Rest: rest, By: "Ilse"})
	require.NoError(b.t, err)
	send(b.t, b.url+"api/do", string(j))
}
