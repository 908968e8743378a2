package journal

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"time"
	"unicode/utf8"

	"tared/session/text"
)

// Name is the file's name in the data directory.
const Name = "journal.jsonl"

// Errors that callers tell apart. A Journal that is broken takes nothing more;
// an Entry that is unfit was not written, and the Journal goes on.
var (
	ErrBroken = errors.New("the journal takes no more records")
	ErrUnfit  = errors.New("cannot be recorded")
)

// Options for Open.
type Options struct {
	// At is the time of opening; it names the file of a torn tail. Zero: now.
	At time.Time
	// Each gets every whole line, in order, while Open checks it, so that the
	// file is read once. The Record's Line is only good during the call. An error
	// ends Open.
	Each func(Record) error
	// From is a place behind which Open begins to check; the zero place: it checks all.
	// Where the journal does not hold that place, Open gives ErrElsewhere and changes nothing.
	From Place
	// Witness is the file, outside dir, in which the journal's head is noted; empty: no
	// note is kept. Without a note the Report says Unwitnessed; with one that the
	// journal does not bear out, Missing.
	Witness string
	// Wrap stands between the journal and its file: for tests of a disk that fails.
	Wrap func(File) File
}

// Entry is one thing to be recorded.
type Entry struct {
	At    time.Time
	Kind  string
	Batch string
	By    string
	// Body becomes a JSON object whose fields stand beside those of the head, by
	// AppendJSON([]byte) []byte where it has that, which need not be trusted; nil: none.
	Body any
}

// Journal is an open journal, the only one that writes to its directory. Its
// methods may be called from any goroutine.
type Journal struct {
	path string
	lock *lock

	mu     sync.Mutex
	file   File
	info   fs.FileInfo // which file it is
	place  Place
	broken error
	buf    bytes.Buffer
	body   bytes.Buffer

	witness string // its file; empty: none
}

// Open opens the journal in dir, creates both where they are missing, takes the
// lock, checks every line, and cuts a torn tail. A damaged journal gives an
// error with ErrDamaged in its chain and is left exactly as it is.
func Open(dir string, o Options) (*Journal, Report, error) {
	if o.At.IsZero() {
		o.At = time.Now()
	}
	j, rep, err := open(dir, o)
	if err != nil {
		if errors.Is(err, ErrLocked) {
			return nil, rep, err
		}
		return nil, rep, inFile(filepath.Join(dir, Name), err)
	}
	return j, rep, nil
}

func open(dir string, o Options) (_ *Journal, rep Report, err error) {
	if err := makeDir(dir); err != nil {
		return nil, rep, err
	}
	j := &Journal{path: filepath.Join(dir, Name), witness: o.Witness}
	if j.lock, err = takeLock(dir, o.At); err != nil {
		return nil, rep, err
	}
	defer func() {
		if err != nil {
			_ = j.lock.release()
		}
	}()
	f, created, err := create(dir, j.path)
	if err != nil {
		return nil, rep, err
	}
	j.file = diskFile{f}
	if o.Wrap != nil {
		j.file = o.Wrap(j.file)
	}
	defer func() {
		if err != nil {
			_ = j.file.Close()
		}
	}()
	if j.info, err = f.Stat(); err != nil {
		return nil, rep, err
	}
	s := scan{stretch: stretchLength, report: Report{Place: o.From}}
	rep, err = s.witnessed(j.file, j.info.Size(), o.Witness, o.Each)
	rep.Created = created
	if err != nil {
		if errors.Is(err, ErrDamaged) {
			err = text.Kind(err, text.Fault("journal.untouched", text.Because("why", err)))
		}
		return nil, rep, err
	}
	j.place = rep.Place
	if t := rep.Torn; t != nil {
		t.Saved, err = save(dir, "journal.torn-", o.At, io.NewSectionReader(j.file, t.Offset, t.Bytes))
		if err != nil {
			return nil, rep, text.Kind(err, text.Fault("journal.save", text.Count("line", int(t.Line)), text.Because("why", err)))
		}
		if err = j.file.Truncate(t.Offset); err != nil {
			return nil, rep, text.Kind(err, text.Fault("journal.cut", text.Count("line", int(t.Line)), text.Because("why", err)))
		}
	}
	if err = j.renew(); err != nil {
		return nil, rep, text.Kind(err, text.Fault("journal.no-sync", text.Because("why", err)))
	}
	if rep.Missing == nil && rep.Lines > 0 && !rep.Unwitnessed {
		j.note(o.At)
	}
	return j, rep, nil
}

