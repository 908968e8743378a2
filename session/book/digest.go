package book

import (
	"slices"
	"strings"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/recipe"
)

// digest is what a list and a search look at in a batch. An Index keeps it as bytes, for
// there may be a hundred thousand of them, and each text once.
type digest struct {
	Row
	texts     []name // all of them in lower case, for searching
	tags      []name // of its tiles, in lower case
	people    []name // who did something, in order
	materials []indexed
	base      protocol.Mass // delivered, dry; 0 while the batch is open, for it has no shares yet
}

// indexed is a material of a batch.
type indexed struct {
	key, as        name // of it, and of what went in instead, as keys
	delivered, dry protocol.Mass
	weighed        bool
}

// name is a text of an Index.
type name uint32

// names are texts, each once; the first is the empty one.
type names struct {
	all []string
	at  map[string]name
}

func (n *names) of(s string) name {
	if n.at == nil {
		n.at, n.all = map[string]name{"": 0}, []string{""}
	}
	i, ok := n.at[s]
	if !ok {
		i = name(len(n.all))
		s = strings.Clone(s)
		n.all, n.at[s] = append(n.all, s), i
	}
	return i
}

func (n *names) ofAll(all []string) (out []name) {
	for _, s := range all {
		out = append(out, n.of(s))
	}
	return out
}

// text is the text of a name; the last one for what is none.
func (n *names) text(i name) string { return n.all[min(int(i), len(n.all)-1)] }

// digest gives that of a batch, made where it is to be made. x.mu is held, but not while the
// journal is read.
func (x *Index) digest(i int, into *digest) error {
	if x.known(i, into) {
		return nil
	}
	x.mu.Unlock()
	g := x.gather(int32(i))
	all, _, err := g.read(forList)
	x.mu.Lock()
	if err != nil {
		return err
	}
	c := codec{write: true}
	x.code(&c, x.digestOf(all[0]))
	x.code(&codec{b: c.b}, into)
	into.Mark = x.batches[i].mark
	if g.stands() { // else it is to be made anew
		x.batches[i].digest = slices.Clip(c.b)
	}
	return nil
}

// known gives the digest of a batch where it was made. x.mu is held.
func (x *Index) known(i int, into *digest) bool {
	s := x.batches[i]
	if s.digest == nil {
		return false
	}
	x.code(&codec{b: s.digest}, into)
	into.Mark = s.mark
	return true
}

func (x *Index) digestOf(n *Batch) *digest {
	texts := slices.Sorted(slices.Values(n.texts))
	d := &digest{Row: n.Row(), texts: x.names.ofAll(slices.Compact(texts)), tags: x.names.ofAll(n.tags), people: x.names.ofAll(n.people())}
	onBase := batch.Bases(n.Lines)
	for i, m := range n.Materials() {
		one := indexed{x.names.of(recipe.Key(m.Line.Material)), x.names.of(recipe.Key(m.In.As)), m.In.Delivered, m.In.Dry(), m.Portions > 0}
		if onBase[i] && n.Finished {
			d.base += one.dry
		}
		d.materials = append(d.materials, one)
	}
	return d
}

// code writes or reads a digest, but for its mark.
func (x *Index) code(c *codec, d *digest) {
	for _, all := range []*[]name{&d.texts, &d.tags, &d.people} {
		many(c, all, number[name])
	}
	many(c, &d.materials, func(c *codec, m *indexed) {
		number(c, &m.key)
		number(c, &m.as)
		number(c, &m.delivered)
		number(c, &m.dry)
		c.bool(&m.weighed)
	})
	number(c, &d.base)
	for _, s := range []*string{&d.Title, &d.By, (*string)(&d.State), &d.Worst, &d.Again, &d.Series} {
		n := name(0)
		if c.write {
			n = x.names.of(*s)
		}
		number(c, &n)
		*s = x.names.text(n)
	}
	c.time(&d.Started)
	c.time(&d.Finished)
	c.amount(&d.Base)
	grown := d.Enlarged != nil
	if c.bool(&grown); grown {
		if d.Enlarged == nil || !c.write {
			d.Enlarged = &Amount{}
		}
		c.amount(d.Enlarged)
	} else {
		d.Enlarged = nil
	}
	for _, k := range []*int{&d.Done, &d.Of, &d.Off, &d.Cannot, &d.Amended, &d.Late} {
		number(c, k)
	}
	number(c, &d.Cups)
	c.bool(&d.Simulated)
}

// Names gives all people who are named in the records as having done something.
func (x *Index) Names() (*Names, error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	var seen []name
	var people []string
	var d digest
	for i := 0; i < len(x.batches); i++ {
		if err := x.digest(i, &d); err != nil {
			return nil, err
		}
		for _, p := range d.people {
			if !slices.Contains(seen, p) {
				seen, people = append(seen, p), append(people, x.names.text(p))
			}
		}
	}
	return namesOf(people), nil
}

// Digest makes up to so many digests that are to be made, the newest first, and reports
// whether there are more that can be. What cannot be read is left to whoever looks at it.
func (x *Index) Digest(most int) (more bool) {
	x.mu.Lock()
	defer x.mu.Unlock()
	var d digest
	for ; x.toMake(); most-- {
		if most <= 0 {
			return true
		}
		if x.digest(x.unmade-1, &d) != nil {
			return false
		}
	}
	return false
}

// toMake reports whether there is a row to be made; the newest is that before unmade.
func (x *Index) toMake() bool {
	for x.unmade > 0 && x.batches[x.unmade-1].digest != nil {
		x.unmade--
	}
	return x.unmade > 0
}

// Made is how many of all batches have their row: all the newest do.
func (x *Index) Made() (made, all int) {
	x.mu.Lock()
	defer x.mu.Unlock()
	x.toMake()
	return len(x.batches) - x.unmade, len(x.batches)
}
