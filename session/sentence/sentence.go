// Package sentence tells each fact in whole sentences, by code: the record shows them,
// the bench and the pages too. A fact keeps what happened as codes and values; what an
// older program wrote into it as words is told as it stands there.
//
// Start with Of; each kind of fact has one small function here, and one row in the table
// of sentence.go. The answers to questions have a table of their own in decision.go.
package sentence

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"time"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/text"
)

// Of tells a fact in plain English.
func Of(f fact.Fact) string { return text.Join(nil, Messages(f)) }

// In tells a fact with its masses in the unit that a scale of such a step shows, and what a
// portion is in grams beside.
func In(f fact.Fact, u protocol.Unit, step protocol.Mass) []text.Message {
	says := Messages(f)
	if u == protocol.UnitNone || u == protocol.UnitGram {
		return says
	}
	for i := range says {
		says[i] = says[i].Measured(u, step)
	}
	if v, ok := f.Body.(fact.Portion); ok && v.How != "not-known" && len(says) > 0 {
		beside := text.New("fact.portion-grams", text.Grams("mass", v.Delivered.Known(v.U)+" "+string(protocol.UnitGram)))
		says = slices.Insert(says, 1, beside)
	}
	return says
}

// Messages tells a fact in whole sentences. It needs nothing but the fact, so numbers carry
// the digits that the fact has. A sentence that an old journal holds is told as it stands
// there.
func Messages(f fact.Fact) []text.Message {
	if f.Body == nil {
		return nil
	}
	if say := sentences[f.Body.Kind()]; say != nil {
		return say(f)
	}
	u, _ := f.Body.(fact.Unknown)
	return []text.Message{text.New("fact.unknown", text.Name("name", f.Body.Kind()), text.Name("line", string(u.JSON)))}
}

// sentences tell each kind of fact. Every row of fact.Kinds has one here.
var sentences = map[string]func(fact.Fact) []text.Message{
	"planned":       of(sayPlanned),
	"reminded":      of(sayReminded),
	"tared":         of(sayTared),
	"portion":       of(sayPortion),
	"lifted":        of(sayLifted),
	"returned":      of(sayReturned),
	"overpoured":    of(sayOverpoured),
	"decided":       of(sayDecided),
	"enlarged":      of(sayEnlarged),
	"moved":         of(sayMoved),
	"finished":      of(sayFinished),
	"amended":       of(sayAmended),
	"lost":          of(sayLost),
	"found":         of(sayFound),
	"noticed":       of(sayNoticed),
	"noted":         of(sayNoted),
	"paused":        of(sayPaused),
	"resumed":       of(sayResumed),
	"began":         of(sayBegan),
	"witnessed":     of(sayWitnessed),
	"signed":        of(saySigned),
	"watered":       of(sayWatered),
	"fired":         of(sayFired),
	"judged":        of(sayJudged),
	"role":          of(sayRole),
	"checked":       of(sayChecked),
	"repeatability": of(sayRepeatability),
	"vessel":        of(sayVessel),
	"stocked":       of(sayStocked),
	"corrected":     of(sayCorrectedLot),
	"recipe":        of(sayKeptRecipe),
	"paired":        of(sayPaired),
	"revoked":       of(sayRevoked),
}

// of gives the teller of one kind the place of one for all.
func of[B fact.Body](tell func(*telling, B)) func(fact.Fact) []text.Message {
	return func(f fact.Fact) []text.Message {
		t := telling{fact: f}
		if b, ok := f.Body.(B); ok {
			tell(&t, b)
		}
		return t.says
	}
}

// telling gathers the sentences of a fact.
type telling struct {
	fact fact.Fact
	says []text.Message
}

func (t *telling) add(m text.Message) { t.says = append(t.says, m) }

// some adds a message where the value that it is about is there.
func (t *telling) some(value string, m text.Message) {
	if value != "" {
		t.add(m)
	}
}

// either adds the one message where yes is true, the other where it is not.
func (t *telling) either(yes bool, one, other text.Message) {
	if !yes {
		one = other
	}
	t.add(one)
}

// words adds what a person or an old journal wrote, as a sentence of its own.
func (t *telling) words(words string) {
	t.some(words, text.New("fact.words", text.Name("words", unended(words))))
}

// unended leaves the full stop to the sentence that the words stand in.
func unended(words string) string { return strings.TrimSuffix(words, ".") }

