package photo

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"slices"
	"strconv"

	"tared/session/text"
)

// Markers of JPEG (ITU-T T.81, table B.1).
const (
	soi  = 0xd8
	eoi  = 0xd9
	sos  = 0xda
	app0 = 0xe0
)

// stripJPEG leaves of a JPEG what makes the picture: the tables and the scans. Of the
// application segments it leaves JFIF (APP0), and writes anew what says how the picture is
// turned and what its colours mean: the profile (APP2, ICC.1 annex B.4) and, where the
// usual one is not meant, the transform (APP14). Exif with its place, XMP, IPTC, comments,
// small copies and whatever follows the end are left out.
func stripJPEG(b []byte) ([]byte, error) {
	out := []byte{0xff, soi}
	var means meaning
	at, scanned := 2, false
	for {
		if at+2 > len(b) || b[at] != 0xff {
			return nil, refuse(text.Refuse("photo.damaged", text.Number("byte", strconv.Itoa(at))))
		}
		m := b[at+1]
		switch {
		case m == 0xff: // a filling byte
			at++
			continue
		case m == eoi:
			if !scanned {
				return nil, refuse(text.Refuse("photo.no-picture"))
			}
			return means.into(append(out, 0xff, eoi)), nil
		case standsAlone(m):
			return nil, refuse(text.Refuse("photo.damaged", text.Number("byte", strconv.Itoa(at))))
		}
		end := segmentEnd(b, at)
		if end == 0 {
			return nil, refuse(text.Refuse("photo.cut-off"))
		}
		body := b[at+4 : end]
		switch {
		case keeps(m):
			out = append(out, b[at:end]...)
			if isFrame(m) && len(body) > 5 {
				means.components = body[5]
			}
		case m == app0 && bytes.HasPrefix(body, []byte("JFIF\x00")) && len(body) >= 14 && len(out) == 2:
			// Without the small copy of the picture that may hang on it.
			out = append(out, 0xff, app0, 0, 16)
			out = append(append(out, body[:12]...), 0, 0)
		default:
			means.read(m, body)
		}
		at = end
		if m != sos {
			continue
		}
		scanned = true
		// Coded data: up to a marker that is neither a restart nor a stuffed zero.
		from := at
		if at = codedEnd(b, at); at+1 >= len(b) {
			return nil, refuse(text.Refuse("photo.cut-off"))
		}
		out = append(out, b[from:at]...)
	}
}

// segmentEnd gives where the segment that begins at i ends; 0: it is cut off.
func segmentEnd(b []byte, i int) int {
	if i+4 > len(b) {
		return 0
	}
	n := int(binary.BigEndian.Uint16(b[i+2:]))
	if n < 2 || i+2+n > len(b) {
		return 0
	}
	return i + 2 + n
}

// standsAlone reports whether a marker has no segment: none of these can stand
// between segments.
func standsAlone(m byte) bool {
	return m == 0x00 || m == 0x01 || m == soi || m >= 0xd0 && m <= 0xd7
}

// keeps reports whether a segment belongs to the picture itself: frames, tables, scans.
func keeps(m byte) bool { return isFrame(m) || m == 0xc4 || m == 0xcc || m >= sos && m <= 0xdd }

// isFrame reports whether a segment is the head of a frame.
func isFrame(m byte) bool {
	return m >= 0xc0 && m <= 0xcf && m != 0xc4 && m != 0xc8 && m != 0xcc
}

// meaning is what the application segments of a JPEG say of its picture.
type meaning struct {
	turn       uint16
	profile    []byte
	adobe      bool
	transform  byte // of the colours, by Adobe's segment (Adobe Technical Note 5116, 18)
	components byte
}

func (a *meaning) read(m byte, body []byte) {
	switch {
	case m == app0+1 && bytes.HasPrefix(body, []byte("Exif\x00\x00")):
		a.turn = orientation(body[6:])
	case m == app0+2 && bytes.HasPrefix(body, []byte(iccMagic)) && len(body) > 14 && len(a.profile) < maxProfile:
		a.profile = append(a.profile, body[14:]...)
	case m == app0+14 && bytes.HasPrefix(body, []byte("Adobe")) && len(body) >= 12:
		a.adobe, a.transform = true, body[11]
	}
}

const iccMagic = "ICC_PROFILE\x00"

