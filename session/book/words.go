package book

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"tared/session/batch"
	"tared/session/doubt"
	"tared/session/sheet"
	"tared/session/text"
)

// words says what a reader should know of the whole.
func (n *Batch) words(m Made) []string {
	var w []string
	say := func(m text.Message) { w = append(w, n.reader.Say(m)) }
	n.stateWords(say)
	n.seriesWords(say)
	if m.Simulated {
		say(text.New("record.simulated"))
	}
	none := []string{}
	for _, l := range m.Lines {
		if l.VerdictWord() == NothingIn && l.Role != "" {
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
	if slices.ContainsFunc(m.rows(), Line.Weighed) {
		if m.Rule == doubt.Guarded {
			say(text.New("record.rule-guarded"))
		} else {
			say(text.New("record.rule-simple"))
		}
	}
	if len(n.Plan.Although) > 0 {
		say(text.New("record.although", text.Names("materials", n.Plan.Although)))
	}
	n.bagWords(m, say)
	if m.Amended > 0 {
		say(text.New("record.amended", text.Count("count", m.Amended)))
	}
	if m.Late > 0 && !slices.ContainsFunc(m.rows(), func(l Line) bool { return l.AtClosing != nil }) { // else it is said of each
		say(text.New("record.amended-late", text.Count("count", m.Late)))
	}
	n.correctedWords(m, say)
	return w
}

// otherWords tell of the water, of what was diluted, and of the scales.
func (n *Batch) otherWords(m Made, say func(text.Message)) {
	if w := m.Water; w != nil && w.Portions > 0 {
		say(text.New("record.water", text.Mass("water", w.Delivered.Mass, w.Delivered.Places), text.Share("share", cmp.Or(w.Share, "–")), text.Mass("target", w.Target.Mass, w.Target.Places)))
	} else if w != nil && w.Verdict == "skipped" {
		say(text.New("record.water-left-out"))
	}
	for _, l := range m.Lines {
		switch d := l.Diluted; {
		case d == nil || d.Take.Mass <= 0:
		case d.Lot != "":
			say(text.New("record.from-lot", text.Name("material", l.Material), text.Name("lot", d.Lot)))
		case d.Carrier == sheet.WaterName:
			say(text.New("record.dissolved", text.Name("material", l.Material), text.Share("mixing", d.Mixing), text.Mass("rest", d.Rest.Mass, d.Rest.Places)))
		case d.Mixing != "":
			say(text.New("record.diluted-even", text.Name("material", l.Material), text.Name("carrier", d.Carrier), text.Share("mixing", d.Mixing), text.Mass("rest", d.Rest.Mass, d.Rest.Places)))
		default:
			say(text.New("record.diluted", text.Name("material", l.Material), text.Name("carrier", d.Carrier), text.Mass("rest", d.Rest.Mass, d.Rest.Places)))
		}
	}
	var open []string
	for _, s := range n.Plan.Scales {
		if !slices.ContainsFunc(m.Lines, func(l Line) bool { return l.Scale == s.Name && l.Portions > 0 }) {
			continue
		}
		if s.Assumed {
			say(text.New("record.assumed", text.Name("scale", s.Name)))
		}
		if n.Plan.Rule != "" && !s.Vouched() { // older records never had it
			open = append(open, s.Name)
		}
	}
	if len(open) > 0 {
		say(text.New("record.no-span", text.Names("scales", open)))
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
		if w := s.Swap; w.In != "" {
			say(text.New("record.swap", text.Name("in", w.In), text.Name("out", w.Out)))
		}
	}
}

// drawn gives the tubs that parts of came into this batch.
func (n *Batch) drawn() []Drawn {
	var out []Drawn
	for k, m := range n.Mixes {
		if m.From != "" {
			_, _, t := n.CupSteps(k)
			out = append(out, Drawn{m.From, Amount{t.Delivered, t.Places}})
		}
	}
	return out
}

// materialWords say what is out of the way with one material.
func (n *Batch) materialWords(l Line, say func(text.Message)) {
	if l.As != "" {
		say(text.New("record.substituted", text.Name("as", l.As), text.Name("material", l.Material)))
	}
	off := Amount{l.Deviation.Abs(), l.Deviation.Places}
	percent := strings.TrimLeft(l.PercentShown(), "+-")
	switch {
	case l.Role == "":
		say(text.New("record.unplanned", text.Name("material", l.Material)))
	case l.Unknown():
		say(text.New("record.what-not-known", text.Name("material", l.Material)))
	case l.Verdict == "skipped" && l.Delivered.Mass == 0:
		say(text.New("record.left-out", text.Name("material", l.Material)))
	case l.Verdict == "skipped":
		say(text.New("record.left-at", text.Name("material", l.Material), text.Mass("delivered", l.Delivered.Mass, l.Delivered.Places), text.Mass("target", l.Target.Mass, l.Target.Places)))
	case l.Verdict == string(doubt.Cannot):
		u, allowed := l.U.Against(l.Allowed.Mass)
		say(text.New("record.cannot-tell", text.Name("material", l.Material), text.Grams("allowed", allowed), text.Grams("u", u)))
	case l.Verdict == "over" && l.Beyond:
		say(text.New("record.over", text.Name("material", l.Material), text.Mass("off", off.Mass, off.Places), text.Share("percent", percent)))
	case l.Verdict == "over":
		say(text.New("record.over-within", text.Name("material", l.Material), text.Mass("off", off.Mass, off.Places), text.Share("percent", percent)))
	case l.Verdict != "under" || l.VerdictWord() == NothingIn || !n.Finished:
	case l.Beyond:
		say(text.New("record.short", text.Name("material", l.Material), text.Mass("off", off.Mass, off.Places), text.Share("percent", percent)))
	default:
		say(text.New("record.short-within", text.Name("material", l.Material), text.Mass("off", off.Mass, off.Places), text.Share("percent", percent)))
	}
	if l.Portions > 0 && l.Verdict != string(doubt.Cannot) && (l.Weighable == "coarse" || l.Weighable == "blind") {
		say(text.New("record.not-accurate", text.Name("material", l.Material), text.Grams("u", l.U.Doubt()), text.Mass("delivered", l.Delivered.Mass, l.Delivered.Places)))
	}
}

// correctedWords say what a reader should know of the amounts that were corrected
// after the batch was closed.
func (n *Batch) correctedWords(m Made, say func(text.Message)) {
	any := false
	for _, l := range m.rows() {
		if l.AtClosing == nil {
			continue
		}
		any = true
		if len(n.corrections(l.Material)) == 0 {
			say(text.New("record.corrected-by-tub", text.Name("material", l.Material), text.Mass("is", l.Delivered.Mass, l.Delivered.Places), text.Mass("was", l.AtClosing.Mass, l.AtClosing.Places)))
		} else {
			say(text.New("record.corrected", text.Name("material", l.Material), text.Mass("is", l.Delivered.Mass, l.Delivered.Places), text.Mass("was", l.AtClosing.Mass, l.AtClosing.Places)))
		}
	}
	if n.hasTypedCorrection() {
		say(text.New("record.corrected-typed"))
	}
	if any {
		say(text.New("record.corrected-hash"))
	}
}

// bagWords say what a reader should know of its recipe, of moisture and money.
func (n *Batch) bagWords(m Made, say func(text.Message)) {
	if m.KeptRecipe != "" {
		say(text.New("record.kept", text.Name("recipe", m.KeptRecipe)))
	}
	for _, l := range m.Lines {
		b := batch.LotOf(n.Plan.Lots, l.Material)
		switch {
		case l.Dry != nil:
			say(text.New("record.moist", text.Name("material", l.Material), text.Share("moisture", l.Bag.Moisture), text.Mass("weighed", l.Delivered.Mass, l.Delivered.Places), text.Mass("dry", l.Dry.Mass, l.Dry.Places)))
		case b.Moisture != "" && l.As != "":
			say(text.New("record.moisture-unknown", text.Name("material", l.As)))
		}
	}
	if c := m.Cost; c != nil {
		var all []string
		for _, s := range c.Sums {
			all = append(all, s.String())
		}
		if n.Plan.Series.Of != "" {
			say(text.New("record.cost-cup", text.Names("sums", all)))
		} else {
			say(text.New("record.cost", text.Names("sums", all)))
		}
		if len(c.Missing) > 0 {
			say(text.New("record.cost-missing", text.Names("materials", c.Missing)))
		}
	}
}