func sayPlanned(t *telling, v fact.Planned) {
	u := fact.Doubt(v.Lines)
	t.add(text.New("fact.planned", text.Name("title", cmp.Or(v.Title, t.fact.Batch)), text.Mass("base", v.Base, v.Base.Size(u)), text.Mass("dry", v.Dry, v.Dry.Size(u)), text.Count("count", len(v.Lines))))
	var on []string
	for _, s := range v.Scales {
		on = append(on, s.Name)
	}
	if len(on) > 0 {
		t.add(text.New("fact.planned-scales", text.Names("scales", on)))
	}
	if v.Simulated {
		t.add(text.New("fact.planned-simulated"))
	}
	if len(v.Although) > 0 {
		t.add(text.New("fact.planned-although", text.Names("materials", v.Although)))
	}
	t.some(v.Again, text.New("fact.planned-again", text.Name("batch", v.Again)))
}

func sayReminded(t *telling, v fact.Reminded) {
	t.either(t.fact.By == "", text.New("fact.reminded-unnamed", text.Name("answer", v.Answer)),
		text.New("fact.reminded", text.Name("by", t.fact.By), text.Name("answer", v.Answer)))
}

func sayTared(t *telling, v fact.Tared) {
	p := v.Step.Places()
	t.either(v.Material != "", text.New("fact.tared-for", text.Exact("mass", v.Container, p), text.Name("scale", v.Scale), text.Name("material", v.Material)),
		text.New("fact.tared", text.Exact("mass", v.Container, p), text.Name("scale", v.Scale)))
	switch v.How {
	case "answered":
		t.add(text.New("fact.tared-answered"))
	case "proven":
		t.add(text.New("fact.tared-proven"))
	}
	t.says = append(t.says, zeroMoved(v.Carried, v.Zero, p)...)
}

func sayLifted(t *telling, v fact.Lifted) {
	t.either(v.Settled, text.New("fact.lifted", text.Name("material", v.Material), text.Name("scale", v.Scale)),
		text.New("fact.lifted-unsettled", text.Name("material", v.Material), text.Name("scale", v.Scale)))
}

func sayReturned(t *telling, v fact.Returned) {
	t.add(text.New("fact.returned", text.Name("material", v.Material), text.Name("scale", v.Scale)))
}

func sayPortion(t *telling, v fact.Portion) {
	p := v.Step.Places()
	switch {
	case v.How == "not-known":
		t.add(text.New("fact.portion-not-known", text.Name("material", cmp.Or(v.As, v.Material))))
	case v.Into != "":
		t.add(text.New("fact.portion-cup", text.Exact("mass", v.Delivered, p), text.Name("material", cmp.Or(v.As, v.Material))))
	case v.As != "":
		t.add(text.New("fact.portion-as", text.Exact("mass", v.Delivered, p), text.Name("as", v.As), text.Name("material", v.Material)))
	default:
		t.add(text.New("fact.portion", text.Exact("mass", v.Delivered, p), text.Name("material", v.Material)))
	}
	switch v.How {
	case "typed":
		t.either(slices.Contains(v.Remarks, "said"), text.New("fact.portion-said"), text.New("fact.portion-typed", text.Name("scale", v.Scale)))
	case "not-returned":
		t.add(text.New("fact.portion-not-returned"))
	case "unsettled":
		t.add(text.New("fact.portion-unsettled"))
	case "tub":
		t.add(text.New("fact.portion-tub"))
	}
	switch v.Verdict {
	case "in":
		t.add(text.New("fact.portion-in", text.Mass("low", v.Low, p), text.Mass("high", v.High, p)))
	case "under":
		t.add(text.New("fact.portion-under", text.Mass("low", v.Low, protocol.Apart(v.Low, v.Delivered, p))))
	case "cannot-tell":
		_, allowed := v.U.Against(v.Allowed)
		t.add(text.New("fact.portion-cannot", text.Grams("allowed", allowed), text.Exact("target", v.Target, p)))
	case "over":
		t.add(text.New("fact.portion-over", text.Mass("high", v.High, protocol.Apart(v.High, v.Delivered, p))))
	}
	if v.U > 0 {
		t.add(text.New("fact.portion-u", text.Grams("u", v.U.Doubt())))
	}
	t.words(v.Words)
	for _, code := range v.Remarks {
		if remark := remarks[code]; remark != nil {
			t.add(remark(v))
		}
	}
}

