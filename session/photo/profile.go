package photo

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"io"
	"slices"
)

// maxProfile is more than any profile of a camera has.
const maxProfile = 1 << 20

// colours are the tags of an ICC profile that say what its numbers mean (ICC.1:2022, 8.3
// and 8.4), with the type that each has.
var colours = map[string][]string{
	"rXYZ": {"XYZ "}, "gXYZ": {"XYZ "}, "bXYZ": {"XYZ "}, "wtpt": {"XYZ "}, "chad": {"sf32"},
	"rTRC": {"curv", "para"}, "gTRC": {"curv", "para"}, "bTRC": {"curv", "para"}, "kTRC": {"curv", "para"},
}

// rebuilt writes a colour profile anew with its colours and nothing else: a profile names
// its maker, its device and its day, and has room for more. A profile of another build than
// cameras write gives nil.
func rebuilt(p []byte) []byte {
	if len(p) < 132 || string(p[36:40]) != "acsp" {
		return nil
	}
	n := int(min(binary.BigEndian.Uint32(p[128:]), 100))
	kept := map[string][]byte{}
	for i := range n {
		e := 132 + 12*i
		if e+12 > len(p) {
			return nil
		}
		at, size := uint64(binary.BigEndian.Uint32(p[e+4:])), uint64(binary.BigEndian.Uint32(p[e+8:]))
		name := string(p[e : e+4])
		if types, ok := colours[name]; ok && at+size <= uint64(len(p)) {
			if v := element(p[at : at+size]); v != nil && slices.Contains(types, string(v[:4])) {
				kept[name] = v
			}
		}
	}
	need := map[string][]string{"RGB ": {"rXYZ", "gXYZ", "bXYZ", "rTRC", "gTRC", "bTRC"}, "GRAY": {"kTRC"}}[string(p[16:20])]
	if need == nil || slices.ContainsFunc(need, func(name string) bool { return kept[name] == nil }) {
		return nil
	}
	out := make([]byte, 128, 1024)
	copy(out[8:24], p[8:24]) // version, class, space, connection space
	copy(out[36:], "acsp")
	copy(out[64:80], p[64:80]) // intent and illuminant
	names := slices.DeleteFunc([]string{"wtpt", "chad", "rXYZ", "gXYZ", "bXYZ", "rTRC", "gTRC", "bTRC", "kTRC"}, func(name string) bool { return kept[name] == nil })
	out = binary.BigEndian.AppendUint32(out, uint32(len(names)))
	var body []byte
	for _, name := range names {
		out = append(out, name...)
		out = binary.BigEndian.AppendUint32(out, uint32(132+12*len(names)+len(body)))
		out = binary.BigEndian.AppendUint32(out, uint32(len(kept[name])))
		body = append(body, kept[name]...)
		body = append(body, make([]byte, -len(body)&3)...)
	}
	out = append(out, body...)
	binary.BigEndian.PutUint32(out, uint32(len(out)))
	return out
}

// element gives what an element of a known type holds, and no byte behind it; nil: it is
// none (ICC.1:2022, 10.6, 10.18, 10.22, 10.31).
func element(v []byte) []byte {
	if len(v) < 12 {
		return nil
	}
	size := 0
	switch string(v[:4]) {
	case "XYZ ":
		size = 20
	case "sf32":
		size = 44
	case "curv":
		size = 12 + 2*int(min(binary.BigEndian.Uint32(v[8:]), 4096))
	case "para":
		size = 12 + 4*map[uint16]int{0: 1, 1: 3, 2: 4, 3: 5, 4: 7}[binary.BigEndian.Uint16(v[8:])]
	}
	if size == 0 || size > len(v) {
		return nil
	}
	v = bytes.Clone(v[:size])
	clear(v[4:8])
	return v
}

// inflated gives the profile of an iCCP chunk (W3C PNG specification, 11.3.2.3).
func inflated(chunk []byte) []byte {
	_, packed, ok := bytes.Cut(chunk, []byte{0})
	if !ok || len(packed) < 1 {
		return nil
	}
	z, err := zlib.NewReader(bytes.NewReader(packed[1:]))
	if err != nil {
		return nil
	}
	p, err := io.ReadAll(io.LimitReader(z, maxProfile))
	if err != nil {
		return nil
	}
	return p
}

// deflated makes the chunk again, under a name that says nothing.
func deflated(p []byte) []byte {
	b := bytes.NewBufferString("icc\x00\x00")
	z := zlib.NewWriter(b)
	_, _ = z.Write(p) // into memory
	_ = z.Close()
	return b.Bytes()
}