// renew puts on the disk what was read last, whatever became of it before. A writer
// that was killed may not have synced its last lines. And one whose sync failed
// left lines that can be read here and are nowhere else: the system keeps them in
// its memory and takes them for written, so that no sync alone would ever write
// them. What rests on a line that is gone after the next power cut would be damage.
func (j *Journal) renew() error {
	from := j.place.Marks[0] // so it is atOnce lines and more: as much as one writer can have left
	buf := make([]byte, min(j.place.Bytes-from, 1<<20))
	for from < j.place.Bytes {
		b := buf[:min(int64(len(buf)), j.place.Bytes-from)]
		if _, err := j.file.ReadAt(b, from); err != nil {
			return err
		}
		if err := j.file.Renew(b, from); err != nil {
			return err
		}
		from += int64(len(b))
	}
	return j.file.Sync()
}

// Append records one thing and returns when it is on the disk.
func (j *Journal) Append(at time.Time, kind, batch, by string, body any) (Record, error) {
	rs, err := j.AppendAll(Entry{at, kind, batch, by, body})
	if err != nil {
		return Record{}, err
	}
	return rs[0], nil
}

// AppendAll records things that belong together, a line each, with one write and
// one sync, and returns when all are on the disk. See the package comment for
// what a power cut may leave of them. They are 256 at most.
//
// An error with ErrUnfit in its chain means that nothing was written. Any other
// error breaks the journal.
func (j *Journal) AppendAll(es ...Entry) ([]Record, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.broken != nil {
		return nil, brokenBy(j.broken)
	}
	if len(es) == 0 {
		return nil, nil
	}
	if len(es) > atOnce {
		return nil, text.Kind(ErrUnfit, text.Fault("journal.too-many", text.Count("count", len(es)), text.Count("most", atOnce))) // see renew
	}
	recs, err := j.build(es)
	if err != nil {
		return nil, err
	}
	if err := j.here(); err != nil {
		j.broken = j.rescued(err, es[0].At)
		return nil, brokenBy(j.broken)
	}
	if err := j.put(recs); err != nil {
		j.broken = err
		return nil, brokenBy(err)
	}
	return recs, nil
}

// build makes the lines in a buffer of their own, for the records keep them.
func (j *Journal) build(es []Entry) (recs []Record, err error) {
	j.buf.Reset()
	recs = make([]Record, 0, len(es))
	var ends []int
	prev := j.place.Head
	for i, e := range es {
		from := j.buf.Len()
		if err := j.line(j.place.Lines+uint64(i)+1, prev, e); err != nil {
			return nil, unfit(e.Kind, err)
		}
		line := j.buf.Bytes()[from:]
		// What is written is what a reader will accept, or it is not written.
		h, err := parseHead(line[:len(line)-1])
		switch {
		case err != nil:
		case h.fraction:
			err = text.Fault("journal.exponent", text.Name("form", `{"g":"84.6"}`))
		case len(line) > MaxLine:
			err = errLong
		}
		if err != nil {
			return nil, unfit(e.Kind, err)
		}
		r := named(h, line)
		prev = r.Hash
		recs = append(recs, r)
		ends = append(ends, j.buf.Len())
	}
	all, from := bytes.Clone(j.buf.Bytes()), 0
	for i, end := range ends {
		recs[i].Line = all[from:end:end]
		from = end
	}
	return recs, nil
}

