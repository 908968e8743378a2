package book

import (
	"cmp"
	"fmt"
	"io"
	"math/big"
	"slices"
	"strings"

	"tared/session/doubt"
	"tared/session/text"
)

// RenderList draws the list of batches, in the order given and a language; nil: in English.
func RenderList(w io.Writer, rows []Row, l *text.Language) error {
	var b strings.Builder
	if len(rows) == 0 {
		b.WriteString(l.Say(text.New("record.none")) + "\n")
	}
	t := table{left: []bool{true, true, true, true, true}}
	for i, r := range rows {
		if i == 0 {
			t.head(l, text.New("record.col-batch"), text.New("record.col-started"), text.New("record.col-by"), text.New("record.col-state"), text.New("record.col-worst"),
				text.New("record.col-base"), text.New("record.col-done"), text.New("record.col-out"), text.New("record.col-title"))
			t.left = append(t.left, false, false, false, true)
		}
		title := clean(r.Title)
		if r.Simulated {
			title += " " + l.Say(text.New("record.col-simulated"))
		}
		if r.Amended > 0 {
			title += " " + l.Say(text.New("record.col-amended"))
		}
		t.add(clean(r.Mark), when(r.Started), clean(r.By), stateWords(r.State, l), cmp.Or(verdictWords(r.Worst, l), "-"), l.Digits(r.Base.String()),
			fmt.Sprintf("%d/%d", r.Done, r.Of), fmt.Sprint(r.Off), title)
	}
	t.write(&b)
	_, err := io.WriteString(w, b.String())
	return err
}

