package book

import (
	"fmt"
	"slices"

	"tared/session/fact"
)

// checks knows what a known weight showed last on each scale, and which batches
// wait for the next time. A scale that passed before a batch and failed after it
// went wrong somewhere between: whoever argues about the batch must see both.
type checks struct {
	last    map[string]fact.Fact
	waiting map[string][]*Batch
}

// around is what is known of one scale of a batch.
type around struct {
	scale  string
	before fact.Fact // no body: never checked
	after  fact.Fact // no body: not checked since
}

// planned notes the last checks for a batch that begins.
func (c *checks) planned(n *Batch) {
	if c.waiting == nil {
		c.waiting = map[string][]*Batch{}
	}
	for _, s := range n.Plan.Scales {
		n.checked = append(n.checked, around{scale: s.Name, before: c.last[s.Name]})
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
		i := slices.IndexFunc(n.checked, func(a around) bool { return a.scale == name })
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
		if v, ok := a.before.Body.(fact.Checked); ok {
			w = append(w, fmt.Sprintf("Before this batch, on %s, a known weight was put on the %s scale. %s", when(a.before.At), a.scale, v.Words))
		} else if a.after.Body != nil {
			w = append(w, fmt.Sprintf("Before this batch no known weight had been put on the %s scale.", a.scale))
		}
		if v, ok := a.after.Body.(fact.Checked); ok {
			w = append(w, fmt.Sprintf("The first time since, on %s: %s", when(a.after.At), v.Words))
			if b, ok := a.before.Body.(fact.Checked); !v.Pass && (!ok || b.Pass) {
				w = append(w, fmt.Sprintf("So the %s scale may have been wrong in this batch already.", a.scale))
			}
		}
	}
	return w
}
