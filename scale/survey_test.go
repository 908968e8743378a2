package scale

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
)

func TestSurvey(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		talks, over, silent, noise, taken := newWire(), newWire(), newWire(), newWire(), newWire()
		talks.sent = protocol.Line{Baud: 2400, Bits: 7, Parity: 'E', Stop: 1}
		talks.usb = "0403:6001:A5"
		taken.fail = &PortError{Port: "/dev/e", Kind: ErrBusy, What: "minicom, process 7", Mend: "close that program"}
		b := &bus{at: map[string]*wire{"/dev/a": talks, "/dev/b": over, "/dev/c": silent, "/dev/d": noise, "/dev/e": taken}}
		stop := make(chan struct{})
		go func() {
			for {
				select {
				case <-stop:
					return
				case <-time.After(100 * time.Millisecond):
					talks.send(line("ST", "+00123.45"))
					over.send("ST,+00123.45  g\r\nOL,+9999999E+19\r\n")
					noise.send("tick\x81tock\xffmore noise\r\n")
				}
			}
		}()
		defer close(stop)
		ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
		defer cancel()
		all, err := Survey(ctx, b, nil, nil, quietLog)
		require.NoError(t, err)
		by := map[string]Sighting{}
		for _, s := range all {
			by[s.Port] = s
		}
		require.Len(t, by, 5)
		a := by["/dev/a"]
		assert.Equal(t, "123.45 g", a.Shows)
		assert.Empty(t, a.Why)
		assert.Equal(t, "0403:6001:A5", a.USB)
		assert.Equal(t, "name=a,usb=0403:6001:A5,format=header-comma,baud=2400,line=7E1", a.Spec())
		_, err = ParseSpec(a.Spec())
		assert.NoError(t, err)
		assert.Equal(t, "overload", by["/dev/b"].Shows)
		assert.Contains(t, by["/dev/b"].Why, "take something off")
		assert.Contains(t, by["/dev/c"].Why, "sends nothing")
		assert.Empty(t, by["/dev/c"].Spec())
		assert.NotEmpty(t, by["/dev/d"].Why)
		assert.Empty(t, by["/dev/d"].Format)
		assert.Equal(t, `port "/dev/e": another program holds it (minicom, process 7): close that program`, by["/dev/e"].Why)
		for _, w := range []*wire{talks, over, silent, noise} {
			assert.Zero(t, w.questions(), "nothing is sent")
			assert.Equal(t, w.count(&w.opens), w.count(&w.closes), "nothing stays open")
		}
	})
}