// remarks tell what else is to be known of a portion.
var remarks = map[string]func(fact.Portion) text.Message{
	"not-back":     func(fact.Portion) text.Message { return text.New("fact.portion-not-returned") },
	"last-heard":   func(fact.Portion) text.Message { return text.New("fact.portion-last-heard") },
	"untared":      func(fact.Portion) text.Message { return text.New("fact.portion-untared") },
	"lighter":      func(fact.Portion) text.Message { return text.New("fact.portion-lighter") },
	"lifted-early": func(fact.Portion) text.Message { return text.New("fact.portion-lifted-early") },
	"highest":      func(fact.Portion) text.Message { return text.New("fact.portion-highest") },
	"another": func(v fact.Portion) text.Message {
		return text.New("fact.portion-another", text.Exact("other", v.Other, v.Step.Places()))
	},
	"out-of-turn": func(v fact.Portion) text.Message {
		return text.New("fact.portion-out-of-turn", text.Name("scale", v.Scale))
	},
	"not-accurate": func(fact.Portion) text.Message { return text.New("fact.portion-not-accurate") },
}

func sayOverpoured(t *telling, v fact.Overpoured) {
	p := v.Amount.Places()
	q := protocol.Apart(v.High, v.Amount, max(p, 1))
	switch v.Where {
	case "tipped":
		t.add(text.New("fact.overpoured-tipped", text.Name("material", v.Material), text.Mass("amount", v.Amount, p), text.Mass("excess", v.Excess, q), text.Mass("high", v.High, q)))
	case "cup":
		t.add(text.New("fact.overpoured-cup", text.Name("material", v.Material), text.Mass("amount", v.Amount, p), text.Mass("excess", v.Excess, q), text.Mass("high", v.High, q)))
	default:
		t.add(text.New("fact.overpoured", text.Name("material", v.Material), text.Mass("amount", v.Amount, p), text.Mass("excess", v.Excess, q), text.Mass("high", v.High, q)))
	}
	if v.Strong {
		t.add(text.New("fact.overpoured-strong"))
	}
}

func sayEnlarged(t *telling, v fact.Enlarged) {
	u := fact.Doubt(v.Lines)
	t.add(text.New("fact.enlarged", text.Name("material", v.Because), text.Mass("base", v.Base, v.Base.Size(u)), text.Mass("dry", v.Dry, v.Dry.Size(u))))
}

func sayMoved(t *telling, v fact.Moved) {
	t.add(text.New("fact.moved", text.Name("material", v.Material), text.Name("to", v.To), text.Name("from", v.From)))
}

func sayFinished(t *telling, v fact.Finished) {
	u := v.Doubt()
	t.either(v.Abandoned, text.New("fact.finished-early", text.Known("base", v.Base, u), text.Known("dry", v.Dry, u)),
		text.New("fact.finished", text.Known("base", v.Base, u), text.Known("dry", v.Dry, u)))
}

func sayAmended(t *telling, v fact.Amended) {
	n := v.Step.Places()
	switch {
	case v.How == "typed":
		t.add(text.New("fact.amended-typed", text.Number("entry", entryNumber(v.Of)), text.Name("material", v.Material), text.Exact("was", v.Was, n), text.Exact("is", v.Is, n),
			text.Grams("u", v.U.Doubt())))
	case v.Void && v.Field != "":
		t.add(text.New("fact.amended-struck-field", text.Number("entry", entryNumber(v.Of)), text.Name("field", v.Field)))
	case v.Void && v.Material == "":
		t.add(text.New("fact.amended-struck-entry", text.Number("entry", entryNumber(v.Of)), text.Exact("was", v.Was, 0)))
	case v.Void:
		t.add(text.New("fact.amended-struck", text.Number("entry", entryNumber(v.Of)), text.Name("material", v.Material), text.Exact("was", v.Was, 0)))
	case v.Field != "":
		t.add(text.New("fact.amended-field", text.Number("entry", entryNumber(v.Of)), text.Name("field", v.Field), text.Name("old", v.Old), text.Name("new", v.New)))
	case v.Material == "":
		t.add(text.New("fact.amended-entry", text.Number("entry", entryNumber(v.Of)), text.Exact("was", v.Was, 0), text.Exact("is", v.Is, 0)))
	default:
		t.add(text.New("fact.amended", text.Number("entry", entryNumber(v.Of)), text.Name("material", v.Material), text.Exact("was", v.Was, 0), text.Exact("is", v.Is, 0)))
	}
	switch v.How {
	case "undone":
		t.add(text.New("fact.amended-undone"))
	case "not-powder":
		t.add(text.New("fact.amended-not-powder"))
	}
	t.some(v.Reason, text.New("fact.amended-reason", text.Name("reason", unended(v.Reason))))
}

func sayLost(t *telling, v fact.Lost) {
	t.either(v.Why == "", text.New("fact.lost-unsaid", text.Name("scale", v.Scale)),
		text.New("fact.lost", text.Name("scale", v.Scale), text.Name("why", unended(v.Why))))
}

