package journal

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"strings"

	"tared/session/text"
)

// Report says what a reading of the whole journal found.
type Report struct {
	Place
	Created bool  `json:"created,omitempty"` // there was no journal: Open began one
	Torn    *Torn `json:"torn,omitempty"`    // nil: the last line has its newline

	// Missing is the note of a witness that this journal does not bear out: it had more
	// lines, or another line at that place. Unwitnessed: there are lines, and no note.
	Missing     *Witness `json:"missing,omitempty"`
	Unwitnessed bool     `json:"unwitnessed,omitempty"`
}

// Torn is a last line without its newline. It was cut off while it was written,
// or, for one who reads beside a running daemon, is being written just now.
type Torn struct {
	Line   uint64 `json:"line"`
	Offset int64  `json:"offset"` // bytes before it
	Bytes  int64  `json:"bytes"`
	Saved  string `json:"saved,omitempty"` // where Open put the bytes
}

// ErrDamaged is in the chain of every error about a journal that is not whole.
var ErrDamaged = errors.New("the journal is damaged")

// Damage tells where the first wrong line of a journal is, and what is wrong with it.
type Damage struct {
	Line   uint64 // counted from 1
	Offset int64  // bytes before that line
	Why    error
}

// Error names the line and what is wrong with it.
func (d *Damage) Error() string { return d.Unwrap().Error() }

// Unwrap gives the same by its code.
func (d *Damage) Unwrap() error {
	return text.Fault("journal.damaged", text.Count("line", int(d.Line)), text.Because("why", d.Why))
}

// Is makes errors.Is(err, ErrDamaged) true.
func (d *Damage) Is(target error) bool { return target == ErrDamaged }

// Scan walks over a journal and checks every line and the chain that joins
// them. A damaged line gives a *Damage, with the Report of what stands
// before it. A torn tail is no damage; it stands in the Report.
//
// A single changed byte is found wherever it stands, except in the last line:
// there it is found only when it hurts the JSON, the seq or the prev.
//
// Each whole line is given to each, where that is not nil. The
// Record's Line is only good until each returns. An error of each ends the scan
// and is returned as it is.
func Scan(r io.Reader, each func(Record) error) (Report, error) {
	s := scan{lines: lines{r: r}}
	return s.run(each)
}

type scan struct {
	lines  lines
	report Report

	stretch int64 // see stretch.go

	kind, batch, by again
}

func (s *scan) run(each func(Record) error) (Report, error) {
	rep := &s.report
	for {
		line, err := s.lines.next()
		n := rep.Lines + 1
		if err == io.EOF {
			if len(line) > 0 {
				rep.Torn = &Torn{Line: n, Offset: s.report.Bytes, Bytes: int64(len(line))}
			}
			return *rep, nil
		}
		if err != nil {
			if errors.Is(err, errLong) {
				return *rep, &Damage{Line: n, Offset: s.report.Bytes, Why: err}
			}
			return *rep, text.Kind(err, text.Fault("journal.read", text.Count("line", int(n)), text.Because("why", err)))
		}
		rec, why := s.check(line)
		if why != nil {
			if torn, at := int64(len(line)), s.report.Bytes; bytes.IndexByte(line, 0) >= 0 && s.zeros(&torn) {
				rep.Torn = &Torn{Line: n, Offset: at, Bytes: torn}
				return *rep, nil
			}
			return *rep, s.blame(line, n, why)
		}
		if err := s.accept(rec, each); err != nil {
			return *rep, err
		}
	}
}

// zeros reports whether what is left of the file, after a line with zero bytes in it,
// is the rest of a write that the power cut off: a file system may have made room for
// all of it, and have filled only a part. So each line has zeros, or no end. It adds up
// how long the rest is.
func (s *scan) zeros(length *int64) bool {
	for {
		line, err := s.lines.next()
		*length += int64(len(line))
		switch {
		case err == io.EOF:
			return true
		case err != nil || bytes.IndexByte(line, 0) < 0:
			return false
		}
	}
}

// accept takes a whole line into the report, and hands it on.
func (s *scan) accept(rec Record, each func(Record) error) error {
	s.report.Add(rec)
	if each == nil {
		return nil
	}
	return each(rec)
}

