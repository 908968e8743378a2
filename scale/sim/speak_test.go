package sim

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
)

func dec(t testing.TB, s string) protocol.Decimal {
	t.Helper()
	d, err := protocol.ParseDecimal(s)
	require.NoError(t, err)
	return d
}

// TestEncodeWritesPublishedLines compares with lines that makers' manuals and
// public captures show.
func TestEncodeWritesPublishedLines(t *testing.T) {
	const (
		still = 1 << iota
		net
	)
	for _, c := range []struct {
		format, value string
		unit          protocol.Unit
		flags         int
		want          string
		source        string
	}{
		{"letter-status", "100.00", "g", still, "S S     100.00 g\r\n", "METTLER TOLEDO JS Series p. 30"},
		{"letter-status", "129.07", "g", 0, "S D     129.07 g\r\n", "InstrumentKit test_mt_sics.py"},
		{"letter-status", "-100.00", "g", still, "S S    -100.00 g\r\n", "InstrumentKit test_mt_sics.py"},
		{"print-net-letter", "0.3749", "g", still, "     N       0.3749 g   \r\n", "NSerialCommTools, MS204TS00 hex log"},
		{"print-net-letter", "0.3749", "g", 0, "", "nothing before it rests"},
		{"header-comma", "123.45", "g", still, "ST,+00123.45  g\r\n", "A&D EK-L p. 28"},
		{"header-comma", "-183.69", "g", 0, "US,-00183.69  g\r\n", "A&D FX-i p. 54"},
		{"header-comma", "12.7800", "g", still, "ST,+012.7800  g\r\n", "A&D GH"},
		{"header-comma-csv", "12.0078", "g", still, "ST,+012.0078,  g\r\n", "A&D AD-4212"},
		{"header-space", "0.1278", "g", still, "WT    +0.1278  g\r\n", "built from the layout in A&D manuals"},
		{"bare-number", "127.800", "g", still, "+00127.800\r\n", "A&D manuals"},
		{"blank-unit-when-moving", "1.27", "g", still, "+    1.27 g   \r\n", "A&D manuals, column count from memory"},
		{"header-comma-mode", "1.234", "kg", still | net, "ST,NT,+  1.234kg\r\n", "NSerialCommTools TScaleQHW"},
		{"header-comma-mode", "-0.500", "kg", still | net, "ST,NT,-  0.500kg\r\n", "ellery-it odoo-serial-scale-drivers"},
		{"header-comma-id-lamp", "13.5", "kg", still, "ST,GS,1\xc4,    13.5 kg\r\n", "built from the layout in CAS CI-600D"},
		{"header-comma-id-lamp", "0.860", "kg", 0, "US,GS,1\x84,   0.860 kg\r\n", "built from the layout in CAS CI-600D"},
		{"fixed-sign-unit", "123.56", "g", still, "+   123.56 g  \r\n", "Sartorius LE p. 51"},
		{"fixed-sign-unit", "-12.30", "g", 0, "-    12.30    \r\n", "built from the layout in Sartorius manuals"},
		{"fixed-sign-unit-id", "123.56", "g", still | net, "N     +   123.56 g  \r\n", "Sartorius CP p. 57"},
		{"fixed-sign-unit-id", "9.9999", "kg", still, "G     +   9.9999 kg \r\n", "numat/sartorius test_driver.py"},
		{"weight-unit-question", "0.360", "kg", still, "   0.360 kg    G\r\n", "NSerialCommTools DEFENDER3000"},
		{"weight-unit-question", "-1.340", "kg", net, "-  1.340 kg   ?N\r\n", "NSerialCommTools DEFENDER3000"},
		{"stability-sign-mass-unit", "183.64", "g", still, "      183.64 g  \r\n", "built from the layout in Radwag manuals"},
		{"stability-sign-mass-unit", "-2.237", "lb", 0, "? -    2.237 lb \r\n", "Radwag communication protocol"},
		{"sign-digits-unit-letters", "123.4", "g", still, "+00123.4 G S\r\n", "KERN EG interface section"},
		{"sign-digits-unit-letters", "-65.4321", "kg", 0, "-65.4321KG U\r\n", "built from the layout in KERN EW"},
		{"stability-letter-prefix", "-186.65", "g", still, "S-  186.65g \r", "CAS CUX p. 99"},
		{"stability-letter-prefix", "1000.00", "g", still, "S  1000.00g \r", "CAS CUX p. 99"},
		{"sign-number-tail-letters", "123.45", "g", still, "+123.45   GS\r\n", "built from the layout in Setra pages"},
		{"stx-status-word", "12.34", "kg", still, "\x02,0 001234000000\r+", "built from the layout in Wildcat 6-4"},
		{"stx-status-word", "-0.085", "kg", net, "\x02-; 000085000000\r\x1c", "built from the layout in Wildcat 6-4"},
		{"lf-weight-status-etx", "2.340", "lb", still, "\n02.340LB\r\nS00\r\x03", "built from the layout in NCI 6702 p. 14"},
		{"stx-weight-cr", "0.480", "kg", still, "\x0200.480\r", "built from the layout in 8213 protocol sections"},
		{"stx-weight-cr", "0.480", "kg", 0, "\x02?a\r", "built from the layout in 8213 protocol sections"},
		{"lf-flag-fields", "5.025", "lb", still, "\n 1G       5.025lb \r", "SCP-0499 as in Fairbanks FB2550"},
		{"lf-flag-fields", "7.650", "kg", 0, "\n 1GM      7.650kg \r", "SCP-0499 as in BTEK T419S"},
		{"stx-polarity-unit-letter", "12.34", "kg", still, "\x02   12.34KG \r\n", "built from the layout in Rice Lake 120 Plus"},
		{"stx-polarity-unit-letter", "-0.50", "lb", net, "\x02-   0.50LNM\r\n", "built from the layout in Rice Lake 120 Plus"},
		{"stx-sign-mode-etx", "8.20", "kg", still, "\x02    8.20G\x03", "Rinstrum manuals"},
		{"stx-sign-digits-xor", "12450", "kg", still, "\x02+012450019\x03", "XK3190 family manual"},
		{"stx-sign-digits-xor", "-25.0", "kg", still, "\x02-00025011B\x03", "built from the layout in XK3190"},
		{"equals-reversed", "3.000", "kg", still, "=000.3000", "XK3190 family manual"},
		{"equals-reversed", "-1.00", "kg", still, "=00.1000-", "built from the layout in XK3190"},
		{"equals-forward", "-1.00", "kg", still, "=-0001.00", "built from the layout in XK3190"},
		{"prefix-weight-checksum", "4.139", "kg", still, "WG004.139kg3D\r\n", "XK3190-A12E manual"},
		{"prefix-weight-checksum", "-1.500", "kg", still | net, "WN-01.500kg22\r\n", "built from the layout in XK3190-A12E"},
		{"wn-prefix", "1.171", "kg", still | net, "wn001.171kg\r\n", "public point-of-sale client"},
		{"soh-stx-bcc", "1.250", "kg", still, "\x01\x02S 01.250kgg\x03\x04", "built from the layout in CAS SW-II p. 15"},
		{"soh-stx-bcc", "-0.485", "kg", 0, "\x01\x02U-00.485kgc\x03\x04", "built from the layout in CAS SW-II p. 15"},
		{"soh-sign-status-digit", "-0.485", "kg", 0, "\x01-  0.485kg1\r\n", "built from the layout in T-Scale manual"},
		{"bcd-ff-frame", "12.34", "kg", still, "\xffB4\x12\x00\x00", "built from the layout in Yousheng JCS-B"},
		{"float-sign-unit", "0.000", "g", still, "       0.000 g  \r\n", "OpenTrickler issue 15"},
		{"float-sign-unit", "-29.186", "g", still, "     -29.186 g  \r\n", "OpenTrickler issue 15"},
		{"float-sign-unit", "29.180", "g", 0, "      29.180    \r\n", "built from the layout in KERN PCB"},
		{"sign-pad-unit", "-29.182", "g", still, "-  29.182 g \r\n", "OpenTrickler issue 15"},
		{"sign-pad-unit", "0.665", "g", still, "    0.665 g \r\n", "OpenTrickler issue 15"},
		{"sign-gap-unit2", "-12.34", "g", still, "-    12.34  g \r\n", "Axis AKA-G p. 55"},
		{"stx-polarity-gap-unit", "-2.452", "lb", 0, "\x02-  2.452 LBM\r\n", "Doran manual"},
		{"hid-pos-scale", "113.5", "oz", still, "\x03\x04\x0b\xffo\x04", "erjiang/usbscale"},
		{"colon-letter-mass", "118.70", "kg", still, ":W 118.70kgS \r", "My Weigh HD p. 7"},
		{"colon-letter-mass", "64.15", "kg", 0, ":W  64.15kg  \r", "built from the layout in My Weigh HD p. 7"},
	} {
		v := dec(t, c.value)
		s := Shown{Status: protocol.OK, Value: v, Unit: c.unit, Step: protocol.Decimal{Coef: 1, Places: v.Places},
			Stable: c.flags&still != 0, Mode: pick(c.flags&net != 0, protocol.Net, protocol.Gross)}
		got, err := Encode(c.format, s)
		require.NoError(t, err, "%s (%s)", c.format, c.source)
		assert.Equal(t, c.want, string(got), "%s (%s)", c.format, c.source)
	}
}

