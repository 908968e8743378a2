package session

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math/big"
	"slices"
	"strings"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/material"
	"tared/session/question"
	"tared/session/recipe"
	"tared/session/sheet"
	"tared/session/text"
)

// Request turns a wish into a request for a sheet on these scales.
func (r PlanRequest) Request(scales []sheet.Scale) (sheet.Request, error) {
	rec, err := recipe.Parse(r.Recipe)
	if err != nil {
		return sheet.Request{}, err
	}
	q := sheet.Request{Recipe: rec, Scales: scales, Order: r.Order, Aliquot: r.Aliquot, Materials: r.Materials}
	if r.Series == nil && !r.FromStock {
		if q.Size, err = r.size(); err != nil {
			return q, err
		}
	}
	if q.Allow, q.AllowFor, err = batch.Allowed(r.Allow); err != nil {
		return q, err
	}
	if q.Water, q.WaterFirst, err = r.water(rec); err != nil {
		return q, err
	}
	for name, role := range r.Roles {
		if !slices.Contains([]sheet.Role{sheet.Base, sheet.Addition, sheet.Strong}, sheet.Role(role)) {
			return q, fmt.Errorf("role %q of %s: want base, addition or strong", role, name)
		}
		if q.Roles == nil {
			q.Roles = map[string]sheet.Role{}
		}
		q.Roles[name] = sheet.Role(role)
	}
	if q.Container, err = r.container(); err != nil {
		return q, err
	}
	if _, err = r.most(); err != nil {
		return q, err
	}
	return q, nil
}

func (r PlanRequest) container() (m protocol.Mass, err error) {
	if r.Container == "" {
		return 0, nil
	}
	if m, err = protocol.ParseMass(r.Container); err != nil {
		return 0, fmt.Errorf("container weight: %w", err)
	}
	return m, nil
}

func (r PlanRequest) most() (m protocol.Mass, err error) {
	if strings.TrimSpace(r.Most) == "" {
		return 0, nil
	}
	if m, err = protocol.ParseMass(r.Most); err != nil {
		return 0, fmt.Errorf("most that is wanted: %w", err)
	}
	if m <= 0 {
		return 0, fmt.Errorf("most that is wanted: %s leaves nothing to mix", m)
	}
	return m, nil
}

