package session

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strconv"
	"strings"
	"time"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/fact"
	"tared/session/recipe"
	"tared/session/sheet"
	"tared/session/stock"
	"tared/session/text"
)

// KeepRequest is something to be kept beside the batches, as a person writes it.
// Exactly one of Lot, Left, Mixed, Correct and Recipe is given.
type KeepRequest struct {
	By      string          `json:"by"`
	Lot     *LotRequest     `json:"lot,omitempty"`
	Left    *LeftRequest    `json:"left,omitempty"`
	Mixed   *MixedRequest   `json:"mixed,omitempty"`
	Correct *CorrectRequest `json:"correct,omitempty"`
	Recipe  *RecipeRequest  `json:"recipe,omitempty"`
}

// LotRequest is a lot that comes into stock.
type LotRequest struct {
	Material string `json:"material"`
	Amount   string `json:"amount"`             // "25kg", as it lies there
	Supplier string `json:"supplier,omitempty"` // the supplier's mark
	Opened   string `json:"opened,omitempty"`   // 2026-11-25; empty: not yet
	Moisture string `json:"moisture,omitempty"` // "3.5%", wet basis
	Price    string `json:"price,omitempty"`    // of a kilogram, "1.20 EUR"
	Words    string `json:"words,omitempty"`
}

// LeftRequest keeps what is left over of a mixture or a solution as a lot.
type LeftRequest struct {
	Batch    string `json:"batch"`              // that it was mixed for
	Material string `json:"material,omitempty"` // that is diluted in it; empty: there is only one
	Amount   string `json:"amount,omitempty"`   // "390g", as it was weighed now; empty: by the record of the batch
	Words    string `json:"words,omitempty"`
}

// MixedRequest keeps a mixture or a solution that was weighed by itself, such as for a series.
type MixedRequest struct {
	Material string `json:"material"` // that is diluted
	Weighed  string `json:"weighed"`  // "8.0g", with all digits that the scale showed
	Carrier  string `json:"carrier"`  // a material, or Water
	Into     string `json:"into"`     // of the carrier, "312.0g"
	Words    string `json:"words,omitempty"`
}

// CorrectRequest corrects a lot; exactly one of the values is given.
type CorrectRequest struct {
	Lot      string `json:"lot"`
	Reason   string `json:"reason"`
	Amount   string `json:"amount,omitempty"` // what is there now: "11.4kg", "0g"
	Moisture string `json:"moisture,omitempty"`
	Price    string `json:"price,omitempty"`
	Opened   string `json:"opened,omitempty"`
	Supplier string `json:"supplier,omitempty"`
}

// RecipeRequest is a recipe, or a new version of one.
type RecipeRequest struct {
	Name  string `json:"name"` // empty: the title in the text
	Text  string `json:"text"`
	Words string `json:"words,omitempty"` // why this version
}

// Receipt tells what was kept.
type Receipt struct {
	Seq     uint64 `json:"seq"`
	Lot     string `json:"lot,omitempty"`
	Name    string `json:"name,omitempty"`
	Version uint64 `json:"version,omitempty"`
}

// Body understands the request, with what is kept already; every fault is refused
// in words that name it.
func (r KeepRequest) Body(s *Workshop) (fact.Body, error) {
	if count(r.Lot != nil, r.Left != nil, r.Mixed != nil, r.Correct != nil, r.Recipe != nil) != 1 {
		return nil, text.Refuse("stock.one-thing")
	}
	if err := signed(r, r.By); err != nil {
		return nil, err
	}
	switch {
	case r.Lot != nil:
		return r.Lot.body(s)
	case r.Left != nil:
		return r.Left.body(s)
	case r.Mixed != nil:
		return r.Mixed.body(s)
	case r.Correct != nil:
		return r.Correct.body(s)
	}
	return r.Recipe.body(s)
}

func (w LotRequest) body(s *Workshop) (fact.Body, error) {
	if err := texts("note", map[string]*string{"material": &w.Material, "supplier": &w.Supplier, "note": &w.Words}); err != nil {
		return nil, err
	}
	f := fact.Stocked{Lot: s.Stock.Next(s.epochs.sign), Material: w.Material, Supplier: w.Supplier, Words: w.Words}
	if f.Material == "" {
		return nil, text.Refuse("stock.material")
	}
	var err error
	if f.Amount, err = lotAmount(w.Amount); err != nil {
		return nil, err
	}
	if f.Amount == 0 {
		return nil, text.Refuse("stock.amount-zero")
	}
	if f.Moisture, err = moisture(w.Moisture); err != nil {
		return nil, err
	}
	if f.Price, f.Currency, err = price(w.Price); err != nil {
		return nil, err
	}
	if f.Opened, err = day(w.Opened); err != nil {
		return nil, err
	}
	return f, nil
}

