package session

import (
	"math/big"
	"slices"
	"strconv"
	"strings"

	"tared/protocol"
	"tared/session/book"
	"tared/session/curve"
	"tared/session/fact"
	"tared/session/photo"
	"tared/session/recipe"
	"tared/session/slip"
	"tared/session/text"
)

// EntryRequest is something to be recorded of a batch that is closed, as a person
// writes it. Exactly one of Watered, Fired, Judged, Correct and Strike is given.
type EntryRequest struct {
	Batch   string         `json:"batch"`
	By      string         `json:"by"`
	Watered *WaterRequest  `json:"watered,omitempty"`
	Fired   *fact.Fired    `json:"fired,omitempty"`
	Judged  *fact.Judged   `json:"judged,omitempty"`
	Correct *WeightRequest `json:"correct,omitempty"`
	Strike  *StrikeRequest `json:"strike,omitempty"`
}

// WeightRequest gives a portion another weight than was recorded. The entry stays and can
// be read, and so does the line that closed the batch.
type WeightRequest struct {
	Entry  uint64 `json:"entry"`
	Weight string `json:"weight"` // what went in, with all digits that are known, "35.0g"
	Reason string `json:"reason"`
}

// WaterRequest is what was done with the water; what was not done is empty.
type WaterRequest struct {
	Added    string `json:"added,omitempty"`    // "675g"
	Sample   string `json:"sample,omitempty"`   // net weight of the slip in a vessel, "145.0g"
	Volume   string `json:"volume,omitempty"`   // of the vessel, "100ml"
	Bottle   string `json:"bottle,omitempty"`   // net weight of the water that fills it, "99.8g"
	Celsius  string `json:"celsius,omitempty"`  // of that water, "18"
	Seconds  string `json:"seconds,omitempty"`  // from a flow cup
	Mesh     string `json:"mesh,omitempty"`     // number of the sieve
	Standard string `json:"standard,omitempty"` // of that number: US or British
	Opening  string `json:"opening,omitempty"`  // of the sieve in µm, where it has no number
	Words    string `json:"words,omitempty"`

	Vessel     string      `json:"vessel,omitempty"`     // one that was measured, in place of Volume and Bottle
	SampleHere WeighedHere `json:"sample_here,omitzero"` // in place of Sample: weighed on a scale of the bench
	AddedHere  WeighedHere `json:"added_here,omitzero"`  // in place of Added

	known          *fact.Vessel
	sampled, added *fact.Typed
}

// StrikeRequest takes a portion, or an entry that was made after the batch was closed, out
// of the count. The entry stays and can be read.
type StrikeRequest struct {
	Entry  uint64 `json:"entry"`
	Reason string `json:"reason"`
}

// Body understands the request; every fault is refused in words that name it. entry
// gives an entry of this batch; it may be nil where nothing is corrected or struck out.
// data is the directory of the photographs; empty: none are kept.
func (r EntryRequest) Body(entry func(seq uint64) book.Amendable, data string) (fact.Body, error) {
	if count(r.Watered != nil, r.Fired != nil, r.Judged != nil, r.Correct != nil, r.Strike != nil) != 1 {
		return nil, text.Refuse("entry.one-thing")
	}
	if err := signed(r, r.By); err != nil {
		return nil, err
	}
	switch {
	case r.Watered != nil:
		return r.Watered.body(entry)
	case r.Fired != nil:
		return fired(*r.Fired, data)
	case r.Judged != nil:
		return judged(*r.Judged, data)
	case r.Correct != nil:
		return r.Correct.body(r.Batch, entry)
	}
	if strings.TrimSpace(r.Strike.Reason) == "" {
		return nil, text.Refuse("entry.strike-reason")
	}
	if err := words(text.New("field.reason"), r.Strike.Reason, maxWords); err != nil {
		return nil, err
	}
	reason := strings.TrimSpace(r.Strike.Reason)
	switch w := entry(r.Strike.Entry); {
	case w.Kind == "":
		return nil, text.Refuse("entry.none", text.Name("batch", r.Batch), text.Number("entry", entryNumber(r.Strike.Entry)))
	case w.Void:
		return nil, text.Refuse("entry.struck", text.Number("entry", entryNumber(r.Strike.Entry)))
	case w.Kind == "portion":
		return w.Strike(reason), nil
	case w.Kind == "watered" || w.Kind == "fired" || w.Kind == "judged":
		return fact.Amended{Of: r.Strike.Entry, Reason: reason, Field: w.Kind, New: "does not count", Void: true}, nil
	default:
		return nil, text.Refuse("entry.strike-kind", text.Number("entry", entryNumber(r.Strike.Entry)), text.Name("kind", w.Kind))
	}
}

