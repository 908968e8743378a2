package journal

import (
	"bytes"
	"errors"
	"io"

	"tared/session/text"
)

// Seek finds where line seq begins among the first size bytes of a journal, which end
// behind a whole line; behind the last line that is size. It halves what is left to look at,
// so that it reads some twenty lines of a journal of any length, and none of them is
// checked against its neighbours. A line that is not there is refused.
func Seek(f io.ReaderAt, size int64, seq uint64) (int64, error) {
	from, to := int64(0), size // the line begins at from or behind it, and at to at the latest
	for from < to {
		begin, end, h, err := lineAt(f, from, to, from+(to-from)/2)
		switch {
		case err != nil:
			return 0, err
		case h.seq == seq:
			return begin, nil
		case h.seq < seq:
			from = end
		default:
			to = begin
		}
	}
	last := uint64(0)
	if from == size && size > 0 {
		_, _, h, err := lineAt(f, 0, size, size-1)
		if err != nil {
			return 0, err
		}
		last = h.seq
	}
	if from < size || seq != last+1 {
		return 0, text.Refuse("journal.no-line", text.Count("line", int(seq)))
	}
	return size, nil
}

// lineAt reads the line between from and to, both the beginnings of lines, in which a place lies.
func lineAt(f io.ReaderAt, from, to, at int64) (begin, end int64, h head, err error) {
	begin, err = lineBegin(f, from, at)
	if err != nil {
		return 0, 0, h, err
	}
	l := lines{r: io.NewSectionReader(f, begin, to-begin), buf: make([]byte, seekAtOnce)}
	line, err := l.next()
	if err == nil {
		h, err = parseHead(line[:len(line)-1])
	}
	if errors.Is(err, io.EOF) {
		err = io.ErrUnexpectedEOF
	}
	return begin, begin + int64(len(line)), h, err
}

// seekAtOnce is how much is read at once: most lines have room in it.
const seekAtOnce = 4 << 10

// lineBegin finds the beginning of the line in which a place lies, not before from.
func lineBegin(f io.ReaderAt, from, at int64) (int64, error) {
	buf := make([]byte, seekAtOnce)
	for at > from {
		b := buf[:min(at-from, seekAtOnce)]
		if _, err := f.ReadAt(b, at-int64(len(b))); err != nil {
			return 0, err
		}
		if i := bytes.LastIndexByte(b, '\n'); i >= 0 {
			return at - int64(len(b)) + int64(i) + 1, nil
		}
		at -= int64(len(b))
	}
	return from, nil
}