func (w LeftRequest) body(s *Workshop) (fact.Body, error) {
	if err := texts("note", map[string]*string{"note": &w.Words}); err != nil {
		return nil, err
	}
	all, err := s.Stock.Remnants(strings.TrimSpace(w.Batch))
	if err != nil {
		return nil, err
	}
	var names []string
	for _, r := range all {
		names = append(names, r.Material)
	}
	if strings.TrimSpace(w.Material) != "" {
		all = slices.DeleteFunc(all, func(r stock.Remnant) bool { return recipe.Key(r.Material) != recipe.Key(w.Material) })
	}
	if len(all) != 1 {
		return nil, text.Refuse("stock.left-which", text.Name("batch", w.Batch), text.Names("materials", names))
	}
	c := all[0].Content
	f := fact.Stocked{Lot: s.Stock.Next(s.epochs.sign), Material: stock.Name(c), Amount: all[0].Left, Words: w.Words, Content: &c}
	if strings.TrimSpace(w.Amount) == "" {
		return f, nil
	}
	if f.Amount, err = lotAmount(w.Amount); err != nil {
		return nil, err
	}
	mixed := c.Parts[0].Mass + c.Parts[1].Mass
	if f.Amount <= 0 || f.Amount > mixed {
		return nil, text.Refuse("stock.left-amount", text.Exact("amount", f.Amount, 0), text.Exact("mixed", mixed, 0))
	}
	return f, nil
}

func (w MixedRequest) body(s *Workshop) (fact.Body, error) {
	if err := texts("note", map[string]*string{"material": &w.Material, "carrier": &w.Carrier, "note": &w.Words}); err != nil {
		return nil, err
	}
	if w.Material == "" || w.Carrier == "" || recipe.Key(w.Material) == recipe.Key(w.Carrier) {
		return nil, text.Refuse("stock.mix-what")
	}
	c, x := fact.Content{}, sheet.Mixing
	if recipe.Key(w.Carrier) == recipe.Key(sheet.WaterName) {
		w.Carrier, x = sheet.WaterName, sheet.Dissolved
	}
	c.Mixing = x.RatString()
	for _, p := range []struct{ name, typed string }{{w.Material, w.Weighed}, {w.Carrier, w.Into}} {
		t, err := typedMass(text.New("field.weight"), p.typed)
		if err != nil {
			return nil, err
		}
		if t.Mass > stock.Most {
			return nil, text.Refuse("stock.amount-most", text.Name("amount", p.typed), text.Exact("most", stock.Most, 0))
		}
		c.Parts = append(c.Parts, fact.MixPart{Material: p.name, Mass: t.Mass, U: doubt.Scale{Step: t.Step}.U(t.Mass)})
	}
	return fact.Stocked{Lot: s.Stock.Next(s.epochs.sign), Material: stock.Name(c), Amount: c.Parts[0].Mass + c.Parts[1].Mass, Words: w.Words, Content: &c}, nil
}