func (c WeightRequest) body(batch string, entry func(seq uint64) book.Amendable) (fact.Body, error) {
	if strings.TrimSpace(c.Reason) == "" {
		return nil, text.Refuse("entry.correct-reason")
	}
	if err := words(text.New("field.reason"), c.Reason, maxWords); err != nil {
		return nil, err
	}
	w := entry(c.Entry)
	switch {
	case w.Kind == "":
		return nil, text.Refuse("entry.none", text.Name("batch", batch), text.Number("entry", entryNumber(c.Entry)))
	case w.Kind != "portion":
		return nil, text.Refuse("entry.correct-kind", text.Number("entry", entryNumber(c.Entry)), text.Name("kind", w.Kind))
	case w.Void:
		return nil, text.Refuse("entry.correct-struck", text.Number("entry", entryNumber(c.Entry)))
	}
	if m, err := protocol.ParseMass(c.Weight); err == nil && m == 0 {
		return nil, text.Refuse("entry.correct-zero", text.Number("entry", entryNumber(c.Entry)))
	}
	to, err := typedMass(text.New("field.weight"), c.Weight)
	switch {
	case err != nil:
		return nil, err
	case to.Mass == w.Counts:
		return nil, text.Refuse("entry.correct-same", text.Number("entry", entryNumber(c.Entry)), text.Exact("mass", w.Counts, 0))
	case w.Most > 0 && to.Mass > w.Most:
		return nil, text.Refuse("entry.correct-most", text.Exact("mass", to.Mass, 0), text.Name("scale", w.Scale), text.Exact("most", w.Most, 0))
	}
	return w.Correct(to, strings.TrimSpace(c.Reason)), nil
}

// millilitres reads "100ml", "0.1l" or a bare number of millilitres.
func millilitres(s string) (*big.Rat, error) {
	t := strings.ToLower(strings.TrimSpace(s))
	per := big.NewRat(1, 1)
	switch {
	case strings.HasSuffix(t, "ml"):
		t = strings.TrimSuffix(t, "ml")
	case strings.HasSuffix(t, "l"):
		t, per = strings.TrimSuffix(t, "l"), big.NewRat(1000, 1)
	}
	v, err := inRange(text.New("field.volume"), t, "100ml", 0, 100000)
	if err != nil {
		return nil, err
	}
	if v.Sign() == 0 {
		return nil, text.Refuse("entry.volume-zero")
	}
	return v.Mul(v, per), nil
}

func (w WaterRequest) body(entry func(seq uint64) book.Amendable) (fact.Body, error) {
	if w == (WaterRequest{}) {
		return nil, text.Refuse("entry.water-empty")
	}
	var f fact.Watered
	var err error
	if err := words(text.New("field.words"), w.Words, maxWords); err != nil {
		return nil, err
	}
	f.Words = strings.TrimSpace(w.Words)
	if w.added != nil {
		f.Added = *w.added
	} else if w.Added != "" {
		if f.Added, err = typedMass(text.New("field.water-added"), w.Added); err != nil {
			return nil, err
		}
	}
	if entry != nil {
		if dry := entry(0).Dry; dry > 0 && f.Added.Mass > dry.Times(recipe.MaxWater, 100) {
			return nil, text.Refuse("entry.water-much", text.Exact("water", f.Added.Mass, 0), text.Mass("dry", dry, 1), text.Count("most", recipe.MaxWater))
		}
	}
	if w.sampled != nil || w.known != nil || w.Sample != "" || w.Volume != "" || w.Bottle != "" || w.Celsius != "" {
		if err := w.gravity(&f); err != nil {
			return nil, err
		}
	}
	if w.Seconds != "" {
		s, err := inRange(text.New("field.seconds"), w.Seconds, "22.5", 0, 3600)
		if err != nil {
			return nil, err
		}
		f.Seconds = decimals(s, 1)
	}
	return f, w.sieve(&f)
}

func (w WaterRequest) gravity(f *fact.Watered) (err error) {
	switch {
	case w.Sample == "" && w.sampled == nil:
		return text.Refuse("entry.gravity-sample")
	case w.Volume != "" && w.Bottle != "":
		return text.Refuse("entry.gravity-both")
	case w.Volume == "" && w.Bottle == "" && w.known == nil:
		return text.Refuse("entry.gravity-vessel")
	case w.Celsius != "" && w.Bottle == "":
		return text.Refuse("entry.gravity-temperature")
	}
	if w.sampled != nil {
		f.Sample = *w.sampled
	} else if f.Sample, err = typedMass(text.New("field.sample"), w.Sample); err != nil {
		return err
	}
	if v := w.known; v != nil {
		f.Vessel, f.Bottle, f.Celsius, f.Volume = v.Name, v.Water, v.Celsius, v.Volume
	} else if w.Volume != "" {
		v, err := millilitres(w.Volume)
		if err != nil {
			return err
		}
		f.Volume = decimals(v, 3)
	} else {
		if f.Bottle, err = typedMass(text.New("field.water-in-the-vessel"), w.Bottle); err != nil {
			return err
		}
		if w.Celsius != "" {
			c, err := inRange(text.New("field.temperature-of-the-water"), w.Celsius, "18", 0, 40)
			if err != nil {
				return err
			}
			v, err := book.VesselVolume(f.Bottle.Mass, c)
			if err != nil {
				return err
			}
			f.Celsius, f.Volume = decimals(c, 1), v.FloatString(2)
		}
	}
	g, err := book.Gravity(*f)
	if err != nil {
		return err
	}
	f.Gravity = g.FloatString(4)
	return nil
}

