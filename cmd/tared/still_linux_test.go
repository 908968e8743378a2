package main

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"github.com/gorilla/websocket"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A scale that says the same ten times a second, in an open batch too, is no news: nothing
// but the beat goes out, and who asks is told of its last line all the same.
func TestAStillBenchSendsOnlyItsBeat(t *testing.T) {
	t.Parallel()
	wire := openCable(t)
	p := startServe(t, wire.slave.Name())
	end := make(chan struct{})
	defer close(end)
	go func() {
		tick := time.NewTicker(100 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-end:
				return
			case <-tick.C:
				_, _ = fmt.Fprint(wire.master, "ST,GS,     0.0 g\r\n")
			}
		}
	}()
	send(t, p.http+"/api/start", `{"recipe":"Quartz 60\nWhiting 40\n","base":"750g","by":"Mara"}`)
	send(t, p.http+"/api/do", `{"word":"yes","rest":"Mara"}`)
	limit := time.Now().Add(patience(t))
	for benchView(t, p.http+"/").Scales[0].Frames < 30 {
		require.True(t, time.Now().Before(limit), "no line was heard")
		time.Sleep(100 * time.Millisecond)
	}
	page, _, err := websocket.DefaultDialer.Dial(p.ws, nil)
	require.NoError(t, err)
	defer page.Close()
	_, _, err = page.ReadMessage() // the view
	require.NoError(t, err)
	before := benchView(t, p.http+"/").Scales[0].Frames
	// On a machine that stalls for seconds the scale falls silent, which is news.
	for beats, news := 0, 0; beats < 5; {
		_, told, err := page.ReadMessage()
		require.NoError(t, err)
		var beat struct{ Beat string }
		require.NoError(t, json.Unmarshal(told, &beat))
		if beat.Beat != "" {
			beats++
			continue
		}
		news++
		require.LessOrEqual(t, news, 4, "%s", told)
	}
	assert.Greater(t, benchView(t, p.http+"/").Scales[0].Frames, before)
}
