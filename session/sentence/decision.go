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
		return text.New("fact.decided-overpour-keep", text.Name("material", v.Material), amount(v))
	},
	"overpour/exact": func(v fact.Decided) text.Message {
		return text.New("fact.decided-overpour-exact", text.Name("material", v.Material), amount(v))
	},
	"overpour/enlarge": func(v fact.Decided) text.Message {
		return text.New("fact.decided-overpour-enlarge", text.Name("material", v.Material), amount(v))
	},
	"overpour/anew": func(v fact.Decided) text.Message {
		return text.New("fact.decided-overpour-anew", text.Name("material", v.Material))
	},
	"lines": func(v fact.Decided) text.Message {
		return text.New("fact.decided-lines", text.Name("material", v.Material))
	},
	"scale": func(v fact.Decided) text.Message {
		return text.New("fact.decided-scale-same", text.Name("scale", v.Scale))
	},
	"batch/anew": func(_ fact.Decided) text.Message { return text.New("fact.decided-spoiled") },
	"tare/keep":  func(_ fact.Decided) text.Message { return text.New("fact.decided-tare-keep") },
	"tare":       func(_ fact.Decided) text.Message { return text.New("fact.decided-tare-again") },
	"gone/keep":  func(v fact.Decided) text.Message { return text.New("fact.decided-gone-keep", amount(v)) },
	"gone":       func(v fact.Decided) text.Message { return text.New("fact.decided-gone-again", amount(v)) },
	"order": func(v fact.Decided) text.Message {
		return text.New("fact.decided-order", text.Name("material", v.Material))
	},
	"early/keep": func(v fact.Decided) text.Message {
		return text.New("fact.decided-early-keep", text.Name("material", v.Material), amount(v))
	},
	"early": func(v fact.Decided) text.Message {
		return text.New("fact.decided-early-again", text.Name("material", v.Material))
	},
	"which": func(v fact.Decided) text.Message {
		return text.New("fact.decided-which", amount(v), text.Name("scale", v.Scale))
	},
	"strayed": func(v fact.Decided) text.Message {
		return text.New("fact.decided-strayed", amount(v), text.Name("scale", v.Scale))
	},
	"lifted": func(v fact.Decided) text.Message {
		return text.New("fact.decided-lifted", text.Name("material", v.Material))
	},
	"lighter":    func(v fact.Decided) text.Message { return text.New("fact.decided-lighter", amount(v)) },
	"crept/keep": func(v fact.Decided) text.Message { return text.New("fact.decided-crept-keep", amount(v)) },
	"crept":      func(_ fact.Decided) text.Message { return text.New("fact.decided-crept-again") },
	"thing":      func(v fact.Decided) text.Message { return text.New("fact.decided-thing", amount(v)) },
}

func amount(v fact.Decided) text.Value {
	return text.Mass("amount", v.Amount, min(3, v.Amount.Places()))
}

func sayDecided(t *telling, v fact.Decided) {
	tell := decisions[v.Question+"/"+v.Answer]
	if tell == nil {
		tell = decisions[v.Question]
	}
	switch {
	case v.Words != "" && (v.Question == "which" || v.Question == "strayed"):
		t.add(text.New("fact.decided-said", text.Name("words", unended(v.Words)), amount(v)))
		return
	case tell != nil:
		t.add(tell(v))
	case v.Amount != 0:
		t.add(text.New("fact.decided-amount", text.Name("question", v.Question), text.Name("answer", v.Answer), amount(v)))
	default:
		t.add(text.New("fact.decided", text.Name("question", v.Question), text.Name("answer", v.Answer)))
	}
	t.some(v.Words, text.New("fact.decided-note", text.Name("words", unended(v.Words))))
}
