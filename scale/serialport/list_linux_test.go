package serialport

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
)

// machine lays out devices as the kernel and udev show them.
func machine(t *testing.T) system {
	t.Helper()
	dir := t.TempDir()
	write := func(path, text string) {
		path = filepath.Join(dir, path)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
	link := func(to, path string) {
		path = filepath.Join(dir, path)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.Symlink(to, path))
	}
	usb := func(tty, device, vendor, product, serial, name string) {
		at := "sys/devices/usb1/" + device
		write(at+"/idVendor", vendor+"\n")
		write(at+"/idProduct", product+"\n")
		if serial != "" {
			write(at+"/serial", serial+"\n")
		}
		write(at+"/product", name+"\n")
		write(at+"/1-1:1.0/"+tty+"/tty/"+tty+"/dev", "188:0\n")
		link("../../../"+tty, at+"/1-1:1.0/"+tty+"/tty/"+tty+"/device")
		link("../../devices/usb1/"+device+"/1-1:1.0/"+tty+"/tty/"+tty, "sys/class/tty/"+tty)
	}
	usb("ttyUSB1", "1-1", "0403", "6001", "A5", "USB to serial")
	usb("ttyUSB0", "1-2", "1a86", "7523", "", "USB Serial")
	write("sys/class/tty/ttyS0/type", "4\n")
	write("sys/class/tty/ttyS0/device/x", "")
	write("sys/class/tty/ttyS1/type", "0\n") // PORT_UNKNOWN
	write("sys/class/tty/ttyS1/device/x", "")
	write("sys/class/tty/tty0/dev", "4:0\n") // a console
	link("../../ttyUSB1", "dev/serial/by-id/usb-A5-if00-port0")
	link("../../ttyUSB1", "dev/serial/by-path/pci-1")
	link("../../ttyUSB0", "dev/serial/by-id/usb-1a86-if00-port0")
	link("../../ttyUSB0", "dev/serial/by-path/pci-2")
	return system{filepath.Join(dir, "sys"), filepath.Join(dir, "dev")}
}

func TestList(t *testing.T) {
	s := machine(t)
	got, err := s.list()
	require.NoError(t, err)
	assert.Equal(t, []scale.Found{
		{Port: s.dev + "/ttyS0", Resource: "serial"},
		{Port: s.dev + "/ttyUSB0", USB: "1a86:7523:", Lasting: s.dev + "/serial/by-path/pci-2", Product: "USB Serial", Resource: "serial"},
		{Port: s.dev + "/ttyUSB1", USB: "0403:6001:A5", Lasting: s.dev + "/serial/by-id/usb-A5-if00-port0", Product: "USB to serial", Resource: "serial"},
	}, got)
}

func TestLocate(t *testing.T) {
	old := here
	t.Cleanup(func() { here = old })
	here = machine(t)
	path, ok := Ports{}.Locate("0403:6001:A5")
	assert.True(t, ok)
	assert.Equal(t, here.dev+"/ttyUSB1", path)
	_, ok = Ports{}.Locate("1a86:7523:")
	assert.False(t, ok, "a kind of device, not a device")
	_, ok = Ports{}.Locate("0403:6001:B6")
	assert.False(t, ok)
}

// A device named by its USB identity is found wherever it is; where that identity could be
// two devices, neither is taken.
func TestOpenByIdentity(t *testing.T) {
	old := here
	t.Cleanup(func() { here = old })
	here = machine(t)
	path, err := plugged("usb:1a86:7523:", "1a86:7523:")
	require.NoError(t, err)
	assert.Equal(t, here.dev+"/ttyUSB0", path)
	_, err = Ports{}.Open("usb:0403:6001:B6", protocol.Line{})
	assert.ErrorIs(t, err, scale.ErrNoPort)
	assert.ErrorContains(t, err, `port "usb:0403:6001:B6": there is no such port: plug the scale in`)
	require.NoError(t, os.Symlink("../../devices/usb1/1-2/1-1:1.0/ttyUSB0/tty/ttyUSB0", here.sys+"/class/tty/ttyUSB7"))
	require.NoError(t, os.MkdirAll(here.sys+"/devices/usb1/1-2/1-1:1.0/ttyUSB0/tty/ttyUSB0", 0o755))
	_, err = Ports{}.Open("usb:1a86:7523:", protocol.Line{})
	assert.ErrorContains(t, err, "two devices are called so: "+here.dev+"/ttyUSB0 and "+here.dev+"/ttyUSB7")
	_, err = Ports{}.Open("usb:0403:6001:A5", protocol.Line{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1})
	assert.ErrorContains(t, err, here.dev+"/ttyUSB1", "it goes on to the port at which the device is")
}

func TestListOfThisMachine(t *testing.T) {
	found, err := Ports{}.List()
	require.NoError(t, err)
	for _, f := range found {
		assert.FileExists(t, f.Port)
	}
}
