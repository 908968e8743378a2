package book

import (
	"cmp"
	"io"
	"math"
	"strconv"
	"strings"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/doubt"
	"tared/session/glaze"
	"tared/session/recipe"
	"tared/session/sheet"
	"tared/session/text"
)

// Oxides is the glaze behind the weights of a batch or of a recipe.
type Oxides struct {
	Title   text.Message    `json:"-"`
	Planned glaze.Glaze     `json:"planned"`
	Made    *glaze.Glaze    `json:"made,omitempty"`  // nil: not closed yet, or nobody knows how much went in
	Shift   []glaze.Shifted `json:"shift,omitempty"` // as made less as planned, the largest first
	Moved   text.Message    `json:"-"`               // what the weighing did to it
	Words   []text.Message  `json:"-"`

	reader *text.Language
}

// oxides puts the parts of one glaze together.
type oxides struct {
	shelf   glaze.Shelf
	parts   []glaze.Part
	lacking []string // in the base: without them there is no glaze to work out
	apart   []string // additions that are left out
}

func (o *oxides) add(material string, addition bool, p glaze.Part) {
	a, ok := o.shelf.Lookup(material)
	switch {
	case ok:
		p.Analysis = a
		o.parts = append(o.parts, p)
	case addition:
		o.apart = append(o.apart, material)
	default:
		o.lacking = append(o.lacking, material)
	}
}

func (o *oxides) melt() (glaze.Glaze, error) {
	if len(o.lacking) > 0 {
		return glaze.Glaze{}, text.Refuse("glaze.lacking", text.Names("materials", o.lacking))
	}
	return glaze.Melt(o.parts)
}

// OxidesOf works out the glaze of a recipe.
func OxidesOf(r recipe.Recipe, shelf glaze.Shelf) (Oxides, error) {
	planned := oxides{shelf: shelf}
	for _, it := range r.Items {
		share, _ := it.Share.Float64()
		planned.add(it.Name, it.Addition, glaze.Part{Grams: share})
	}
	g, err := planned.melt()
	o := Oxides{Title: text.New("glaze.title-planned", text.Name("title", r.Title)), Planned: g}
	o.tell(planned)
	return o, err
}

// Oxides works out the glaze as planned and as it was weighed, with the doubts of the
// weighing and of the analyses apart.
func (n *Batch) Oxides() (Oxides, error) {
	planned, made := oxides{shelf: n.shelf}, oxides{shelf: n.shelf}
	o := Oxides{reader: n.reader, Title: text.New("glaze.title-made", text.Name("batch", n.Mark), text.Name("title", n.Plan.Title))}
	onBase := batch.Bases(n.Lines)
	known := true
	for i, d := range n.Deliveries() {
		l := n.Lines[i]
		if l.Role == string(sheet.Water) {
			continue
		}
		planned.add(l.Material, !onBase[i], glaze.Part{Grams: floating(l.Target)})
		made.add(cmp.Or(d.As, l.Material), !onBase[i], went(d.Dried()))
		if d.NotKnown {
			known = false
			o.Words = append(o.Words, text.New("glaze.not-known", text.Name("material", l.Material)))
		}
	}
	var err error
	if o.Planned, err = planned.melt(); err != nil {
		return o, err
	}
	if n.Finished && known {
		g, err := made.melt()
		if err != nil {
			return o, err
		}
		if o.Shift, err = glaze.Shift(planned.parts, made.parts); err != nil {
			return o, err
		}
		o.Made = &g
		o.Moved = shifted(o.Shift)
	}
	o.tell(planned)
	return o, nil
}

// went is what went in of a material, with what the scales leave open of it.
func went(d batch.Delivery) glaze.Part {
	p := glaze.Part{Grams: floating(d.Delivered), Spans: map[string]float64{}}
	for _, x := range d.On {
		p.Spans[x.Scale] += floating(x.Span)
	}
	p.U = floating(doubt.Root(doubt.Own(d.U, d.On)))
	return p
}

func floating(m protocol.Mass) float64 {
	f, _ := m.Rat().Float64()
	return f
}

// shifted says what the weighing did to the glaze.
func shifted(all []glaze.Shifted) text.Message {
	for _, s := range all {
		if !s.Sure() {
			continue
		}
		percent, u := s.Percent.Digits()
		_, varies := glaze.Doubted{Analysis: s.Varies}.Digits()
		if s.Lost() {
			return text.New("glaze.shift-lost", text.Name("oxide", s.Oxide), text.Share("percent", signed(percent)), text.Share("u", u), text.Share("varies", varies))
		}
		return text.New("glaze.shift-sure", text.Name("oxide", s.Oxide), text.Share("percent", signed(percent)), text.Share("u", u), text.Share("varies", varies))
	}
	return text.New("glaze.shift-none")
}

// shown is the glaze as made, where it is known, else as planned.
func (o Oxides) shown() glaze.Glaze {
	if o.Made != nil {
		return *o.Made
	}
	return o.Planned
}