func (w CorrectRequest) body(s *Workshop) (fact.Body, error) {
	l, ok := s.Stock.Find(w.Lot)
	if !ok {
		return nil, text.Refuse("stock.no-lot", text.Name("lot", w.Lot))
	}
	if err := texts("reason", map[string]*string{"reason": &w.Reason, "supplier": &w.Supplier}); err != nil {
		return nil, err
	}
	if w.Reason == "" {
		return nil, text.Refuse("stock.reason", text.Name("lot", l.Mark))
	}
	if count(w.Amount != "", w.Moisture != "", w.Price != "", w.Opened != "", w.Supplier != "") != 1 {
		return nil, text.Refuse("stock.one-correction", text.Name("lot", l.Mark))
	}
	f := fact.Corrected{Lot: l.Mark, Reason: w.Reason}
	var err error
	switch {
	case w.Amount != "":
		f.Field, f.Was = "amount", l.Left
		if f.Is, err = lotAmount(w.Amount); err != nil {
			return nil, err
		}
	case w.Moisture != "":
		f.Field, f.Old = "moisture", l.Moisture
		f.New, err = moisture(w.Moisture)
	case w.Price != "":
		f.Field, f.Old = "price", strings.TrimSpace(l.Price+" "+l.Currency)
		var p, c string
		p, c, err = price(w.Price)
		f.New = strings.TrimSpace(p + " " + c)
	case w.Opened != "":
		f.Field, f.Old = "opened", l.Opened
		f.New, err = day(w.Opened)
	default:
		f.Field, f.Old, f.New = "supplier", l.Supplier, w.Supplier
	}
	if err != nil {
		return nil, err
	}
	if f.Old == f.New && f.Was == f.Is {
		return nil, text.Refuse("stock.same", text.Name("lot", l.Mark), text.Name("field", f.Field))
	}
	return f, nil
}

func (w RecipeRequest) body(s *Workshop) (fact.Body, error) {
	rec, err := recipe.Parse(w.Text)
	if err != nil {
		return nil, err
	}
	if w.Name == "" {
		w.Name = rec.Title
	}
	if err := texts("note", map[string]*string{"name": &w.Name, "note": &w.Words}); err != nil {
		return nil, err
	}
	switch {
	case w.Name == "":
		return nil, text.Refuse("stock.recipe-unnamed")
	case strings.ContainsAny(w.Name, "\r\n\t:@"):
		return nil, text.Refuse("stock.recipe-name", text.Name("name", strconv.Quote(w.Name)))
	}
	sum := sha256.Sum256([]byte(w.Text))
	f := fact.Recipe{Name: w.Name, Version: 1, Text: w.Text, Hash: hex.EncodeToString(sum[:]), Words: w.Words}
	if k, ok := s.Recipes.Find(w.Name); ok {
		last := k.Newest()
		if last.Hash == f.Hash {
			return nil, text.Refuse("stock.recipe-same", text.Name("name", k.Name), text.Number("version", entryNumber(last.Number)))
		}
		f.Name, f.Version = k.Name, last.Number+1
	}
	return f, nil
}

func lotAmount(s string) (protocol.Mass, error) {
	m, err := protocol.ParseMass(s)
	switch {
	case err != nil:
		return 0, text.Refuse("stock.amount", text.Because("why", err))
	case m < 0:
		return 0, text.Refuse("stock.amount-negative")
	case m > stock.Most:
		return 0, text.Refuse("stock.amount-most", text.Name("amount", s), text.Exact("most", stock.Most, 0))
	}
	return m, nil
}

// moisture reads percent of the whole; "" and nothing are both dry.
func moisture(s string) (string, error) {
	if strings.TrimSpace(s) == "" {
		return "", nil
	}
	r, err := sheet.ReadMoisture(s)
	if err != nil {
		return "", err
	}
	if r.Sign() == 0 {
		return "", nil
	}
	return decimals(r, 6), nil
}

// price reads "1.20 EUR" or "1.20".
func price(s string) (amount, currency string, err error) {
	f := strings.Fields(strings.TrimSuffix(strings.TrimSpace(s), "/kg"))
	if len(f) == 0 {
		return "", "", nil
	}
	d, err := protocol.ParseHumanDecimal(f[0])
	if err != nil || d.Neg || len(f) > 2 || len(s) > 40 {
		return "", "", text.Refuse("stock.price", text.Name("price", s))
	}
	if len(f) == 2 {
		currency = f[1]
	}
	return d.String(), currency, words(text.New("field.currency"), currency, 10)
}

// day reads a date; "today" is for whoever calls.
func day(s string) (string, error) {
	s = strings.TrimSpace(s)
	if s == "" {
		return "", nil
	}
	if _, err := time.Parse(time.DateOnly, s); err != nil {
		return "", text.Refuse("stock.day", text.Name("day", s))
	}
	return s, nil
}

func receipt(f fact.Fact) Receipt {
	r := Receipt{Seq: f.Seq}
	switch v := f.Body.(type) {
	case fact.Stocked:
		r.Lot = v.Lot
	case fact.Corrected:
		r.Lot = v.Lot
	case fact.Recipe:
		r.Name, r.Version = v.Name, v.Version
	}
	return r
}
