package book

import (
	"slices"

	"tared/session/fact"
	"tared/session/sentence"
	"tared/session/text"
)

// checks knows what a known weight showed last on each scale, and which batches
// wait for the next time. A scale that passed before a batch and failed after it
// went wrong somewhere between: whoever argues about the batch must see both.
type checks struct {
	last    map[string]fact.Fact
	waiting map[string][]*Batch
}

// planned notes the last checks for a batch that begins.
func (c *checks) planned(n *Batch) {
	if c.waiting == nil {
		c.waiting = map[string][]*Batch{}
	}
	for _, s := range n.Plan.Scales {
		n.checked = append(n.checked, checkedScale{scale: s.Name, before: c.last[s.Name]})
		c.waiting[s.Name] = append(c.waiting[s.Name], n)
	}
}

// took takes a check, which is the first since for all that waited for one.
func (c *checks) took(f fact.Fact, name string) {
	if c.last == nil {
		c.last = map[string]fact.Fact{}
	}
	c.last[name] = f
	for _, n := range c.waiting[name] {
		i := slices.IndexFunc(n.checked, func(a checkedScale) bool { return a.scale == name })
		n.checked[i].after = f
	}
	delete(c.waiting, name)
}

// checkWords tells what known weights said of the scales of the batch. Of a
// workshop that never checks a scale the record keeps silent; the bench has said
// so.
func (n *Batch) checkWords() []string {
	var w []string
	for _, a := range n.checked {
		if _, ok := a.before.Body.(fact.Checked); ok {
			w = append(w, n.reader.Say(text.New("record.check-before", text.Name("when", when(a.before.At)), text.Name("scale", a.scale)))+" "+text.Join(n.reader, sentence.Messages(a.before)))
		} else if a.after.Body != nil {
			w = append(w, n.reader.Say(text.New("record.check-never", text.Name("scale", a.scale))))
		}
		if v, ok := a.after.Body.(fact.Checked); ok {
			w = append(w, n.reader.Say(text.New("record.check-after", text.Name("when", when(a.after.At))))+" "+text.Join(n.reader, sentence.Messages(a.after)))
			if b, ok := a.before.Body.(fact.Checked); !v.Pass && (!ok || b.Pass) {
				w = append(w, n.reader.Say(text.New("record.check-doubt", text.Name("scale", a.scale))))
			}
		}
	}
	return w
}