// tell adds what a reader should know of the figures.
func (o *Oxides) tell(planned oxides) {
	if len(planned.apart) > 0 {
		o.Words = append(o.Words, text.New("glaze.apart", text.Names("materials", planned.apart)))
	}
	g := o.shown()
	if !g.Fluxed {
		o.Words = append(o.Words, text.New("glaze.no-flux"))
	} else {
		ratio, u := g.SiAl.Digits()
		knao, knaou := g.KNaO.Digits()
		o.Words = append(o.Words, text.New("glaze.ratio", text.Number("ratio", ratio), text.Number("u", u), text.Number("knao", knao), text.Number("knaou", knaou)), text.New("glaze.counted"))
	}
	loss, u := g.Loss.Digits()
	o.Words = append(o.Words, text.New("glaze.loss", text.Share("percent", loss), text.Share("u", u)))
	for _, e := range g.Expansions {
		if e.Outside != nil {
			o.Words = append(o.Words, text.New("glaze.no-expansion", text.Name("set", e.Name), text.Because("why", e.Outside)))
			continue
		}
		o.Words = append(o.Words, text.New("glaze.expansion", text.Name("set", e.Name), text.Name("celsius", e.Range), text.Number("alpha", strconv.FormatFloat(e.Alpha.Value, 'f', 1, 64))))
	}
	var sources []string
	for _, p := range planned.parts {
		if p.Analysis.By != glaze.Chemical {
			sources = append(sources, o.reader.Say(text.New("glaze.own", text.Name("material", p.Analysis.Material), text.Name("source", p.Analysis.Source))))
		}
	}
	if len(sources) > 0 {
		o.Words = append(o.Words, text.New("glaze.rests", text.Name("sources", strings.Join(sources, "; "))))
	}
	o.Words = append(o.Words, text.New("glaze.estimate"))
}

// Told is all that a reader should know of the figures.
func (o Oxides) Told() []text.Message {
	if o.Moved.None() {
		return o.Words
	}
	return append([]text.Message{o.Moved}, o.Words...)
}

// Heads are those of the columns of Rows.
func (o Oxides) Heads() []text.Message {
	heads := []text.Message{text.New("glaze.oxide"), text.New("glaze.planned")}
	if o.Made != nil {
		heads = append(heads, text.New("glaze.made"))
	}
	return append(heads, text.New("glaze.moles"), text.New("glaze.unity"), text.New("glaze.by-weighing"), text.New("glaze.by-analysis"))
}

// Rows are the oxides as planned beside as made: percent of the fired glaze by weight and by
// moles, and moles to one of flux with the two doubts of that. What is not there is empty.
func (o Oxides) Rows() (all [][]string) {
	g := o.shown()
	for _, c := range g.Cells {
		row := []string{c.Name, o.Planned.Cell(c.Name).Percent.String()}
		if o.Made != nil {
			row = append(row, c.Percent.String())
		}
		unity := make([]string, 3)
		if g.Fluxed {
			unity = []string{c.Unity.String(), two(c.Unity.Weighing), two(c.Unity.Analysis)}
		}
		all = append(all, append(append(row, c.Moles.String()), unity...))
	}
	return all
}

// Render draws the oxides, then what is to be known of them.
func (o Oxides) Render(w io.Writer) error {
	var b strings.Builder
	say(&b, o.reader, o.Title)
	b.WriteString("\n")
	t := table{left: []bool{true}}
	t.head(o.reader, o.Heads()...)
	for _, row := range o.Rows() {
		for i := range row {
			row[i] = o.reader.Digits(row[i])
		}
		t.add(row...)
	}
	t.write(&b)
	b.WriteString("\n")
	for _, m := range o.Told() {
		say(&b, o.reader, m)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// two writes a doubt with two figures that count.
func two(u float64) string {
	if u <= 0 {
		return "0"
	}
	return strconv.FormatFloat(u, 'f', max(0, 1-int(math.Floor(math.Log10(u)))), 64)
}

// WriteCSV writes the oxides as RFC 4180: a head, a line for each oxide, lines ended by CR LF,
// a decimal point or, with comma, a decimal comma and semicolons between. What is not there is
// empty.
func (o Oxides) WriteCSV(w io.Writer, comma bool) error {
	c, err := newSheetWriter(w, comma, []string{"oxide", "planned_percent", "planned_u_analysis", "made_percent", "made_u_weighing", "made_u_analysis", "made_unity", "made_unity_u_weighing", "made_unity_u_analysis"})
	if err != nil {
		return err
	}
	f := func(x float64) string { return strconv.FormatFloat(x, 'f', 4, 64) }
	for _, oxide := range glaze.Oxides {
		planned, made := o.Planned.Cell(oxide.Name), glaze.Cell{}
		row := []string{oxide.Name, f(planned.Percent.Value), f(planned.Percent.Analysis), "", "", "", "", "", ""}
		if o.Made != nil {
			made = o.Made.Cell(oxide.Name)
			row = append(row[:3], f(made.Percent.Value), f(made.Percent.Weighing), f(made.Percent.Analysis), f(made.Unity.Value), f(made.Unity.Weighing), f(made.Unity.Analysis))
		}
		if planned.Percent.Value > 0 || made.Percent.Value > 0 {
			_ = c.Write(row)
		}
	}
	c.Flush()
	return c.Error()
}
