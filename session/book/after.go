package book

import (
	"fmt"
	"io"
	"math/big"
	"slices"
	"strconv"
	"strings"
	"time"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/material"
	"tared/session/slip"
)

// After is what happened to a batch once it was closed, line by line, with what
// is to be said of its water.
type After struct {
	Water   Reckoning `json:"water"`
	Entries []Entry   `json:"entries"`
	Due     string    `json:"due,omitempty"` // what is to be done next; empty: nothing
}

// Entry is one line of that.
type Entry struct {
	Seq   uint64    `json:"seq"`
	At    time.Time `json:"at"`
	By    string    `json:"by"`
	Kind  string    `json:"kind"` // watered, fired, judged
	Words string    `json:"words"`
	Void  bool      `json:"void,omitempty"`
	Tile  string    `json:"tile,omitempty"`
	Tags  []string  `json:"tags,omitempty"`
	Curve string    `json:"curve,omitempty"` // a drawing, as SVG
	Notes []string  `json:"notes,omitempty"`
	// Photos are the names of photographs, kept beside the journal.
	Photos []string `json:"photos,omitempty"`
	body   fact.Body
}

// Reckoning tells the water in the bucket in two ways: as it was weighed in, and
// as the gravity says. Amounts are in grams.
type Reckoning struct {
	Dry      string   `json:"dry"`                  // as made
	Solid    string   `json:"solid"`                // relative density of the blend
	Weighed  string   `json:"weighed,omitempty"`    // water weighed in; empty: none
	Gravity  string   `json:"gravity,omitempty"`    // last measured; empty: never
	Measured string   `json:"by_gravity,omitempty"` // water by that gravity
	Low      string   `json:"low,omitempty"`        // between which it lies
	High     string   `json:"high,omitempty"`
	Disagree bool     `json:"disagree,omitempty"` // the two ways contradict each other
	Add      string   `json:"add,omitempty"`      // water for the gravity wanted
	Words    []string `json:"words"`
}

// solidSlack is how far the density of a blend may be off what the table says:
// minerals vary from pit to pit (common practice, no source).
var solidSlack = big.NewRat(1, 20)

// volumeSlack is how far a marked volume may be off; a measuring cylinder of
// 100 ml, class B, may be 1 ml off (ISO 4788, from memory).
var volumeSlack = big.NewRat(1, 100)

// typedU is U of a net weight of which only the last digit is known: 2u with
// u·u = d·d/6 + s·s and s = d/2 assumed, which is 1.291 d.
// A weight of the bench brings its own.
func typedU(t fact.Typed) *big.Rat {
	if t.U > 0 {
		return t.U.Rat()
	}
	return new(big.Rat).Mul(t.Step.Rat(), big.NewRat(1291, 1000))
}

// Wake is how long a batch stands in its water before it is stirred and measured
// again: overnight (common practice, no source).
const Wake = 12 * time.Hour

// After gives what came after the batch was closed. With a gravity wanted it says
// how much water that takes; nil: none is wanted. At is now.
func (n *Batch) After(at time.Time, wanted *big.Rat) After {
	a := After{Entries: []Entry{}}
	for _, t := range n.facts {
		switch t.Body.(type) {
		case fact.Watered, fact.Fired, fact.Judged:
			a.Entries = append(a.Entries, entry(t))
		}
	}
	a.Water = n.reckon(a.Entries, wanted)
	a.Due = n.due(a.Entries, at)
	return a
}

