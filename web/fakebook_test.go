package web

import (
	"context"
	"fmt"
	"strings"
	"time"

	"tared/protocol"
	"tared/session/book"
	"tared/session/curve"
	"tared/session/glaze"
	"tared/session/label"
	"tared/session/recipe"
	"tared/session/text"
)

// fakeBook is an invented record. Photo is the name of a photograph of its series.
type fakeBook struct {
	photo    string
	checking int
	unread   int // percent
}

// grams is an amount with the digits as written.
func grams(s string) book.Amount {
	m, err := protocol.ParseMass(strings.TrimPrefix(s, "+") + "g")
	if err != nil {
		panic(err)
	}
	_, decimals, _ := strings.Cut(s, ".")
	return book.Amount{Mass: m, Places: len(decimals)}
}

func at(clock string) time.Time {
	t, err := time.Parse(time.RFC3339, clock)
	if err != nil {
		panic(err)
	}
	return t
}

func (fakeBook) Batches(_ context.Context, find string, _ book.Order, _, _ int) ([]book.Row, int, error) {
	switch find {
	case "nowhere":
		return nil, 0, nil
	case "quartz >":
		return nil, 0, &text.Refusal{Message: text.Written("no amount stands behind >")}
	}
	rows := invented()
	return rows, len(rows), nil
}

func (fakeBook) Older(_ context.Context, _, before string, most int) ([]book.Row, int, error) {
	rows := invented()
	for i, r := range rows {
		if before == r.Mark {
			rows, before = rows[i+1:], ""
			break
		}
	}
	if before != "" {
		return nil, 0, ErrNoBatch
	}
	return rows[:min(most, len(rows))], len(rows), nil
}

func invented() []book.Row {
	return []book.Row{rowA(), rowB(), {Mark: "d261120", Title: "Caldera, matt, cone 6", By: "Ilse", State: book.Finished, Started: at("2026-11-20T10:00:00Z"), Finished: at("2026-11-20T10:31:00Z"), Base: grams("500.0"), Done: 5, Of: 5}}
}

func (b fakeBook) Behind() (lines, read int) { return b.checking, 100 - b.unread }

func rowA() book.Row {
	return book.Row{Mark: "a261125", Title: "Tidewrack, satin, cone 6 oxidation", By: "Mara", State: book.Open, Started: at("2026-11-25T13:40:00Z"), Base: grams("750.0"), Done: 2, Of: 7, Off: 1, Simulated: true}
}

func rowB() book.Row {
	return book.Row{Mark: "c261124", Title: "Tidewrack, satin, cone 6 oxidation", By: "Ilse", State: book.Finished, Started: at("2026-11-24T09:12:00Z"), Finished: at("2026-11-24T09:51:00Z"), Base: grams("750.0"), Done: 7, Of: 7, Off: 1}
}

func (fakeBook) Oxides(_ context.Context, mark string) (book.Oxides, error) {
	if mark != "c261124" {
		return book.Oxides{}, noBatch(mark)
	}
	r, err := recipe.Parse("# Tidewrack\nPotash feldspar 40\nKaolin 10\nWhiting 20\nQuartz 30\n+ Copper carbonate 1.2\n")
	if err != nil {
		panic(err)
	}
	o, err := book.OxidesOf(r, glaze.Shelf{})
	made := o.Planned
	o.Made, o.Moved = &made, text.New("glaze.shift-none")
	return o, err
}