func (w WaterRequest) sieve(f *fact.Watered) error {
	switch {
	case w.Mesh == "" && w.Opening == "":
		if w.Standard != "" {
			return text.Refuse("entry.sieve-number", text.Name("standard", w.Standard))
		}
		return nil
	case w.Opening != "":
		if w.Mesh != "" || w.Standard != "" {
			return text.Refuse("entry.sieve-both")
		}
		o, err := inRange(text.New("field.opening-of-the-sieve"), strings.TrimSuffix(strings.TrimSpace(w.Opening), "µm"), "150", 20, 5000)
		if err != nil {
			return err
		}
		f.Opening = decimals(o, 0)
		return nil
	}
	n, err := strconv.Atoi(strings.TrimSpace(w.Mesh))
	if err != nil {
		return text.Refuse("entry.sieve-mesh", text.Name("mesh", w.Mesh))
	}
	for _, s := range []string{slip.US, slip.British} {
		if strings.EqualFold(s, strings.TrimSpace(w.Standard)) {
			f.Standard = s
		}
	}
	switch {
	case f.Standard == "" && w.Standard != "":
		return text.Refuse("slip.sieve-standard", text.Name("standard", w.Standard), text.Name("us", slip.US), text.Name("british", slip.British))
	case f.Standard == "":
		return text.Refuse("entry.sieve-standard", text.Number("mesh", strconv.Itoa(n)))
	}
	um, err := slip.Opening(n, f.Standard)
	if err != nil {
		return err
	}
	f.Mesh, f.Opening = strconv.Itoa(n), strconv.Itoa(um)
	return nil
}

func fired(f fact.Fired, data string) (fact.Body, error) {
	if err := texts("words", map[string]*string{"kiln": &f.Kiln, "cone": &f.Cone, "hold": &f.Hold, "atmosphere": &f.Atmosphere, "words": &f.Words}); err != nil {
		return nil, err
	}
	if f.Kiln == "" {
		return nil, text.Refuse("entry.kiln")
	}
	var err error
	if f.Tiles, err = list(text.New("field.tiles"), f.Tiles); err != nil {
		return nil, err
	}
	if f.Photos, err = photos(f.Photos, data); err != nil {
		return nil, err
	}
	if strings.TrimSpace(f.Curve) == "" {
		f.Curve = ""
		return f, nil
	}
	if !curve.HasReadings(f.Curve) {
		if err := words(text.New("field.curve"), f.Curve, maxWords); err != nil {
			return nil, err
		}
		f.Curve = strings.TrimSpace(f.Curve)
		return f, nil
	}
	if _, err := curve.Parse(f.Curve); err != nil {
		return nil, err
	}
	return f, nil
}

func judged(f fact.Judged, data string) (fact.Body, error) {
	if err := texts("words", map[string]*string{"tile": &f.Tile, "clay": &f.Clay, "coats": &f.Coats, "thickness": &f.Thick, "place": &f.Place,
		"words": &f.Words, "verdict": &f.Verdict, "next": &f.Next}); err != nil {
		return nil, err
	}
	if f.Tile == "" {
		return nil, text.Refuse("entry.tile")
	}
	var err error
	if f.Tags, err = list(text.New("field.tags"), f.Tags); err != nil {
		return nil, err
	}
	if f.Photos, err = photos(f.Photos, data); err != nil {
		return nil, err
	}
	if f.Words == "" && f.Verdict == "" && len(f.Tags) == 0 && f.Next == "" && len(f.Photos) == 0 {
		return nil, text.Refuse("entry.tile-empty", text.Name("tile", f.Tile))
	}
	return f, nil
}

// maxPhotos is the most photographs of one entry.
const maxPhotos = 12

// photos holds the names of photographs to what they can be, and to what is there.
func photos(in []string, data string) (out []string, err error) {
	for _, name := range in {
		if !photo.IsName(name) {
			return nil, text.Refuse("entry.photo-name", text.Name("name", strconv.Quote(name[:min(len(name), 80)])))
		}
		if !slices.Contains(out, name) {
			out = append(out, name)
		}
	}
	if len(out) > maxPhotos {
		return nil, text.Refuse("entry.photos", text.Count("count", len(out)), text.Number("most", strconv.Itoa(maxPhotos)))
	}
	for _, name := range out {
		if data == "" {
			return nil, text.Refuse("entry.no-photos")
		}
		if err := photo.Check(data, name); err != nil {
			return nil, text.Refuse("entry.photo-missing", text.Because("why", err))
		}
	}
	return out, nil
}
