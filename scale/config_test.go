package scale

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
)

func TestParseSpec(t *testing.T) {
	c, err := ParseSpec("name=bench,port=/dev/ttyUSB0,format=header-comma-mode,baud=9600,step=0.1g,max=2000g,spread=0.03g,unit=g,line=7E1")
	require.NoError(t, err)
	assert.Equal(t, Config{
		Name: "bench", Port: "/dev/ttyUSB0", Format: "header-comma-mode", Baud: 9600,
		Line: &protocol.Line{Baud: 9600, Bits: 7, Parity: 'E', Stop: 1},
		Step: tenth, Max: 2 * protocol.Kilogram, Spread: 30 * protocol.Milligram, BlankUnit: protocol.UnitGram, Unit: protocol.UnitGram,
	}, c)
	c, err = ParseSpec(" port = /dev/ttyACM0 , ask=yes, print=no, dtr=low, silence=20s, max=2kg")
	require.NoError(t, err)
	assert.Equal(t, Config{Name: "ttyACM0", Port: "/dev/ttyACM0", Ask: true, LowDTR: true, Silence: 20 * time.Second, Max: 2 * protocol.Kilogram}, c)
	c, err = ParseSpec("port=x,class=iii,interval=0.1g,weight=500g,check=7d")
	require.NoError(t, err)
	assert.Equal(t, Config{Name: "x", Port: "x", Class: ClassIII, Interval: tenth, Weight: 500 * protocol.Gram, Every: 7 * 24 * time.Hour}, c)
	c, err = ParseSpec("usb=0403:6001:A5 B")
	require.NoError(t, err)
	assert.Equal(t, Config{Name: "usb-0403-6001-A5-B", Port: "usb:0403:6001:A5 B"}, c)
	c, err = ParseSpec("name=bench,usb=1A86:7523") // many cheap adapters have no serial number
	require.NoError(t, err)
	assert.Equal(t, Config{Name: "bench", Port: "usb:1a86:7523:"}, c)
	c, err = ParseSpec("port=x,check=never")
	require.NoError(t, err)
	assert.Negative(t, c.Every)
	c, err = ParseSpec("name=fine,port=Eye,step=0.01g,max=200g")
	require.NoError(t, err)
	assert.True(t, c.ByEye())
	require.NoError(t, c.Check())
}

// An error names the key, what is wrong with it, and what to do.
func TestParseSpecErrors(t *testing.T) {
	for _, c := range []struct{ spec, key, words string }{
		{"", "", `an empty part between commas: write it as name=bench,port=/dev/ttyUSB0`},
		{"name=bench", "port", `port: missing: name the port as port=/dev/ttyUSB0, or port=eye for a balance read by eye`},
		{"port=x,speed=9600", "", `there is no key "speed": use one of name, port, usb, format, baud`},
		{"port=x,port=y", "port", "port: given twice: keep one of them"},
		{"port=x,usb=0403:6001:A5", "usb", "usb: given beside port: keep one of them"},
		{"usb=ttyUSB0", "usb", `usb: "ttyUSB0" is not vendor:product:serial: write what the list of scales shows behind usb`},
		{"port=", "port", "port: nothing behind the =: give a value or leave the key out"},
		{"port=x,step=0,1g", "", `"1g" is not key=value`},
		{"port=x,step=0.1", "step", `step: amount "0.1": no unit: write it as 0.1g`},
		{"port=x,step=0g", "step", `step: "0g" is not above nothing`},
		{"port=x,max=-2g", "max", `max: "-2g" is not above nothing`},
		{"port=x,spread=much", "spread", `spread: amount "much": no number in it`},
		{"port=x,baud=fast", "baud", `baud: "fast" is not a speed: write a number of bits a second, such as baud=9600`},
		{"port=x,baud=-9600", "baud", `"-9600" is not a speed`},
		{"port=x,line=9N1", "line", `line: "9N1" is not a framing: give data bits 7 or 8, parity N, E or O, and stop bits 1 or 2, for example 8N1 or 7E1`},
		{"port=x,unit=pcs", "unit", `unit: "pcs" is not a unit of mass: use g, kg, mg, oz, lb, ct or gn`},
		{"port=x,unit=quid", "unit", `"quid" is not a unit of mass`},
		{"port=x,ask=maybe", "ask", `ask: "maybe" is neither yes nor no: write ask=yes or ask=no`},
		{"port=x,dtr=up", "dtr", `dtr: "up" is neither low nor high`},
		{"port=x,silence=5", "silence", "write a time such as silence=20s"},
		{"port=x,silence=5ms", "silence", "under a second"},
		{"port=x,step=2g,max=1g", "max", "the capacity 1 g is below the step 2 g"},
		{"port=x,class=V", "class", "use I, II, III or IIII"},
		{"port=x,interval=0.1g", "class", "an interval says nothing without the class"},
		{"port=x,weight=3kg,max=2kg", "weight", "the check weight 3000 g is above the capacity 2000 g"},
		{"port=x,check=0d", "check", `"0d" is not a time: write how long a check counts`},
		{"port=x,check=often", "check", `"often" is not a time`},
		{"name=my scale,port=x", "name", `"my scale" is not a name`},
		{"name=fine,port=eye", "step", "step: missing: a balance read by eye cannot tell it"},
		{"name=fine,port=eye,step=1g,baud=9600", "port", "a balance read by eye has no line"},
	} {
		t.Run(c.spec, func(t *testing.T) {
			_, err := ParseSpec(c.spec)
			var se *SpecError
			require.ErrorAs(t, err, &se)
			assert.Equal(t, c.key, se.Key)
			assert.Equal(t, c.spec, se.Spec)
			assert.Contains(t, err.Error(), c.words)
		})
	}
}

func FuzzParseSpec(f *testing.F) {
	f.Add("name=bench,port=/dev/ttyUSB0,format=header-comma-mode,baud=9600,step=0.1g,max=2000g,spread=0.03g,unit=g,line=7E1")
	f.Add("port=eye,step=0,01g")
	f.Fuzz(func(t *testing.T, s string) {
		c, err := ParseSpec(s)
		if err != nil {
			var se *SpecError
			require.ErrorAs(t, err, &se)
			return
		}
		assert.NotEmpty(t, c.Name)
		assert.NotEmpty(t, c.Port)
	})
}

func TestFraming(t *testing.T) {
	for _, s := range []string{"8N1", "7E1", "7O1", "7N2", "8E2"} {
		l, err := ParseFraming(s)
		require.NoError(t, err)
		assert.Equal(t, s, LineText(l))
		l.Baud = 9600
		assert.Equal(t, "9600 "+s, LineText(l))
	}
}

func TestKeyOfADevice(t *testing.T) {
	assert.Equal(t, "usb 0403:6001:A5", Found{Port: "/dev/ttyUSB0", USB: "0403:6001:A5"}.Key())
	// Without a serial number two adapters of a kind are told apart by where they are plugged in.
	assert.Equal(t, "/dev/serial/by-path/p", Found{Port: "/dev/ttyUSB0", USB: "1a86:7523:", Lasting: "/dev/serial/by-path/p"}.Key())
	assert.Equal(t, "/dev/ttyUSB0", Found{Port: "/dev/ttyUSB0", USB: "1a86:7523:"}.Key())
}
