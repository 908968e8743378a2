package protocol

import "encoding/binary"

// hid-pos-scale: the input report of a USB scale that speaks HID, six bytes.
//
//	03 04 0b ff 6f 04
//	^                   report ID: 3 as a rule, 4 seen
//	   ^                status: 1 fault, 2 stable at zero, 3 in motion, 4 stable, 5 under
//	                    zero, 6 over the limit, 7 needs calibration, 8 needs re-zeroing
//	      ^             unit: 1 mg, 2 g, 3 kg, 4 ct, 5 tael, 6 grain, 7 dwt, 8 tonne,
//	                    9 short ton, 10 ozt, 11 oz, 12 lb
//	         ^          exponent of ten, signed
//	            ^^ ^^   weight, unsigned, low byte first
//
// Sources: USB-IF "HID Point of Sale Usage Tables" 1.02, usage page 8Dh;
// erjiang/usbscale (and its PR 11: the exponent is signed); node-hid issue 286.
//
// Under zero the value is lost, for the weight has no sign. An all-zero report
// is no reading. Refused: exponents beyond -6 and 3, which no scale of two bytes
// needs; a weight at "stable at zero"; a short ton, which has no unit here.
//
// A report comes whole from USB and is given to Parse as it is. Split is for
// recorded bytes, one report behind the other: it hands a report out only when
// what follows can be the next one, for nothing else shows a lost byte.
var hidPOSScale = &Format{
	Name:    "hid-pos-scale",
	Summary: "USB HID input report: ID, status, unit, exponent, weight of two bytes",
	Example: `\x03\x04\x0b\xffo\x04`,
	Split:   splitHIDReports,
	Parse:   parseHIDPOSScale,

	RangeBit: true,
}

const (
	hidReportLen = 6
	hidHeadLen   = 4
)

// hidHead tells whether b can be the head of a report: ID, status, unit and
// exponent are possible. An empty report has zeros there.
func hidHead(b []byte) bool {
	if len(b) < hidHeadLen {
		return false
	}
	empty := b[0] == 0 && b[1] == 0 && b[2] == 0 && b[3] == 0
	return empty || (b[0] == 3 || b[0] == 4) && b[1] <= 8 && b[2] <= 12 && hidExponent(b[3])
}

func hidExponent(c byte) bool { return int8(c) >= -6 && int8(c) <= 3 }

func splitHIDReports(b []byte, atEOF bool) (drop int, frame []byte) {
	if len(b) == 0 || len(b) < hidReportLen+hidHeadLen && !atEOF {
		return 0, nil
	}
	w := b[:min(len(b), hidReportLen+hidHeadLen)]
	if hidHead(w) && len(w) >= hidReportLen {
		next := w[hidReportLen:]
		same := hidHead(next) && (next[0] == w[0] || next[0] == 0 || w[0] == 0)
		if same || len(next) == 0 {
			return hidReportLen, w[:hidReportLen]
		}
	}
	if atEOF && len(w) < hidReportLen {
		return len(w), w
	}
	// What is handed out from here on is broken and must not have the length of
	// a report.
	n := hidReportLen - 1
	for i := 1; i < n; i++ {
		if hidHead(w[i:]) {
			n = i
		}
	}
	return n, w[:n]
}

func parseHIDPOSScale(frame []byte, r *Reading) error {
	if len(frame) == 0 || frame[0] != 3 && frame[0] != 4 && frame[0] != 0 {
		return foreign("the report ID is not 3 or 4")
	}
	if len(frame) != hidReportLen {
		return damaged("it does not have six bytes")
	}
	weight := binary.LittleEndian.Uint16(frame[4:])
	if allOf(frame[1:], 0) {
		return r.is(Invalid, "an empty report: nothing was weighed yet")
	}
	if frame[0] == 0 {
		return foreign("the report ID is not 3 or 4")
	}
	switch frame[1] {
	case 1:
		return r.is(Error, "the scale reports a fault")
	case 2:
		if weight != 0 {
			return damaged("a weight although it says zero")
		}
		r.Stable = Yes
	case 3:
		r.Stable = No
	case 4:
		r.Stable = Yes
	case 5:
		return r.is(Underload, "")
	case 6:
		return r.is(Overload, "")
	case 7:
		return r.is(Error, "the scale needs calibration")
	case 8:
		return r.is(Error, "the scale needs to be zeroed again: empty the pan and press zero")
	default:
		return damaged("the status is not known")
	}
	if r.Unit = hidUnits[frame[2]]; r.Unit == UnitNone {
		return damaged("the unit is not known")
	}
	if !hidExponent(frame[3]) {
		return damaged("an impossible exponent")
	}
	switch exp := int8(frame[3]); {
	case exp < 0:
		r.Value = Decimal{Coef: uint64(weight), Places: uint8(-exp)}
	default:
		r.Value = Decimal{Coef: uint64(weight) * uint64(pow10(int(exp)))}
		r.Step = Decimal{Coef: uint64(pow10(int(exp)))}
	}
	r.Status = OK
	return nil
}

// hidUnits are the units by their numbers; 9, the short ton, is not used here.
var hidUnits = [256]Unit{1: UnitMilligram, UnitGram, UnitKilogram, UnitCarat, UnitTael, UnitGrain, UnitPennyweight, UnitTonne,
	10: UnitTroyOunce, UnitOunce, UnitPound}
