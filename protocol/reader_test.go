package protocol

import "io"

// readerDecoder reads a Decoder's bytes from an io.Reader.
type readerDecoder struct {
	d   *Decoder
	r   io.Reader
	buf []byte
	err error
}

// newReaderDecoder makes a readerDecoder. It reads nothing until Read is called.
func newReaderDecoder(r io.Reader, f *Format, o Options) *readerDecoder {
	return &readerDecoder{d: NewDecoder(f, o), r: r, buf: make([]byte, 4096)}
}

// Read gives the next reading, or the error of the reader when all that came
// before it has been given. At io.EOF the rest of the bytes is a frame of its
// own; at any other error it is not, for then nobody can say that it was whole.
// A reader that keeps returning nothing at all ends with io.ErrNoProgress.
func (d *readerDecoder) Read() (Reading, error) {
	for empty := 0; ; {
		if r, ok := d.d.Next(); ok {
			return r, nil
		}
		if d.err != nil {
			return Reading{}, d.err
		}
		n, err := d.r.Read(d.buf)
		d.d.Push(d.buf[:n])
		switch {
		case err == io.EOF:
			d.d.Finish()
			d.err = err
		case err != nil:
			d.err = err
		case n > 0:
			empty = 0
		default:
			if empty++; empty == 100 {
				return Reading{}, io.ErrNoProgress
			}
		}
	}
}
