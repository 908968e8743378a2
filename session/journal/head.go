package journal

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"math/bits"
	"strconv"
	"time"
	"unicode/utf8"

	"tared/session/text"
)

// head is what the journal itself reads of a line. The slices point into it.
type head struct {
	seq      uint64
	at       time.Time
	kind     []byte
	batch    []byte
	by       []byte
	prev     []byte
	fraction bool // somewhere in the line stands a number with a point or an exponent
}

// The fields of the head, as bits of what has been seen.
const (
	hasSeq = 1 << iota
	hasAt
	hasKind
	hasBatch
	hasBy
	hasPrev
)

// maxDepth is how deep a line may nest; a fact needs four.
const maxDepth = 200

// parseHead checks that b is one whole JSON object in UTF-8 and reads the head
// from its top level, in any order. It exists beside encoding/json because the
// bench must be ready at once after a power cut, with years of lines to check.
func parseHead(b []byte) (head, error) {
	var h head
	if !utf8.Valid(b) {
		return h, text.Fault("journal.not-utf8")
	}
	s := syntax{b: b, simple: compact(literal(b))}
	if h, ok := s.simple.own(b); ok {
		return h, nil
	}
	s.space()
	if !s.take('{') {
		return h, text.Fault("journal.json-object", s.at())
	}
	seen := 0
	s.space()
	if !s.take('}') {
		for {
			s.space()
			name, esc, ok := s.text()
			if !ok {
				return h, text.Fault("journal.json-name", s.at())
			}
			if esc {
				name = unescape(name)
			}
			s.space()
			if !s.take(':') {
				return h, text.Fault("journal.json-colon", s.at())
			}
			s.space()
			if err := h.field(&s, name, &seen); err != nil {
				return h, err
			}
			s.space()
			if s.take(',') {
				continue
			}
			if s.take('}') {
				break
			}
			return h, text.Fault("journal.json-comma", s.at())
		}
	}
	s.space()
	if s.i != len(b) {
		return h, text.Fault("journal.json-behind", s.at())
	}
	h.fraction = s.fraction
	for _, need := range []struct {
		bit  int
		name string
	}{{hasSeq, "seq"}, {hasAt, "at"}, {hasKind, "kind"}, {hasPrev, "prev"}} {
		if seen&need.bit == 0 {
			return h, text.Fault("journal.missing", text.Name("field", need.name))
		}
	}
	if len(h.kind) == 0 {
		return h, text.Fault("journal.kind-empty")
	}
	return h, nil
}

func (h *head) readSeq(s *syntax) (err error) {
	from := s.i
	if !s.number() {
		return text.Fault("journal.seq-number", s.at())
	}
	if h.seq, err = strconv.ParseUint(string(s.b[from:s.i]), 10, 64); err != nil {
		return text.Fault("journal.seq", text.Name("seq", string(s.b[from:s.i])))
	}
	return nil
}

// field reads the value of one top-level name.
func (h *head) field(s *syntax, name []byte, seen *int) error {
	bit := 0
	switch string(name) {
	case "seq":
		bit = hasSeq
	case "at":
		bit = hasAt
	case "kind":
		bit = hasKind
	case "batch":
		bit = hasBatch
	case "by":
		bit = hasBy
	case "prev":
		bit = hasPrev
	default:
		if end := s.simple.value(s.b, s.i, 0); end > 0 {
			s.i = end
			return nil
		}
		if !s.value(0) {
			return text.Fault("journal.json-value", s.at())
		}
		return nil
	}
	if *seen&bit != 0 {
		return text.Fault("journal.twice", text.Name("field", string(name)))
	}
	*seen |= bit
	if bit == hasSeq {
		return h.readSeq(s)
	}
	v, esc, ok := s.text()
	if !ok {
		return text.Fault("journal.text", text.Name("field", string(name)), s.at())
	}
	if esc {
		v = unescape(v)
	}
	switch bit {
	case hasAt:
		if err := h.at.UnmarshalText(v); err != nil {
			return text.Fault("journal.at-wrong", text.Name("at", string(v)))
		}
	case hasKind:
		h.kind = v
	case hasBatch:
		h.batch = v
	case hasBy:
		h.by = v
	case hasPrev:
		h.prev = v
	}
	return nil
}