func TestEncodeWritesPublishedBlocks(t *testing.T) {
	s := Shown{At: time.Date(2023, 11, 7, 17, 19, 26, 0, time.UTC), Status: protocol.OK, Value: dec(t, "1.94"), Unit: "kg", Stable: true}
	got, err := Encode("counter-packet", s)
	require.NoError(t, err)
	assert.Equal(t, "^KJIK000\r\n2023-11-07\r\n17:19:26\r\n  0.00 kg\r\n  1.94 kg\r\n0\r\n0\r\n  1.94 kg\r\n  1.94 kg\r\n    0 pcs\r\n \r\n \r\nE\r\n~P1\r\n",
		string(got), "NSerialCommTools JIK6CAB, capture")
	s = Shown{At: time.Date(2023, 2, 20, 9, 18, 0, 0, time.UTC), Status: protocol.OK, Value: dec(t, "7.5"), Tare: dec(t, "343.5"), Unit: "kg", Stable: true}
	got, err = Encode("letter-keyed-block", s)
	require.NoError(t, err)
	assert.Equal(t, "F      0.0\rH      0.0\rQ      0.0\rX      0.0\rA    351.0\r0      7.5\r4    343.5\r1      0.0\r2       0\rB\x83\rC20\xf4 02\xf3 2023\xf2 MON 09:18AM\rV1\r\n",
		string(got), "NSerialCommTools TFO1, capture")
}

