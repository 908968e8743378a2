package hidport

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/scale"
)

// machine lays out a scale and a keyboard as the kernel shows them. The device
// itself is a named pipe, which gives what is written at a time, as hidraw does.
func machine(t *testing.T) system {
	t.Helper()
	dir := t.TempDir()
	for name, descriptor := range map[string][]byte{"hidraw0": {0x05, 0x01, 0x09, 0x06}, "hidraw1": scaleDescriptor} {
		at := filepath.Join(dir, "sys/class/hidraw", name, "device")
		require.NoError(t, os.MkdirAll(at, 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(at, "report_descriptor"), descriptor, 0o644))
		require.NoError(t, os.WriteFile(filepath.Join(at, "uevent"),
			[]byte("DRIVER=hid-generic\nHID_ID=0003:00000922:00008003\nHID_NAME=Postal scale\nHID_PHYS=usb-1/input0\nHID_UNIQ=00A1\n"), 0o644))
	}
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "dev"), 0o755))
	for _, name := range []string{"hidraw0", "hidraw1"} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "dev", name), nil, 0o644))
	}
	return system{filepath.Join(dir, "sys"), filepath.Join(dir, "dev")}
}

func TestList(t *testing.T) {
	s := machine(t)
	got, err := s.list()
	require.NoError(t, err)
	assert.Equal(t, []scale.Found{{Port: s.dev + "/hidraw1", USB: "0922:8003:00A1", Product: "Postal scale", Resource: "hid"}}, got)
}

func TestOpenRefuses(t *testing.T) {
	s := machine(t)
	_, err := s.open(s.dev + "/hidraw7")
	assert.ErrorIs(t, err, scale.ErrNoPort)
	_, err = s.open(s.dev + "/hidraw0")
	assert.ErrorIs(t, err, scale.ErrNotPort)
	assert.ErrorContains(t, err, "something else")
	require.NoError(t, os.WriteFile(s.dev+"/hidraw2", nil, 0o644))
	_, err = s.open(s.dev + "/hidraw2")
	assert.ErrorIs(t, err, scale.ErrNotPort)
	require.NoError(t, os.Remove(s.dev+"/hidraw1"))
	_, err = s.open(s.dev + "/hidraw1")
	assert.ErrorIs(t, err, scale.ErrNoPort)
	p, err := machine(t).open(s.dev + "/hidraw0")
	assert.Nil(t, p)
	assert.Error(t, err)
}

func TestOpenKnowsTheDevice(t *testing.T) {
	s := machine(t)
	p, err := s.open(s.dev + "/hidraw1")
	require.NoError(t, err)
	defer p.Close()
	assert.Equal(t, "0922:8003:00A1", p.(scale.Identifier).USB())
	assert.Equal(t, "hid-pos-scale", p.(scale.Speaker).Speaks())
	_, err = p.Write([]byte{1})
	assert.ErrorIs(t, err, scale.ErrUnsupported)
}

// fake gives recorded reports, one a Read, and then time-outs or an end.
type fake struct {
	reports [][]byte
	end     error
}

func (f *fake) Read(b []byte) (int, error) {
	if len(f.reports) == 0 {
		return 0, f.end
	}
	r := f.reports[0]
	f.reports = f.reports[1:]
	return copy(b, r), nil
}
func (f *fake) Close() error                      { return nil }
func (f *fake) SetReadDeadline(t time.Time) error { return nil }

func TestReports(t *testing.T) {
	buf := make([]byte, 64)
	stale, real := []byte("\x03\x02\x0b\xff\x00\x00"), []byte("\x03\x04\x0b\xffo\x04") // 113.5 oz, capture in erjiang/usbscale
	p := &port{file: &fake{[][]byte{stale, real}, os.ErrDeadlineExceeded}, numbered: true}
	n, err := p.Read(buf)
	require.NoError(t, err)
	assert.Zero(t, n, "the first report may be a stale one")
	n, err = p.Read(buf)
	require.NoError(t, err)
	assert.Equal(t, real, buf[:n])
	n, err = p.Read(buf)
	require.NoError(t, err)
	assert.Zero(t, n, "a time-out is no error")

	p = &port{file: &fake{[][]byte{stale[1:], real[1:]}, errors.New("no such device")}}
	_, err = p.Read(buf)
	require.NoError(t, err)
	n, err = p.Read(buf)
	require.NoError(t, err)
	assert.Equal(t, real, buf[:n], "a device that leaves out the report number")
	_, err = p.Read(buf)
	assert.ErrorIs(t, err, scale.ErrGone)
}
