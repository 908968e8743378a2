package book

import (
	"math/big"
	"slices"
	"strconv"
	"strings"
	"time"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/sentence"
	"tared/session/sheet"
	"tared/session/text"
)

// Row is a batch in a list.
type Row struct {
	Mark      string    `json:"mark"`
	Title     string    `json:"title"`
	By        string    `json:"by"`
	Started   time.Time `json:"started"`
	Finished  time.Time `json:"finished,omitzero"`
	State     State     `json:"state"` // open, finished, abandoned
	Base      Amount    `json:"planned_base"`
	Enlarged  *Amount   `json:"enlarged_base,omitempty"` // base planned since the batch was enlarged
	Done      int       `json:"done"`                    // materials of which enough, or too much, went in, or that were skipped
	Of        int       `json:"of"`                      // materials planned
	Off       int       `json:"off"`                     // materials that stand outside their band or were skipped
	Worst     string    `json:"worst"`
	Simulated bool      `json:"simulated,omitempty"`
	Again     string    `json:"again,omitempty"`        // mark of the spoiled batch whose place it takes
	Series    string    `json:"series,omitempty"`       // mark of the tub, where it is a cup of a series
	Cups      uint64    `json:"-"`                      // how many its series has; 0: it is of none
	Amended   int       `json:"amended,omitempty"`      // amendments
	Late      int       `json:"amended_late,omitempty"` // of them after the batch was closed
}

// Made is a batch as made beside as planned.
type Made struct {
	Row
	Recipe     string       `json:"recipe"`
	RecipeHash string       `json:"recipe_sha256"`
	Dry        Amount       `json:"planned_dry"`
	GrownDry   *Amount      `json:"enlarged_dry,omitempty"`
	MadeBase   Amount       `json:"base"` // delivered
	MadeDry    Amount       `json:"dry"`  // delivered
	Lines      []Line       `json:"lines"`
	Water      *Line        `json:"water,omitempty"` // the first water, shares in percent of everything dry; nil: it was no step
	Scales     []fact.Scale `json:"scales"`
	Changes    []Change     `json:"amendments"`
	Pours      []Pour       `json:"pours"` // the portions, each in full
	Facts      []Told       `json:"facts"`
	Words      []string     `json:"words"` // what a reader should know of the whole
	Hash       string       `json:"hash"`  // closing hash: SHA-256 of the line that closed it; empty while open
	Check      []string     `json:"check"` // how to check it without this program
	Cost       *Cost        `json:"cost,omitempty"`
	Kept       string       `json:"kept,omitempty"` // which kept recipe it is
}

// Line is one material as planned and as it went in.
type Line struct {
	Material  string   `json:"material"`
	As        string   `json:"as,omitempty"` // what went in instead
	Role      string   `json:"role"`         // base, addition, strong; empty: nobody planned it
	Addition  bool     `json:"addition"`     // stands on top of the base
	Scale     string   `json:"scale"`
	Weighable string   `json:"weighable"` // good, coarse, blind
	Target    Amount   `json:"target"`
	First     *Amount  `json:"first_target,omitempty"` // before the batch was enlarged
	Low       Amount   `json:"low"`
	High      Amount   `json:"high"`
	Delivered Amount   `json:"delivered"`     // as weighed
	Dry       *Amount  `json:"dry,omitempty"` // of that, where it was moist; shares rest on it
	Bag       *Bag     `json:"bag,omitempty"` // where it came from
	Portions  int      `json:"portions"`
	U         Amount   `json:"u"`         // of what was delivered
	Deviation Amount   `json:"deviation"` // delivered minus target
	Percent   string   `json:"deviation_percent"`
	Bands     int      `json:"deviation_bands"`   // in thousandths of the half band: 1000 stands on the mark
	Beyond    bool     `json:"beyond_u"`          // the deviation is more than U: it is there, the weighing cannot explain it
	Planned   string   `json:"planned_share"`     // percent of the base, for people
	Share     string   `json:"share"`             // percent of the delivered base, three decimals; empty while the batch is open
	ShareU    string   `json:"share_u"`           // U of the share, same unit, rounded up
	Verdict   string   `json:"verdict"`           // under, in, over, skipped; empty: not weighed yet
	Kept      bool     `json:"kept,omitempty"`    // over, and a person kept it so
	Diluted   *Diluted `json:"diluted,omitempty"` // how it went in, where that was in a mixture
	// Was is what the closing line has, where it was corrected since.
	Was       *Amount  `json:"at_closing,omitempty"`
	WasShare  string   `json:"share_at_closing,omitempty"`
	Corrected []string `json:"corrected,omitempty"` // by whom and why
	Words     []string `json:"words,omitempty"`
}