func TestEncodeRefuses(t *testing.T) {
	s := Shown{Status: protocol.OK, Value: dec(t, "12345678.90"), Unit: protocol.UnitGram, Mode: protocol.Gross, Stable: true}
	for _, f := range Speaks() {
		b, err := Encode(f, s)
		if len(b) > 0 {
			assert.Contains(t, string(b), "12345678.90", f)
			continue
		}
		if err != nil {
			assert.ErrorIs(t, err, errCarry, f)
		}
	}
	_, err := Encode("no-such-format", s)
	assert.ErrorContains(t, err, "header-comma")
	for _, f := range Speaks() {
		b, err := Encode(f, Shown{Silent: true})
		assert.NoError(t, err)
		assert.Empty(t, b, f)
	}
}

// units that a round trip tries for each format.
var someUnits = []protocol.Unit{protocol.UnitGram, protocol.UnitKilogram, protocol.UnitOunce, protocol.UnitPound}

// TestEverythingSaidIsHeard encodes any display in every format and has the
// format's own parser read it.
func TestEverythingSaidIsHeard(t *testing.T) {
	for _, f := range protocol.All() {
		v, ok := encoders[f.Name]
		if !ok {
			continue // TestEveryFormatIsSpoken answers for it
		}
		t.Run(f.Name, func(t *testing.T) {
			weights := 0
			rapid.Check(t, func(t *rapid.T) {
				if roundTrip(t, f, v) {
					weights++
				}
			})
			require.Positive(t, weights, "no weight got through at all")
		})
	}
}

