// Package plan makes a weigh sheet of what a person wishes for.
//
// A Request is the wish: a recipe, a size, and whatever is out of the ordinary; a
// Series in it asks for a tub that is split into cups. Sheet makes the weigh sheet.
// It reads what a person wrote and leaves the arithmetic to package sheet. The
// scales, the stock and the table of materials are given: nothing here knows the
// bench.
//
// Start with Request in request.go; then series.go (what each cup gets), supply.go
// (which lot each material comes from), water.go (who says how much first water).
package plan

import (
	"maps"
	"math/big"
	"slices"
	"strings"

	"tared/protocol"
	"tared/session/material"
	"tared/session/recipe"
	"tared/session/sheet"
	"tared/session/stock"
	"tared/session/text"
)

// UsualBase is the dry base with which a page begins for a recipe that was never weighed here.
const UsualBase = 750 * protocol.Gram

// Request is a wish for a batch, as a person writes it.
type Request struct {
	Recipe    string            `json:"recipe"`    // text
	Base      string            `json:"base"`      // "750g"; exactly one of Base, Dry, Wet
	Dry       string            `json:"dry"`       //
	Wet       string            `json:"wet"`       // "2l at 1.45"
	Allow     map[string]string `json:"allow"`     // role to share or mass: "base":"1%", "strong":"0.1g"
	Roles     map[string]string `json:"roles"`     // material to role, where the table is wrong
	Container string            `json:"container"` // usual container weight
	Most      string            `json:"most"`      // the largest dry total that is wanted, such as "2kg"; empty: any
	Order     []string          `json:"order"`     // material names
	Aliquot   []string          `json:"aliquot"`   // materials that go in diluted in a carrier
	Water     string            `json:"water"`     // first water: "85%" of everything dry, "none"; empty: as the recipe has it, else by habit
	Habit     string            `json:"-"`         // of the studio, as Water; empty: none
	Confirm   string            `json:"confirm"`   // what a second person confirms, see session.CheckConfirm; empty: as the bench is told to
	Accept    string            `json:"accept"`    // by what a weight is accepted: simple, guarded; empty: as the bench is told to
	Although  []string          `json:"although"`  // materials that are weighed on their scale although it cannot show them
	By        string            `json:"by"`        // operator
	// Materials is the table to look in; nil: the bench's own, or the embedded one.
	Materials *material.Table `json:"-"`
	Series    *Series         `json:"series"` // a series of tests in place of one batch; the size is then left out

	FromStock bool              `json:"from_stock"` // as much as the stock is enough for; the size is then left out
	Lots      map[string]string `json:"lots"`       // material to the mark of its lot, NewMix for none that was kept; else the one opened first that holds enough
	Moist     map[string]string `json:"moist"`      // material to its moisture, "3%" of the whole, before that of its lot
	Short     bool              `json:"short"`      // start although the stock is too small
	// Stock is what lies there; nil: none is kept.
	Stock *stock.Stock `json:"-"`
	// Reader is who reads what the sheet says; nil: who reads English.
	Reader *text.Language `json:"-"`
}

// SheetRequest turns a wish into a request for a sheet on these scales.
func (r Request) SheetRequest(scales []sheet.Scale) (sheet.Request, error) {
	rec, err := recipe.Parse(r.Recipe)
	if err != nil {
		return sheet.Request{}, err
	}
	q := sheet.Request{Recipe: rec, Scales: scales, Order: r.Order, Aliquot: r.Aliquot, Materials: r.Materials, Reader: r.Reader}
	if r.Series == nil && !r.FromStock {
		if q.Size, err = r.size(); err != nil {
			return q, err
		}
	}
	if q.Allow, q.AllowFor, err = sheet.ReadAllow(r.Allow); err != nil {
		return q, err
	}
	if err = r.bands(q.AllowFor, rec); err != nil {
		return q, err
	}
	if q.Water, q.WaterFirst, err = r.water(rec); err != nil {
		return q, err
	}
	for name, role := range r.Roles {
		if !slices.Contains(sheet.Roles, sheet.Role(role)) {
			return q, text.Refuse("plan.role", text.Name("material", name), text.Name("role", role))
		}
		if q.Roles == nil {
			q.Roles = map[string]sheet.Role{}
		}
		q.Roles[name] = sheet.Role(role)
	}
	q.Container, _, err = r.Weights()
	return q, err
}

// bands adds the bands that a user's own materials have, where the wish names none.
func (r Request) bands(to map[string]sheet.Allow, rec recipe.Recipe) error {
	for _, name := range r.names(rec) {
		m, _ := r.Materials.Or().Lookup(name)
		if m.Band == "" || slices.ContainsFunc(slices.Collect(maps.Keys(to)), func(told string) bool { return recipe.Key(told) == recipe.Key(name) }) {
			continue
		}
		_, own, err := sheet.ReadAllow(map[string]string{name: m.Band})
		if err != nil {
			return err
		}
		maps.Copy(to, own)
	}
	return nil
}

// Weights reads the usual weight of the container and the largest dry total that is
// wanted; zero: none was given.
func (r Request) Weights() (container, most protocol.Mass, err error) {
	if r.Container != "" {
		if container, err = protocol.ParseMass(r.Container); err != nil {
			return 0, 0, text.Refuse("plan.container", text.Because("why", err))
		}
	}
	if strings.TrimSpace(r.Most) == "" {
		return container, 0, nil
	}
	if most, err = protocol.ParseMass(r.Most); err != nil {
		return 0, 0, text.Refuse("plan.most", text.Because("why", err))
	}
	if most <= 0 {
		return 0, 0, text.Refuse("plan.most-nothing", text.Name("most", most.String()))
	}
	return container, most, nil
}

