package book

import (
	"encoding/binary"
	"slices"
	"strings"
	"time"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/recipe"
)

// digest is what a list and a search look at in a batch. An Index keeps it as bytes, for
// there may be a hundred thousand of them, and each text once.
type digest struct {
	Row
	texts     []uint32 // all of them in lower case, for searching
	tags      []uint32 // of its tiles, in lower case
	people    []uint32 // who did something, in order
	materials []indexed
	base      protocol.Mass // delivered, dry; 0 while the batch is open, for it has no shares yet
	title, by uint32
}

// indexed is a material of a batch.
type indexed struct {
	key, as        uint32 // name, and that of what went in instead, as keys
	delivered, dry protocol.Mass
	weighed        bool
}

// names are texts, each once; the first is the empty one.
type names struct {
	all []string
	at  map[string]uint32
}

func (n *names) id(s string) uint32 {
	if n.at == nil {
		n.at, n.all = map[string]uint32{"": 0}, []string{""}
	}
	i, ok := n.at[s]
	if !ok {
		i = uint32(len(n.all))
		s = strings.Clone(s)
		n.all, n.at[s] = append(n.all, s), i
	}
	return i
}

func (n *names) ids(all []string) (out []uint32) {
	for _, s := range all {
		out = append(out, n.id(s))
	}
	return out
}

// digest gives that of a batch, made where it is to be made.
func (x *Index) digest(i int, into *digest) error {
	s := &x.batches[i]
	if s.digest == nil {
		all, _, err := x.read(forList, int32(i))
		if err != nil {
			return err
		}
		s.digest = x.packed(all[0])
	}
	x.unpack(s, into)
	return nil
}

// packed writes the digest of a batch.
func (x *Index) packed(n *Batch) []byte {
	var p packer
	r := n.Row()
	texts := slices.Clone(n.texts)
	slices.Sort(texts)
	p.ids(x.names.ids(slices.Compact(texts)))
	p.ids(x.names.ids(n.tags))
	p.ids(x.names.ids(n.people()))
	onBase, base := batch.Bases(n.Lines), protocol.Mass(0)
	materials := n.Materials()
	p.uint(uint64(len(materials)))
	for i, m := range materials {
		dry := m.In.Dry()
		if onBase[i] && n.Finished {
			base += dry
		}
		as := ""
		if m.In.As != "" {
			as = recipe.Key(m.In.As)
		}
		p.uint(uint64(x.names.id(recipe.Key(m.Line.Material))))
		p.uint(uint64(x.names.id(as)))
		p.int(int64(m.In.Delivered))
		p.int(int64(dry))
		p.bool(m.Portions > 0)
	}
	p.int(int64(base))
	for _, s := range []string{r.Title, r.By, string(r.State), r.Worst, r.Again, r.Series} {
		p.uint(uint64(x.names.id(s)))
	}
	p.time(r.Started)
	p.time(r.Finished)
	p.amount(r.Base)
	p.bool(r.Enlarged != nil)
	if r.Enlarged != nil {
		p.amount(*r.Enlarged)
	}
	for _, k := range []int{r.Done, r.Of, r.Off, int(r.Cups), r.Amended, r.Late} {
		p.uint(uint64(k))
	}
	p.bool(r.Simulated)
	return slices.Clip(p)
}

// unpack reads what packed wrote. The slices of into are used again.
func (x *Index) unpack(s *shelf, into *digest) {
	u := unpacker{s.digest}
	d := digest{Row: Row{Mark: s.mark}, texts: u.ids(into.texts), tags: u.ids(into.tags), people: u.ids(into.people), materials: into.materials[:0]}
	for range u.uint() {
		d.materials = append(d.materials, indexed{u.id(), u.id(), protocol.Mass(u.int()), protocol.Mass(u.int()), u.bool()})
	}
	d.base = protocol.Mass(u.int())
	d.title, d.by = u.id(), u.id()
	name := func(id uint32) string { return x.names.all[min(int(id), len(x.names.all)-1)] }
	d.Title, d.By = name(d.title), name(d.by)
	d.State, d.Worst, d.Again, d.Series = State(name(u.id())), name(u.id()), name(u.id()), name(u.id())
	d.Started, d.Row.Finished = u.time(), u.time()
	d.Base = u.amount()
	if u.bool() {
		grown := u.amount()
		d.Enlarged = &grown
	}
	d.Done, d.Of, d.Off, d.Cups, d.Amended, d.Late = int(u.uint()), int(u.uint()), int(u.uint()), u.uint(), int(u.uint()), int(u.uint())
	d.Simulated = u.bool()
	*into = d
}

// Names gives all people who are named in the records as having done something.
func (x *Index) Names() (*Names, error) {
	var seen []uint32
	var people []string
	var d digest
	for i := range x.batches {
		if err := x.digest(i, &d); err != nil {
			return nil, err
		}
		for _, p := range d.people {
			if !slices.Contains(seen, p) {
				seen = append(seen, p)
				people = append(people, x.names.all[p])
			}
		}
	}
	return namesOf(people), nil
}

// Digest makes up to so many digests that are to be made, and reports whether there are
// more. What cannot be read is left to whoever looks at it.
func (x *Index) Digest(most int) (more bool) {
	var d digest
	for i := len(x.batches) - 1; i >= 0; i-- {
		if x.batches[i].digest == nil {
			if most--; most < 0 {
				return true
			}
			_ = x.digest(i, &d)
		}
	}
	return false
}

// packer writes numbers, small ones in few bytes.
type packer []byte

func (p *packer) uint(v uint64) { *p = binary.AppendUvarint(*p, v) }
func (p *packer) int(v int64)   { *p = binary.AppendVarint(*p, v) }

func (p *packer) bool(v bool) {
	if v {
		p.uint(1)
	} else {
		p.uint(0)
	}
}

func (p *packer) ids(all []uint32) {
	p.uint(uint64(len(all)))
	for _, i := range all {
		p.uint(uint64(i))
	}
}

func (p *packer) text(s string) {
	p.uint(uint64(len(s)))
	*p = append(*p, s...)
}

func (p *packer) amount(a Amount) {
	p.int(int64(a.Mass))
	p.int(int64(a.Places))
}

// time keeps the instant and how far the clock was off UTC.
func (p *packer) time(t time.Time) {
	_, off := t.Zone()
	p.int(t.Unix())
	p.int(int64(t.Nanosecond()))
	p.int(int64(off))
}

// unpacker reads what a packer wrote. At the end it gives zeros.
type unpacker struct{ rest []byte }

func (u *unpacker) uint() uint64 {
	v, n := binary.Uvarint(u.rest)
	u.rest = u.rest[max(n, 0):]
	return v
}

func (u *unpacker) int() int64 {
	v, n := binary.Varint(u.rest)
	u.rest = u.rest[max(n, 0):]
	return v
}

func (u *unpacker) bool() bool { return u.uint() == 1 }
func (u *unpacker) id() uint32 { return uint32(u.uint()) }

func (u *unpacker) ids(into []uint32) []uint32 {
	into = into[:0]
	for range u.uint() {
		into = append(into, u.id())
	}
	return into
}

func (u *unpacker) bytes() []byte {
	n := min(u.uint(), uint64(len(u.rest)))
	b := u.rest[:n:n]
	u.rest = u.rest[n:]
	return b
}

func (u *unpacker) amount() Amount {
	return Amount{protocol.Mass(u.int()), int(u.int())}
}

func (u *unpacker) time() time.Time {
	t, off := time.Unix(u.int(), u.int()).UTC(), int(u.int())
	if off != 0 {
		t = t.In(time.FixedZone("", off))
	}
	return t
}