// check reads a whole line and compares it with what must follow.
func (s *scan) check(line []byte) (rec Record, why error) {
	body := line[:len(line)-1]
	if len(bytes.TrimSpace(body)) == 0 {
		return rec, text.Fault("journal.blank")
	}
	h, why := s.report.head(body)
	if why != nil {
		return rec, why
	}
	return s.record(h, line, sha256.Sum256(line)), nil
}

// record makes the record of a line; lines that follow each other share their names.
func (s *scan) record(h head, line []byte, own Hash) Record {
	return Record{Seq: h.seq, At: h.at, Kind: s.kind.of(h.kind), Batch: s.batch.of(h.batch), By: s.by.of(h.by), Hash: own, Line: line}
}

// again keeps the last few texts, for lines that follow each other name the
// same batch, person and kinds.
type again struct {
	kept [4]string
	next int
}

func (a *again) of(b []byte) string {
	for _, s := range a.kept {
		if s == string(b) {
			return s
		}
	}
	s := string(b)
	a.kept[a.next%len(a.kept)] = s
	a.next++
	return s
}

var errChain = errors.New("the prev of a line does not fit")

// blame finds out which of two lines was changed when prev does not fit. When
// the line after them fits the second, that one is whole and the first was
// changed; when it does not fit either, it is the second.
func (s *scan) blame(line []byte, n uint64, why error) *Damage {
	if why != errChain {
		return &Damage{Line: n, Offset: s.report.Bytes, Why: why}
	}
	h, _ := parseHead(line[:len(line)-1])
	if n == 1 {
		return &Damage{Line: 1, Offset: 0, Why: text.Fault("journal.at-first", short("prev", h.prev))}
	}
	own := Hash(sha256.Sum256(line))
	next, err := s.lines.next()
	if err == nil {
		if after, bad := parseHead(next[:len(next)-1]); bad == nil && string(after.prev) != own.String() {
			return &Damage{Line: n, Offset: s.report.Bytes, Why: text.Fault("journal.changed-here", short("prev", h.prev), short("hash", []byte(s.report.Head.String())),
				text.Count("before", int(n-1)), text.Count("next", int(n+1)))}
		}
	}
	return &Damage{Line: n - 1, Offset: s.report.Before, Why: text.Fault("journal.changed", short("hash", []byte(s.report.Head.String())), text.Count("next", int(n)), short("prev", h.prev))}
}

func short(as string, hash []byte) text.Value { return text.Name(as, beginning(string(hash))) }

func beginning(hash string) string {
	if len(hash) > 12 {
		hash = hash[:12] + "…"
	}
	if strings.Trim(hash, "0123456789abcdef…") != "" {
		return fmt.Sprintf("%q", hash)
	}
	return hash
}

// lines cuts a stream into lines. It keeps one buffer, as long as the longest.
type lines struct {
	r          io.Reader
	buf        []byte
	start, end int
	seen       int // bytes from start that hold no newline
	err        error
}

var errLong = text.Fault("journal.long", text.Count("most", MaxLine))

// next gives a line with its newline, good until the following call. At the end
// it gives what is left, without a newline, and io.EOF.
func (l *lines) next() ([]byte, error) {
	for {
		if i := bytes.IndexByte(l.buf[l.start+l.seen:l.end], '\n'); i >= 0 {
			to := l.start + l.seen + i + 1
			line := l.buf[l.start:to]
			l.start, l.seen = to, 0
			return line, nil
		}
		l.seen = l.end - l.start
		if l.err != nil {
			line := l.buf[l.start:l.end]
			l.start, l.seen = l.end, 0
			return line, l.err
		}
		if l.seen >= MaxLine {
			return nil, errLong
		}
		l.fill()
	}
}

func (l *lines) fill() {
	if l.start > 0 {
		l.end = copy(l.buf, l.buf[l.start:l.end])
		l.start = 0
	}
	if l.end == len(l.buf) {
		l.buf = append(l.buf, make([]byte, max(256<<10, len(l.buf)))...)
	}
	for range 100 {
		n, err := l.r.Read(l.buf[l.end:])
		l.end += n
		l.err = err
		if n > 0 || err != nil {
			return
		}
	}
	l.err = io.ErrNoProgress
}