// into writes what was said into a finished JPEG.
func (a *meaning) into(out []byte) []byte {
	i := 2 // behind JFIF, which must come first
	if out[3] == app0 {
		i += 2 + int(binary.BigEndian.Uint16(out[4:]))
	}
	var all []byte
	if a.turn > 1 {
		all = append(all, appSegment(1, append([]byte("Exif\x00\x00"), tiff(a.turn)...))...)
	}
	if p := rebuilt(a.profile); p != nil {
		all = append(all, appSegment(2, append([]byte(iccMagic+"\x01\x01"), p...))...)
	}
	if a.adobe && (a.components == 4 || a.components == 3 && a.transform == 0) {
		all = append(all, appSegment(14, append([]byte("Adobe\x00\x64\x00\x00\x00\x00"), a.transform))...)
	}
	return slices.Insert(out, i, all...)
}

// codedEnd gives where coded data that begins at i ends.
func codedEnd(b []byte, i int) int {
	for i+1 < len(b) && (b[i] != 0xff || b[i+1] == 0 || b[i+1] >= 0xd0 && b[i+1] <= 0xd7) {
		i++
	}
	return i
}

// orientation reads the tag 0x0112 out of a TIFF header, as Exif has it (CIPA
// DC-008, 4.6.4); 1, upright, where there is none that can be read.
func orientation(t []byte) uint16 {
	var o binary.ByteOrder
	switch {
	case bytes.HasPrefix(t, []byte("II*\x00")):
		o = binary.LittleEndian
	case bytes.HasPrefix(t, []byte("MM\x00*")):
		o = binary.BigEndian
	default:
		return 1
	}
	if len(t) < 8 {
		return 1
	}
	at := uint64(o.Uint32(t[4:]))
	if at+2 > uint64(len(t)) {
		return 1
	}
	n := uint64(o.Uint16(t[at:]))
	for i := range n {
		e := at + 2 + 12*i
		if e+12 > uint64(len(t)) {
			return 1
		}
		if o.Uint16(t[e:]) == 0x0112 {
			if v := o.Uint16(t[e+8:]); v >= 1 && v <= 8 {
				return v
			}
			return 1
		}
	}
	return 1
}

// tiff is a header that says the orientation and nothing else.
func tiff(turn uint16) []byte {
	b := []byte("MM\x00*\x00\x00\x00\x08" + "\x00\x01" + "\x01\x12\x00\x03\x00\x00\x00\x01")
	b = binary.BigEndian.AppendUint16(b, turn)
	return append(b, 0, 0, 0, 0, 0, 0)
}

func appSegment(n byte, body []byte) []byte {
	return append(binary.BigEndian.AppendUint16([]byte{0xff, app0 + n}, uint16(len(body)+2)), body...)
}

const pngMagic = "\x89PNG\r\n\x1a\n"

// pngKept are the chunks that make the picture or say what its colours mean (W3C
// PNG specification, 11.2 and 11.3). Texts, times and Exif are not among them; a profile is
// written anew.
var pngKept = []string{"IHDR", "PLTE", "IDAT", "IEND", "tRNS", "gAMA", "cHRM", "sRGB", "cICP", "sBIT", "pHYs"}

// stripPNG leaves those chunks of a PNG. The orientation is written anew.
func stripPNG(b []byte) ([]byte, error) {
	out := []byte(pngMagic)
	turn := uint16(1)
	at := len(pngMagic)
	for {
		if at+12 > len(b) {
			return nil, refuse(text.Refuse("photo.cut-off"))
		}
		n := uint64(binary.BigEndian.Uint32(b[at:]))
		if uint64(at)+12+n > uint64(len(b)) {
			return nil, refuse(text.Refuse("photo.cut-off"))
		}
		end := at + 12 + int(n)
		kind := string(b[at+4 : at+8])
		switch {
		case kind == "eXIf":
			turn = orientation(b[at+8 : end-4])
		case kind == "IEND":
			if turn > 1 {
				// Behind IHDR, which must come first and has 13 bytes.
				out = slices.Insert(out, len(pngMagic)+12+13, chunk("eXIf", tiff(turn))...)
			}
			return append(out, b[at:end]...), nil
		case kind == "iCCP":
			if p := rebuilt(inflated(b[at+8 : end-4])); p != nil {
				out = append(out, chunk(kind, deflated(p))...)
			}
		case slices.Contains(pngKept, kind):
			out = append(out, b[at:end]...)
		}
		at = end
	}
}

// chunk makes one of a PNG.
func chunk(kind string, body []byte) []byte {
	c := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	c = append(append(c, kind...), body...)
	return binary.BigEndian.AppendUint32(c, crc32.ChecksumIEEE(c[4:]))
}