func (fakeBook) Batch(_ context.Context, mark string) (book.Made, error) {
	if mark != "c261124" && mark != "a261125" && mark != "d261120" {
		return book.Made{}, noBatch(mark)
	}
	line := func(material, role, scale, target, low, high, delivered, deviation string, bands int, u, planned, share, verdict string) book.Line {
		l := book.Line{Material: material, Role: role, Scale: scale, Target: grams(target), Low: grams(low), High: grams(high), Bands: bands, Planned: planned, Share: share, Verdict: verdict}
		if delivered != "" {
			l.Delivered, l.Deviation, l.U, l.Portions = grams(delivered), grams(deviation), grams(u), 1
		}
		return l
	}
	told := func(seq uint64, when, kind, by, words string) book.RecordEntry {
		return book.RecordEntry{Seq: seq, At: at(when), Kind: kind, By: by, Words: words}
	}
	was, is := grams("9.3"), grams("9.03")
	copper := line("Copper carbonate", "strong", "fine", "9.00", "8.82", "9.18", "9.03", "+0.03", 166, "0.013", "1.2", "1.204", "in")
	copper.As, copper.AtClosing, copper.ShareAtClosing = "Copper carbonate, second jar", &was, "1.240"
	copper.Corrected = []string{"entry 5 was 9.3 g, is 9.03 g; Jonas, 2026-11-30 08:00 +00:00: two digits swapped"}
	return book.Made{Row: rowB(), Recipe: tidewrack,
		Lines: []book.Line{
			line("Nepheline syenite", "base", "bench", "307.5", "304.5", "310.5", "307.3", "-0.2", -66, "0.13", "41", "40.96", "in"),
			line("Quartz", "base", "bench", "180.0", "178.2", "181.8", "182.4", "+2.4", 1333, "0.13", "24", "24.312", "over"),
			line("Whiting", "base", "bench", "127.5", "126.3", "128.7", "127.2", "-0.3", -250, "0.13", "17", "16.954", "in"),
			line("Ball clay", "base", "bench", "90.0", "89.1", "90.9", "88.2", "-1.8", -2000, "0.13", "12", "11.756", "under"),
			line("Zinc oxide", "base", "bench", "45.0", "44.6", "45.4", "45.1", "+0.1", 250, "0.13", "6", "6.011", "in"),
			line("Tin oxide", "addition", "bench", "30.0", "29.4", "30.6", "", "", 0, "", "4", "", "skipped"),
			copper,
		},
		Pours: []book.Pour{
			{Seq: 4, Material: "Nepheline syenite", Scale: "bench", Before: grams("519.7"), After: grams("212.4"), Delivered: grams("307.3"), Target: grams("307.5"), Low: grams("304.5"), High: grams("310.5"), U: grams("0.13"),
				Verdict: "in", Raw: []string{"ST,GS,+  519.7  g", "ST,GS,+  212.4  g"}, Trace: "0.0:0.0 4.0:120.4 9.5:250.1 12.0:300.8 14.0:307.3"},
			{Seq: 5, By: "Ilse", How: "typed", Material: "Copper carbonate", As: "Copper carbonate, second jar", Delivered: was, Is: &is, U: grams("0.13"), Verdict: "in",
				Correction: &book.Correction{Seq: 43, At: at("2026-11-30T08:00:00Z"), By: "Jonas", Reason: "two digits swapped", Typed: true, U: grams("0.013")}},
		},
		Facts: []book.RecordEntry{
			told(1, "2026-11-24T09:12:00Z", "planned", "Ilse", "Planned 750 g of base, 789 g dry, seven materials on two scales."),
			told(2, "2026-11-24T09:12:31Z", "reminded", "Ilse", "Mask on and ventilation running: yes."),
			told(3, "2026-11-24T09:13:02Z", "tared", "scale", "A container of 212.4 g on the bench scale counts as zero."),
			told(4, "2026-11-24T09:14:40Z", "portion", "Ilse", "307.3 g of Nepheline syenite went in: in the band of 304.5 to 310.5 g."),
			told(5, "2026-11-24T09:18:07Z", "overpoured", "scale", "182.4 g of Quartz was tipped, 2.4 g over the target."),
			told(6, "2026-11-24T09:18:31Z", "decided", "Mara", "Keep it and note the deviation."),
			told(19, "2026-11-24T09:51:00Z", "finished", "Ilse", "The batch is complete."),
			told(43, "2026-11-30T08:00:00Z", "amended", "Jonas", "Amended: entry 5 (Copper carbonate) was 9.30 g and is 9.03 g, typed (± 0.013 g). Reason: two digits swapped."),
		},
		Words: []string{"Quartz is 1.3 % over and stands as a deviation.", "Tin oxide was left out."},
		Hash:  "3f6a1c9d2be84c0f8e17a5d2f0b96c41d7e3a8805b1f9ce2647d90ab35c8e174",
		Check: []string{"Each line of journal.jsonl holds the SHA-256 of the line before it, as bytes.", "sed -n 19p journal.jsonl | tr -d '\\n' | sha256sum gives the closing hash above."},
	}, nil
}

func (b fakeBook) Compare(ctx context.Context, marks ...string) (book.Comparison, error) {
	rows := []book.Row{}
	for k, m := range marks {
		if _, err := b.Batch(ctx, m); err != nil {
			return book.Comparison{}, err
		}
		rows = append(rows, []book.Row{rowA(), rowB()}[k%2])
	}
	c := book.Comparison{Batches: rows, Explains: true, Verdict: "The nepheline syenite differs by 0.03 to 0.07 % of the base, less of it in c261124: it can.",
		Causes: []book.Cause{{Words: "The nepheline syenite differs by 0.03 to 0.07 % of the base, less of it in c261124: it can explain a difference."},
			{Words: "They were fired to other cones: 6 in a261125, 7 in c261124."}},
		Notes: []string{"Not recorded, so not compared: the gravity (of a261125)."}}
	for _, l := range []book.Against{
		{Material: "Nepheline syenite", Differs: true, Cells: []book.Cell{{In: true, Share: "41.010", U: "0.014"}, {In: true, Share: "40.960", U: "0.014", Less: "-0.050", JointU: "0.020", Differs: true}}},
		{Material: "Quartz", Cells: []book.Cell{{In: true, Share: "24.310", U: "0.018"}, {In: true, Share: "24.312", U: "0.018", Less: "+0.002", JointU: "0.025"}}},
		{Material: "Tin oxide", Addition: true, Differs: true, Cells: []book.Cell{{In: true, Share: "4.000", U: "0.020"}, {}}},
	} {
		for len(l.Cells) < len(rows) {
			l.Cells = append(l.Cells, l.Cells[len(l.Cells)%2])
		}
		c.Lines = append(c.Lines, l)
	}
	return c, nil
}

