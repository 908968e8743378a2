package calc

import (
	"errors"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/sheet"
	"tared/session/text"
)

func runLeast(g given) (Answer, error) {
	step, share, spread := g["step"].mass, g["share"].rat, g["spread"].mass
	d := doubt.Scale{Step: step, Spread: spread, Measured: g.has("spread")}
	var got [4]protocol.Mass
	for i, least := range []func() (protocol.Mass, error){
		func() (protocol.Mass, error) { return sheet.LeastByStep(step, share) },
		func() (protocol.Mass, error) { return sheet.LeastByRepeatability(step, spread, share) },
		func() (protocol.Mass, error) { return sheet.LeastByUncertainty(d, share) },
		// For a share of all, it is twice the spread that counts.
		func() (protocol.Mass, error) { return sheet.LeastByRepeatability(step, spread, one) },
	} {
		var err error
		if got[i], err = least(); errors.Is(err, sheet.ErrShare) {
			return Answer{}, refuse("share", g["share"].text, "calc.share-range")
		} else if err != nil {
			return Answer{}, refuse("", "", "calc.the-answer-is-is-the", err)
		}
	}
	used := quo(got[3].Rat(), two)
	U, assumed := doubt.RootUp(d.Reading()), d.Assumed()
	var a Answer
	a.Words = says("calc.for-weigh-no-less-than", percent(share), showUp(got[2]), showUp(got[0]), showUp(got[1]))
	a.fact(says("calc.by-step"), says("calc.is", showUp(got[0])))
	a.fact(says("calc.by-repeatability"), says("calc.with-spread", showUp(got[1]), ofGrams(used)))
	a.fact(says("calc.by-uncertainty"), says("calc.with-U", showUp(got[2]), text.Grams("", U.Doubt())))
	if assumed {
		a.note("calc.spread-assumed-least")
	}
	a.mass("by_step_g", got[0])
	a.number("spread_used_g", used)
	a.mass("by_repeatability_g", got[1])
	a.mass("by_uncertainty_g", got[2])
	a.mass("expanded_uncertainty_g", U)
	a.text("assumed", assumed)
	return a, nil
}
