package calc

import (
	"errors"
	"fmt"

	"tared/protocol"
	"tared/session/sheet"
)

func leastTopic() Topic {
	return Topic{
		Name:  "least",
		Title: "Least weighable mass",
		About: "How little can a scale weigh, if the weight may be off by so much?",
		Forms: []Form{{
			Args: []Arg{
				{Name: "step", Words: "step of the scale, or the possible error of one weighing", Kind: Mass, Like: "0.1g"},
				{Name: "share", Words: "how far the weight may be off", Kind: Share, Like: "2%"},
				{Name: "spread", Words: "measured repeatability (standard deviation)", Kind: Mass, Like: "0.03g", Optional: true, Zero: true},
			},
			Formula: []string{
				"by step: step / share",
				"by repeatability: 2 · spread / share, the spread taken as 0.41 step where it is less",
				"by uncertainty, our own rule: U / share, U = 2 · √(step²/6 + spread²); a spread that was not measured is taken as half a step (common practice, no source)",
			},
			Source: []string{
				"by step: UNC pharmlabs, Weighing; basicmedicalkey.com, Accurate weighing for prescriptions",
				"by repeatability: USP <41>, in force from 1 August 2019",
				"step²/6: two roundings, EURAMET cg-18 v4 (from memory)",
			},
			Example: Example{
				Given:  []Given{{"step", "6mg"}, {"share", "5%"}},
				Says:   "For 5 %, weigh no less than 0.155 g: our own rule, by uncertainty. By the step alone it is 0.12 g, by repeatability 0.0984 g.",
				JSON:   `{"by_step_g":0.12,"spread_used_g":0.00246,"by_repeatability_g":0.0984,"by_uncertainty_g":0.15491934,"expanded_uncertainty_g":0.007745967,"assumed":true}`,
				Source: "6 mg at 5 % is 120 mg by the step: UNC pharmlabs, Weighing",
			},
			run: runLeast,
		}},
	}
}

func runLeast(g given) (Answer, error) {
	step, share, spread := g["step"].mass, g["share"].rat, g["spread"].mass
	var got [4]protocol.Mass
	for i, least := range []func() (protocol.Mass, error){
		func() (protocol.Mass, error) { return sheet.LeastByStep(step, share) },
		func() (protocol.Mass, error) { return sheet.LeastByRepeatability(step, spread, share) },
		func() (protocol.Mass, error) { return sheet.LeastByUncertainty(step, spread, share) },
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
	_, U, assumed := sheet.Uncertainty(step, spread)
	var a Answer
	a.Words = fmt.Sprintf("For %s, weigh no less than %s: our own rule, by uncertainty. By the step alone it is %s, by repeatability %s.",
		percent(share), showUp(got[2]), showUp(got[0]), showUp(got[1]))
	a.fact("by step", showUp(got[0]))
	a.fact("by repeatability", showUp(got[1])+", with a spread of "+plain(used)+" g")
	a.fact("by uncertainty", showUp(got[2])+", U "+show(U))
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
