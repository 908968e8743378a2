package fact

import (
	"tared/protocol"
	"tared/session/doubt"
)

// Tared: a container stands on the pan and counts as zero.
type Tared struct {
	Material  string        `json:"material,omitempty"`
	Scale     string        `json:"scale"`
	Container protocol.Mass `json:"container"` // what counts as zero from here: what the scale showed, plus Carried
	Weight    protocol.Mass `json:"weight"`    // the container's own weight, without what clings in it
	Carried   protocol.Mass `json:"carried"`   // by how much the scale's zero has moved, see Zero
	Zero      Zero          `json:"zero,omitzero"`
	How       string        `json:"how"` // container, key, answered
	Step      protocol.Mass `json:"step"`
	Raw       []string      `json:"raw"`
}

// AppendJSON writes the masses with the digits of the scale's step.
func (t Tared) AppendJSON(b []byte) []byte {
	n := t.Step.Places()
	o := object(nil).some("material", t.Material).text("scale", t.Scale).
		mass("container", t.Container, n).mass("weight", t.Weight, n).mass("carried", t.Carried, n).zero("zero", t.Zero, n).
		text("how", t.How).mass("step", t.Step, n).texts("raw", t.Raw)
	return append(b, o.end()...)
}

// MarshalJSON writes the same.
func (t Tared) MarshalJSON() ([]byte, error) { return t.AppendJSON(nil), nil }

// Zero says why a scale's zero is not where it was: what the weights of a record are
// more than the scale showed, by reason. Carried, in the facts that hold this, is all
// of it; older journals have that alone.
type Zero struct {
	Key      protocol.Mass `json:"key,omitzero"`      // taken up by the scale's own tare key, seen
	Drift    protocol.Mass `json:"drift,omitzero"`    // less what the empty pan showed
	Object   protocol.Mass `json:"object,omitzero"`   // taken off the pan since the scale was zeroed; less what lies there
	Inferred protocol.Mass `json:"inferred,omitzero"` // taken up by the key, as nobody saw and the weights show
}

// zero is written where there is one.
func (o object) zero(name string, z Zero, places int) object {
	if z == (Zero{}) {
		return o
	}
	in := object(nil)
	for _, m := range []struct {
		name string
		by   protocol.Mass
	}{{"key", z.Key}, {"drift", z.Drift}, {"object", z.Object}, {"inferred", z.Inferred}} {
		if m.by != 0 {
			in = in.mass(m.name, m.by, places)
		}
	}
	return append(o.name(name), in.end()...)
}

// Portion is one weighing: what left the container.
type Portion struct {
	Material  string        `json:"material"`
	As        string        `json:"as,omitempty"`   // what went in instead, when substituted
	Into      string        `json:"into,omitempty"` // where it went, if not into the batch: mixing cup
	Scale     string        `json:"scale"`
	Before    protocol.Mass `json:"before"`
	After     protocol.Mass `json:"after"`
	Delivered protocol.Mass `json:"delivered"`
	Target    protocol.Mass `json:"target"`
	Low       protocol.Mass `json:"low"`
	High      protocol.Mass `json:"high"`
	Verdict   string        `json:"verdict"` // under, in, over; not-known
	How       string        `json:"how"`     // tipped, tub, typed, not-returned, unsettled; not-known: how much went in
	U         protocol.Mass `json:"u"`
	Span      protocol.Mass `json:"span,omitzero"` // of U: what all weighings on the scale have in common
	// Allowed is how far it may be from Target, exactly; Rule is by what Verdict was reached.
	// Older records have neither: Low and High are their band.
	Allowed protocol.Mass `json:"allowed,omitzero"`
	Rule    doubt.Rule    `json:"rule,omitempty"`
	Step    protocol.Mass `json:"step"`
	Words   string        `json:"words,omitempty"` // written by older programs: what else is to be known of it
	// Remarks are codes of what else is to be known of it, see book.
	Remarks []string      `json:"remarks,omitempty"`
	Other   protocol.Mass `json:"other,omitzero"` // weight of another container that came back
	// Carried is by how much the scale's zero had moved by then. Nil: by as much as at the
	// lift, or an older program wrote this.
	Carried *protocol.Mass `json:"carried,omitempty"`
	Raw     []string       `json:"raw"` // the lines that Before and After rest on
	// Trace is the pour as the scale showed it, thinned, for a picture: what was in the
	// container, as seconds, a colon and grams, with blanks between.
	Trace string `json:"trace,omitempty"`
}

// AppendJSON writes the masses with the digits of the scale's step.
func (p Portion) AppendJSON(b []byte) []byte {
	n := p.Step.Places()
	o := object(nil).text("material", p.Material).some("as", p.As).some("into", p.Into).text("scale", p.Scale).
		mass("before", p.Before, n).mass("after", p.After, n).mass("delivered", p.Delivered, n).
		mass("target", p.Target, n).mass("low", p.Low, n).mass("high", p.High, n).
		text("verdict", p.Verdict).text("how", p.How).mass("u", p.U, n)
	if p.Span != 0 {
		o = o.mass("span", p.Span, n)
	}
	if p.Allowed != 0 {
		o = o.mass("allowed", p.Allowed, n)
	}
	o = o.some("rule", string(p.Rule))
	o = o.mass("step", p.Step, n).some("words", p.Words)
	if len(p.Remarks) > 0 {
		o = o.texts("remarks", p.Remarks)
	}
	if p.Other != 0 {
		o = o.mass("other", p.Other, n)
	}
	if p.Carried != nil {
		o = o.mass("carried", *p.Carried, n)
	}
	o = o.texts("raw", p.Raw).some("trace", p.Trace)
	return append(b, o.end()...)
}

// MarshalJSON writes the same.
func (p Portion) MarshalJSON() ([]byte, error) { return p.AppendJSON(nil), nil }

// Lifted: a container with material in it left the pan. It is written at
// once, so that a tip is not forgotten when the power fails before the
// container is back; the portion that follows settles it.
type Lifted struct {
	Material string        `json:"material"`
	Scale    string        `json:"scale"`
	Before   protocol.Mass `json:"before"`  // gross, settled where Settled
	Empty    protocol.Mass `json:"empty"`   // the container's own weight
	Base     protocol.Mass `json:"base"`    // gross when the pour began
	Carried  protocol.Mass `json:"carried"` // by how much the scale's zero has moved, see Zero
	Zero     Zero          `json:"zero,omitzero"`
	Settled  bool          `json:"settled"`
	Raw      []string      `json:"raw"`
}

// Returned: it came back with nothing tipped.
type Returned struct {
	Material string        `json:"material"`
	Scale    string        `json:"scale"`
	After    protocol.Mass `json:"after"`
	Raw      []string      `json:"raw"`
}

// Overpoured: settled over the high mark, in the container or tipped.
type Overpoured struct {
	Material string        `json:"material"`
	Scale    string        `json:"scale"`
	Where    string        `json:"where"`  // container, tipped, cup (tipped into the mixing cup)
	Amount   protocol.Mass `json:"amount"` // in it, or delivered so far
	High     protocol.Mass `json:"high"`
	Excess   protocol.Mass `json:"excess"` // over the target
	Strong   bool          `json:"strong"`
	Raw      []string      `json:"raw"`
}

// Kind gives the word in the journal.
func (Tared) Kind() string      { return "tared" }
func (Portion) Kind() string    { return "portion" }
func (Lifted) Kind() string     { return "lifted" }
func (Returned) Kind() string   { return "returned" }
func (Overpoured) Kind() string { return "overpoured" }