// unescape reads what stands between the quotes of a JSON text.
func unescape(v []byte) []byte {
	var s string
	if err := json.Unmarshal(bytes.Join([][]byte{{'"'}, v, {'"'}}, nil), &s); err != nil {
		return v // cannot be: the syntax has been checked
	}
	return []byte(s)
}

// syntax walks over JSON (RFC 8259) and builds nothing.
type syntax struct {
	b        []byte
	i        int
	simple   compact
	fraction bool
}

func (s *syntax) at() text.Value { return text.Count("byte", s.i+1) }

func (s *syntax) space() {
	for s.i < len(s.b) {
		switch s.b[s.i] {
		case ' ', '\t', '\r', '\n':
			s.i++
		default:
			return
		}
	}
}

func (s *syntax) take(c byte) bool {
	if s.i < len(s.b) && s.b[s.i] == c {
		s.i++
		return true
	}
	return false
}

// text passes over a quoted text and gives what stands between the quotes.
func (s *syntax) text() (v []byte, escaped, ok bool) {
	if !s.take('"') {
		return nil, false, false
	}
	from := s.i
	if end := s.simple.text(s.b, from); end > 0 {
		s.i = end
		return s.b[from : end-1], false, true
	}
	for s.i < len(s.b) {
		c := s.b[s.i]
		switch {
		case c == '"':
			s.i++
			return s.b[from : s.i-1], escaped, true
		case c < ' ':
			return nil, false, false
		case c == '\\':
			escaped = true
			if s.i+1 >= len(s.b) {
				return nil, false, false
			}
			switch s.b[s.i+1] {
			case '"', '\\', '/', 'b', 'f', 'n', 'r', 't':
				s.i += 2
			case 'u':
				if s.i+6 > len(s.b) {
					return nil, false, false
				}
				for _, x := range s.b[s.i+2 : s.i+6] {
					if !(x >= '0' && x <= '9' || x >= 'a' && x <= 'f' || x >= 'A' && x <= 'F') {
						return nil, false, false
					}
				}
				s.i += 6
			default:
				return nil, false, false
			}
		default:
			s.i++
		}
	}
	return nil, false, false
}

// compact passes quickly over what the journal itself writes most: texts without
// backslashes, and no spaces, points or exponents. Where it meets anything else
// it gives 0, and syntax judges. It is true where all of the line is literal.
type compact bool

// text gives where the text ends whose first character stands at i.
func (c compact) text(b []byte, i int) int {
	end := quote(b, i)
	if end > 0 && (bool(c) || literal(b[i:end-1])) {
		return end
	}
	return 0
}

// value gives where the value ends that begins at i.
func (c compact) value(b []byte, i, depth int) int {
	if i >= len(b) || depth > maxDepth {
		return 0
	}
	switch open := b[i]; open {
	case '"':
		return c.text(b, i+1)
	case '{', '[':
		end := open + 2 // so it is in ASCII
		if i+1 < len(b) && b[i+1] == end {
			return i + 2
		}
		for {
			i++ // the brace, the bracket or a comma
			if open == '{' {
				if i >= len(b) || b[i] != '"' {
					return 0
				}
				if i = c.text(b, i+1); i == 0 || i >= len(b) || b[i] != ':' {
					return 0
				}
				i++
			}
			if i = c.value(b, i, depth+1); i == 0 || i >= len(b) {
				return 0
			}
			if b[i] == end {
				return i + 1
			}
			if b[i] != ',' {
				return 0
			}
		}
	case 't', 'f', 'n':
		return wordEnd(b, i)
	}
	return 0
}

// wordEnd gives where true, false or null ends.
func wordEnd(b []byte, i int) int {
	for _, w := range [...]string{"true", "false", "null"} {
		if b[i] == w[0] && bytes.HasPrefix(b[i:], []byte(w)) {
			return i + len(w)
		}
	}
	return 0
}