func sayFound(t *telling, v fact.Found) {
	t.either(v.Tare == "kept", text.New("fact.found-kept", text.Name("scale", v.Scale), text.Name("away", v.After), text.Exact("shows", v.Shows, 0)),
		text.New("fact.found", text.Name("scale", v.Scale), text.Name("away", v.After), text.Exact("shows", v.Shows, 0)))
}

func sayNoticed(t *telling, v fact.Noticed) {
	n := v.Amount.Places()
	switch {
	case v.Words != "":
		t.words(v.Words)
	case v.What == "tare-key" && v.Undone:
		t.add(text.New("fact.noticed-own-tare-undone", text.Name("scale", v.Scale)))
	case v.What == "tare-key" && v.Inferred && v.Amount < 0:
		t.add(text.New("fact.noticed-own-tare-off-inferred", text.Name("scale", v.Scale), text.Exact("amount", -v.Amount, n)))
	case v.What == "tare-key" && v.Inferred:
		t.add(text.New("fact.noticed-own-tare-inferred", text.Name("scale", v.Scale), text.Exact("amount", v.Amount, n)))
	case v.What == "tare-key" && v.Amount < 0:
		t.add(text.New("fact.noticed-own-tare-off", text.Name("scale", v.Scale), text.Exact("amount", -v.Amount, n)))
	case v.What == "tare-key":
		t.add(text.New("fact.noticed-own-tare", text.Name("scale", v.Scale), text.Exact("amount", v.Amount, n)))
	case v.What == "key-in-motion", v.What == "another-scale":
		said := map[string]text.Message{"key-in-motion": text.New("fact.noticed-key-in-motion", text.Name("scale", v.Scale)), "another-scale": text.New("fact.noticed-another-scale", text.Name("scale", v.Scale))}
		t.add(said[v.What])
	case v.What == "unit":
		t.add(text.New("fact.noticed-unit", text.Name("scale", v.Scale), text.Name("unit", v.Unit)))
	case v.What == "taken-away":
		t.add(text.New("fact.noticed-taken-away", text.Name("scale", v.Scale), text.Exact("amount", v.Amount, n)))
	case v.What == "wrong-scale":
		t.add(text.New("fact.noticed-wrong-scale", text.Name("scale", v.Scale), text.Exact("amount", v.Amount, n), text.Name("material", v.Material), text.Name("other", v.Other)))
	case v.What == "standing":
		t.add(text.New("fact.noticed-standing", text.Name("scale", v.Scale), text.Exact("amount", v.Amount, n)))
	case v.What == "told-tare":
		t.add(text.New("fact.noticed-told-tare", text.Name("scale", v.Scale)))
	case v.What == "clock":
		t.clock(v.Set)
	case v.What == "told-zero":
		t.add(text.New("fact.noticed-told-zero", text.Name("scale", v.Scale)))
	default:
		t.add(text.New("fact.noticed", text.Name("scale", v.Scale), text.Name("what", v.What)))
	}
}

// clock tells that the clock of the machine jumped.
func (t *telling) clock(set string) {
	by, _ := time.ParseDuration(set) // it was written by us
	if by < 0 {
		t.add(text.New("fact.noticed-clock-back", text.Duration("by", -by)))
	} else {
		t.add(text.New("fact.noticed-clock-on", text.Duration("by", by)))
	}
}

func sayNoted(t *telling, v fact.Noted) { t.add(text.New("fact.noted", text.Name("text", v.Text))) }

func sayPaused(t *telling, v fact.Paused) {
	t.either(v.Why == "", text.New("fact.paused"),
		text.New("fact.paused-why", text.Name("why", unended(v.Why))))
}

func sayResumed(t *telling, v fact.Resumed) {
	switch {
	case v.Restart:
		t.add(text.New("fact.resumed-restart"))
	case v.Blind:
		t.add(text.New("fact.resumed-blind"))
	case v.Why == "":
		t.add(text.New("fact.resumed"))
	default:
		t.add(text.New("fact.resumed-why", text.Name("why", unended(v.Why))))
	}
}

func sayRole(t *telling, v fact.Role) {
	switch v.Role {
	case "base":
		t.add(text.New("fact.role-base", text.Name("material", v.Material)))
	case "addition":
		t.add(text.New("fact.role-addition", text.Name("material", v.Material)))
	case "suspender":
		t.add(text.New("fact.role-suspender", text.Name("material", v.Material)))
	case "opacifier":
		t.add(text.New("fact.role-opacifier", text.Name("material", v.Material)))
	case "strong":
		t.add(text.New("fact.role-strong", text.Name("material", v.Material)))
	default:
		t.add(text.New("fact.role-other", text.Name("material", v.Material), text.Name("role", v.Role)))
	}
}

func entryNumber(seq uint64) string { return strconv.FormatUint(seq, 10) }