// Of tells what the shares of a line are percent of: base, or dry for the first
// water, which is held against everything dry.
func (l Line) Of() string {
	if l.Role == string(sheet.Water) {
		return "dry"
	}
	return "base"
}

// rows are the lines of a table: the materials, then the first water.
func (m Made) rows() []Line {
	if m.Water == nil {
		return m.Lines
	}
	return append(slices.Clone(m.Lines), *m.Water)
}

// Weighed reports whether anything of it was weighed. Of what was not, there is neither
// a deviation nor a U, and what shows the batch to people leaves them blank.
func (l Line) Weighed() bool { return l.Portions > 0 }

// VerdictWord is the verdict for people: a material of which nothing went in, in a
// batch that is closed, is not one that was poured too short.
func (l Line) VerdictWord() string {
	if l.Verdict == "under" && !l.Weighed() {
		return "nothing in"
	}
	return l.Verdict
}

// Change is one amendment with the old value beside the new.
type Change struct {
	Seq      uint64    `json:"seq"`
	At       time.Time `json:"at"`
	By       string    `json:"by"`
	Of       uint64    `json:"of"`
	Material string    `json:"material,omitempty"`
	Field    string    `json:"field,omitempty"`
	Old      string    `json:"old"`
	New      string    `json:"new"`
	Void     bool      `json:"void,omitempty"`
	Reason   string    `json:"reason"`
	Late     bool      `json:"late,omitempty"` // after the batch was closed
}

// Told is one fact in a sentence.
type Told struct {
	Seq       uint64    `json:"seq"`
	At        time.Time `json:"at"`
	Kind      string    `json:"kind"`
	By        string    `json:"by"`
	Words     string    `json:"words"`
	Hash      string    `json:"hash,omitempty"`
	Void      bool      `json:"void,omitempty"`       // no longer counts
	AmendedBy []uint64  `json:"amended_by,omitempty"` // seq of the amendments
}

// Made gives the batch as it stands.
func (n *Batch) Made() Made {
	lines, base, dry := n.asMade()
	m := Made{
		Row: n.Row(), Recipe: n.Plan.Recipe, RecipeHash: n.Plan.RecipeHash,
		Dry: rough(n.Plan.Dry), Lines: lines, Scales: n.Plan.Scales, Hash: n.hash, MadeBase: Amount{Mass: base}, MadeDry: Amount{Mass: dry},
		Changes: []Change{}, Pours: n.pours(), Facts: []Told{}, Words: []string{}, Check: n.check(),
	}
	if n.Dry != n.Plan.Dry {
		grown := rough(n.Dry)
		m.GrownDry = &grown
	}
	m.Kept, m.Cost = n.Plan.Kept, n.bags(lines)
	for _, l := range lines {
		m.MadeDry.Places = max(m.MadeDry.Places, l.Delivered.Places)
		if !l.Addition {
			m.MadeBase.Places = max(m.MadeBase.Places, l.Delivered.Places)
		}
	}
	for _, c := range n.changes {
		m.Changes = append(m.Changes, n.changed(c))
	}
	for _, t := range n.facts {
		m.Facts = append(m.Facts, Told{Seq: t.Seq, At: t.At, Kind: t.Body.Kind(), By: t.Fact.By, Words: sentence.Of(t.Fact),
			Hash: t.hash, Void: t.void, AmendedBy: t.by})
	}
	m.Water = n.firstWater(dry)
	m.Words = append(append(m.Words, n.words(m)...), n.checkWords()...)
	return m
}

// Row gives the batch for a list. It computes no shares, for a list may be long.
func (n *Batch) Row() Row {
	return n.row(n.indexed().verdicts)
}

// rough is a size that was computed, not weighed: a tenth of a gram is enough to
// show of it.
func rough(m protocol.Mass) Amount { return Amount{m, min(1, m.Places())} }

