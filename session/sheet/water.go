package sheet

import (
	"math/big"

	"tared/protocol"
	"tared/session/text"
)

// WaterName is what the first water is called among the materials.
const WaterName = "Water"

// water plans the first water, weighed in after the last dry material. A wet size
// says how much the whole takes; else it is by its ratio to everything dry.
func (p *planner) water(sh *Sheet) error {
	if p.req.Water == nil {
		return nil
	}
	ratio := new(big.Rat).Set(p.req.Water)
	target, err := protocol.RoundRat(new(big.Rat).Quo(new(big.Rat).Mul(sh.Dry.Rat(), ratio), big.NewRat(100, 1)))
	if err != nil {
		return text.Refuse("sheet.too-large")
	}
	if p.req.Size.Wet != nil {
		switch {
		case !p.req.WaterFirst:
			target = sh.Slip.Water
			ratio.Quo(ratio.Mul(target.Rat(), big.NewRat(100, 1)), sh.Dry.Rat())
		case target > sh.Slip.Water:
			p.say(text.New("sheet.water-much", text.Mass("water", target, 0), text.Mass("takes", sh.Slip.Water, 0), text.Number("gravity", sh.Slip.Gravity)))
		}
	}
	if p.brought > 0 && (p.req.Size.Wet == nil || p.req.WaterFirst) {
		// The moist materials bring some of it.
		if target -= p.brought; target <= 0 {
			return nil
		}
		ratio.Quo(ratio.Mul(target.Rat(), big.NewRat(100, 1)), sh.Dry.Rat())
	}
	if target <= 0 && p.brought > 0 {
		return nil
	}
	if target <= 0 {
		return text.Refuse("sheet.water-little")
	}
	l := &Line{Material: WaterName, Role: Water, Share: ratio, Percent: percent(ratio), Target: target, Allowed: p.allow[Water].Of(target)}
	for _, s := range p.scales {
		l.Fits = append(l.Fits, s.fit(l.Target, l.Allowed))
	}
	c := choose(l.Fits)
	if c < 0 {
		return text.Refuse("sheet.no-room-water", text.Exact("mass", l.Target, 0), text.Count("count", maxPortions))
	}
	l.use(p.scales[c].Scale, l.Fits[c])
	sh.Water = l
	return nil
}

// lessWater takes what solutions bring off the first water.
func (p *planner) lessWater(sh *Sheet) {
	if p.dissolved == 0 {
		return
	}
	if sh.Slip != nil {
		p.say(text.New("sheet.dissolved", text.Grams("water", p.dissolved.Rounded(1))))
		sh.Slip.Water -= p.dissolved
	}
	if sh.Water != nil {
		sh.Water.Less = p.dissolved
	}
}
