package scale

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A lookout tells live what comes at each port that is not taken, keeps what nobody
// understands, follows ports that come and go, and lets go of all when its time is over.
func TestLookout(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		known, odd, mine := newWire(), newWire(), newWire()
		known.usb = "0403:6001:A5"
		b := &bus{at: map[string]*wire{"/dev/a": known, "/dev/b": odd, "/dev/c": mine}}
		l := NewLookout(b)
		l.Taken = []string{"/dev/c"}
		ctx, stop := context.WithCancel(t.Context())
		ended := make(chan struct{})
		go func() { defer close(ended); _ = l.Run(ctx) }()
		time.Sleep(10 * time.Second)
		assert.Empty(t, l.Seen(), "nobody asked")
		assert.Zero(t, known.count(&known.opens))

		l.Look(time.Now())
		for range 50 {
			time.Sleep(100 * time.Millisecond)
			known.send(line("ST", "+00123.45"))
			odd.send("WT<  012.3>gram\r\n")
		}
		seen := l.Seen()
		require.Len(t, seen, 2)
		assert.Equal(t, "123.45 g", seen[0].Shows)
		assert.Equal(t, "name=a,usb=0403:6001:A5,format=header-comma,baud=9600,line=8N1", seen[0].Spec())
		assert.Contains(t, seen[1].Why, unknownText)
		assert.Contains(t, seen[1].Raw, `WT<  012.3>gram\r\n`)
		assert.Contains(t, seen[1].Capture, `"WT<  012.3>gram\r\n"`)
		assert.Zero(t, mine.count(&mine.opens), "a scale that is set up is left to its bench")
		assert.Zero(t, known.questions()+odd.questions(), "it only listens")

		b.set("/dev/a", nil)
		time.Sleep(3 * time.Second)
		assert.Len(t, l.Seen(), 1)
		time.Sleep(LookFor)
		assert.Empty(t, l.Seen())
		stop()
		<-ended
		for _, w := range []*wire{known, odd} {
			assert.Equal(t, w.count(&w.opens), w.count(&w.closes), "nothing stays open")
		}
	})
}
