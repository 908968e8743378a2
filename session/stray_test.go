package session

import (
	"math"
	"time"

	"tared/scale/sim"
	"tared/session/question"
)

// straying is one use of the scale that the sheet did not name.
type straying struct {
	stage int
	at    time.Time // of the next stage
	on    string
	named string
	grams float64
	tip   bool // it is tipped although the bench takes nothing there
}

// otherScale lets the potter now and then put a container on the other scale and
// pour most of what is wanted there. Where the bench asks, the answer is true.
// Where it follows, the potter goes on by what it shows. Where it takes nothing, the
// powder goes back, or into the bucket all the same, and the potter says so.
func otherScale() func(tr *truth) {
	all := map[*truth]*straying{}
	return func(tr *truth) {
		s := all[tr]
		if s == nil {
			now := tr.guidance()
			if now.State != "container" || tr.now.Sub(tr.s.since) > 150*time.Millisecond || tr.rng.IntN(2) == 0 {
				return
			}
			if on := map[string]float64{"bench": 0.01, "fine": 0.1}[now.Scale]; grams(now.Target) < 5*on {
				return // so little cannot be seen there
			}
			s = &straying{on: map[string]string{"bench": "fine", "fine": "bench"}[now.Scale], named: now.Scale, at: tr.now.Add(time.Second),
				grams: grams(now.Target) * (0.8 + 0.15*tr.rng.Float64()), tip: tr.rng.IntN(2) == 0}
			all[tr], tr.hold = s, true
			tr.note("the potter uses the %s scale for %s", s.on, now.Material)
		}
		if tr.now.Before(s.at) {
			return
		}
		act := func(verb sim.Verb, more sim.Action) {
			more.Scale, more.Verb, more.At = s.on, verb, tr.now
			tr.do(more)
			if verb != sim.Lift {
				tr.auto.Saw(tr.now, more)
			}
		}
		next := func(after time.Duration) { s.stage, s.at = s.stage+1, tr.now.Add(after) }
		asked := tr.guidance().Asked
		switch s.stage {
		case 0:
			if _, on := tr.world.Inside(s.on); !on {
				act(sim.Put, sim.Action{})
			}
			next(time.Duration(3+8*tr.rng.Float64()) * time.Second) // not always until it is at rest
		case 1: // little by little, as powder comes
			took := math.Max(4, s.grams/20)
			act(sim.Pour, sim.Action{Flow: sim.Flow{Material: tr.guidance().Material, Rate: s.grams / took, Rise: 0.2, Cut: 0.05, Left: s.grams}})
			next(time.Duration((took + 4) * float64(time.Second)))
		case 2:
			switch {
			case asked == question.PouredElsewhere.Key && offers(tr, question.Keep):
				tr.say(question.Keep)
			case asked == question.PouredElsewhere.Key:
				tr.say(question.Again)
				next(time.Second)
				return
			case tr.guidance().Scale != s.on:
				next(time.Second)
				return
			}
			all[tr], tr.hold = nil, false
		case 3: // nothing is taken there
			if s.tip {
				if p := tr.s.pan(s.on); !p.Settled() {
					return // what never came to rest was never weighed: nobody could know of it
				}
				act(sim.Lift, sim.Action{})
				act(sim.Tip, sim.Action{})
				s.at = tr.now.Add(1500 * time.Millisecond)
				s.stage = 4
				return
			}
			act(sim.Spoon, sim.Action{Grams: s.grams})
			all[tr], tr.hold = nil, false
		case 4:
			act(sim.Put, sim.Action{})
			next(6 * time.Second)
		default:
			if asked == question.LeftElsewhere.Key {
				tr.say(question.Keep)
			}
			all[tr], tr.hold = nil, false
		}
	}
}

func offers(tr *truth, word string) bool {
	for _, a := range tr.guidance().Answers {
		if a.Word == word {
			return true
		}
	}
	return false
}
