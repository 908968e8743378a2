package book

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"io"
	"math"
	"slices"

	"tared/session/recipe"
)

// What an Index knows can be kept beside the journal, so that the next one need not be
// made of all lines. It is no record: it says how far the journal was read and in which
// line, it is sealed with its own hash, and whoever doubts it throws it away and loses
// some time.

// sealHead begins what Seal writes; its number changes with what stands behind it.
const sealHead = "tared-index-1\n"

// Seal writes what the index knows. By names the program, for another may tell a batch
// otherwise; with are bytes of whoever keeps it.
func (x *Index) Seal(w io.Writer, by string, with []byte) (err error) {
	sum := sha256.New()
	p := packer(sealHead)
	flush := func() {
		sum.Write(p)
		if err == nil {
			_, err = w.Write(p)
		}
		p = p[:0]
	}
	p.text(by)
	place, _ := json.Marshal(x.place) // numbers, times and hashes always marshal
	p.text(string(place))
	for _, n := range []int64{x.place.Marks[0], x.place.Marks[1], x.place.Before} {
		p.int(n)
	}
	p.text(string(with))
	p.uint(uint64(len(x.names.all)))
	for _, s := range x.names.all {
		p.text(s)
		flush()
	}
	p.uint(uint64(len(x.batches)))
	for _, s := range x.batches {
		p.text(s.mark)
		p.text(s.of)
		p.int(int64(s.tub))
		p.int(s.last)
		p.bool(s.wet)
		p.bool(s.used)
		p.pieces(s.pieces)
		p.text(string(s.digest))
		flush()
	}
	p.pieces(x.apart)
	p.uint(uint64(len(x.checks)))
	for _, c := range x.checks {
		p.text(c.scale)
		p.pieces([]piece{c.piece})
	}
	flush()
	if err == nil {
		_, err = w.Write(sum.Sum(nil))
	}
	return err
}

// Unseal reads what Seal wrote; nil where it is not whole, or not of this program.
// Whether the journal still has what the index knows of it, who reads on from its Place
// must see.
func Unseal(file io.ReaderAt, by string, b []byte) (x *Index, with []byte) {
	end := len(b) - sha256.Size
	if end < 0 || sha256.Sum256(b[:end]) != [sha256.Size]byte(b[end:]) || !bytes.HasPrefix(b, []byte(sealHead)) {
		return nil, nil
	}
	u := unpacker{b[len(sealHead):end]}
	x = NewIndex(file)
	if string(u.bytes()) != by || json.Unmarshal(u.bytes(), &x.place) != nil {
		return nil, nil
	}
	x.place.Marks[0], x.place.Marks[1], x.place.Before = u.int(), u.int(), u.int()
	with = u.bytes()
	for range u.many() {
		x.names.id(string(u.bytes()))
	}
	for i := range u.many() {
		s := shelf{mark: string(u.bytes()), of: string(u.bytes()), tub: int32(u.int()), last: u.int(), wet: u.bool(), used: u.bool(), pieces: u.pieces(), digest: u.bytes()}
		if len(s.digest) == 0 {
			s.digest = nil
		}
		if s.of != "" {
			x.cups[recipe.Key(s.of)] = append(x.cups[recipe.Key(s.of)], int32(i))
		}
		x.batches = append(x.batches, s)
		x.byMark[recipe.Key(s.mark)] = int32(i)
	}
	x.apart = u.pieces()
	for range u.many() {
		c := checkAt{scale: string(u.bytes())}
		for _, c.piece = range u.pieces() {
		}
		x.checks = append(x.checks, c)
	}
	if len(u.rest) > 0 || !x.sound() {
		return nil, nil
	}
	return x, with
}

// sound reports whether all that the index names is there.
func (x *Index) sound() bool {
	for i, s := range x.batches {
		if s.tub >= int32(i) || s.tub < noShelf || len(s.pieces) == 0 || !x.within(s.pieces) {
			return false
		}
	}
	for _, c := range x.checks {
		if !x.within([]piece{c.piece}) {
			return false
		}
	}
	return x.within(x.apart)
}

// within reports whether pieces are of what was read.
func (x *Index) within(all []piece) bool {
	return !slices.ContainsFunc(all, func(p piece) bool { return p.at < 0 || p.at+int64(p.size) > x.place.Bytes })
}

func (p *packer) pieces(all []piece) {
	p.uint(uint64(len(all)))
	for _, q := range all {
		p.int(q.at)
		p.uint(uint64(q.size))
		*p = append(*p, q.head[:]...)
	}
}

func (u *unpacker) pieces() (all []piece) {
	for range u.many() {
		all = append(all, piece{u.int(), uint32(u.uint()), [12]byte(u.next(12))})
	}
	return all
}

// many reads how many things follow: each takes a byte or more.
func (u *unpacker) many() int { return int(min(u.uint(), uint64(len(u.rest)), math.MaxInt32)) }

// next gives so many bytes.
func (u *unpacker) next(n int) []byte {
	b := make([]byte, n)
	u.rest = u.rest[copy(b, u.rest):]
	return b
}