// size reads the one size that was given.
func (r PlanRequest) size() (z sheet.Size, err error) {
	given := 0
	for _, s := range []string{r.Base, r.Dry, r.Wet} {
		if strings.TrimSpace(s) != "" {
			given++
		}
	}
	if given != 1 {
		return z, errors.New("batch size: give exactly one: the base (750g), the dry total (800g), or a wet volume (2l at 1.45)")
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
		return z, fmt.Errorf("batch size: %w", err)
	}
	if z.Wet == nil && z.Base+z.Dry <= 0 {
		return z, fmt.Errorf("batch size: %s is nothing to mix: give more than zero", z.Base+z.Dry)
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
	bad := fmt.Errorf("%q: write the volume and the gravity as 2l at 1.45, or the size of the bucket as 10l bucket at 1.45", s)
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

func allowText(a sheet.Allow) string {
	if a.Share == nil {
		return a.Fixed.Grams(0) + "g"
	}
	p := new(big.Rat).Mul(a.Share, big.NewRat(100, 1))
	return strings.TrimRight(strings.TrimRight(p.FloatString(6), "0"), ".") + "%"
}

// start opens a batch; it runs in the bench's goroutine.
func (b *Bench) start(r PlanRequest) (string, error) {
	if b.s.open() {
		return "", text.Refuse("command.batch-in-work", text.Name("batch", b.s.Batch.Mark))
	}
	scales := b.known()
	b.taught(&r)
	sh, err := r.Sheet(scales)
	if err != nil {
		return "", err
	}
	if err := shortage(sh); err != nil && !r.Short {
		return "", err
	}
	now := b.cfg.Now()
	t := change{s: b.s, at: now}
	t.s.Pans = slices.Clone(b.s.Pans)
	t.s.Now, t.s.asked, t.s.overAt = now, question.Case{}, 0
	t.s.reset()
	mark := b.newMark(now)
	p := planned(sh, r.Recipe, scales, b.cfg.Simulated)
	if p.Confirm, err = CheckConfirm(cmp.Or(r.Confirm, b.cfg.Confirm)); err != nil {
		return "", refuse("what a second person confirms: %v", err)
	}
	p.Kept = b.workshop.Recipes.Of(p.RecipeHash)
	// Both were understood when the sheet was made.
	p.Container, _ = r.container()
	p.Most, _ = r.most()
	// What was learnt goes first: a batch of which the power left the plan alone would
	// never have it said again.
	for _, f := range b.learnt(r, sh) {
		t.put("", strings.TrimSpace(r.By), f)
	}
	t.put(mark, strings.TrimSpace(r.By), p)
	t.say(text.New("notice.begins", text.Name("batch", mark)))
	if err := b.commit(t.s, t.facts); err != nil {
		b.publish(true)
		return "", err
	}
	b.publish(true)
	return mark, nil
}

// planned is the fact that opens a batch from its sheet.
func planned(sh sheet.Sheet, text string, scales []sheet.Scale, simulated bool) fact.Planned {
	sum := sha256.Sum256([]byte(text))
	p := fact.Planned{Title: sh.Title, Recipe: text, RecipeHash: hex.EncodeToString(sum[:]), Base: sh.Base, Dry: sh.Dry,
		Allowed: map[string]string{}, Simulated: simulated}
	for role, a := range sh.Allow {
		p.Allowed[string(role)] = allowText(a)
	}
	for name, a := range sh.AllowFor {
		p.Allowed[name] = allowText(a)
	}
	for _, l := range sh.Lines {
		p.Lines = append(p.Lines, placed(l))
	}
	for _, l := range sh.Lines {
		if l.Aliquot != nil {
			p.Mixes = append(p.Mixes, mixture(l, scales))
		}
	}
	if sh.Water != nil {
		p.Water = batch.LineFrom(*sh.Water)
	}
	p.Series, p.Lots = cups(sh, text), lotsUsed(sh)
	for _, s := range scales {
		f := fact.Scale{Name: s.Name, Port: s.Port, Identity: s.Identity, Format: s.Format, Step: s.Step, Max: s.Max, Spread: s.Spread, Eye: s.Eye}
		f.Assumed = s.Spread == 0
		p.Scales = append(p.Scales, f)
	}
	return p
}

// lotsUsed tells where the materials of a sheet come from.
func lotsUsed(sh sheet.Sheet) []fact.LotUsed {
	var out []fact.LotUsed
	for _, l := range sh.Lots {
		out = append(out, fact.LotUsed{Material: l.Material, Lot: l.Lot, Supplier: l.Supplier, Moisture: l.Moisture, Price: l.Price, Currency: l.Currency, Has: l.Has})
	}
	return out
}

// mixture is an aliquot as its three weighings. Their names are what the record
// and the bench call them by.
func mixture(l sheet.Line, scales []sheet.Scale) fact.Mix {
	a := l.Aliquot
	on := slices.IndexFunc(scales, func(s sheet.Scale) bool { return s.Name == a.Scale })
	weigh, dilute, take := l.Bench(scales[on])
	weigh.Material = a.Material + " for the mixing cup"
	dilute.Material = a.Carrier + " for the cup of " + a.Material
	take.Material = "mix of " + a.Material + " in " + a.Carrier
	w, d := batch.LineFrom(weigh), batch.LineFrom(dilute)
	d.Role = string(sheet.Base)
	return fact.Mix{Take: batch.LineFrom(take), Parts: []fact.MixPart{{Material: a.Material, Step: w}, {Material: a.Carrier, Step: d}}}
}

// placed is a material of a plan as a line of the fact. Where its role does not tell
// on which side of the 100 the recipe has it, the line does.
func placed(l sheet.Line) fact.Line {
	f := batch.LineFrom(l)
	switch {
	case l.Addition && l.Role == sheet.Base:
		f.Place = "top"
	case !l.Addition && l.Role != sheet.Base:
		f.Place = "base"
	}
	return f
}

func closingWords() []string { return material.Closing() }