// worse orders the verdicts of materials by what they mean for the glaze.
var worse = map[string]int{"": 0, "in": 1, "skipped": 2, "under": 3, "over": 4}

func (n *Batch) row(verdicts []string) Row {
	r := Row{Mark: n.Mark, Title: n.Title, By: n.By, Started: n.Started, Finished: n.Ended, State: n.State(),
		Base: rough(n.Plan.Base), Of: len(verdicts), Simulated: n.Plan.Simulated, Series: n.Plan.Series.Of, Cups: n.Plan.Series.Cups, Again: n.Plan.Again, Amended: len(n.changes)}
	if n.Base != n.Plan.Base {
		grown := rough(n.Base)
		r.Enlarged = &grown
	}
	for _, v := range verdicts {
		if v != "" && v != "under" {
			r.Done++
		}
		if v == "under" && !n.Finished {
			continue // it is in work
		}
		if worse[v] > worse["in"] {
			r.Off++
		}
		if worse[v] > worse[r.Worst] {
			r.Worst = v
		}
	}
	for _, c := range n.changes {
		if c.after {
			r.Late++
		}
	}
	return r
}

func (n *Batch) asMade() (out []Line, base, dry protocol.Mass) {
	in := n.Deliveries()
	made, base, dry := batch.AsMade(n.Lines, in)
	onBase := batch.Bases(n.Lines)
	doubts, four := shareDoubts(onBase, batch.DriedAll(in), base), fourth(max(base, 0))
	for i, m := range n.Materials() {
		o := n.line(m)
		o.Addition = !onBase[i]
		if n.Finished { // else it would be of a base that is not there yet
			o.Share, o.ShareU = made[i].Share, rooted(doubts[i], four, batch.SharePlaces).FloatString(batch.SharePlaces)
		}
		if i < len(n.Plan.Lines) && n.Plan.Lines[i].Target != m.Line.Target {
			o.First = &Amount{n.Plan.Lines[i].Target, m.Places}
		}
		if m.In.Moisture != nil && m.In.Delivered != 0 {
			o.Dry = &Amount{m.In.Dry(), m.Places}
		}
		o.Diluted = n.diluted(m.Line.Material)
		out = append(out, o)
	}
	n.atClosing(out)
	for i := range out {
		out[i].Words = lineWords(out[i])
	}
	return out, base, dry
}

// line is a material as it was weighed: all but its share.
func (n *Batch) line(m batch.Material) Line {
	l, in := m.Line, m.In
	a := func(g protocol.Mass) Amount { return Amount{g, m.Places} }
	d := in.Delivered - l.Target
	o := Line{Material: l.Material, As: in.As, Role: l.Role, Scale: l.Scale, Weighable: l.Weighable,
		Target: a(l.Target), Low: a(l.Low), High: a(l.High), Delivered: a(in.Delivered), Portions: m.Portions,
		U: a(in.U), Deviation: a(d), Bands: bands(d, l.High-l.Low), Beyond: m.Portions > 0 && d.Abs() > in.U,
		Planned: percentText(l.Share), Kept: m.Kept && in.Delivered > l.High, Verdict: n.Verdict(l, in, m.Portions)}
	if l.Target > 0 {
		r := big.NewRat(int64(d), int64(l.Target))
		o.Percent = signed(r.Mul(r, big.NewRat(100, 1)).FloatString(2))
	}
	return o
}

// bands gives the deviation in thousandths of half the width of the band, halves
// away from zero; what is not between -1000000 and 1000000 stands on that end.
func bands(d, width protocol.Mass) int {
	if width <= 0 {
		return 0
	}
	n := new(big.Int).Mul(big.NewInt(int64(d.Abs())), big.NewInt(4000))
	w := big.NewInt(int64(width))
	n.Add(n, w).Quo(n, w.Lsh(w, 1))
	v := int64(1_000_000)
	if n.IsInt64() {
		v = min(v, n.Int64())
	}
	if d < 0 {
		v = -v
	}
	return int(v)
}

// percentText writes a planned share, an exact fraction, for people: in full
// where it ends within three decimals, else rounded to three.
func percentText(share string) string {
	r, ok := new(big.Rat).SetString(share)
	if !ok {
		return share
	}
	t := r.FloatString(batch.SharePlaces)
	return strings.TrimSuffix(strings.TrimRight(t, "0"), ".")
}