// Render draws a batch as made beside as planned, with its facts in order.
func (m Made) Render(w io.Writer) error {
	b := &strings.Builder{}
	m.renderHead(b)
	m.renderLines(b)
	if len(m.Words) > 0 {
		b.WriteByte('\n')
	}
	for _, s := range m.Words {
		b.WriteString(clean(s) + "\n")
	}
	if len(m.Changes) > 0 {
		m.renderChanges(b)
	}
	m.renderFacts(b)
	if m.Hash != "" {
		b.WriteString("\n")
		say(b, m.reader, text.New("record.hash", text.Name("short", Short(m.Hash)), text.Name("hash", m.Hash)))
		for _, s := range m.Check {
			b.WriteString(s + "\n")
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// say writes a message as a line, in a language.
func say(b *strings.Builder, l *text.Language, m text.Message) {
	b.WriteString(clean(l.Say(m)) + "\n")
}

func (m Made) renderHead(b *strings.Builder) {
	say(b, m.reader, text.New("record.title", text.Name("batch", m.Mark), text.Name("title", m.Title)))
	say(b, m.reader, m.Course())
	say(b, m.reader, text.New("record.size-planned", text.Mass("base", m.Base.Mass, m.Base.Places), text.Mass("dry", m.Dry.Mass, m.Dry.Places)))
	if m.Enlarged != nil && m.GrownDry != nil {
		say(b, m.reader, text.New("record.size-enlarged", text.Mass("base", m.Enlarged.Mass, m.Enlarged.Places), text.Mass("dry", m.GrownDry.Mass, m.GrownDry.Places)))
	}
	sum := new(big.Int)
	for _, l := range m.Lines {
		sum = doubt.AddSquare(sum, l.U.Mass)
	}
	places := doubt.RootUp(new(big.Rat).SetInt(sum)).Digits()
	base, dry := min(places, m.MadeBase.Places), min(places, m.MadeDry.Places)
	if slices.ContainsFunc(m.Lines, Line.Unknown) {
		say(b, m.reader, text.New("record.size-made-least", text.Mass("base", m.MadeBase.Mass, base), text.Mass("dry", m.MadeDry.Mass, dry)))
	} else {
		say(b, m.reader, text.New("record.size-made", text.Mass("base", m.MadeBase.Mass, base), text.Mass("dry", m.MadeDry.Mass, dry)))
	}
	b.WriteString("\n")
}

// Course tells when the batch was weighed, and by whom.
func (m Made) Course() text.Message {
	started, by := when(m.Started), cmp.Or(m.By, "?")
	switch m.State {
	case Open:
		return text.New("record.started", text.Name("started", started), text.Name("by", by))
	case Abandoned:
		return text.New("record.started-closed", text.Name("started", started), text.Name("by", by), text.Name("closed", when(m.Finished)))
	}
	return text.New("record.started-finished", text.Name("started", started), text.Name("by", by), text.Name("finished", when(m.Finished)))
}

func (m Made) renderLines(b *strings.Builder) {
	t := table{left: []bool{true, true, true, 13: true}}
	t.head(m.reader, text.New("record.col-material"), text.New("record.col-role"), text.New("record.col-scale"), text.New("record.col-target"), text.New("record.col-band"),
		text.New("record.col-made"), text.New("record.col-off"), text.New("record.col-off-percent"), text.New("record.col-u"), text.New("record.of-band"),
		text.New("record.col-recipe"), text.New("record.col-share"), text.New("record.col-share-u"), text.New("record.col-verdict"))
	for _, l := range m.rows() {
		off, percent, u, of, shareU := l.Deviation.Signed(), l.PercentShown(), l.U.Doubt(), l.BandsShown(), l.DoubtShown()
		made, share := weighedOf(l, m.reader), l.ShareShown()
		if !l.Weighed() {
			off, percent, u, of, shareU, share = "", "", "", "", "", ""
			if !l.Unknown() {
				made = "-"
			}
		} else if l.Beyond {
			off += " !"
		} else {
			off += "  "
		}
		verdict := cmp.Or(verdictWords(l.VerdictWord(), m.reader), "-")
		if len(l.Words) > 0 {
			verdict += ": " + clean(strings.Join(l.Words, "; "))
		}
		band := m.reader.Say(text.New("record.col-from-to", text.Number("low", l.Low.String()), text.Number("high", l.High.String())))
		row := []string{clean(l.Material), cmp.Or(l.Role, "-"), clean(l.Scale), l.Target.String(), band, made, off, percent, u, of, l.Planned, share, shareU, verdict}
		for i := range row[3:13] { // the figures
			row[3+i] = m.reader.Digits(row[3+i])
		}
		t.add(row...)
	}
	t.write(b)
	if m.Water != nil {
		say(b, m.reader, text.New("record.legend-water"))
	} else {
		say(b, m.reader, text.New("record.legend"))
	}
}

func (m Made) renderChanges(b *strings.Builder) {
	b.WriteString("\n" + m.reader.Say(text.New("record.changes")) + "\n")
	t := table{left: []bool{false, true, true, true}}
	for _, c := range m.Changes {
		late := ""
		if c.Late {
			late = " " + m.reader.Say(text.New("record.late"))
		}
		what := c.Material
		if c.Field != "" {
			what = strings.TrimSpace(what + " " + c.Field)
		}
		t.add(fmt.Sprint(c.Of), clean(what), clean(c.Old+" -> "+c.New), clean(cmp.Or(c.By, "?")+", "+when(c.At)+": "+c.Reason)+late)
	}
	t.write(b)
}

func (m Made) renderFacts(b *strings.Builder) {
	b.WriteString("\n" + m.reader.Say(text.New("record.facts")) + "\n")
	facts := table{left: []bool{false, true, true, true}}
	for _, f := range m.Facts {
		words := f.Words
		if f.Void {
			words = m.reader.Say(text.New("record.struck-by", text.Names("entries", seqs(f.AmendedBy)))) + " " + words
		} else if len(f.AmendedBy) > 0 {
			words = m.reader.Say(text.New("record.amended-by", text.Names("entries", seqs(f.AmendedBy)))) + " " + words
		}
		at := f.At.Format("15:04:05")
		if day := f.At.Format("2006-01-02"); day != m.Started.Format("2006-01-02") {
			at = day + " " + at // a correction or a firing, weeks later
		}
		facts.add(fmt.Sprint(f.Seq), at, clean(f.By), clean(words))
	}
	facts.write(b)
}

func seqs(ns []uint64) (s []string) {
	for _, n := range ns {
		s = append(s, fmt.Sprint(n))
	}
	return s
}

// Render draws the comparison.
func (c Comparison) Render(w io.Writer) error {
	var b strings.Builder
	t := table{left: []bool{true}}
	head := []string{c.reader.Say(text.New("compare.head"))}
	wide := len(c.Batches) < 4 // more do not fit beside each other with all doubts
	columns := func(row []string, share, u, less, joint string, first bool) []string {
		row = append(row, share)
		if wide {
			row = append(row, u)
		}
		if !first {
			row = append(row, less)
		}
		if wide && !first {
			row = append(row, joint)
		}
		return row
	}
	for k, r := range c.Batches {
		less := c.reader.Say(text.New("record.col-less-of", text.Name("batch", clean(c.Batches[0].Mark))))
		if !wide {
			less = c.reader.Say(text.New("record.col-less"))
		}
		head = columns(head, clean(r.Mark), "±", less, "±", k == 0)
	}
	t.add(head...)
	for _, l := range c.Lines {
		name := clean(l.Material)
		if l.Addition {
			name = "+ " + name
		}
		row := []string{name}
		for k, x := range l.Cells {
			d := c.reader.Digits
			share, u, less, ju := d(x.ShareShown()), d(x.DoubtShown()), d(x.LessShown()), d(x.JointShown())
			if share == "" {
				share = "-"
			}
			switch {
			case less == "":
			case x.Differs:
				less += " !"
			default:
				less += "  "
			}
			row = columns(row, share, u, less, ju, k == 0)
		}
		t.add(row...)
	}
	t.write(&b)
	line := func(m text.Message) { b.WriteString(clean(c.reader.Say(m)) + "\n") }
	if !wide {
		line(text.New("compare.legend-less", text.Name("batch", c.Batches[0].Mark)))
	}
	line(text.New("compare.legend"))
	if c.Verdict != "" {
		b.WriteString("\n")
		line(text.New("compare.question"))
		b.WriteString(clean(c.Verdict) + "\n")
	}
	if len(c.Causes) > 0 {
		b.WriteString("\n")
		line(text.New("compare.causes"))
	}
	for i, x := range c.Causes {
		fmt.Fprintf(&b, "%3d  %s\n", i+1, clean(x.Words))
	}
	if len(c.Notes) > 0 {
		b.WriteString("\n")
	}
	for _, s := range c.Notes {
		b.WriteString(clean(s) + "\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}
