package session

import (
	"math/big"
	"slices"
	"strings"
	"time"

	"tared/session/book"
	"tared/session/fact"
	"tared/session/recipe"
	"tared/session/text"
)

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
	v.Name = strings.Join(strings.Fields(w.Name), " ")
	if v.Name == "" {
		return v, text.Refuse("vessel.name")
	}
	if err := signed(w, w.By); err != nil {
		return v, err
	}
	switch {
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

// vessels are those that were measured, by name. The last of a name counts.
type vessels []fact.Vessel

// Reads reports whether facts of a kind matter here.
func (all *vessels) Reads(kind, _ string, _ time.Time, _ []byte) bool {
	return kind == (fact.Vessel{}).Kind()
}

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

// resolved puts into a request what its water only names: a vessel that was measured, and
// what the bench read. Net is nil where no bench is running.
func (r EntryRequest) resolved(vessels []fact.Vessel, net func(what text.Message, w WeighedHere) (fact.Typed, error)) (EntryRequest, error) {
	if r.Watered == nil {
		return r, nil
	}
	w := *r.Watered
	r.Watered = &w
	return r, w.resolve(vessels, net)
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
