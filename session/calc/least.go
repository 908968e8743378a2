package calc

import (
	"errors"
	"fmt"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/sheet"
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
			return Answer{}, refuse("share", g["share"].text, "use more than 0 %% and at most 100 %%, for example 2%%")
		} else if err != nil {
			return Answer{}, refuse("", "", "the answer is %v: is the step right, and the share?", err)
		}
	}
	used := quo(got[3].Rat(), two)
	U, assumed := doubt.RootUp(d.Reading()), d.Assumed()
	var a Answer
	a.Words = fmt.Sprintf("For %s, weigh no less than %s: our own rule, by uncertainty. By the step alone it is %s, by repeatability %s.",
		percent(share), showUp(got[2]), showUp(got[0]), showUp(got[1]))
	a.fact("by step", showUp(got[0]))
	a.fact("by repeatability", showUp(got[1])+", with a spread of "+plain(used)+" g")
	a.fact("by uncertainty", showUp(got[2])+", U "+U.Doubt()+" g")
	if assumed {
		a.Notes = append(a.Notes, "The spread was not given: half a step is assumed for the uncertainty, 0.41 step for the repeatability. Measure it: ten weighings of one weight, and their standard deviation.")
	}
	a.mass("by_step_g", got[0])
	a.number("spread_used_g", used)
	a.mass("by_repeatability_g", got[1])
	a.mass("by_uncertainty_g", got[2])
	a.mass("expanded_uncertainty_g", U)
	a.text("assumed", assumed)
	return a, nil
}