// Series is one of two additions, of which one tile has a photograph, and one a
// photograph that is lost.
func (b fakeBook) Series(_ context.Context, mark string) (book.Series, error) {
	if mark != "260302a" {
		return book.Series{}, noBatch(mark)
	}
	s := book.Series{Mark: "260302a", Title: "Bath blue (invented)", Axes: []string{"Cobalt carbonate", "Rutile"},
		Grids: []book.Grid{{Cols: []string{"0.25", "0.5", "1"}, Rows: []string{"0", "4"}}}}
	for y := range 2 {
		var row []book.Spot
		for x := range 3 {
			row = append(row, book.Spot{Cup: fmt.Sprintf("260302a-%d", 3*y+x+1), State: book.Finished, Label: "x", Made: []string{"0.251", "4.003"}, Photos: []string{}})
		}
		s.Grids[0].Cells = append(s.Grids[0].Cells, row)
	}
	c := s.Grids[0].Cells
	c[0][0].Photos, c[0][0].Tile, c[0][0].Words = []string{b.photo}, "KD-A", `<b onclick="x">even</b> blue, a little thin over the edges`
	c[0][1].Photos, c[0][1].Tile = []string{strings.Repeat("0", 64) + ".jpg"}, "KD-C"
	c[1][2] = book.Spot{Label: "Cobalt carbonate 1 %, Rutile 4 %", Photos: []string{}}
	c[1][1] = book.Spot{Photos: []string{}}
	return s, nil
}

// Label is an empty sheet.
func (b fakeBook) Label(ctx context.Context, mark, sheet, _, link string) (string, error) {
	if _, err := b.Batch(ctx, mark); err != nil {
		return "", err
	}
	l := label.Label{Reader: text.From(ctx), Mark: mark, Title: "Tidewrack, satin, cone 6 oxidation", Date: "2026-11-24", Hash: "3f6a 1c9d 2be8 4c0f", Link: link + "book/" + mark + "#3f6a1c9d2be84c0f",
		Lines:   []string{"+ Tin oxide 4.023 %", "+ Copper carbonate 1.204 %"},
		Hazards: []string{"Keep this wording as long as an official sentence is, for it must be broken and still be whole: Nepheline syenite, Quartz, Ball clay", "H302: Copper carbonate"}, Tiles: label.Marks("", 3, 6)}
	paper := label.A4
	sheet, letter := strings.CutSuffix(sheet, " letter")
	if letter {
		paper = label.Letter
	}
	var width, height float64
	if n, _ := fmt.Sscanf(sheet, "%gx%gmm", &width, &height); n == 2 && strings.HasSuffix(sheet, "mm") {
		return l.SheetOf(paper, width, height, 0)
	}
	return l.Sheet(paper, int(width), int(height), 0)
}

// After is what an invented batch has behind it.
func (fakeBook) After(_ context.Context, mark, wanted string) (book.After, error) {
	if wanted == "x" {
		return book.After{}, &text.Refusal{Message: text.Written("gravity wanted: not a number")}
	}
	c, err := curve.Parse("0,20\n60,400\n120,900\n200,1222\n400,300")
	if err != nil {
		return book.After{}, err
	}
	at := time.Date(2026, 11, 24, 18, 0, 0, 0, time.UTC)
	a := book.After{Due: "It stands in its water since 18:00 on 24 November. Stir and measure it on the next day: it thickens overnight.",
		Water: book.Reckoning{Disagree: true, Words: []string{"The two disagree: 279.2 g more water is in it than was weighed in."}},
		Entries: []book.Entry{
			{Seq: 40, At: at, By: "Mara", Kind: "watered", Words: "900 g of water went in.", Void: true},
			{Seq: 41, At: at, By: "Jonas", Kind: "fired", Words: "Fired in the small kiln to cone 6.", Curve: c.SVG(nil), Notes: []string{"Nothing is known of the kiln from minute 200 to minute 400."}},
			{Seq: 42, At: at, By: "Mara", Kind: "judged", Words: `Tile KD-A; <img src=x onerror="document.title='run'">.`, Tile: "KD-A",
				Photos: []string{strings.Repeat("a", 64) + ".jpg", strings.Repeat("b", 64) + ".png"}},
		}}
	if wanted != "" {
		a.Water.Words = append(a.Water.Words, "222.4 g of water brings it to a gravity of "+wanted+".")
	}
	return a, nil
}

// Was knows no entry.
func (fakeBook) Amendable(context.Context, string, uint64) book.Amendable { return book.Amendable{} }

// noBatch is what the book says of a batch that is not there.
func noBatch(mark string) error {
	return text.Kind(ErrNoBatch, text.Refuse("entry.no-batch", text.Name("batch", mark)))
}
