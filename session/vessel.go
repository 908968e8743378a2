package session

import (
	"context"
	"errors"
	"math/big"
	"slices"
	"strings"
	"time"

	"tared/protocol"
	"tared/scale"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/recipe"
	"tared/session/sheet"
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

// Read takes what a scale shows now. It is refused when the scale is not at rest,
// cannot be heard, or weighs a batch.
func (b *Bench) Read(ctx context.Context, name string) (r Reading, err error) {
	if e := b.call(ctx, func() { r, err = b.read(name) }); e != nil {
		return r, e
	}
	return r, err
}

func (b *Bench) read(name string) (r Reading, err error) {
	i := slices.IndexFunc(b.cfg.Scales, func(s sheet.Scale) bool { return s.Name == name })
	p := b.s.pan(name)
	switch {
	case i < 0:
		return r, text.Refuse("scale.none", text.Name("scale", name))
	case p == nil:
		return r, text.Refuse("scale.by-eye", text.Name("scale", name))
	case b.s.open() && b.s.uses(name):
		return r, text.Refuse("scale.in-use", text.Name("batch", b.s.Batch.Mark), text.Name("scale", name))
	}
	if b.readUntil == nil {
		b.readUntil = map[string]time.Time{}
	}
	b.readUntil[name] = b.cfg.Now().Add(askFor)
	b.want()
	switch {
	case p.Link() != scale.Up || !p.Usable() || !p.Live(b.cfg.Now()):
		return r, text.Refuse("scale.silent", text.Name("scale", name))
	case p.Status() != protocol.OK:
		return r, text.Refuse("scale.no-weight", text.Name("scale", name), text.Name("status", p.Status().String()))
	case !p.Settled():
		return r, text.Refuse("scale.unsteady", text.Name("scale", name))
	}
	b.lastRead++
	r = Reading{ID: b.lastRead, Scale: name, Shows: (p.Gross() - p.Carried()).Grams(places(p.Step())), gross: p.Gross(), carried: p.Carried(),
		step: p.Step(), u: netU(p.Step(), b.spread(b.cfg.Scales[i])), raw: p.Raw()}
	b.readings = append(b.readings, r)
	if len(b.readings) > mostReadings {
		b.readings = slices.Delete(b.readings, 0, 1)
	}
	return r, nil
}

// WeighedHere is a weight as the difference of two readings of the bench; Before
// is 0 where the scale's own tare key took the vessel off.
type WeighedHere struct {
	Before uint64 `json:"before,omitempty"`
	After  uint64 `json:"after,omitempty"`
}

// net gives the weight between two readings.
func (b *Bench) net(what text.Message, w WeighedHere) (t fact.Typed, err error) {
	find := func(id uint64) (Reading, error) {
		if k := slices.IndexFunc(b.readings, func(r Reading) bool { return r.ID == id }); k >= 0 {
			return b.readings[k], nil
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

// VesselRequest is a vessel as a person measures it: filled with water to its mark.
type VesselRequest struct {
	Name    string      `json:"name"`
	By      string      `json:"by"`
	Water   string      `json:"water,omitempty"` // net weight of that water, "99.8g"; or as Weighed here
	Celsius string      `json:"celsius"`         // of that water, "18"
	Weighed WeighedHere `json:"weighed,omitzero"`
}

// body understands the wish. Weighed is what was weighed here; its mass is 0 where
// the weight was typed.
func (w VesselRequest) body(weighed fact.Typed) (v fact.Vessel, err error) {
	if err := words(text.New("field.name-of-the-vessel"), w.Name, 60); err != nil {
		return v, err
	}
	if err := words(text.New("field.name"), w.By, 100); err != nil {
		return v, err
	}
	v.Name = strings.Join(strings.Fields(w.Name), " ")
	switch {
	case v.Name == "":
		return v, text.Refuse("vessel.name")
	case strings.TrimSpace(w.By) == "":
		return v, text.Refuse("entry.who")
	case strings.TrimSpace(w.Celsius) == "":
		return v, text.Refuse("vessel.temperature")
	case weighed.Mass > 0:
		v.Water = weighed
	default:
		if v.Water, err = typedMass(text.New("field.water-in-the-vessel"), w.Water); err != nil {
			return v, err
		}
	}
	c, err := inRange(text.New("field.temperature-of-the-water"), w.Celsius, "18", 0, 40)
	if err != nil {
		return v, err
	}
	volume, err := book.VesselVolume(v.Water.Mass, c)
	if err != nil {
		return v, err
	}
	if volume.Cmp(big.NewRat(5, 1)) < 0 {
		return v, text.Refuse("vessel.small", text.Number("volume", volume.FloatString(1)))
	}
	v.Celsius, v.Volume = decimals(c, 1), volume.FloatString(2)
	return v, nil
}

// Measure records a vessel. The last of a name counts.
func (b *Bench) Measure(ctx context.Context, w VesselRequest) (v fact.Vessel, err error) {
	if e := b.call(ctx, func() {
		var here fact.Typed
		if w.Weighed.After != 0 {
			if here, err = b.net(text.New("field.water-in-the-vessel"), w.Weighed); err != nil {
				return
			}
		}
		if v, err = w.body(here); err != nil {
			return
		}
		t := change{s: b.s, at: b.cfg.Now()}
		t.put("", strings.TrimSpace(w.By), v)
		err = b.commit(t.s, t.facts)
		b.publish(err == nil)
	}); e != nil {
		return v, e
	}
	return v, err
}

// Vessels gives those that were measured, by name.
func (b *Bench) Vessels(ctx context.Context) (all []fact.Vessel, err error) {
	err = b.call(ctx, func() { all = slices.Clone(b.workshop.Vessels) })
	return all, err
}

// vessels are those that were measured, by name. The last of a name counts.
type vessels []fact.Vessel

// Reads reports whether facts of a kind matter here.
func (all *vessels) Reads(kind, _ string, _ time.Time) bool { return kind == (fact.Vessel{}).Kind() }

// Add puts a vessel among the others, in the place of one of its name.
func (all *vessels) Add(f fact.Fact) {
	v, ok := f.Body.(fact.Vessel)
	if !ok {
		return
	}
	others := slices.DeleteFunc(slices.Clone(*all), func(o fact.Vessel) bool { return recipe.Key(o.Name) == recipe.Key(v.Name) })
	*all = append(others, v)
	slices.SortFunc(*all, func(a, b fact.Vessel) int { return strings.Compare(recipe.Key(a.Name), recipe.Key(b.Name)) })
}

// RecordVessel does what Measure does where no bench is running.
func RecordVessel(dir string, at time.Time, w VesselRequest) (v fact.Vessel, err error) {
	if w.Weighed != (WeighedHere{}) {
		return v, text.Refuse("vessel.no-bench")
	}
	if v, err = w.body(fact.Typed{}); err != nil {
		return v, err
	}
	j, past, _, err := Open(dir, at)
	if err != nil {
		return v, err
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	f := fact.Fact{Seq: past.Seq + 1, At: at, By: strings.TrimSpace(w.By), Body: v}
	if _, err := Into(j).Append([]fact.Fact{f}); err != nil {
		return v, text.Kind(err, text.Refuse("entry.write", text.Because("why", err)))
	}
	return v, nil
}

// resolve puts what a wish only names into it: a vessel that was measured, and what
// the bench read. Net is nil where no bench is running.
func (w *WaterRequest) resolve(vessels []fact.Vessel, net func(what text.Message, w WeighedHere) (fact.Typed, error)) error {
	if name := strings.TrimSpace(w.Vessel); name != "" {
		k := slices.IndexFunc(vessels, func(v fact.Vessel) bool { return recipe.Key(v.Name) == recipe.Key(name) })
		switch {
		case w.Volume+w.Bottle+w.Celsius != "":
			return text.Refuse("entry.gravity-named")
		case k < 0 && len(vessels) == 0:
			return text.Refuse("vessel.none", text.Name("vessel", name))
		case k < 0:
			var known []string
			for _, v := range vessels {
				known = append(known, v.Name)
			}
			return text.Refuse("vessel.unknown", text.Name("vessel", name), text.Names("vessels", known))
		}
		w.known = &vessels[k]
	}
	for _, r := range []struct {
		what  text.Message
		typed string
		here  WeighedHere
		into  **fact.Typed
	}{{text.New("field.sample"), w.Sample, w.SampleHere, &w.sampled}, {text.New("field.water-added"), w.Added, w.AddedHere, &w.added}} {
		switch {
		case r.here == (WeighedHere{}):
			continue
		case r.typed != "":
			return text.Refuse("vessel.both", text.Said("field", r.what))
		case net == nil:
			return text.Refuse("vessel.no-bench-for", text.Said("field", r.what))
		}
		t, err := net(r.what, r.here)
		if err != nil {
			return err
		}
		*r.into = &t
	}
	return nil
}