// own reads a line as the journal itself writes it: the fields of the head in
// their order, nothing between the tokens. It gives false where anything is
// otherwise, and parseHead judges.
func (c compact) own(b []byte) (h head, ok bool) {
	if !bool(c) || !bytes.HasPrefix(b, []byte(`{"seq":`)) {
		return h, false
	}
	i := len(`{"seq":`)
	from := i
	for ; i < len(b) && b[i]-'0' < 10; i++ {
		h.seq = 10*h.seq + uint64(b[i]-'0')
	}
	if n := i - from; n == 0 || n > 18 || b[from] == '0' && n > 1 {
		return head{}, false
	}
	var at []byte
	for _, f := range [...]struct {
		name string
		to   *[]byte
	}{{`,"at":"`, &at}, {`,"kind":"`, &h.kind}, {`,"batch":"`, &h.batch}, {`,"by":"`, &h.by}, {`,"prev":"`, &h.prev}} {
		if len(b)-i < len(f.name) || string(b[i:i+len(f.name)]) != f.name {
			return head{}, false
		}
		i += len(f.name)
		end := quote(b, i)
		if end == 0 {
			return head{}, false
		}
		*f.to = b[i : end-1 : end-1]
		i = end
	}
	if i = c.body(b, i); i != len(b)-1 || b[i] != '}' || len(h.kind) == 0 || h.at.UnmarshalText(at) != nil {
		return head{}, false
	}
	return h, true
}

// body gives where the fields behind the head end, 0 where anything is otherwise.
func (c compact) body(b []byte, i int) int {
	for i < len(b) && b[i] == ',' {
		if i+1 >= len(b) || b[i+1] != '"' {
			return 0
		}
		end := quote(b, i+2)
		if end == 0 || end >= len(b) || b[end] != ':' {
			return 0
		}
		switch string(b[i+2 : end-1]) {
		case "seq", "at", "kind", "batch", "by", "prev": // twice
			return 0
		}
		if i = c.value(b, end+1, 0); i == 0 {
			return 0
		}
	}
	return i
}

const ones, tops = 0x0101010101010101, 0x8080808080808080

// quote gives the place behind the next quote from i on, 0 where there is none.
func quote(b []byte, i int) int {
	for ; i+8 <= len(b); i += 8 {
		v := binary.LittleEndian.Uint64(b[i:]) ^ '"'*ones
		if m := (v - ones) &^ v & tops; m != 0 {
			return i + bits.TrailingZeros64(m)/8 + 1
		}
	}
	for ; i < len(b); i++ {
		if b[i] == '"' {
			return i + 1
		}
	}
	return 0
}

// literal tells that every byte of a text stands for itself: there is neither a
// backslash nor a control character.
func literal(b []byte) bool {
	bad := uint64(0)
	for ; len(b) >= 8; b = b[8:] {
		v := binary.LittleEndian.Uint64(b)
		slash := v ^ '\\'*ones
		bad |= (slash-ones)&^slash | (v-' '*ones)&^v
	}
	for _, c := range b {
		if c < ' ' || c == '\\' {
			return false
		}
	}
	return bad&tops == 0
}

func (s *syntax) digits() bool {
	from := s.i
	for s.i < len(s.b) && s.b[s.i] >= '0' && s.b[s.i] <= '9' {
		s.i++
	}
	return s.i > from
}

func (s *syntax) number() bool {
	s.take('-')
	if !s.take('0') && !s.digits() {
		return false
	}
	if s.take('.') {
		s.fraction = true
		if !s.digits() {
			return false
		}
	}
	if s.take('e') || s.take('E') {
		s.fraction = true
		if !s.take('+') {
			s.take('-')
		}
		return s.digits()
	}
	return true
}

func (s *syntax) word(w string) bool {
	if !bytes.HasPrefix(s.b[s.i:], []byte(w)) {
		return false
	}
	s.i += len(w)
	return true
}

func (s *syntax) value(depth int) bool {
	if s.i >= len(s.b) || depth > maxDepth {
		return false
	}
	switch s.b[s.i] {
	case '"':
		_, _, ok := s.text()
		return ok
	case 't':
		return s.word("true")
	case 'f':
		return s.word("false")
	case 'n':
		return s.word("null")
	case '{', '[':
		return s.group(depth)
	}
	return s.number()
}

// group passes over an object or an array.
func (s *syntax) group(depth int) bool {
	end := byte(']')
	object := s.b[s.i] == '{'
	if object {
		end = '}'
	}
	s.i++
	s.space()
	if s.take(end) {
		return true
	}
	for {
		s.space()
		if object {
			if _, _, ok := s.text(); !ok {
				return false
			}
			s.space()
			if !s.take(':') {
				return false
			}
			s.space()
		}
		if !s.value(depth + 1) {
			return false
		}
		s.space()
		if s.take(',') {
			continue
		}
		return s.take(end)
	}
}