func lineWords(l Line) []string {
	var w []string
	say := func(m text.Message) { w = append(w, m.String()) }
	if l.As != "" {
		say(text.New("record.line-as", text.Name("as", l.As)))
	}
	if l.Role == "" {
		say(text.New("record.line-unplanned"))
	}
	if l.Verdict == "skipped" {
		say(text.New("record.line-left-out"))
	}
	if l.Kept {
		say(text.New("record.line-kept"))
	}
	if l.First != nil {
		say(text.New("record.line-first", text.Mass("target", l.First.Mass, l.First.Places)))
	}
	if d := l.Diluted; d != nil {
		say(text.New("record.line-diluted", text.Mass("weighed", d.Weighed.Mass, d.Weighed.Places), text.Mass("dilute", d.Dilute.Mass, d.Dilute.Places), text.Name("carrier", d.Carrier), text.Mass("take", d.Take.Mass, d.Take.Places)))
	}
	if l.Portions > 1 {
		say(text.New("record.line-portions", text.Count("count", l.Portions)))
	}
	if l.Was != nil {
		say(text.New("record.line-corrected", text.Mass("was", l.Was.Mass, l.Was.Places)))
	}
	return w
}

// words says what a reader should know of the whole.
func (n *Batch) words(m Made) []string {
	var w []string
	say := func(m text.Message) { w = append(w, m.String()) }
	n.stateWords(say)
	n.seriesWords(say)
	if m.Simulated {
		say(text.New("record.simulated"))
	}
	none := []string{}
	for _, l := range m.Lines {
		if l.VerdictWord() == "nothing in" && l.Role != "" {
			none = append(none, l.Material)
		}
		n.materialWords(l, say)
	}
	switch {
	case len(none) > 0 && len(none) == len(m.Lines):
		say(text.New("record.nothing"))
	case len(none) > 0:
		say(text.New("record.nothing-of", text.Names("materials", none)))
	}
	n.otherWords(m, say)
	n.bagWords(m, say)
	if m.Amended > 0 {
		say(text.New("record.amended", text.Count("count", m.Amended)))
	}
	if m.Late > 0 && !slices.ContainsFunc(m.rows(), func(l Line) bool { return l.Was != nil }) { // else it is said of each
		say(text.New("record.amended-late", text.Count("count", m.Late)))
	}
	n.correctedWords(m, say)
	return w
}

// otherWords tell of the water, of what was diluted, and of the scales.
func (n *Batch) otherWords(m Made, say func(text.Message)) {
	if w := m.Water; w != nil && w.Portions > 0 {
		say(text.New("record.water", text.Mass("water", w.Delivered.Mass, w.Delivered.Places), text.Share("share", cmpOr(w.Share, "–")), text.Mass("target", w.Target.Mass, w.Target.Places)))
	} else if w != nil && w.Verdict == "skipped" {
		say(text.New("record.water-left-out"))
	}
	for _, l := range m.Lines {
		if d := l.Diluted; d != nil && d.Take.Mass > 0 {
			say(text.New("record.diluted", text.Name("material", l.Material), text.Name("carrier", d.Carrier), text.Mass("rest", d.Rest.Mass, d.Rest.Places)))
		}
	}
	for _, s := range n.Plan.Scales {
		if s.Assumed && slices.ContainsFunc(m.Lines, func(l Line) bool { return l.Scale == s.Name && l.Portions > 0 }) {
			say(text.New("record.assumed", text.Name("scale", s.Name)))
		}
	}
	for _, s := range slices.Compact(slices.Sorted(slices.Values(n.breaks))) {
		say(text.New("record.lost", text.Name("scale", s), text.Count("count", count(n.breaks, s))))
	}
}

func (n *Batch) stateWords(say func(text.Message)) {
	switch n.State() {
	case Open:
		say(text.New("record.open"))
	case Abandoned:
		say(text.New("record.abandoned"))
	}
}