func (r Request) size() (z sheet.Size, err error) {
	given := slices.DeleteFunc([]string{r.Base, r.Dry, r.Wet}, func(s string) bool { return strings.TrimSpace(s) == "" })
	if len(given) != 1 {
		return z, text.Refuse("plan.one-size")
	}
	switch {
	case r.Base != "":
		z.Base, err = protocol.ParseMass(r.Base)
	case r.Dry != "":
		z.Dry, err = protocol.ParseMass(r.Dry)
	default:
		z.Wet, err = wet(r.Wet)
	}
	if err != nil {
		return z, text.Refuse("plan.size", text.Because("why", err))
	}
	if z.Wet == nil && z.Base+z.Dry <= 0 {
		return z, text.Refuse("plan.size-nothing", text.Name("size", (z.Base+z.Dry).String()))
	}
	return z, nil
}

// bucketFill is how full a bucket is made, so that it can be stirred and carried: the
// three quarters of the estimate on lmosley.com/pottery, math tips.
var bucketFill = big.NewRat(3, 4)

// wet reads "2l at 1.45", the volume of slip at a specific gravity; "solid 2.6"
// behind it gives the relative density of the dry material. "10l bucket at 1.45" is
// what a bucket of that size takes, three quarters full.
func wet(s string) (*sheet.Wet, error) {
	bad := text.Refuse("plan.wet", text.Name("size", s))
	f := strings.Fields(strings.ToLower(strings.NewReplacer(" l ", "l ", "@", " at ").Replace(s)))
	bucket := len(f) > 1 && f[1] == "bucket"
	if bucket {
		f = append(f[:1], f[2:]...)
	}
	if len(f) != 3 && len(f) != 5 || f[1] != "at" {
		return nil, bad
	}
	num := func(t string) *big.Rat {
		d, err := protocol.ParseHumanDecimal(t)
		if err != nil || d.Neg || d.Coef == 0 {
			return nil
		}
		r, _ := new(big.Rat).SetString(d.String())
		return r
	}
	vol, per := strings.TrimSuffix(f[0], "l"), big.NewRat(1, 1)
	if strings.HasSuffix(f[0], "ml") {
		vol, per = strings.TrimSuffix(f[0], "ml"), big.NewRat(1, 1000)
	}
	w := &sheet.Wet{Litres: num(vol), Gravity: num(f[2])}
	if w.Litres == nil || w.Gravity == nil {
		return nil, bad
	}
	w.Litres.Mul(w.Litres, per)
	if bucket {
		w.Litres.Mul(w.Litres, bucketFill)
	}
	if len(f) == 5 {
		if w.Solid = num(f[4]); f[3] != "solid" || w.Solid == nil {
			return nil, bad
		}
	}
	return w, nil
}

// Sheet plans what is wished for: a batch, or the tub of a series with its cups.
func (r Request) Sheet(scales []sheet.Scale) (sheet.Sheet, error) {
	rule, err := sheet.ReadRule(r.Accept)
	if err != nil {
		return sheet.Sheet{}, err
	}
	sh, err := r.sheet(scales)
	sh.AcceptBy(rule)
	_, most, _ := r.Weights() // it was understood when the sheet was made
	if err != nil || most == 0 || sh.Dry <= most {
		return sh, err
	}
	p := protocol.Apart(sh.Dry, most, sh.SizePlaces(sh.Dry))
	if len(sh.Cups) > 0 {
		return sheet.Sheet{}, text.Refuse("sheet.most-tub", text.Mass("dry", sh.Dry, p), text.Exact("most", most, 0))
	}
	return sheet.Sheet{}, text.Refuse("sheet.most", text.Mass("dry", sh.Dry, p), text.Exact("most", most, 0))
}

func (r Request) sheet(scales []sheet.Scale) (sheet.Sheet, error) {
	q, err := r.SheetRequest(scales)
	if err != nil {
		return sheet.Sheet{}, err
	}
	r.kept(&q)
	return r.supplied(r.names(q.Recipe), func(moist map[string]*big.Rat, base protocol.Mass) (sheet.Sheet, error) {
		q.Moist = moist
		if r.Series != nil {
			return r.series(q, base)
		}
		if base > 0 {
			q.Size = sheet.Size{Base: base}
		}
		return sheet.Plan(q)
	})
}

// Remember adds the roles that people gave to materials before, by recipe.Key. What
// the wish says itself goes before them.
func (r *Request) Remember(roles map[string]string) {
	rec, err := recipe.Parse(r.Recipe)
	if err != nil {
		return // the plan says so
	}
	all := map[string]string{}
	for _, name := range r.names(rec) {
		if role, ok := roles[recipe.Key(name)]; ok {
			all[name] = role
		}
	}
	for name, role := range r.Roles {
		maps.DeleteFunc(all, func(told, _ string) bool { return recipe.Key(told) == recipe.Key(name) })
		all[name] = role
	}
	if len(all) > 0 {
		r.Roles = all
	}
}

// names gives the materials of the recipe, and those that a series may bring beside
// them.
func (r Request) names(rec recipe.Recipe) []string {
	var names []string
	for _, it := range rec.Items {
		names = append(names, it.Name)
	}
	if r.Series == nil {
		return names
	}
	for _, a := range r.Series.Vary {
		names = append(names, a.Material)
	}
	if strings.TrimSpace(r.Series.Swap.In) != "" {
		names = append(names, r.Series.Swap.In)
	}
	return names
}
