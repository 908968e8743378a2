package book

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"io"
	"slices"

	"tared/session/recipe"
)

// What an Index knows can be kept beside the journal, so that the next one need not be
// made of all lines. It is no record: it says how far the journal was read and in which
// line, it is sealed with its own hash, and whoever doubts it throws it away and loses
// some time.

// sealHead begins what Seal writes; its number changes with what stands behind it.
const sealHead = "tared-index-2\n"

// Seal writes what the index knows. By names the program, for another may tell a batch
// otherwise; with are bytes of whoever keeps it.
func (x *Index) Seal(by string, with []byte) []byte {
	c := codec{b: append(make([]byte, 0, 1<<16+300*len(x.batches)), sealHead...), write: true}
	x.sealed(&c, &by, &with)
	sum := sha256.Sum256(c.b)
	return append(c.b, sum[:]...)
}

// Unseal reads what Seal wrote; nil where it is not whole, or not of this program.
// Whether the journal still has what the index knows of it, who reads on from its Place
// must see.
func Unseal(file io.ReaderAt, by string, b []byte) (x *Index, with []byte) {
	end := len(b) - sha256.Size
	if end < 0 || sha256.Sum256(b[:end]) != [sha256.Size]byte(b[end:]) || !bytes.HasPrefix(b, []byte(sealHead)) {
		return nil, nil
	}
	c := codec{b: b[len(sealHead):end]}
	x = NewIndex(file)
	was := ""
	if x.sealed(&c, &was, &with); was != by || len(c.b) > 0 || !x.sound() {
		return nil, nil
	}
	for i, s := range x.batches {
		x.byMark[recipe.Key(s.mark)] = int32(i)
		if s.of != "" {
			x.cups[recipe.Key(s.of)] = append(x.cups[recipe.Key(s.of)], int32(i))
		}
	}
	return x, with
}

// sealed writes or reads all that is kept.
func (x *Index) sealed(c *codec, by *string, with *[]byte) {
	c.text(by)
	place, _ := json.Marshal(x.place) // numbers, times and hashes always marshal
	if c.bytes(&place); !c.write {
		_ = json.Unmarshal(place, &x.place) // as it was marshalled
	}
	c.bytes(with)
	texts := slices.Clone(x.names.all)
	many(c, &texts, (*codec).text)
	x.names.ofAll(texts)
	many(c, &x.batches, func(c *codec, s *shelf) {
		c.text(&s.mark)
		c.text(&s.of)
		number(c, &s.tub)
		number(c, &s.last)
		c.bool(&s.wet)
		c.bool(&s.used)
		many(c, &s.pieces, pieceBy)
		if c.bytes(&s.digest); len(s.digest) == 0 {
			s.digest = nil
		}
	})
	many(c, &x.apart, pieceBy)
	many(c, &x.checks, func(c *codec, k *checkAt) {
		c.text(&k.scale)
		pieceBy(c, &k.piece)
	})
}

func pieceBy(c *codec, p *piece) {
	number(c, &p.at)
	number(c, &p.size)
	head := p.head[:]
	c.bytes(&head)
	copy(p.head[:], head)
}

// sound reports whether all that the index names is there.
func (x *Index) sound() bool {
	out := func(p piece) bool { return p.at < 0 || p.at+int64(p.size) > x.place.Bytes }
	for i, s := range x.batches {
		if s.tub >= int32(i) || s.tub < noShelf || len(s.pieces) == 0 || slices.ContainsFunc(s.pieces, out) {
			return false
		}
	}
	return !slices.ContainsFunc(x.apart, out) && !slices.ContainsFunc(x.checks, func(k checkAt) bool { return out(k.piece) })
}