// roundTrip tells whether a weight was heard.
func roundTrip(t *rapid.T, f *protocol.Format, v encoder) bool {
	places := rapid.IntRange(0, 4).Draw(t, "places")
	s := Shown{
		Status: rapid.SampledFrom([]protocol.Status{protocol.OK, protocol.OK, protocol.OK, over, under, fault}).Draw(t, "status"),
		Value: protocol.Decimal{Coef: rapid.Uint64Range(0, 400000).Draw(t, "digits"), Places: uint8(places),
			Neg: rapid.Bool().Draw(t, "minus")},
		Unit:   rapid.SampledFrom(someUnits).Draw(t, "unit"),
		Step:   protocol.Decimal{Coef: 1, Places: uint8(places)},
		At:     epoch,
		Stable: rapid.Bool().Draw(t, "stable"),
		Mode:   rapid.SampledFrom([]protocol.Mode{protocol.Gross, protocol.Net}).Draw(t, "mode"),
	}
	if s.Status != protocol.OK {
		s.Value, s.Stable = protocol.Decimal{}, false
	}
	frame, err := Encode(f.Name, s)
	if errors.Is(err, errCarry) {
		return false
	}
	require.NoError(t, err)
	want, said := heard(f, v, s)
	if !said {
		require.Empty(t, frame)
		return false
	}
	require.NotEmpty(t, frame)

	// Three frames in a row are three readings of what was shown.
	d := protocol.NewDecoder(f, protocol.Options{EachFrame: true})
	d.Push(append(append(append([]byte(nil), frame...), frame...), frame...))
	d.Finish()
	for range 3 {
		r, ok := d.Next()
		require.True(t, ok, "%q", frame)
		if places == 0 && errors.Is(r.Err, protocol.ErrDamaged) {
			// Some parsers refuse a number that may have lost its point: a scale with
			// whole steps cannot be used with them, but is never misread.
			return false
		}
		got := protocol.Reading{Status: r.Status, Value: r.Value, Unit: r.Unit, Stable: r.Stable, Mode: r.Mode}
		if want.Status != protocol.OK {
			got.Mode = protocol.ModeUnsaid // whether a fault tells gross or net is the format's own business
		}
		require.Equal(t, want, got, "%q: %s", frame, r.Why)
		if r.Step.Coef != 0 {
			require.Equal(t, s.Step, r.Step, "%q", frame)
		}
	}
	r, ok := d.Next()
	require.False(t, ok, "more than was sent: %q", r.Raw)
	return want.Status == protocol.OK
}

// heard is what a parser must make of a display in this format.
func heard(f *protocol.Format, v encoder, s Shown) (r protocol.Reading, said bool) {
	switch s.Status {
	case over:
		return protocol.Reading{Status: v.over}, v.over != silent
	case under:
		return protocol.Reading{Status: v.under}, v.under != silent
	case fault:
		return protocol.Reading{Status: v.fault}, v.fault != silent
	}
	r = protocol.Reading{Status: protocol.OK, Value: s.Value, Unit: s.Unit}
	if v.noUnit {
		r.Unit = f.BlankUnit
	}
	if v.noNeg && s.Value.Neg {
		return protocol.Reading{Status: under}, true
	}
	claim := pick(s.Stable, protocol.Yes, protocol.No)
	switch v.stable {
	case flagged:
		r.Stable = claim
	case byUnit:
		r.Stable = claim
		if !s.Stable {
			r.Unit = protocol.UnitNone
		}
	case ifMoving:
		if !s.Stable {
			r.Stable = protocol.No
		}
	case onlyStill:
		if !s.Stable {
			return r, false
		}
	case moving:
		if !s.Stable {
			return protocol.Reading{Status: fault}, true
		}
	}
	switch v.mode {
	case modeSaid:
		r.Mode = s.Mode
	case modeStill:
		if s.Stable {
			r.Mode = s.Mode
		}
	case modeNet:
		r.Mode = protocol.Net
	}
	return r, true
}

// notSpoken are formats of package protocol that the simulated scale leaves
// out, and why.
var notSpoken = map[string]string{
	"titled-block": "a ticket with words for titles is recognised and never read as a weight",
}

func TestEveryFormatIsSpoken(t *testing.T) {
	for _, f := range protocol.All() {
		_, ok := encoders[f.Name]
		why, left := notSpoken[f.Name]
		assert.True(t, ok != left, "format %s: spoken %v, left out %v (%s)", f.Name, ok, left, why)
	}
}
