package scale

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// awkward is the list of what real instruments, cables and systems were seen to do,
// from public reports of other people's troubles, with the tests that hold each. A
// test that is renamed or lost makes this one fail.
var awkward = []struct{ what, tests string }{
	// When the scale talks at all.
	{"only on the print key (node-serialport 1385, OpenTrickler 6)", "scale:TestInstrumentPrintKey scale:TestHuntWithAPrintKey session:TestPrintKey cmd/tared:TestWeighOnThePrintKey"},
	{"it ignores every command (RoboTrickler 5)", "scale:TestInstrumentAsks scale:TestInstrumentGoesOnWhereNobodyReads scale/serialport:TestWriteDoesNotHang"},
	{"only when the weight changed, beeping at each poll, no zero after the lift (odoo 33800, 39083)", "scale:TestSettlerPrintKey scale:TestInstrumentIsAskedWhileWanted session:TestPrintKey"},
	{"the weight once, then status only (pywebdriver Toledo driver)", "scale:TestStatusAloneIsNoWeight"},
	{"standby looks like unplugged (powder-doser lab note)", "scale:TestInstrumentAsks scale:TestInstrumentSilence"},
	{"auto-off, and the pan is re-zeroed at power-up (usbscale 13, CoffeeScale 1)", "session:TestScaleThatSlept session:TestGap"},
	{"silent stalls after hours (decaid 75 and 158, jsk_apc 2278)", "scale:TestInstrumentSilence scale/serialport:BenchmarkDay"},
	{"streams go to all zeros under range (Dibal manual)", "session:TestScaleThatSlept session:TestKeyOrLift"},
	{"polling too fast starves the instrument (vendor blog)", "scale:TestInstrumentAsks scale:TestInstrumentDialogue"},
	// Port and cable.
	{"7E1 read as 8N1 (StackOverflow 17991062)", "scale:TestParityIsFound scale:TestInstrumentNamesParity scale/serialport:TestInstrumentSevenBitsReadAsEight protocol:TestDecoderParity"},
	{"an adapter that cannot do seven bits (ch9344ser_linux 48)", "scale:TestSevenBits scale/serialport:TestInstrumentSevenBitsReadAsEight"},
	{"bit 7 that is meant: lamps, BCD, blocks", "scale:TestParityOf protocol:TestHeaderCommaIDLamp protocol:TestBCDFFFrame protocol:TestLetterKeyedBlock"},
	{"handshake lines", "scale:TestInstrumentSilence"},
	{"DTR on open resets boards (jSerialComm 125, node-serialport 867)", "scale/serialport:TestInstrumentOnABoardThatResets scale/serialport:TestOpenLeavesNothing"},
	{"the line echoes the command (Arduino StackExchange 48969)", "scale:TestInstrumentHearsItsEcho protocol:TestHostileLinesAreNoWeight"},
	{"another program holds the port (rusefi 4359, freedv-gui 968)", "scale/serialport:TestBusy scale/serialport:TestBusyNamesTheOther"},
	{"no permission", "scale/serialport:TestDenied scale/serialport:TestDeniedWords"},
	{"detection by sending claims other people's devices (odoo 206502)", "scale:TestInstrumentDoesNotAskUnasked scale:TestHuntLeavesTheSilentAlone scale:TestSurvey"},
	{"a flood", "scale/serialport:TestInstrumentInAFlood protocol:TestDecoderFlood protocol:TestGarbageDoesNotGrow scale:TestInstrumentGarbage"},
	// Re-enumeration.
	{"another node after an unplug (thz 84, klipper 299)", "scale:TestInstrumentFollowsItsDevice scale/serialport:TestInstrumentReplugged scale/serialport:TestLocate"},
	{"an unplug that gives no error, or a deadlock (tarm/serial 78, bugst/go-serial 14)", "scale/serialport:TestOpenReads scale/serialport:TestInstrumentReplugged"},
	{"a power cycle of a USB-native balance (WICG/serial 199)", "scale/serialport:TestInstrumentReplugged cmd/tared:TestAScaleVanishesInMidPour"},
	{"two alike adapters", "scale:TestInstrumentFollowsItsDevice scale/serialport:TestTwoAlikeAdapters scale:TestKeyOfADevice"},
	// Line content.
	{"a partial first line (nearly every capture)", "protocol:TestDecoderMidstream scale:TestInstrumentReads scale/serialport:TestInstrumentOnAPort"},
	{"line noise before the first line (NSerialCommTools)", "scale/serialport:TestInstrumentOnAwkwardLines"},
	{"a lost byte on a live line", "scale:TestInstrumentOnALossyLine protocol:TestDecoderSteady protocol:TestLengthThatChanges"},
	{"every end of line, and none (pyserial 668)", "scale/serialport:TestInstrumentOnAwkwardLines protocol:TestCaptures protocol:TestFramesDoNotDependOnCuts"},
	{"one byte per read (qzind/tray 881)", "scale/serialport:TestInstrumentOnAwkwardLines protocol:TestDecoderCuts"},
	{"old values from a buffer (qzind/tray 81)", "scale/serialport:TestOpenFlushes scale:TestSettlerCountsABurstOnce"},
	{"overload read as 0 or as nines (OpenTrickler PR 49)", "protocol:TestHostileLinesAreNoWeight protocol:TestNinesWithARangeBit scale:TestInstrumentStates"},
	{"a banner with a number in it", "protocol:TestHostileLinesAreNoWeight scale/serialport:TestInstrumentOnABoardThatResets"},
	{"the minus is lost (Rigbox 71)", "protocol:TestAwkwardButWhole protocol:TestHostileLinesAreNoWeight"},
	{"the unit key in mid-weigh", "scale:TestInstrumentRestIsNotCarriedOver protocol:TestBlankUnitGivesWayToTheOneShown"},
	{"a blank unit: moving, or none shown", "protocol:TestBlankUnitWhenMoving protocol:TestDecoderBlankUnit protocol:TestDecoderBreak"},
	{"decimals that change by range", "scale:TestSettlerChangeOfRange scale:TestInstrumentStep"},
	{"an auxiliary digit in brackets or behind a slash", "protocol:TestFixedSignUnit protocol:TestSignDigitsUnitLetters"},
	{"the time of day among the lines", "protocol:TestDetect"},
	{"decimal commas", "protocol:TestHostileLinesAreNoWeight protocol:TestPatternEndUnitAndComma protocol:TestHeaderCommaCSV"},
	{"a signed HID exponent (usbscale PR 11)", "protocol:TestHIDPOSScale"},
	// Shapes that collide.
	{"look-alikes", "protocol:TestWhoReadsWhat protocol:TestDetect protocol:TestDetectIsNotFooled protocol:TestWiderFormatsReadTheSame"},
}