// seriesWords say what ties the batch to others.
func (n *Batch) seriesWords(say func(text.Message)) {
	s := n.Plan.Series
	number := func(n uint64) string { return strconv.FormatUint(n, 10) }
	if s.Of != "" {
		say(text.New("record.cup", text.Number("cup", number(s.Cup)), text.Number("cups", number(s.Cups)), text.Name("tub", s.Of)))
		if n.TubCorrected() {
			say(text.New("record.tub-corrected"))
		}
		for _, d := range n.drawn() {
			say(text.New("record.drawn", text.Mass("take", d.Take.Mass, d.Take.Places)))
		}
		return
	}
	if s.Cups > 0 {
		say(text.New("record.tub", text.Number("cups", number(s.Cups)), text.Name("first", n.Mark+"-1"), text.Name("last", n.Mark+"-"+number(s.Cups))))
		if w := s.Swap; w.Out != "" {
			say(text.New("record.swap", text.Name("in", w.In), text.Name("out", w.Out)))
		}
	}
}

// materialWords say what is out of the way with one material.
func (n *Batch) materialWords(l Line, say func(text.Message)) {
	if l.As != "" {
		say(text.New("record.substituted", text.Name("as", l.As), text.Name("material", l.Material)))
	}
	off := Amount{l.Deviation.Abs(), l.Deviation.Places}
	percent := strings.TrimLeft(l.Percent, "+-")
	switch {
	case l.Role == "":
		say(text.New("record.unplanned", text.Name("material", l.Material)))
	case l.Verdict == "skipped" && l.Delivered.Mass == 0:
		say(text.New("record.left-out", text.Name("material", l.Material)))
	case l.Verdict == "skipped":
		say(text.New("record.left-at", text.Name("material", l.Material), text.Mass("delivered", l.Delivered.Mass, l.Delivered.Places), text.Mass("target", l.Target.Mass, l.Target.Places)))
	case l.Verdict == "over" && l.Beyond:
		say(text.New("record.over", text.Name("material", l.Material), text.Mass("off", off.Mass, off.Places), text.Share("percent", percent)))
	case l.Verdict == "over":
		say(text.New("record.over-within", text.Name("material", l.Material), text.Mass("off", off.Mass, off.Places), text.Share("percent", percent)))
	case l.Verdict != "under" || l.VerdictWord() == "nothing in" || !n.Finished:
	case l.Beyond:
		say(text.New("record.short", text.Name("material", l.Material), text.Mass("off", off.Mass, off.Places), text.Share("percent", percent)))
	default:
		say(text.New("record.short-within", text.Name("material", l.Material), text.Mass("off", off.Mass, off.Places), text.Share("percent", percent)))
	}
	if l.Portions > 0 && (l.Weighable == "coarse" || l.Weighable == "blind") {
		say(text.New("record.not-accurate", text.Name("material", l.Material), text.Grams("u", l.U.Doubt()), text.Mass("delivered", l.Delivered.Mass, l.Delivered.Places)))
	}
}

func count(all []string, s string) (k int) {
	for _, v := range all {
		if v == s {
			k++
		}
	}
	return k
}

// changed tells an amendment with both values.
func (n *Batch) changed(c change) Change {
	o := Change{Seq: c.seq, At: c.at, By: c.by, Of: c.Of, Material: c.Material, Field: c.Field, Void: c.Void, Reason: c.Reason, Late: c.after}
	if c.Field != "" {
		o.Old, o.New = c.Old, c.New
		return o
	}
	p := 0
	if k := n.StepOf(c.Material); k >= 0 {
		p = n.Steps[k].Places
	}
	o.Old = c.Was.Grams(p) + " g"
	o.New = c.Is.Grams(p) + " g"
	if c.Void {
		o.New = text.New("record.struck").String()
	}
	return o
}

// check tells how the closing hash is checked without this program.
func (n *Batch) check() []string {
	if n.closed == 0 {
		return []string{}
	}
	return []string{
		text.New("record.hash-check", text.Number("line", strconv.FormatUint(n.closed, 10))).String(),
		text.New("record.hash-chain").String(),
	}
}

// Short gives the beginning of a hash, in groups of four, as it is written on a
// label; a hash that is not known is empty.
func Short(hash string) string {
	if len(hash) < 16 {
		return hash
	}
	return hash[:4] + " " + hash[4:8] + " " + hash[8:12] + " " + hash[12:16]
}
