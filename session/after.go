package session

import (
	"context"
	"errors"
	"fmt"
	"math/big"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"tared/protocol"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/photo"
	"tared/session/slip"
)

// AfterRequest is something to be recorded of a batch that is closed, as a person
// writes it. Exactly one of Watered, Fired, Judged, Correct and Strike is given.
type AfterRequest struct {
	Batch   string       `json:"batch"`
	By      string       `json:"by"`
	Watered *WaterWish   `json:"watered,omitempty"`
	Fired   *fact.Fired  `json:"fired,omitempty"`
	Judged  *fact.Judged `json:"judged,omitempty"`
	Correct *WeightWish  `json:"correct,omitempty"`
	Strike  *StrikeWish  `json:"strike,omitempty"`
}

// WeightWish gives a portion another weight than was recorded. The entry stays and can
// be read, and so does the line that closed the batch.
type WeightWish struct {
	Entry  uint64 `json:"entry"`
	Weight string `json:"weight"` // what went in, with all digits that are known, "35.0g"
	Reason string `json:"reason"`
}

// WaterWish is what was done with the water; what was not done is empty.
type WaterWish struct {
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

// StrikeWish takes a portion, or an entry that was made after the batch was closed, out
// of the count. The entry stays and can be read.
type StrikeWish struct {
	Entry  uint64 `json:"entry"`
	Reason string `json:"reason"`
}

// maxWords is the longest text of such an entry, in bytes.
const maxWords = 4000

// Body understands the request; every fault is refused in words that name it. was
// gives an entry of this batch; it may be nil where nothing is corrected or struck out.
func (r AfterRequest) Body(was func(seq uint64) book.Was) (fact.Body, error) {
	given := 0
	for _, there := range []bool{r.Watered != nil, r.Fired != nil, r.Judged != nil, r.Correct != nil, r.Strike != nil} {
		if there {
			given++
		}
	}
	if given != 1 {
		return nil, refuse("one thing is recorded at a time: water, a firing, a judgement, a weight corrected, or an entry struck out")
	}
	if err := words("name", r.By, 100); err != nil {
		return nil, err
	}
	if strings.TrimSpace(r.By) == "" {
		return nil, refuse("who did it? A record needs a name")
	}
	switch {
	case r.Watered != nil:
		return r.Watered.body()
	case r.Fired != nil:
		return fired(*r.Fired)
	case r.Judged != nil:
		return judged(*r.Judged)
	case r.Correct != nil:
		return r.Correct.body(r.Batch, was)
	}
	if strings.TrimSpace(r.Strike.Reason) == "" {
		return nil, refuse("an entry is struck out for a reason: give one")
	}
	if err := words("reason", r.Strike.Reason, maxWords); err != nil {
		return nil, err
	}
	reason := strings.TrimSpace(r.Strike.Reason)
	switch w := was(r.Strike.Entry); {
	case w.Kind == "":
		return nil, refuse("batch %s has no entry %d", r.Batch, r.Strike.Entry)
	case w.Void:
		return nil, refuse("entry %d no longer counts already", r.Strike.Entry)
	case w.Kind == "portion":
		return w.Strike(reason), nil
	case w.Kind == "watered" || w.Kind == "fired" || w.Kind == "judged":
		return fact.Amended{Of: r.Strike.Entry, Reason: reason, Field: w.Kind, New: "does not count", Void: true}, nil
	default:
		return nil, refuse("entry %d is %q: only a portion, and what was noted after the batch was closed, is struck out here", r.Strike.Entry, w.Kind)
	}
}

// body understands the correction of a portion.
func (c WeightWish) body(batch string, was func(seq uint64) book.Was) (fact.Body, error) {
	if strings.TrimSpace(c.Reason) == "" {
		return nil, refuse("a weight is corrected for a reason: give one")
	}
	if err := words("reason", c.Reason, maxWords); err != nil {
		return nil, err
	}
	w := was(c.Entry)
	switch {
	case w.Kind == "":
		return nil, refuse("batch %s has no entry %d", batch, c.Entry)
	case w.Kind != "portion":
		return nil, refuse("entry %d is %q: only the weight of a portion is corrected here", c.Entry, w.Kind)
	case w.Void:
		return nil, refuse("entry %d no longer counts: there is nothing to correct in it", c.Entry)
	}
	if m, err := protocol.ParseMass(c.Weight); err == nil && m == 0 {
		return nil, refuse("if nothing of it went in, strike entry %d out: it then no longer counts", c.Entry)
	}
	to, err := typedMass("weight", c.Weight)
	switch {
	case err != nil:
		return nil, err
	case to.Mass == w.Counts:
		return nil, refuse("entry %d is %s already", c.Entry, w.Counts)
	case w.Most > 0 && to.Mass > w.Most:
		return nil, refuse("%s is more than can be one portion on the %s scale (%s): look at the digits and the unit", to.Mass, w.Scale, w.Most)
	}
	return w.Correct(to, strings.TrimSpace(c.Reason)), nil
}

// words holds a text to what a person may write.
func words(what, s string, most int) error {
	if len(s) > most {
		return refuse("%s: longer than %d bytes: shorten it", what, most)
	}
	if !utf8.ValidString(s) {
		return refuse("%s: it is not UTF-8", what)
	}
	for _, c := range s {
		if unicode.IsControl(c) && c != '\n' && c != '\r' && c != '\t' {
			return refuse("%s: %q in it cannot be shown: take it out", what, c)
		}
	}
	return nil
}

// typedMass reads a weight and the worth of its last digit.
func typedMass(what, s string) (t fact.Typed, err error) {
	if t.Mass, err = protocol.ParseMass(s); err != nil {
		return t, refuse("%s: %v", what, err)
	}
	if t.Mass <= 0 {
		return t, refuse("%s: %q: want more than nothing", what, s)
	}
	last := strings.LastIndexAny(s, "0123456789")
	one := strings.Map(func(c rune) rune {
		if c >= '0' && c <= '9' {
			return '0'
		}
		return c
	}, s[:last]) + "1" + s[last+1:]
	if i := strings.IndexAny(one, ".,"); i > 0 {
		one = "0" + one[i:]
	} else {
		one = strings.TrimLeft(one, "0 ")
	}
	if t.Step, err = protocol.ParseMass(one); err != nil {
		return t, refuse("%s: %v", what, err)
	}
	return t, nil
}

// number reads a number in a range.
func inRange(what, s, like string, from, to int64) (*big.Rat, error) {
	d, err := protocol.ParseHumanDecimal(strings.TrimSpace(s))
	if err != nil {
		return nil, refuse("%s %q: %v; write it as %s", what, s, err, like)
	}
	r, _ := new(big.Rat).SetString(d.String())
	if r.Cmp(big.NewRat(from, 1)) < 0 || r.Cmp(big.NewRat(to, 1)) > 0 {
		return nil, refuse("%s %q: want %d to %d", what, s, from, to)
	}
	return r, nil
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
	v, err := inRange("volume", t, "100ml", 0, 100000)
	if err != nil {
		return nil, err
	}
	if v.Sign() == 0 {
		return nil, refuse("volume %q: a vessel that holds nothing measures nothing: want more than zero", s)
	}
	return v.Mul(v, per), nil
}

func decimals(r *big.Rat, n int) string {
	s := r.FloatString(n)
	if strings.Contains(s, ".") {
		s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	}
	return s
}

func (w WaterWish) body() (fact.Body, error) {
	if w == (WaterWish{}) {
		return nil, refuse("nothing is given: how much water was added, or what was measured?")
	}
	var f fact.Watered
	var err error
	if err := words("words", w.Words, maxWords); err != nil {
		return nil, err
	}
	f.Words = strings.TrimSpace(w.Words)
	if w.added != nil {
		f.Added = *w.added
	} else if w.Added != "" {
		if f.Added, err = typedMass("water added", w.Added); err != nil {
			return nil, err
		}
	}
	if w.sampled != nil || w.known != nil || w.Sample != "" || w.Volume != "" || w.Bottle != "" || w.Celsius != "" {
		if err := w.gravity(&f); err != nil {
			return nil, err
		}
	}
	if w.Seconds != "" {
		s, err := inRange("seconds", w.Seconds, "22.5", 0, 3600)
		if err != nil {
			return nil, err
		}
		f.Seconds = decimals(s, 1)
	}
	return f, w.sieve(&f)
}

func (w WaterWish) gravity(f *fact.Watered) (err error) {
	switch {
	case w.Sample == "" && w.sampled == nil:
		return refuse("gravity: how much did the slip weigh that filled the vessel, without the vessel?")
	case w.Volume != "" && w.Bottle != "":
		return refuse("gravity: give the volume of the vessel, or the weight of the water that fills it, not both")
	case w.Volume == "" && w.Bottle == "" && w.known == nil:
		return refuse("gravity: what does the vessel hold? Give its volume, or the weight of the water that fills it")
	case w.Celsius != "" && w.Bottle == "":
		return refuse("the temperature is that of the water that filled the vessel: give its weight too, in place of the volume")
	}
	if w.sampled != nil {
		f.Sample = *w.sampled
	} else if f.Sample, err = typedMass("sample", w.Sample); err != nil {
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
		if f.Bottle, err = typedMass("water in the vessel", w.Bottle); err != nil {
			return err
		}
		if w.Celsius != "" {
			c, err := inRange("temperature of the water", w.Celsius, "18", 0, 40)
			if err != nil {
				return err
			}
			v, err := book.VesselVolume(f.Bottle.Mass, c)
			if err != nil {
				return refuse("%v", err)
			}
			f.Celsius, f.Volume = decimals(c, 1), v.FloatString(2)
		}
	}
	g, err := book.Gravity(*f)
	if err != nil {
		return refuse("%v", err)
	}
	f.Gravity = g.FloatString(4)
	return nil
}

func (w WaterWish) sieve(f *fact.Watered) error {
	switch {
	case w.Mesh == "" && w.Opening == "":
		if w.Standard != "" {
			return refuse("sieve: which number of the %s standard?", w.Standard)
		}
		return nil
	case w.Opening != "":
		if w.Mesh != "" || w.Standard != "" {
			return refuse("sieve: give its number with the standard, or its opening, not both")
		}
		o, err := inRange("opening of the sieve", strings.TrimSuffix(strings.TrimSpace(w.Opening), "µm"), "150", 20, 5000)
		if err != nil {
			return err
		}
		f.Opening = decimals(o, 0)
		return nil
	}
	n, err := strconv.Atoi(strings.TrimSpace(w.Mesh))
	if err != nil {
		return refuse("sieve %q: want its number, such as 100", w.Mesh)
	}
	for _, s := range []string{slip.US, slip.British} {
		if strings.EqualFold(s, strings.TrimSpace(w.Standard)) {
			f.Standard = s
		}
	}
	if f.Standard == "" {
		return refuse("sieve %d: by which standard? The same number has another opening in each: US (ASTM E11) or British (BSS)", n)
	}
	um, err := slip.Opening(n, f.Standard)
	if err != nil {
		return refuse("%v", err)
	}
	f.Mesh, f.Opening = strconv.Itoa(n), strconv.Itoa(um)
	return nil
}

// texts holds short and long texts to their lengths and trims them.
func texts(long string, all map[string]*string) error {
	for what, s := range all {
		most := 200
		if what == long {
			most = maxWords
		}
		if err := words(what, *s, most); err != nil {
			return err
		}
		*s = strings.TrimSpace(*s)
	}
	return nil
}

// list holds a list of short texts to its length, and drops what is empty or
// stands in it twice.
func list(what string, in []string) (out []string, err error) {
	for _, s := range in {
		if err := words(what, s, 60); err != nil {
			return nil, err
		}
		s = strings.TrimSpace(s)
		twice := false
		for _, o := range out {
			twice = twice || strings.EqualFold(o, s)
		}
		if s != "" && !twice {
			out = append(out, s)
		}
	}
	if len(out) > 100 {
		return nil, refuse("%s: %d of them; want 100 at most", what, len(out))
	}
	return out, nil
}

func fired(f fact.Fired) (fact.Body, error) {
	if err := texts("words", map[string]*string{"kiln": &f.Kiln, "cone": &f.Cone, "hold": &f.Hold, "atmosphere": &f.Atmosphere, "words": &f.Words}); err != nil {
		return nil, err
	}
	if f.Kiln == "" {
		return nil, refuse("which kiln was it?")
	}
	var err error
	if f.Tiles, err = list("tiles", f.Tiles); err != nil {
		return nil, err
	}
	if f.Photos, err = photos(f.Photos); err != nil {
		return nil, err
	}
	if strings.TrimSpace(f.Curve) == "" {
		f.Curve = ""
		return f, nil
	}
	if !book.HasReadings(f.Curve) {
		if err := words("curve", f.Curve, maxWords); err != nil {
			return nil, err
		}
		f.Curve = strings.TrimSpace(f.Curve)
		return f, nil
	}
	if _, err := book.ParseCurve(f.Curve); err != nil {
		return nil, refuse("%v", err)
	}
	return f, nil
}

func judged(f fact.Judged) (fact.Body, error) {
	if err := texts("words", map[string]*string{"tile": &f.Tile, "clay body": &f.Clay, "coats": &f.Coats, "thickness": &f.Thick, "place": &f.Place,
		"words": &f.Words, "verdict": &f.Verdict, "next": &f.Next}); err != nil {
		return nil, err
	}
	if f.Tile == "" {
		return nil, refuse("which tile was it? Give its mark")
	}
	var err error
	if f.Tags, err = list("tags", f.Tags); err != nil {
		return nil, err
	}
	if f.Photos, err = photos(f.Photos); err != nil {
		return nil, err
	}
	if f.Words == "" && f.Verdict == "" && len(f.Tags) == 0 && f.Next == "" && len(f.Photos) == 0 {
		return nil, refuse("tile %s: what came out? Give words, tags, a photograph or a verdict", f.Tile)
	}
	return f, nil
}

// maxPhotos is the most photographs of one entry.
const maxPhotos = 12

// photos holds the names of photographs to what they can be.
func photos(in []string) (out []string, err error) {
	for _, name := range in {
		if !photo.IsName(name) {
			return nil, refuse("photograph %.80q: that is no name of one: send the picture first", name)
		}
		if !slices.Contains(out, name) {
			out = append(out, name)
		}
	}
	if len(out) > maxPhotos {
		return nil, refuse("%d photographs: want %d at most in one entry", len(out), maxPhotos)
	}
	return out, nil
}

// photosThere refuses an entry that names a photograph which is not there, or is not what
// its name says.
func photosThere(body fact.Body, data string) error {
	var names []string
	switch v := body.(type) {
	case fact.Fired:
		names = v.Photos
	case fact.Judged:
		names = v.Photos
	}
	for _, name := range names {
		if data == "" {
			return refuse("no photographs are kept here")
		}
		if err := photo.Check(data, name); err != nil {
			return refuse("%v: send the picture first", err)
		}
	}
	return nil
}

// closed tells whether a mark is that of a batch to which something may be added.
func closed(mark string, marks map[string]bool, open string) error {
	switch {
	case !marks[mark]:
		return refuse("there is no batch %q", mark)
	case mark == open:
		return refuse("batch %s is still in work: finish it first", mark)
	}
	return nil
}

// After records something of a batch that is closed, and gives its entry. was is
// that of AfterRequest.Body. What a person can mend has ErrRefused in its chain.
func (b *Bench) After(ctx context.Context, r AfterRequest, was func(seq uint64) book.Was) (seq uint64, err error) {
	// An amendment says what was there before it: two at once would say the same.
	b.afters.Lock()
	defer b.afters.Unlock()
	if r.Watered != nil {
		w := *r.Watered
		if e := b.call(ctx, func() { err = w.resolve(b.vessels, b.net) }); e != nil || err != nil {
			return 0, errors.Join(e, err)
		}
		r.Watered = &w
	}
	body, err := r.Body(was)
	if err == nil {
		err = photosThere(body, b.cfg.Photos)
	}
	if err != nil {
		return 0, err
	}
	if e := b.call(ctx, func() {
		open := ""
		if b.s.open() {
			open = b.s.Batch.Mark
		}
		if err = closed(r.Batch, b.marks, open); err != nil {
			return
		}
		t := turn{s: b.s, at: b.cfg.Now()}
		t.put(r.Batch, strings.TrimSpace(r.By), body)
		if err = b.commit(t.s, t.facts); err == nil {
			seq = t.facts[0].Seq
		}
		b.publish(err == nil)
	}); e != nil {
		return 0, e
	}
	return seq, err
}

// RecordAfter does what Bench.After does where no bench is running: it opens the
// journal of a data directory, adds the line, and closes it again.
func RecordAfter(dir string, at time.Time, r AfterRequest, was func(seq uint64) book.Was) (seq uint64, err error) {
	// The lock of the journal comes first: with a bench running, that one decides.
	j, past, _, err := Open(dir)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	if r.Watered != nil {
		w := *r.Watered
		if err := w.resolve(past.Vessels, nil); err != nil {
			return 0, err
		}
		r.Watered = &w
	}
	body, err := r.Body(was)
	if err == nil {
		err = photosThere(body, dir)
	}
	if err != nil {
		return 0, err
	}
	s := State{}
	for _, f := range past.Facts {
		s = s.Apply(f)
	}
	open := ""
	if s.open() {
		open = s.Batch.Mark
	}
	if err := closed(r.Batch, past.Marks, open); err != nil {
		return 0, err
	}
	f := fact.Fact{Seq: past.Seq + 1, At: at, Batch: r.Batch, By: strings.TrimSpace(r.By), Body: body}
	if _, err := Into(j).Append([]fact.Fact{f}); err != nil {
		return 0, fmt.Errorf("write the journal: %w", err)
	}
	return f.Seq, nil
}
