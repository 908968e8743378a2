package protocol

import (
	"encoding/binary"
	"errors"
	"fmt"
)

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
		r.Status, r.Why = Invalid, "an empty report: nothing was weighed yet"
		return nil
	}
	if frame[0] == 0 {
		return foreign("the report ID is not 3 or 4")
	}
	switch frame[1] {
	case 1:
		r.Status, r.Why = Error, "the scale reports a fault"
		return nil
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
		r.Status = Underload
		return nil
	case 6:
		r.Status = Overload
		return nil
	case 7:
		r.Status, r.Why = Error, "the scale needs calibration"
		return nil
	case 8:
		r.Status, r.Why = Error, "the scale needs to be zeroed again: empty the pan and press zero"
		return nil
	default:
		return damaged("the status is not known")
	}
	var ok bool
	if r.Unit, ok = hidUnit(frame[2]); !ok {
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

func hidUnit(c byte) (Unit, bool) {
	switch c {
	case 1:
		return UnitMilligram, true
	case 2:
		return UnitGram, true
	case 3:
		return UnitKilogram, true
	case 4:
		return UnitCarat, true
	case 5:
		return UnitTael, true
	case 6:
		return UnitGrain, true
	case 7:
		return UnitPennyweight, true
	case 8:
		return UnitTonne, true
	case 10:
		return UnitTroyOunce, true
	case 11:
		return UnitOunce, true
	case 12:
		return UnitPound, true
	}
	return UnitNone, false
}

// ErrNoScale says that a HID device is no scale that hid-pos-scale can read.
var ErrNoScale = errors.New("no weight report in the HID report descriptor")

// Numbers of the HID Point of Sale Usage Tables 1.02.
const (
	hidScalePage  = 0x8d
	hidDataWeight = 0x40 // usage "Data Weight"
)

// FindScaleReport looks in a HID report descriptor for the input report that
// holds the weight of a scale (usage page 8Dh, usage Data Weight) and gives its
// ID; 0 where reports are not numbered. The error wraps ErrNoScale where there
// is none, where the report has another layout than hid-pos-scale reads (5
// bytes behind the ID, the weight in the last two), and where the descriptor
// breaks off.
//
// Source: USB-IF "Device Class Definition for HID" 1.11, section 6.2.2.
func FindScaleReport(desc []byte) (id byte, err error) {
	type place struct{ at, size uint32 } // of the weight, in bits
	var (
		page, size, count uint32
		stack             []([4]uint32) // page, size, count, id of each Push
		report            uint32
		usages            []uint32 // page<<16 | usage
		low               uint32
		bits              [256]uint32
		found             = map[byte]place{}
		order             []byte
	)
	for len(desc) > 0 {
		head := desc[0]
		n := int(head & 3)
		if n == 3 {
			n = 4
		}
		body := 1
		if head == 0xfe { // a long item: nothing defines one, but it may stand there
			if len(desc) < 3 {
				return 0, fmt.Errorf("%w: it breaks off inside an item", ErrNoScale)
			}
			n, body = int(desc[1]), 3
		}
		if len(desc) < body+n {
			return 0, fmt.Errorf("%w: it breaks off inside an item", ErrNoScale)
		}
		var v uint32
		for i := min(n, 4) - 1; i >= 0; i-- {
			v = v<<8 | uint32(desc[body+i])
		}
		desc = desc[body+n:]
		usage := v // with its page
		if n <= 2 {
			usage = page<<16 | v
		}
		switch head &^ 3 {
		case 0x04: // global: usage page
			page = v
		case 0x74: // global: report size
			size = v
		case 0x94: // global: report count
			count = v
		case 0x84: // global: report ID
			if v == 0 || v > 255 {
				return 0, fmt.Errorf("%w: report ID %d is impossible", ErrNoScale, v)
			}
			report = v
		case 0xa4: // global: push
			if len(stack) == 16 {
				return 0, fmt.Errorf("%w: it is nested too deep", ErrNoScale)
			}
			stack = append(stack, [4]uint32{page, size, count, report})
		case 0xb4: // global: pop
			if len(stack) == 0 {
				return 0, fmt.Errorf("%w: a pop without a push", ErrNoScale)
			}
			top := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			page, size, count, report = top[0], top[1], top[2], top[3]
		case 0x08: // local: usage
			usages = append(usages, usage)
		case 0x18: // local: usage minimum
			low = usage
		case 0x28: // local: usage maximum
			if low <= hidScalePage<<16|hidDataWeight && hidScalePage<<16|hidDataWeight <= usage {
				usages = append(usages, hidScalePage<<16|hidDataWeight)
			}
		case 0x80: // main: input
			if size > 1<<10 || count > 1<<10 {
				return 0, fmt.Errorf("%w: a field of %d times %d bits is impossible", ErrNoScale, count, size)
			}
			for _, u := range usages {
				if u != hidScalePage<<16|hidDataWeight {
					continue
				}
				if _, twice := found[byte(report)]; !twice {
					order = append(order, byte(report))
				}
				found[byte(report)] = place{bits[report], size * count}
			}
			bits[report] += size * count
			usages, low = usages[:0], 0
		case 0x90, 0xb0, 0xa0, 0xc0: // main: output, feature, collection, end of collection
			usages, low = usages[:0], 0
		}
	}
	for _, id := range order {
		if found[id] == (place{24, 16}) && bits[id] == 40 {
			return id, nil
		}
	}
	if len(order) > 0 {
		return 0, fmt.Errorf("%w: report %d holds the weight in another layout", ErrNoScale, order[0])
	}
	return 0, ErrNoScale
}