// line adds one line to the buffer.
func (j *Journal) line(seq uint64, prev Hash, e Entry) error {
	if _, off := e.At.Zone(); off%60 != 0 {
		e.At = e.At.UTC() // RFC 3339 has no seconds in a zone
	}
	at, err := e.At.MarshalText()
	if err != nil {
		return err
	}
	var num [20]byte
	b := &j.buf
	b.WriteString(`{"seq":`)
	b.Write(strconv.AppendUint(num[:0], seq, 10))
	b.WriteString(`,"at":"`)
	b.Write(at)
	b.WriteByte('"')
	for _, f := range [...]struct{ name, value string }{{"kind", e.Kind}, {"batch", e.Batch}, {"by", e.By}} {
		if !utf8.ValidString(f.value) {
			return text.Fault("journal.value-utf8", text.Name("field", f.name), text.Name("value", f.value))
		}
		b.WriteString(`,"`)
		b.WriteString(f.name)
		b.WriteString(`":`)
		if err := quoted(b, f.value); err != nil {
			return err
		}
	}
	b.WriteString(`,"prev":"`)
	var hexed [2 * len(prev)]byte
	hex.Encode(hexed[:], prev[:])
	b.Write(hexed[:])
	b.WriteByte('"')
	if e.Body != nil {
		j.body.Reset()
		if quick, ok := e.Body.(interface{ AppendJSON([]byte) []byte }); ok {
			j.body.Write(quick.AppendJSON(j.body.AvailableBuffer()))
		} else if err := plain(&j.body, e.Body); err != nil {
			return err
		}
		body := j.body.Bytes()
		if len(body) < 2 || body[0] != '{' {
			return text.Fault("journal.body", text.Name("body", fmt.Sprintf("%.40s", body)))
		}
		if len(body) > len("{}") {
			b.WriteByte(',')
			b.Write(body[1 : len(body)-1])
		}
	}
	b.WriteString("}\n")
	return nil
}

// quoted is plain for a text, and quick for most.
func quoted(b *bytes.Buffer, s string) error {
	for i := range len(s) {
		if c := s[i]; c < ' ' || c > '~' || c == '"' || c == '\\' {
			return plain(b, s)
		}
	}
	b.WriteByte('"')
	b.WriteString(s)
	b.WriteByte('"')
	return nil
}

// plain writes v as JSON without the escapes for HTML: the journal is read by
// people too.
func plain(b *bytes.Buffer, v any) error {
	e := json.NewEncoder(b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return err
	}
	b.Truncate(b.Len() - 1) // the encoder's newline
	return nil
}

// put writes and syncs, and only then lets the journal know of the lines.
func (j *Journal) put(recs []Record) error {
	all := j.buf.Bytes()
	n, err := j.file.Write(all)
	if err == nil && n < len(all) {
		err = io.ErrShortWrite
	}
	if err != nil {
		return text.Kind(err, text.Fault("journal.write", text.Count("line", int(recs[0].Seq)), text.Because("why", err)))
	}
	if err := j.file.Sync(); err != nil {
		return text.Kind(err, text.Fault("journal.sync", text.Count("line", int(recs[0].Seq)), text.Because("why", err)))
	}
	for _, r := range recs {
		j.place.Add(r)
	}
	j.note(recs[len(recs)-1].At)
	return nil
}

// note tells the witness. What cannot be noted is no reason to stop recording.
func (j *Journal) note(at time.Time) {
	if j.witness != "" {
		_ = Witness{Journal: j.path, Lines: j.place.Lines, Head: j.place.Head, At: at}.write(j.witness)
	}
}

