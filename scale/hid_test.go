package scale

import (
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"

	"tared/protocol"
)

// hidWire is a wire that can only carry the reports of HID scales.
type hidWire struct{ *wire }

type hidPort struct{ *wirePort }

func (hidPort) Speaks() string { return "hid-pos-scale" }

func (h hidWire) Open(path string, l protocol.Line) (Port, error) {
	p, err := h.wire.Open(path, l)
	return hidPort{p.(*wirePort)}, err
}

func TestInstrumentOnHID(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		defer run(t, New(spec(t, "name=postal,port=/dev/hidraw0"), hidWire{w}, u.feed, quietLog))()
		time.Sleep(time.Second)
		w.send("\x03\x04\x0b\xffo\x04") // 113.5 oz: capture in erjiang/usbscale
		synctest.Wait()
		got := u.last(t)
		assert.True(t, got.HasMass, got.Why)
		assert.Equal(t, protocol.Mass(3_217_670_874_687_500), got.Mass, "113.5 x 28.349523125 g, exactly")
		assert.Equal(t, Identity{Port: "/dev/hidraw0", Format: "hid-pos-scale"}, got.Identity)
		time.Sleep(100 * time.Millisecond)
		w.send("\x03\x05\x02\x00\x00\x00")
		synctest.Wait()
		assert.Equal(t, protocol.Underload, u.last(t).Reading.Status)
	})
}
