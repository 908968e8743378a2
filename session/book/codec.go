package book

import (
	"encoding/binary"
	"io"
	"math"
	"time"
)

// codec writes values one after the other, or reads into them what was written so: one
// function for both, so that they cannot differ. Small numbers take few bytes. Where
// nothing is left to read it gives zeros.
type codec struct {
	b     []byte
	write bool

	// When it writes: where b goes each time that it is long; nil: it stays.
	sink io.Writer
	err  error
	// When it reads: what follows b. Again has it use the room of what was read.
	from  *io.SectionReader
	again bool
}

// atOnce is how many bytes are written or read at once.
const atOnce = 64 << 10

// flush passes on what was written where it is so many bytes or more.
func (c *codec) flush(most int) {
	if c.sink != nil && len(c.b) >= most && c.err == nil {
		_, c.err = c.sink.Write(c.b)
		c.b = c.b[:0]
	}
}

// need has so many bytes in b, where there are so many.
func (c *codec) need(n int) {
	if len(c.b) >= n || c.from == nil {
		return
	}
	left := c.left()
	b := c.b[:0]
	if !c.again || cap(b) < n {
		b = make([]byte, 0, min(left, max(n, atOnce)))
	}
	have := copy(b[:cap(b)], c.b)
	got, err := io.ReadFull(c.from, b[have:min(cap(b), left)])
	if c.b = b[:have+got]; err != nil {
		c.from = nil
	}
}

// left is how many bytes are left to read.
func (c *codec) left() int {
	if c.from == nil {
		return len(c.b)
	}
	at, _ := c.from.Seek(0, io.SeekCurrent) // to where it is: that cannot fail
	return len(c.b) + int(c.from.Size()-at)
}

func number[T ~int | ~int32 | ~int64 | ~uint32 | ~uint64](c *codec, v *T) {
	if c.write {
		c.b = binary.AppendVarint(c.b, int64(*v))
		return
	}
	if c.from != nil && len(c.b) < binary.MaxVarintLen64 {
		c.need(binary.MaxVarintLen64)
	}
	n, size := binary.Varint(c.b)
	if size <= 0 {
		n, size, c.from = 0, len(c.b), nil // it is no number: nothing behind it is believed
	}
	*v, c.b = T(n), c.b[size:]
}

func (c *codec) bool(v *bool) {
	n := 0
	if *v {
		n = 1
	}
	number(c, &n)
	*v = n == 1
}

// bytes gives, when it reads, a part of what is read.
func (c *codec) bytes(v *[]byte) {
	n := len(*v)
	number(c, &n)
	if c.write {
		c.b = append(c.b, *v...)
		return
	}
	n = max(min(n, c.left()), 0)
	c.need(n)
	n = min(n, len(c.b))
	*v, c.b = c.b[:n:n], c.b[n:]
}

func (c *codec) text(v *string) {
	b := []byte(*v)
	if c.bytes(&b); !c.write {
		*v = string(b)
	}
}

// many writes or reads a list; each thing in it takes a byte or more. The room that v has
// is used again.
func many[T any](c *codec, v *[]T, one func(*codec, *T)) {
	n := len(*v)
	number(c, &n)
	if !c.write {
		n = max(min(n, c.left(), math.MaxInt32), 0)
		if *v = (*v)[:0]; cap(*v) < n {
			*v = make([]T, 0, n)
		}
		for range n {
			var zero T
			*v = append(*v, zero)
			one(c, &(*v)[len(*v)-1])
		}
		return
	}
	for i := range *v {
		one(c, &(*v)[i])
		c.flush(atOnce)
	}
}

func (c *codec) amount(v *Amount) {
	number(c, &v.Mass)
	number(c, &v.Places)
}

// time keeps the instant and how far the clock was off UTC.
func (c *codec) time(v *time.Time) {
	_, off := v.Zone()
	sec, nsec := v.Unix(), v.Nanosecond()
	number(c, &sec)
	number(c, &nsec)
	number(c, &off)
	if c.write {
		return
	}
	if *v = time.Unix(sec, int64(nsec)).UTC(); off != 0 {
		*v = v.In(time.FixedZone("", off))
	}
}
