package book

import (
	"cmp"
	"io"
	"math/big"
	"strconv"
	"strings"
	"time"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/curve"
	"tared/session/fact"
	"tared/session/sentence"
	"tared/session/slip"
	"tared/session/text"
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
			a.Entries = append(a.Entries, n.newEntry(t))
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

func (n *Batch) newEntry(t entry) Entry {
	e := Entry{Seq: t.Seq, At: t.At, By: n.person(t.Fact.By), Kind: t.Body.Kind(), Words: text.Join(n.reader, sentence.Messages(t.Fact)), Void: t.void, body: t.Body}
	switch v := t.Body.(type) {
	case fact.Judged:
		e.Tile, e.Tags, e.Photos = v.Tile, v.Tags, v.Photos
	case fact.Fired:
		e.Photos = v.Photos
		if c, err := curve.Parse(v.Curve); err == nil {
			e.Curve, e.Notes = c.SVG(n.reader), c.Gaps(n.reader)
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
		return n.reader.Say(text.New("bucket.due-water"))
	case measured.Sub(last) >= Wake:
		return ""
	case at.Sub(last) < Wake:
		return n.reader.Say(text.New("bucket.due-overnight", text.Clock("clock", last), text.Date("day", last)))
	}
	return n.reader.Say(text.New("bucket.due-measure"))
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
		name := cmp.Or(went[i].As, l.Material)
		m, _ := n.shelf.Table.Or().Lookup(name)
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

// supportedBy writes a figure, rounded to the digits that a doubt of it supports, three
// decimals at most.
func supportedBy(r, u *big.Rat) string {
	m, err := protocol.RoundRat(u)
	if err != nil {
		return r.FloatString(0)
	}
	return r.FloatString(min(m.Digits(), 3))
}

// supportedGrams is the same of a mass in grams, without idle zeros.
func supportedGrams(r, u *big.Rat) string {
	s := supportedBy(r, u)
	if strings.Contains(s, ".") {
		s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// half is half of the way from one to the other.
func half(low, high *big.Rat) *big.Rat {
	d := new(big.Rat).Sub(high, low)
	return d.Abs(d).Mul(d, big.NewRat(1, 2))
}

func (n *Batch) reckon(all []Entry, wanted *big.Rat) (r Reckoning) {
	r.Words = []string{}
	say := func(m text.Message) { r.Words = append(r.Words, n.reader.Say(m)) }
	dry, dryU, solid, moist, guessed := n.blend()
	if solid == nil {
		say(text.New("bucket.empty"))
		return r
	}
	r.Dry, r.Solid = supportedGrams(dry, dryU), solid.FloatString(2)
	for _, g := range guessed {
		say(text.New("bucket.density", text.Name("material", g)))
	}
	// Water that came after the last measurement is not in it, nor is its doubt.
	in, inU, later, laterU := new(big.Rat), new(big.Rat), new(big.Rat), new(big.Rat)
	if w := n.WaterIn(); w.Delivered > 0 {
		later.Add(later, w.Delivered.Rat())
		laterU.Add(laterU, w.U.Rat())
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
			inU.Add(inU, laterU)
			later, laterU = new(big.Rat), new(big.Rat)
		}
		if v.Added.Mass > 0 {
			later.Add(later, v.Added.Mass.Rat())
			laterU.Add(laterU, typedU(v.Added).Rat())
		}
	}
	if sum := new(big.Rat).Add(in, later); sum.Sign() > 0 {
		sumU := new(big.Rat).Add(inU, laterU)
		if moist.Sign() > 0 {
			say(text.New("bucket.moist", text.Grams("water", supportedGrams(moist, dryU))))
			in.Add(in, moist)
			sum.Add(sum, moist)
		}
		r.Weighed = supportedGrams(sum, sumU)
		low, _ := slip.Gravity(sum, dry, new(big.Rat).Sub(solid, solidSlack))
		high, _ := slip.Gravity(sum, dry, new(big.Rat).Add(solid, solidSlack))
		if s, err := slip.Gravity(sum, dry, solid); err == nil && low != nil && high != nil {
			say(text.New("bucket.weighed", text.Grams("water", r.Weighed), text.Grams("dry", r.Dry), text.Number("gravity", supportedBy(s, half(low, high)))))
		}
	}
	if last.Gravity == "" {
		if wanted != nil {
			say(text.New("bucket.measure-first"))
		}
		return r
	}
	low, mid, high, err := bounds(last)
	if err == nil {
		r.Gravity = supportedBy(mid, half(low, high))
		err = r.compare(say, dry, dryU, solid, in, inU, later, laterU, low, mid, high)
	}
	if err != nil {
		say(text.New("bucket.impossible", text.Number("gravity", last.Gravity), text.Because("why", err)))
		r.Disagree = true
		return r
	}
	if wanted != nil {
		r.add(say, dry, solid, low, mid, high, later, wanted)
	}
	return r
}

func (r *Reckoning) compare(say func(text.Message), dry, dryU, solid, in, inU, later, laterU, low, mid, high *big.Rat) error {
	times := func(a, b *big.Rat) *big.Rat { return new(big.Rat).Mul(a, b) }
	per, err := slip.Water(mid, solid)
	if err != nil {
		return err
	}
	water := times(dry, per)
	least, err := slip.Water(high, new(big.Rat).Sub(solid, solidSlack))
	if err != nil {
		least = new(big.Rat) // so dense that there may be no water in it at all
	}
	from := times(new(big.Rat).Sub(dry, dryU), least)
	var to *big.Rat
	open := new(big.Rat).Sub(water, from)
	if most, err := slip.Water(low, new(big.Rat).Add(solid, solidSlack)); err == nil {
		to = times(new(big.Rat).Add(dry, dryU), most)
		open = half(from, to)
		r.High = supportedGrams(to, open)
	}
	r.Measured, r.Low = supportedGrams(water, open), supportedGrams(from, open)
	if to == nil {
		say(text.New("bucket.measured-open", text.Number("gravity", r.Gravity), text.Grams("water", r.Measured), text.Grams("low", r.Low)))
	} else {
		say(text.New("bucket.measured", text.Number("gravity", r.Gravity), text.Grams("water", r.Measured), text.Grams("low", r.Low), text.Grams("high", r.High)))
	}
	if later.Sign() > 0 {
		say(text.New("bucket.later", text.Grams("water", supportedGrams(later, laterU))))
	}
	if in.Sign() <= 0 {
		return nil
	}
	lo, hi := new(big.Rat).Sub(in, inU), new(big.Rat).Add(in, inU)
	switch off := new(big.Rat).Sub(water, in); {
	case to != nil && lo.Cmp(to) > 0:
		r.Disagree = true
		say(text.New("bucket.less", text.Grams("water", supportedGrams(off.Abs(off), open.Add(open, inU)))))
	case hi.Cmp(from) < 0:
		r.Disagree = true
		say(text.New("bucket.more", text.Grams("water", supportedGrams(off, open.Add(open, inU)))))
	default:
		say(text.New("bucket.agree"))
	}
	return nil
}

// add tells the water for a gravity wanted.
func (r *Reckoning) add(say func(text.Message), dry, solid, low, mid, high, later, wanted *big.Rat) {
	needs := func(now *big.Rat) (*big.Rat, error) {
		per, err := slip.Dry(now, solid)
		if err != nil {
			return nil, err
		}
		water, err := slip.Thin(new(big.Rat).Quo(dry, per), now, wanted)
		if err != nil {
			return nil, err
		}
		return water.Mul(water, big.NewRat(1000, 1)).Sub(water, later), nil
	}
	water, err := needs(mid)
	if err != nil {
		say(text.New("bucket.wanted-because", text.Number("gravity", percentText(wanted.RatString())), text.Because("why", err)))
		return
	}
	if water.Sign() <= 0 {
		say(text.New("bucket.no-more", text.Number("gravity", percentText(wanted.RatString()))))
		return
	}
	open := new(big.Rat)
	for _, edge := range []*big.Rat{low, high} {
		if w, err := needs(edge); err == nil && half(w, water).Cmp(open) > 0 {
			open = half(w, water)
		}
	}
	open.Add(open, open)
	r.Add = supportedGrams(water, open)
	say(text.New("bucket.add", text.Grams("water", r.Add), text.Number("gravity", percentText(wanted.RatString()))))
	say(text.New("bucket.add-part", text.Grams("water", supportedGrams(new(big.Rat).Mul(water, big.NewRat(2, 3)), open))))
}

// bounds gives the gravity that a fact measured, and between what it lies.
func bounds(v fact.Watered) (low, mid, high *big.Rat, err error) {
	s, u := v.Sample.Mass.Rat(), typedU(v.Sample).Rat()
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
		by, slack = v.Bottle.Mass.Rat(), typedU(v.Bottle).Rat()
	} else {
		var ok bool
		if by, ok = new(big.Rat).SetString(v.Volume); !ok {
			return nil, nil, nil, text.Refuse("bucket.volume", text.Name("volume", strconv.Quote(v.Volume)))
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
		return nil, text.Refuse("bucket.light", text.Number("gravity", g.FloatString(3)))
	case g.Cmp(big.NewRat(3, 1)) > 0:
		return nil, text.Refuse("bucket.dense", text.Number("gravity", g.FloatString(3)))
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

// watered tells when the last of the first water went in; zero: none did.
func (n *Batch) watered() (at time.Time) {
	if !n.Wet() {
		return at
	}
	water := map[string]bool{}
	for _, st := range n.Steps {
		water[st.Material] = st.IsWater() || st.Part == batch.TakePart && n.Mixes[st.Mix].Solution()
	}
	for _, t := range n.facts {
		if p, ok := t.Body.(fact.Portion); ok && !t.void && water[p.Material] {
			at = t.At
		}
	}
	return at
}
