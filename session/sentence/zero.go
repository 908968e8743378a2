package sentence

import (
	"tared/protocol"
	"tared/session/fact"
	"tared/session/text"
)

// zeroMoved tells why a scale's zero is not where it was, a sentence for each reason.
func zeroMoved(carried protocol.Mass, z fact.Zero, places int) (all []text.Message) {
	if z.Key > 0 {
		all = append(all, text.New("zero.key", text.Exact("amount", z.Key, places)))
	} else if z.Key < 0 {
		all = append(all, text.New("zero.key-undone", text.Exact("amount", -z.Key, places)))
	}
	if z.Inferred > 0 {
		all = append(all, text.New("zero.inferred", text.Exact("amount", z.Inferred, places)))
	} else if z.Inferred < 0 {
		all = append(all, text.New("zero.inferred-undone", text.Exact("amount", -z.Inferred, places)))
	}
	if z.Drift != 0 {
		all = append(all, text.New("zero.drift", text.Exact("shown", -z.Drift, places)))
	}
	if z.Object > 0 {
		all = append(all, text.New("zero.object-off", text.Exact("amount", z.Object, places)))
	} else if z.Object < 0 {
		all = append(all, text.New("zero.object-on", text.Exact("amount", -z.Object, places)))
	}
	if rest := carried - z.Key - z.Drift - z.Object - z.Inferred; rest != 0 {
		all = append(all, text.New("zero.earlier", text.Exact("amount", rest, places)))
	}
	return all
}
