package batch

import (
	"slices"
	"time"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/sheet"
)

// Batch is one batch as far as the facts tell it.
type Batch struct {
	Mark     string
	Title    string
	Plan     fact.Planned
	Base     protocol.Mass
	Dry      protocol.Mass
	By       string
	Lines    []fact.Line // the materials of the recipe with their targets
	Steps    []Step      // the weighings, in order
	Mixes    []Mix
	Reminded bool
	Paused   bool
	Finished bool
	Early    bool      // closed before everything was in
	At       time.Time // of the last fact
	Takes    []Take    // portions that count, oldest first
	Choices  []Choice  // decisions that count, oldest first
	First    string    // material that is weighed before its turn

	SeriesClosed bool // the last note says that the whole series was closed
	BeginAgain   bool // a person said that it is closed and begun once more

	// AtClosing is the batch as the fact that closed it has it, where a portion was
	// corrected since; nil: none was.
	AtClosing *Batch

	allow map[sheet.Role]sheet.Allow // what the plan allows, by role
	names map[string]sheet.Allow     // and by material

	dissolved protocol.Mass // water that solutions bring, as planned or as weighed

	water fact.Line // the first water as it was planned, on the scale that it is weighed on
}

// Choice is a decision that can be taken back.
type Choice struct {
	Seq    uint64
	Step   int
	Answer string // skip, substitute, keep, enlarge
	was    *Batch // how it stood before
}

// Clone is a batch of its own that knows the same.
func (b *Batch) Clone() *Batch {
	c := *b
	c.Steps = slices.Clone(b.Steps)
	c.Takes = slices.Clone(b.Takes)
	c.Choices = slices.Clone(b.Choices)
	c.Lines = slices.Clone(b.Lines)
	c.Mixes = slices.Clone(b.Mixes)
	return &c
}

// Scale finds what is known of a scale that the batch rests on.
func (b *Batch) Scale(name string) fact.Scale {
	for _, s := range b.Plan.Scales {
		if s.Name == name {
			return s
		}
	}
	return fact.Scale{Name: name}
}

// StepOf gives the index of a step by its name, -1 when there is none.
func (b *Batch) StepOf(material string) int {
	return slices.IndexFunc(b.Steps, func(s Step) bool { return s.Material == material })
}

// LineOf gives a material of the recipe with its target.
func (b *Batch) LineOf(material string) fact.Line {
	if k := b.lineOf(material); k >= 0 {
		return b.Lines[k]
	}
	return fact.Line{Material: material}
}

func (b *Batch) lineOf(material string) int {
	return slices.IndexFunc(b.Lines, func(l fact.Line) bool { return l.Material == material })
}

// MaterialOf names the material of a step without what is to be done with it.
func (b *Batch) MaterialOf(st Step) string {
	switch {
	case st.As != "":
		return st.As
	case st.Part == WeighPart:
		return b.Mixes[st.Mix].Parts[0].Material
	case st.Part == DilutePart:
		return b.Mixes[st.Mix].Parts[1].Material
	}
	return st.Material
}

// Current gives the index of the step in work, -1 when there is none.
func (b *Batch) Current() int {
	if b == nil || b.Finished {
		return -1
	}
	for i := range b.Steps {
		if b.Steps[i].Over() {
			return i
		}
	}
	if k := b.Unconfirmed(); k >= 0 {
		return b.Takes[k].Step
	}
	if b.First != "" {
		if i := b.StepOf(b.First); i >= 0 && !b.Steps[i].Done() {
			return i
		}
	}
	for i := range b.Steps {
		if !b.Steps[i].Done() {
			return i
		}
	}
	return -1
}

// NextOn gives the next step but step i that is to be weighed on this scale and goes
// straight into the batch, -1 when there is none.
func (b *Batch) NextOn(i int, scale string) int {
	for k := range b.Steps {
		if st := b.Steps[k]; k != i && st.Scale == scale && st.Part == NoPart && !st.Done() && !st.Over() {
			return k
		}
	}
	return -1
}

// Unconfirmed gives the place in Takes of the portion that waits for a second
// person, -1 for none.
func (b *Batch) Unconfirmed() int {
	return slices.IndexFunc(b.Takes, func(t Take) bool { return t.Asks })
}

func (b *Batch) takeOf(seq uint64) int {
	return slices.IndexFunc(b.Takes, func(t Take) bool { return t.Seq == seq })
}

// Amends reports whether an amendment changes what went in: it is of a portion that
// counts, and of its weight.
func (b *Batch) Amends(v fact.Amended) bool {
	return (v.Void || v.Field == "") && b.takeOf(v.Of) >= 0
}

// Waits reports whether hands are elsewhere than at the scale of step i: at a cup
// that is to be mixed, or a second person looks.
func (b *Batch) Waits(i int) bool {
	return b.Unmixed(i) || i >= 0 && !b.Steps[i].Over() && b.Unconfirmed() >= 0
}

// Unmixed reports whether step i waits for a cup or a tub to be mixed.
func (b *Batch) Unmixed(i int) bool {
	return i >= 0 && b.Steps[i].Part == TakePart && !b.Steps[i].Over() && !b.Mixes[b.Steps[i].Mix].Mixed
}
