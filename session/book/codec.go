package book

import (
	"encoding/binary"
	"math"
	"time"
)

// codec writes values one after the other, or reads into them what was written so: one
// function for both, so that they cannot differ. Small numbers take few bytes. Where
// nothing is left to read it gives zeros.
type codec struct {
	b     []byte
	write bool
}

func number[T ~int | ~int32 | ~int64 | ~uint32 | ~uint64](c *codec, v *T) {
	if c.write {
		c.b = binary.AppendVarint(c.b, int64(*v))
		return
	}
	n, size := binary.Varint(c.b)
	if size <= 0 {
		n, size = 0, len(c.b) // it is no number: nothing behind it is believed
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
	n = max(min(n, len(c.b)), 0)
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
		n = max(min(n, len(c.b), math.MaxInt32), 0)
		*v = (*v)[:0]
		for range n {
			var zero T
			*v = append(*v, zero)
			one(c, &(*v)[len(*v)-1])
		}
		return
	}
	for i := range *v {
		one(c, &(*v)[i])
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
