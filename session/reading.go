package session

import (
	"slices"
	"time"

	"tared/protocol"
	"tared/scale"
	"tared/scale/pan"
	"tared/session/doubt"
	"tared/session/fact"
	"tared/session/text"
)

// Reading is what a scale showed at rest when a person asked. The bench keeps the
// last few, so that what is weighed after a batch is recorded with the lines of the
// scale, and not with what a page says they were.
type Reading struct {
	ID    uint64 `json:"id"`
	Scale string `json:"scale"`
	Shows string `json:"shows"` // in grams, with the digits of the scale

	gross   protocol.Mass
	carried protocol.Mass
	step, u protocol.Mass
	raw     string
}

const (
	mostReadings = 64
	askFor       = 5 * time.Minute // a scale that must be asked is asked so long after a person wanted it
)

// readings are the last few that people asked for.
type readings struct {
	all   []Reading
	last  uint64               // ID
	until map[string]time.Time // by scale: so long it is asked for them
}

// want has a scale asked for a while.
func (rs *readings) want(scale string, now time.Time) {
	if rs.until == nil {
		rs.until = map[string]time.Time{}
	}
	rs.until[scale] = now.Add(askFor)
}

func (rs *readings) read(p *pan.Pan, weighs doubt.Scale, now time.Time) (Reading, error) {
	switch {
	case p.Instrument().Link != scale.Up || !p.Usable() || !p.Live(now):
		return Reading{}, text.Refuse("scale.silent", text.Name("scale", p.Name()))
	case p.Line().Status != protocol.OK:
		return Reading{}, text.Refuse("scale.no-weight", text.Name("scale", p.Name()), text.Name("status", p.Line().Status.String()))
	case !p.Settled():
		return Reading{}, text.Refuse("scale.unsteady", text.Name("scale", p.Name()))
	}
	rs.last++
	r := Reading{ID: rs.last, Scale: p.Name(), Shows: (p.Gross() - p.Carried()).Grams(places(p.Step())), gross: p.Gross(), carried: p.Carried(),
		step: p.Step(), u: weighs.U(p.Gross() - p.Carried()), raw: p.Raw()}
	rs.all = append(rs.all, r)
	if len(rs.all) > mostReadings {
		rs.all = slices.Delete(rs.all, 0, 1)
	}
	return r, nil
}

// WeighedHere is a weight as the difference of two readings of the bench; Before
// is 0 where the scale's own tare key took the vessel off.
type WeighedHere struct {
	Before uint64 `json:"before,omitempty"`
	After  uint64 `json:"after,omitempty"`
}

func (rs *readings) net(what text.Message, w WeighedHere) (t fact.Typed, err error) {
	find := func(id uint64) (Reading, error) {
		if k := slices.IndexFunc(rs.all, func(r Reading) bool { return r.ID == id }); k >= 0 {
			return rs.all[k], nil
		}
		return Reading{}, text.Refuse("vessel.forgotten", text.Said("field", what), text.Number("reading", entryNumber(id)))
	}
	after, err := find(w.After)
	if err != nil {
		return t, err
	}
	t = fact.Typed{Mass: after.gross - after.carried, Step: after.step, U: after.u, Scale: after.Scale, Raw: []string{after.raw}}
	if w.Before != 0 {
		before, err := find(w.Before)
		switch {
		case err != nil:
			return t, err
		case before.Scale != after.Scale:
			return t, text.Refuse("vessel.two-scales", text.Said("field", what), text.Name("empty", before.Scale), text.Name("filled", after.Scale))
		case before.carried != after.carried:
			return t, text.Refuse("vessel.own-tare", text.Said("field", what))
		case before.step != after.step:
			return t, text.Refuse("vessel.steps", text.Said("field", what), text.Name("scale", after.Scale))
		}
		t.Mass = after.gross - before.gross
		t.Raw = []string{before.raw, after.raw}
	}
	if t.Mass <= 0 {
		return t, text.Refuse("vessel.not-filled", text.Said("field", what), text.Exact("mass", t.Mass, 0))
	}
	return t, nil
}
