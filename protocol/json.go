package protocol

import (
	"encoding/hex"
	"encoding/json"
)

// AppendJSON adds the line that programs read to b, without a newline:
//
//	{"format":"header-comma","value":"123.45","unit":"g","stable":true,"mode":"-","status":"ok","raw":"53542c…"}
//
// value is a decimal string, or null for every status but ok; stable is true,
// false or null; raw is the frame in hex, without its terminator.
func AppendJSON(b []byte, r Reading) []byte {
	b = append(b, `{"format":`...)
	b = appendString(b, r.Format)
	b = append(b, `,"value":`...)
	if r.Status == OK {
		b = append(b, '"')
		b = r.Value.Append(b)
		b = append(b, '"')
	} else {
		b = append(b, "null"...)
	}
	b = append(b, `,"unit":`...)
	b = appendString(b, string(r.Unit))
	b = append(b, `,"stable":`...)
	switch r.Stable {
	case Yes:
		b = append(b, "true"...)
	case No:
		b = append(b, "false"...)
	default:
		b = append(b, "null"...)
	}
	b = append(b, `,"mode":"`...)
	b = append(b, r.Mode.String()...)
	b = append(b, `","status":"`...)
	b = append(b, r.Status.String()...)
	b = append(b, `","raw":"`...)
	b = hex.AppendEncode(b, r.Raw)
	return append(b, `"}`...)
}

// appendString quotes s for JSON. Names are plain, but those that users give
// their own formats need not be.
func appendString(b []byte, s string) []byte {
	for i := 0; i < len(s); i++ {
		if c := s[i]; c < ' ' || c > '~' || c == '"' || c == '\\' {
			q, _ := json.Marshal(s) // a string always marshals
			return append(b, q...)
		}
	}
	b = append(b, '"')
	b = append(b, s...)
	return append(b, '"')
}
