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
func (x *Index) Seal(w io.Writer, by string, with []byte) error {
	sum := sha256.New()
	c := codec{b: []byte(sealHead), write: true, sink: io.MultiWriter(w, sum)}
	x.still().sealed(&c, &by, &with, true)
	if c.flush(0); c.err != nil {
		return c.err
	}
	_, err := w.Write(sum.Sum(nil))
	return err
}

// still is the index as it is now, for reading while it grows.
func (x *Index) still() *Index {
	x.mu.Lock()
	defer x.mu.Unlock()
	y := &Index{shelves: &shelves{place: x.place, batches: slices.Clone(x.batches), apart: slices.Clone(x.apart), checks: x.checks, names: names{all: x.names.all}}}
	n := 0
	for _, s := range y.batches {
		n += len(s.pieces)
	}
	all := make([]piece, 0, n)
	for i := range y.batches {
		from := len(all)
		all = append(all, y.batches[i].pieces...)
		y.batches[i].pieces = all[from:]
	}
	return y
}

// Unseal reads what Seal wrote; nil where it is not whole, or not of this program. Rows are
// only kept where they are wanted; else they would be made anew. Whether the journal still
// has what the index knows of it, who reads on from its Place must see.
func Unseal(file io.ReaderAt, by string, sealed *io.SectionReader, rows bool) (x *Index, with []byte) {
	end := sealed.Size() - sha256.Size
	sum, was := sha256.New(), make([]byte, sha256.Size)
	if _, err := io.Copy(sum, io.NewSectionReader(sealed, 0, max(end, 0))); err != nil || end < 0 {
		return nil, nil
	}
	if _, err := sealed.ReadAt(was, end); err != nil && err != io.EOF || !bytes.Equal(sum.Sum(nil), was) {
		return nil, nil
	}
	c := codec{from: io.NewSectionReader(sealed, 0, end), again: !rows}
	if c.need(len(sealHead)); !bytes.HasPrefix(c.b, []byte(sealHead)) {
		return nil, nil
	}
	c.b = c.b[len(sealHead):]
	x = NewIndex(file)
	of := ""
	if x.sealed(&c, &of, &with, rows); of != by || c.left() > 0 || !x.sound() {
		return nil, nil
	}
	x.unmade = len(x.batches)
	x.byMark = make(map[string]int32, len(x.batches))
	for i, s := range x.batches {
		x.byMark[recipe.Key(s.mark)] = int32(i)
		if s.of != "" {
			x.cups[recipe.Key(s.of)] = append(x.cups[recipe.Key(s.of)], int32(i))
		}
	}
	return x, with
}

// sealed writes or reads all that is kept.
func (x *Index) sealed(c *codec, by *string, with *[]byte, rows bool) {
	c.text(by)
	place, _ := json.Marshal(x.place) // numbers, times and hashes always marshal
	if c.bytes(&place); !c.write {
		_ = json.Unmarshal(place, &x.place) // as it was marshalled
	}
	if c.bytes(with); !c.write {
		*with = bytes.Clone(*with)
	}
	texts := x.names.all
	many(c, &texts, (*codec).text)
	if rows {
		x.names.ofAll(texts)
	}
	many(c, &x.batches, func(c *codec, s *shelf) {
		c.text(&s.mark)
		c.text(&s.of)
		number(c, &s.tub)
		number(c, &s.last)
		c.bool(&s.wet)
		c.bool(&s.used)
		many(c, &s.pieces, pieceBy)
		if c.bytes(&s.digest); len(s.digest) == 0 || !rows {
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
