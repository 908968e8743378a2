package batch

import (
	"maps"

	"tared/protocol"
	"tared/session/fact"
)

// Containers are the containers of the batch in work, as far as the facts tell of them.
// Treat it as a value.
type Containers struct {
	Tares map[string]fact.Tared    // the last of each scale
	In    map[string]protocol.Mass // what was last noted to lie in each, of the pour that runs
	Lift  *fact.Lifted             // nil: none is off its scale
	Back  protocol.Mass            // what it weighed when it came back untipped, where nothing was weighed since
}

// Apply takes the next fact of the batch.
func (c Containers) Apply(f fact.Fact) Containers {
	switch v := f.Body.(type) {
	case fact.Tared:
		c.tared(v)
		if v.How != "proven" {
			c.holds(v.Scale, 0)
		}
	case fact.Noticed:
		if v.What == "standing" {
			c.holds(v.Scale, v.Amount)
		}
		if t, ok := c.Tares[v.Scale]; ok && v.What == "tare-key" {
			t.Carried += v.Amount
			if v.Inferred {
				t.Zero.Inferred += v.Amount
			} else {
				t.Zero.Key += v.Amount
			}
			c.tared(t)
		}
	case fact.Lifted:
		c.Lift = &v
	case fact.Returned:
		c.Lift, c.Back = nil, v.After
	case fact.Portion:
		c.Back = 0
		c.holds(v.Scale, 0)
		if c.Lift != nil && c.Lift.Scale == v.Scale {
			c.Lift = nil
		}
		if t, ok := c.Tares[v.Scale]; ok && v.How != "not-returned" {
			t.Container = v.After // what clings in it is part of the next zero
			c.tared(t)
		}
	case fact.Decided:
		if v.Question == "lifted" {
			c.Lift = nil
		}
	}
	return c
}

func (c *Containers) tared(t fact.Tared) {
	if c.Tares = maps.Clone(c.Tares); c.Tares == nil {
		c.Tares = map[string]fact.Tared{}
	}
	c.Tares[t.Scale] = t
}

func (c *Containers) holds(scale string, in protocol.Mass) {
	if c.In = maps.Clone(c.In); c.In == nil {
		c.In = map[string]protocol.Mass{}
	}
	c.In[scale] = in
}