// here reports an error where the file is not at its place any more, or not as it was
// left: our lines would go to a file that no one finds, or into a broken chain.
func (j *Journal) here() error {
	info, err := os.Stat(j.path)
	switch {
	case err != nil:
		return text.Kind(err, text.Fault("journal.gone", text.Because("why", err)))
	case !os.SameFile(info, j.info):
		return text.Fault("journal.another-file", text.Name("file", j.path))
	case info.Size() != j.place.Bytes:
		return text.Fault("journal.size", text.Name("file", j.path), text.Count("is", int(info.Size())), text.Count("was", int(j.place.Bytes)))
	}
	return nil
}

// Check looks whether the file is still at its place. When it is not, the journal is
// broken, and what was in it is saved beside it from the descriptor that is still
// open, as journal.saved-TIME; the error says so.
func (j *Journal) Check(at time.Time) error {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.broken != nil {
		return j.broken
	}
	err := j.here()
	if err != nil {
		j.broken = j.rescued(err, at)
	}
	return j.broken
}

// rescued adds to the error of here where the lines were saved.
func (j *Journal) rescued(err error, at time.Time) error {
	if info, e := os.Stat(j.path); e == nil && os.SameFile(info, j.info) {
		return err // it is there, with something in it that is not ours
	}
	saved, e := save(filepath.Dir(j.path), "journal.saved-", at, io.NewSectionReader(j.file, 0, j.place.Bytes))
	if e != nil {
		return text.Kind(err, text.Fault("journal.not-saved", text.Because("why", err), text.Because("fault", e)))
	}
	return text.Kind(err, text.Fault("journal.saved", text.Because("why", err), text.Name("file", saved), text.Name("name", Name)))
}

func brokenBy(err error) error {
	return text.Kind(errors.Join(ErrBroken, err), text.Fault("journal.broken", text.Because("why", err)))
}

func unfit(kind string, err error) error {
	return text.Kind(errors.Join(ErrUnfit, err), text.Fault("journal.unfit", text.Name("kind", kind), text.Because("why", err)))
}

func inFile(path string, err error) error {
	return text.Kind(err, text.Fault("journal.file", text.Name("file", path), text.Because("why", err)))
}

// Break keeps the journal from taking more records, for a reason that was found beside it.
func (j *Journal) Break(err error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.broken == nil {
		j.broken = err
	}
}

// Broken tells why the journal takes no more records; nil while it does.
func (j *Journal) Broken() error {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.broken
}

// Head gives the hash of the last line; zeros when there is none.
func (j *Journal) Head() Hash {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.place.Head
}

// Len gives the number of lines, which is the seq of the last.
func (j *Journal) Len() uint64 {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.place.Lines
}

// Path gives where the file is.
func (j *Journal) Path() string { return j.path }

// Close gives the file and the lock back.
func (j *Journal) Close() error {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.broken == nil {
		j.broken = errors.New("it was closed")
	}
	return errors.Join(j.file.Close(), j.lock.release())
}

// Read checks the journal in dir from beginning to end and gives each line to
// each, without a lock and without changing anything, while a daemon may be
// writing to it. An error with fs.ErrNotExist in its chain: there is none.
func Read(dir string, each func(Record) error) (Report, error) {
	return ReadWith(dir, Options{Each: each})
}

// ReadWith is Read, and holds the journal against the note in the witness file of the
// options, and begins behind their place. Nothing else of them counts.
func ReadWith(dir string, o Options) (Report, error) {
	path := filepath.Join(dir, Name)
	f, err := os.Open(path)
	if err != nil {
		return Report{}, fmt.Errorf("journal: %w", err)
	}
	defer func() { _ = f.Close() }()
	info, err := f.Stat()
	if err != nil {
		return Report{}, fmt.Errorf("journal: %w", err)
	}
	s := scan{stretch: stretchLength, report: Report{Place: o.From}}
	rep, err := s.witnessed(f, info.Size(), o.Witness, o.Each)
	if err != nil {
		return rep, inFile(path, err)
	}
	return rep, nil
}
