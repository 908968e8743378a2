package sentence

import (
	"tared/session/fact"
	"tared/session/text"
)

// decisions tell the answers, by question and answer, or by question alone where the
// answer makes no difference to the words.
var decisions = map[string]func(fact.Decided) text.Message{
	"operator": func(v fact.Decided) text.Message {
		return text.New("fact.decided-operator", text.Name("name", v.Answer))
	},
	"mix": func(v fact.Decided) text.Message {
		return text.New("fact.decided-mix", text.Name("material", v.Material))
	},
	"confirm": func(v fact.Decided) text.Message {
		return text.New("fact.decided-confirm", text.Name("name", v.With), text.Name("material", v.Material))
	},
	"material/skip": func(v fact.Decided) text.Message {
		return text.New("fact.decided-skip", text.Name("material", v.Material))
	},
	"material/substitute": func(v fact.Decided) text.Message {
		return text.New("fact.decided-substitute", text.Name("name", v.With), text.Name("material", v.Material))
	},
	"overpour/keep": func(v fact.Decided) text.Message {
		return text.New("fact.decided-overpour-keep", text.Name("material", v.Material), text.Mass("amount", v.Amount, min(3, v.Amount.Places())))
	},
	"overpour/enlarge": func(v fact.Decided) text.Message {
		return text.New("fact.decided-overpour-enlarge", text.Name("material", v.Material), text.Mass("amount", v.Amount, min(3, v.Amount.Places())))
	},
	"overpour/anew": func(v fact.Decided) text.Message {
		return text.New("fact.decided-overpour-anew", text.Name("material", v.Material))
	},
	"batch/anew": func(_ fact.Decided) text.Message { return text.New("fact.decided-spoiled") },
	"tare/keep":  func(_ fact.Decided) text.Message { return text.New("fact.decided-tare-keep") },
	"tare":       func(_ fact.Decided) text.Message { return text.New("fact.decided-tare-again") },
	"gone/keep": func(v fact.Decided) text.Message {
		return text.New("fact.decided-gone-keep", text.Mass("amount", v.Amount, min(3, v.Amount.Places())))
	},
	"gone": func(v fact.Decided) text.Message {
		return text.New("fact.decided-gone-again", text.Mass("amount", v.Amount, min(3, v.Amount.Places())))
	},
	"order": func(v fact.Decided) text.Message {
		return text.New("fact.decided-order", text.Name("material", v.Material))
	},
	"early/keep": func(v fact.Decided) text.Message {
		return text.New("fact.decided-early-keep", text.Name("material", v.Material), text.Mass("amount", v.Amount, min(3, v.Amount.Places())))
	},
	"early": func(v fact.Decided) text.Message {
		return text.New("fact.decided-early-again", text.Name("material", v.Material))
	},
	"which": func(v fact.Decided) text.Message {
		return text.New("fact.decided-which", text.Mass("amount", v.Amount, min(3, v.Amount.Places())), text.Name("scale", v.Scale))
	},
	"strayed": func(v fact.Decided) text.Message {
		return text.New("fact.decided-strayed", text.Mass("amount", v.Amount, min(3, v.Amount.Places())), text.Name("scale", v.Scale))
	},
	"lifted": func(v fact.Decided) text.Message {
		return text.New("fact.decided-lifted", text.Name("material", v.Material))
	},
	"lighter": func(v fact.Decided) text.Message {
		return text.New("fact.decided-lighter", text.Mass("amount", v.Amount, min(3, v.Amount.Places())))
	},
	"crept/keep": func(v fact.Decided) text.Message {
		return text.New("fact.decided-crept-keep", text.Mass("amount", v.Amount, min(3, v.Amount.Places())))
	},
	"crept": func(_ fact.Decided) text.Message { return text.New("fact.decided-crept-again") },
	"thing": func(v fact.Decided) text.Message {
		return text.New("fact.decided-thing", text.Mass("amount", v.Amount, min(3, v.Amount.Places())))
	},
}

func sayDecided(t *telling, v fact.Decided) {
	tell := decisions[v.Question+"/"+v.Answer]
	if tell == nil {
		tell = decisions[v.Question]
	}
	switch {
	case v.Words != "" && (v.Question == "which" || v.Question == "strayed"):
		t.add(text.New("fact.decided-said", text.Name("words", unended(v.Words)), text.Mass("amount", v.Amount, min(3, v.Amount.Places()))))
		return
	case tell != nil:
		t.add(tell(v))
	case v.Amount != 0:
		t.add(text.New("fact.decided-amount", text.Name("question", v.Question), text.Name("answer", v.Answer), text.Mass("amount", v.Amount, min(3, v.Amount.Places()))))
	default:
		t.add(text.New("fact.decided", text.Name("question", v.Question), text.Name("answer", v.Answer)))
	}
	if v.Words != "" {
		t.add(text.New("fact.decided-note", text.Name("words", unended(v.Words))))
	}
}