func TestAwkwardListIsHeld(t *testing.T) {
	have := map[string]bool{}
	for _, dir := range []string{"protocol", "scale", "scale/serialport", "scale/hidport", "session", "cmd/tared"} {
		files, err := filepath.Glob(filepath.Join("..", dir, "*_test.go"))
		require.NoError(t, err)
		for _, f := range files {
			src, err := os.ReadFile(f)
			require.NoError(t, err)
			for _, m := range regexp.MustCompile(`(?m)^func ((?:Test|Benchmark)\w+)\(`).FindAllStringSubmatch(string(src), -1) {
				have[dir+":"+m[1]] = true
			}
		}
	}
	for _, a := range awkward {
		for name := range strings.FieldsSeq(a.tests) {
			assert.True(t, have[name], "%s: there is no %s", a.what, name)
		}
	}
}

// A scale that says its weight once and then only its status says nothing of now.
// lf-weight-status-etx has a frame of status alone (Ohaus "Aviator 7000" pp. 47 to 49).
func TestStatusAloneIsNoWeight(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		defer run(t, New(spec(t, "name=bench,port=x,format=lf-weight-status-etx,baud=9600,line=7E1"), w, u.feed, quietLog))()
		time.Sleep(time.Second)
		w.send("\n02.340LB\r\nS00\r\x03")
		time.Sleep(100 * time.Millisecond)
		require.Len(t, readings(u.seen()), 1)
		for range 30 {
			w.send("\nS00\r\x03")
			time.Sleep(200 * time.Millisecond)
		}
		for _, r := range readings(u.seen())[1:] {
			assert.False(t, r.HasMass, "%q is no weight", r.Reading.Raw)
		}
		settled := false
		for _, r := range readings(u.seen()) {
			settled = settled || r.Settled
		}
		assert.False(t, settled, "and one weight is no rest")
	})
}

// A line that echoes returns the question, and a scale that hears the echo answers
// "ES", for ever: no storm of questions, no weight, and the answer between them is
// read.
func TestInstrumentHearsItsEcho(t *testing.T) {
	const asking = "name=bench,port=x,format=letter-status,baud=9600,line=8N1,ask=yes"
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		w.answers = func(q []byte) []byte { return append(append([]byte(nil), q...), "S S     100.00 g\r\n"...) }
		stop := run(t, New(spec(t, asking), w, u.feed, quietLog))
		time.Sleep(5 * time.Second)
		stop()
		rs := readings(u.seen())
		require.NotEmpty(t, rs)
		for _, r := range rs {
			if r.HasMass {
				assert.Equal(t, "100.00", r.Reading.Value.String())
			}
		}
	})
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		w.answers = func(q []byte) []byte { return append(append([]byte(nil), q...), "ES\r\n"...) }
		stop := run(t, New(spec(t, asking), w, u.feed, quietLog))
		time.Sleep(60 * time.Second)
		stop()
		for _, r := range readings(u.seen()) {
			assert.False(t, r.HasMass)
		}
		assert.Less(t, w.questions()/len("SI\r\n"), 65, "one a second at most")
	})
}
