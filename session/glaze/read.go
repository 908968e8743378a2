package glaze

import (
	"bytes"
	"encoding/csv"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"tared/protocol"
	"tared/session/plain"
	"tared/session/text"
)

// The most that a file of analyses may hold.
const mostBytes = 1 << 20

// words of the first row that are no oxides.
const (
	wordMaterial = "material"
	wordSource   = "source"
	wordLoss     = "loss"
	wordBasis    = "basis"
)

var alike = map[string]string{"loi": wordLoss, "lossonignition": wordLoss, "l.o.i.": wordLoss, "name": wordMaterial}

// Read reads a table of analyses: a first row with material, source, oxides, and loss; then a
// row a material, in percent of the dry raw weight. A column basis may say fired: then the
// oxides are percent of what the fire leaves, and loss is needed. Comma, semicolon or tab
// between; with a semicolon or a tab a comma may be the decimal sign. All that is wrong is
// reported together, and then nothing is taken.
func Read(r io.Reader) ([]Analysis, error) {
	b, err := plain.Read(r, mostBytes)
	if err != nil {
		return nil, err
	}
	if len(b) > mostBytes {
		return nil, text.Refuse("glaze.file-long")
	}
	c := csv.NewReader(bytes.NewReader(b))
	first, _, _ := bytes.Cut(b, []byte("\n"))
	for _, comma := range []rune{';', '\t'} {
		if bytes.ContainsRune(first, comma) {
			c.Comma = comma
			break
		}
	}
	c.TrimLeadingSpace, c.FieldsPerRecord = true, -1
	rows, err := c.ReadAll()
	if err != nil {
		return nil, text.Refuse("glaze.file", text.Because("why", err))
	}
	if len(rows) < 2 {
		return nil, text.Refuse("glaze.file-empty")
	}
	head, err := readHead(rows[0])
	if err != nil {
		return nil, err
	}
	var all []Analysis
	var errs []error
	for i, row := range rows[1:] {
		if len(row) == 1 && strings.TrimSpace(row[0]) == "" {
			continue
		}
		a, err := head.read(row)
		if err == nil && slices.ContainsFunc(all, func(b Analysis) bool { return strings.EqualFold(a.Material, b.Material) }) {
			err = text.Refuse("glaze.twice", text.Name("material", a.Material))
		}
		if err != nil {
			errs = append(errs, text.Refuse("glaze.row", text.Count("row", i+2), text.Because("why", err)))
		}
		all = append(all, a)
	}
	if len(errs) > 0 {
		return nil, join(errs)
	}
	return all, nil
}

func join(errs []error) error {
	if len(errs) == 1 {
		return errs[0]
	}
	return text.Refuse("glaze.rows", text.Because("first", errs[0]), text.Count("more", len(errs)-1))
}

// heading is what stands in each column: a word, or the name of an oxide.
type heading []string

func readHead(row []string) (heading, error) {
	h := make(heading, len(row))
	for i, cell := range row {
		word := strings.ToLower(strings.ReplaceAll(cell, " ", ""))
		if same, ok := alike[word]; ok {
			word = same
		}
		oxide := strings.TrimSpace(strings.NewReplacer("%", "", "₂", "2", "₃", "3", "₅", "5").Replace(cell))
		switch {
		case word == "":
			continue
		case word == wordMaterial, word == wordSource, word == wordLoss, word == wordBasis, word == "feo":
			h[i] = word
		case named(oxide) >= 0:
			h[i] = Oxides[named(oxide)].Name
		case slices.ContainsFunc(Oxides, func(o Oxide) bool { return strings.EqualFold(o.element, oxide) }):
			return nil, text.Refuse("glaze.element", text.Name("element", oxide))
		default:
			return nil, text.Refuse("glaze.column", text.Name("column", cell))
		}
		if slices.Index(h, h[i]) < i {
			return nil, text.Refuse("glaze.column-twice", text.Name("column", cell))
		}
	}
	if !slices.Contains(h, wordMaterial) {
		return nil, text.Refuse("glaze.no-material")
	}
	return h, nil
}

const ironFromFeO = 1.1113 // Fe2O3 in FeO by weight, from the atomic weights of IUPAC, 2021

func (h heading) read(row []string) (Analysis, error) {
	a := Analysis{By: Own}
	loss, fired, given := math.NaN(), false, 0.0
	ferrous := 0.0
	for i, cell := range row {
		if cell = strings.TrimSpace(cell); cell == "" || i >= len(h) || h[i] == "" {
			continue
		}
		switch h[i] {
		case wordMaterial:
			a.Material = cell
			continue
		case wordSource:
			a.Source = cell
			continue
		case wordBasis:
			if fired = strings.EqualFold(cell, "fired"); !fired && !strings.EqualFold(cell, "raw") {
				return a, text.Refuse("glaze.basis", text.Name("basis", cell))
			}
			continue
		}
		p, err := percent(cell)
		if err != nil {
			return a, text.Refuse("glaze.percent", text.Name("material", a.Material), text.Name("column", h[i]), text.Because("why", err))
		}
		switch h[i] {
		case wordLoss:
			loss = p
		case "feo":
			ferrous = p
		default:
			a.percent[places[h[i]]] = p
			given += p
		}
	}
	iron := &a.percent[places["Fe2O3"]]
	if ferrous > 0 && *iron > 0 {
		return a, text.Refuse("glaze.iron-twice", text.Name("material", a.Material))
	}
	*iron, given = *iron+ferrous*ironFromFeO, given+ferrous
	return a, a.close(given, loss, fired)
}

// close checks the sum and brings what is as fired to the raw weight.
func (a *Analysis) close(given, loss float64, fired bool) error {
	lost := loss
	if math.IsNaN(loss) {
		lost = 0
	}
	total := given
	if !fired {
		total += lost
	}
	switch {
	case a.Material == "":
		return text.Refuse("glaze.no-name")
	case a.Source == "":
		return text.Refuse("glaze.no-source", text.Name("material", a.Material))
	case given == 0:
		return text.Refuse("glaze.nothing", text.Name("material", a.Material))
	case fired && math.IsNaN(loss):
		return text.Refuse("glaze.fired-loss", text.Name("material", a.Material))
	case total > 102 && math.Abs(given-100) <= 2:
		return text.Refuse("glaze.as-fired", text.Name("material", a.Material), text.Share("sum", figure(total)))
	case total > 102:
		return text.Refuse("glaze.over", text.Name("material", a.Material), text.Share("sum", figure(total)))
	case total < 98 && !math.IsNaN(loss):
		return text.Refuse("glaze.short", text.Name("material", a.Material), text.Share("sum", figure(total)))
	}
	if fired {
		for i := range a.percent {
			a.percent[i] *= (100 - lost) / 100
		}
	}
	a.doubt()
	return nil
}

func percent(cell string) (float64, error) {
	d, err := protocol.ParseHumanDecimal(strings.TrimSpace(strings.TrimSuffix(cell, "%")))
	if err != nil {
		return 0, err
	}
	f, err := strconv.ParseFloat(d.String(), 64)
	if err != nil {
		return 0, err
	}
	if f < 0 || f > 100 {
		return 0, text.Refuse("glaze.share", text.Number("percent", d.String()))
	}
	return f, nil
}

func figure(f float64) string { return strconv.FormatFloat(f, 'f', 1, 64) }