// Render writes how the water stands, for a terminal.
func (a After) Render(w io.Writer) error {
	var b strings.Builder
	for _, s := range a.Water.Words {
		b.WriteString(clean(s) + "\n")
	}
	if a.Due != "" {
		b.WriteString(a.Due + "\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func entry(t told) Entry {
	e := Entry{Seq: t.Seq, At: t.At, By: t.Fact.By, Kind: t.Body.Kind(), Words: laterWords(t.Body), Void: t.void, body: t.Body}
	switch v := t.Body.(type) {
	case fact.Judged:
		e.Tile, e.Tags, e.Photos = v.Tile, v.Tags, v.Photos
	case fact.Fired:
		e.Photos = v.Photos
		if c, err := ParseCurve(v.Curve); err == nil {
			e.Curve, e.Notes = c.SVG(), c.Gaps()
		}
	}
	return e
}

// due tells what the bucket waits for.
func (n *Batch) due(all []Entry, at time.Time) string {
	if n.State() != Finished {
		return ""
	}
	last, measured := n.watered(), time.Time{}
	for _, e := range all {
		v, ok := e.body.(fact.Watered)
		if !ok || e.Void {
			continue
		}
		if v.Added.Mass > 0 {
			last = e.At
		}
		if v.Gravity != "" {
			measured = e.At
		}
	}
	switch {
	case last.IsZero():
		return "No water is recorded yet. Weigh it in and note it here."
	case measured.Sub(last) >= Wake:
		return ""
	case at.Sub(last) < Wake:
		return "It stands in its water since " + last.Format("15:04 on 2 January") + ". Stir and measure it on the next day: it thickens overnight."
	}
	return "It has stood in its water overnight. Stir it, sieve it, and measure its gravity again before it is used."
}

// blend gives the dry mass as made, its U, the relative density of the blend, and
// the water that came with moist materials.
// What the table does not know is taken for 2.6.
func (n *Batch) blend() (dry, u, solid, moist *big.Rat, guessed []string) {
	dry, u, moist = new(big.Rat), new(big.Rat), new(big.Rat)
	volume := new(big.Rat)
	lines, went := n.Lines, n.Deliveries()
	for i, l := range lines {
		if went[i].Delivered <= 0 {
			continue
		}
		name := cmpOr(went[i].As, l.Material)
		m, _ := material.Lookup(name)
		density, known := m.Solid()
		if !known {
			guessed = append(guessed, name)
		}
		w := went[i].Dried()
		g := w.Delivered.Rat()
		dry.Add(dry, g)
		u.Add(u, w.U.Rat())
		moist.Add(moist, went[i].Delivered.Rat().Sub(went[i].Delivered.Rat(), g))
		volume.Add(volume, new(big.Rat).Quo(g, density))
	}
	if volume.Sign() > 0 {
		solid = new(big.Rat).Quo(dry, volume)
	}
	return dry, u, solid, moist, guessed
}

func grams(r *big.Rat) string { return r.FloatString(1) }

func (n *Batch) reckon(all []Entry, wanted *big.Rat) (r Reckoning) {
	r.Words = []string{}
	say := func(format string, args ...any) { r.Words = append(r.Words, fmt.Sprintf(format, args...)) }
	dry, dryU, solid, moist, guessed := n.blend()
	if solid == nil {
		say("Nothing went into this batch, so there is no water to reckon with.")
		return r
	}
	r.Dry, r.Solid = grams(dry), solid.FloatString(2)
	for _, g := range guessed {
		say("The density of %s is not known here; 2.6 stands in.", g)
	}
	// Water that came after the last measurement is not in it.
	in, inU, later := new(big.Rat), new(big.Rat), new(big.Rat)
	if w := n.WaterStep(); w != nil {
		later.Add(later, w.Delivered.Rat())
		inU.Add(inU, w.DeliveredU().Rat())
	}
	var last fact.Watered
	for _, e := range all {
		v, ok := e.body.(fact.Watered)
		if !ok || e.Void {
			continue
		}
		if v.Gravity != "" {
			last = v
			in.Add(in, later)
			later = new(big.Rat)
		}
		if v.Added.Mass > 0 {
			later.Add(later, v.Added.Mass.Rat())
			inU.Add(inU, typedU(v.Added))
		}
	}
	if sum := new(big.Rat).Add(in, later); sum.Sign() > 0 {
		if moist.Sign() > 0 {
			say("%s g of water came with the moist materials.", grams(moist))
			in.Add(in, moist)
			sum.Add(sum, moist)
		}
		r.Weighed = grams(sum)
		if s, err := slip.Gravity(sum, dry, solid); err == nil {
			say("%s g of water went in for %s g dry: that makes a gravity of %s if all of it is still there.", grams(sum), grams(dry), s.FloatString(3))
		}
	}
	if last.Gravity == "" {
		if wanted != nil {
			say("Measure the gravity first: fill a vessel of known volume with the slip and weigh it.")
		}
		return r
	}
	low, mid, high, err := bounds(last)
	if err == nil {
		r.Gravity = mid.FloatString(3)
		err = r.compare(n, say, dry, dryU, solid, in, inU, later, low, mid, high)
	}
	if err != nil {
		say("The gravity of %s cannot be that of this batch: %v.", last.Gravity, err)
		r.Disagree = true
		return r
	}
	if wanted != nil {
		r.add(say, dry, solid, mid, later, wanted)
	}
	return r
}

func (r *Reckoning) compare(n *Batch, say func(string, ...any), dry, dryU, solid, in, inU, later, low, mid, high *big.Rat) error {
	times := func(a, b *big.Rat) *big.Rat { return new(big.Rat).Mul(a, b) }
	per, err := slip.Water(mid, solid)
	if err != nil {
		return err
	}
	water := times(dry, per)
	r.Measured = grams(water)
	least, err := slip.Water(high, new(big.Rat).Sub(solid, solidSlack))
	if err != nil {
		least = new(big.Rat) // so dense that there may be no water in it at all
	}
	from := times(new(big.Rat).Sub(dry, dryU), least)
	r.Low = grams(from)
	var to *big.Rat
	if most, err := slip.Water(low, new(big.Rat).Add(solid, solidSlack)); err == nil {
		to = times(new(big.Rat).Add(dry, dryU), most)
		r.High = grams(to)
	}
	upTo := r.High
	if to == nil {
		upTo = "any amount"
	}
	say("The gravity of %s says that %s g of water is in it (%s to %s g, with what the weighing, the vessel and the density of the blend may be off).", r.Gravity, r.Measured, r.Low, upTo)
	if later.Sign() > 0 {
		say("%s g of water came after that measurement and is not in it: measure again.", grams(later))
	}
	if in.Sign() <= 0 {
		return nil
	}
	lo, hi := new(big.Rat).Sub(in, inU), new(big.Rat).Add(in, inU)
	switch off := new(big.Rat).Sub(water, in); {
	case to != nil && lo.Cmp(to) > 0:
		r.Disagree = true
		say("The two disagree: %s g less water is in it than was weighed in. Did it dry out or settle, was water poured off, or did the vessel hold no air?", grams(off.Abs(off)))
	case hi.Cmp(from) < 0:
		r.Disagree = true
		say("The two disagree: %s g more water is in it than was weighed in. Was water added that is not recorded, was a material damp, or was there air in the vessel?", grams(off))
	default:
		say("The weighing and the gravity agree.")
	}
	return nil
}

// add tells the water for a gravity wanted.
func (r *Reckoning) add(say func(string, ...any), dry, solid, now, later, wanted *big.Rat) {
	per, err := slip.Dry(now, solid)
	var litres, water *big.Rat
	if err == nil {
		litres = new(big.Rat).Quo(dry, per)
		water, err = slip.Thin(litres, now, wanted)
	}
	if err != nil {
		say("Water for a gravity of %s: %v.", number(wanted), err)
		return
	}
	water.Mul(water, big.NewRat(1000, 1)).Sub(water, later)
	if water.Sign() <= 0 {
		say("No more water: what came after the last measurement is as much as a gravity of %s takes. Measure again.", number(wanted))
		return
	}
	r.Add = grams(water)
	say("%s g of water brings it to a gravity of %s, if all of it is still in the bucket.", r.Add, number(wanted))
	say("What is added cannot be taken out. Add two thirds of it, %s g, stir, and measure again.", grams(new(big.Rat).Mul(water, big.NewRat(2, 3))))
}

// bounds gives the gravity that a fact measured, and between what it lies.
func bounds(v fact.Watered) (low, mid, high *big.Rat, err error) {
	s, u := v.Sample.Mass.Rat(), typedU(v.Sample)
	less, more := new(big.Rat).Sub(s, u), new(big.Rat).Add(s, u)
	of := func(sample, by *big.Rat) *big.Rat {
		if err != nil {
			return nil
		}
		var g *big.Rat
		if v.Bottle.Mass > 0 {
			g, err = slip.ByBottle(sample, by)
		} else {
			g, err = slip.ByVolume(sample, by, nil)
		}
		return g
	}
	var by, slack *big.Rat
	if v.Bottle.Mass > 0 {
		by, slack = v.Bottle.Mass.Rat(), typedU(v.Bottle)
	} else {
		var ok bool
		if by, ok = new(big.Rat).SetString(v.Volume); !ok {
			return nil, nil, nil, fmt.Errorf("the volume %q is not a number", v.Volume)
		}
		slack = new(big.Rat).Mul(by, volumeSlack)
	}
	low, mid, high = of(less, new(big.Rat).Add(by, slack)), of(s, by), of(more, new(big.Rat).Sub(by, slack))
	return low, mid, high, err
}

// Gravity computes what a measurement says: the weight of the slip that fills a
// vessel over that of the water that does, or over its volume. It must lie from 1
// to 3: less is no slip, and no glaze is denser than its minerals.
func Gravity(v fact.Watered) (*big.Rat, error) {
	_, g, _, err := bounds(v)
	switch {
	case err != nil:
		return nil, err
	case g.Cmp(big.NewRat(1, 1)) < 0:
		return nil, fmt.Errorf("gravity %s: lighter than water: weigh the sample again, full to the mark, without the vessel", g.FloatString(3))
	case g.Cmp(big.NewRat(3, 1)) > 0:
		return nil, fmt.Errorf("gravity %s: denser than any glaze: weigh the sample again, without the vessel, and look at the volume", g.FloatString(3))
	}
	return g, nil
}

// VesselVolume gives the millilitres of a vessel that so many grams of water of a
// temperature in °C fill.
func VesselVolume(water protocol.Mass, celsius *big.Rat) (*big.Rat, error) {
	d, err := slip.WaterDensity(celsius)
	if err != nil {
		return nil, err
	}
	return new(big.Rat).Quo(new(big.Rat).Mul(water.Rat(), big.NewRat(1000, 1)), d), nil
}

// laterWords tells such a fact in a sentence; "" for any other.
func laterWords(b fact.Body) string {
	var s []string
	say := func(format string, args ...any) { s = append(s, fmt.Sprintf(format, args...)) }
	typed := func(t fact.Typed) string { return t.Mass.Grams(t.Step.Places()) }
	switch v := b.(type) {
	case fact.Watered:
		if v.Added.Mass > 0 {
			say("%s g of water went in", typed(v.Added))
		}
		if v.Gravity != "" && v.Vessel != "" {
			say("gravity %s: the vessel %q held %s g of slip and holds %s g of water of %s °C, %s ml", v.Gravity, v.Vessel, typed(v.Sample), typed(v.Bottle), v.Celsius, v.Volume)
		} else if v.Gravity != "" && v.Bottle.Mass > 0 {
			of := ""
			if v.Celsius != "" {
				of = " of " + v.Celsius + " °C"
				if v.Volume != "" {
					of += ", so it holds " + v.Volume + " ml"
				}
			}
			say("gravity %s: a vessel held %s g of slip and %s g of water%s", v.Gravity, typed(v.Sample), typed(v.Bottle), of)
		} else if v.Gravity != "" {
			say("gravity %s: %s ml weighed %s g", v.Gravity, v.Volume, typed(v.Sample))
		}
		if v.Seconds != "" {
			say("%s s from the flow cup", v.Seconds)
		}
		switch {
		case v.Mesh != "":
			say("sieved through %s mesh %s, %s µm", v.Standard, v.Mesh, v.Opening)
		case v.Opening != "":
			say("sieved through %s µm", v.Opening)
		}
		if v.Words != "" {
			say("%s", strings.TrimSuffix(v.Words, "."))
		}
	case fact.Fired:
		first := "Fired in " + v.Kiln
		if v.Cone != "" {
			first += " to cone " + v.Cone
		}
		if v.Atmosphere != "" {
			first += ", " + v.Atmosphere
		}
		say("%s", first)
		if v.Hold != "" {
			say("held %s", v.Hold)
		}
		if len(v.Tiles) > 0 {
			say("tiles %s", and(v.Tiles))
		}
		if c, err := ParseCurve(v.Curve); err == nil {
			say("hottest reading %s °C", number(c.Hottest()))
		} else if v.Curve != "" && !HasReadings(v.Curve) {
			say("curve: %s", strings.TrimSuffix(strings.Join(strings.Fields(v.Curve), " "), "."))
		}
		if v.Words != "" {
			say("%s", strings.TrimSuffix(v.Words, "."))
		}
		photoWords(say, v.Photos)
	case fact.Judged:
		first := "Tile " + v.Tile
		for _, more := range []struct{ name, value string }{{"", v.Clay}, {"", coats(v.Coats)}, {"", v.Thick}, {"in the kiln: ", v.Place}} {
			if more.value != "" {
				first += ", " + more.name + more.value
			}
		}
		say("%s", first)
		if v.Words != "" {
			say("%s", strings.TrimSuffix(v.Words, "."))
		}
		if len(v.Tags) > 0 {
			say("tags: %s", strings.Join(v.Tags, ", "))
		}
		if v.Verdict != "" {
			say("verdict: %s", strings.TrimSuffix(v.Verdict, "."))
		}
		if v.Next != "" {
			say("next: %s", strings.TrimSuffix(v.Next, "."))
		}
		photoWords(say, v.Photos)
	}
	if v, ok := b.(fact.Vessel); ok {
		say("the vessel %q was measured: %s g of water of %s °C fill it, so it holds %s ml", v.Name, typed(v.Water), v.Celsius, v.Volume)
	}
	if w, ok := b.(fact.Watered); ok && cmpOr(w.Sample.Scale, w.Added.Scale) != "" {
		say("weighed on the %s scale", cmpOr(w.Sample.Scale, w.Added.Scale))
	}
	if len(s) == 0 {
		return ""
	}
	text := strings.Join(s, "; ") + "."
	return strings.ToUpper(text[:1]) + text[1:]
}

// photoWords names photographs by the beginning of their hash.
func photoWords(say func(string, ...any), names []string) {
	short := make([]string, len(names))
	for i, n := range names {
		short[i] = n[:min(len(n), 8)]
	}
	switch len(names) {
	case 0:
	case 1:
		say("photograph %s", short[0])
	default:
		say("photographs %s", and(short))
	}
}

// findLater adds the words under which such a fact can be found.
func (n *Batch) findLater(b fact.Body) {
	switch v := b.(type) {
	case fact.Watered:
		n.find(v.Words)
	case fact.Fired:
		n.find(v.Kiln, v.Cone, v.Atmosphere, v.Words)
		n.find(v.Tiles...)
	case fact.Judged:
		n.find(v.Tile, v.Clay, v.Words, v.Verdict, v.Next)
		n.find(v.Tags...)
		for _, t := range v.Tags {
			if !slices.Contains(n.tags, strings.ToLower(t)) {
				n.tags = append(n.tags, strings.ToLower(t))
			}
		}
	}
}

// coats writes how many there are, where somebody wrote a bare number.
func coats(s string) string {
	if n, err := strconv.Atoi(strings.TrimSpace(s)); err == nil {
		return many(n, "coat", "coats")
	}
	return s
}
