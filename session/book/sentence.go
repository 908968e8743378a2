package book

import (
	"fmt"
	"math/big"
	"strings"

	"tared/protocol"
	"tared/session/fact"
)

// Sentence tells a fact in words. It needs nothing but the fact, so numbers carry
// the digits that the fact has.
func Sentence(f fact.Fact) string {
	switch v := f.Body.(type) {
	case fact.Planned:
		return plannedWords(v)
	case fact.Reminded:
		return fmt.Sprintf("Asked for mask and ventilation; %s answered %q.", cmpOr(f.By, "somebody"), v.Answer)
	case fact.Tared:
		return taredWords(v)
	case fact.Lifted:
		s := ""
		if !v.Settled {
			s = ", before the scale had settled"
		}
		return fmt.Sprintf("The container with %s in it was lifted from the %s scale%s.", v.Material, v.Scale, s)
	case fact.Returned:
		return fmt.Sprintf("The container with %s came back to the %s scale with nothing tipped.", v.Material, v.Scale)
	case fact.Portion:
		return portionWords(v)
	case fact.Overpoured:
		where := "in the container"
		switch v.Where {
		case "tipped":
			where = "tipped into the batch"
		case "cup":
			where = "tipped into the mixing cup"
		}
		s := ""
		if v.Strong {
			s = " It is a strong colourant."
		}
		p := v.Amount.Places()
		return fmt.Sprintf("Too much %s: %s g %s, %s g over the target; up to %s g was in the band.%s", v.Material, v.Amount.Rounded(p), where,
			v.Excess.Rounded(max(p, 1)), v.High.Rounded(max(p, 1)), s)
	case fact.Decided:
		return decidedWords(v)
	case fact.Enlarged:
		return fmt.Sprintf("The batch grew by a factor of %s, because of %s: %s g of base, %s g dry.", factor(v.Factor), v.Because,
			rough(v.Base), rough(v.Dry))
	case fact.Moved:
		return fmt.Sprintf("%s is weighed on the %s scale from here on: it was poured there and not on the %s scale, and it is good for it.", v.Material, v.To, v.From)
	case fact.Finished:
		if v.Abandoned {
			return fmt.Sprintf("The batch was closed before everything was in: %s of base, %s dry went in.", v.Base, v.Dry)
		}
		return fmt.Sprintf("The batch is complete: %s of base, %s dry went in.", v.Base, v.Dry)
	case fact.Amended:
		return amendedWords(v)
	case fact.Lost:
		return fmt.Sprintf("The %s scale went away: %s.", v.Scale, cmpOr(strings.TrimSuffix(v.Why, "."), "no reason given"))
	case fact.Found:
		s := "the pan proves that the tare still holds"
		if v.Tare != "kept" {
			s = "the tare is not known any more"
		}
		return fmt.Sprintf("The %s scale is back after %s and shows %s; %s.", v.Scale, v.After, v.Shows, s)
	case fact.Role:
		return fmt.Sprintf("%s counts as %s from here on.", v.Material, v.Role)
	case fact.Noted:
		return "Note: " + v.Text
	case fact.Paused:
		return "Paused" + reason(v.Why) + "."
	case fact.Resumed:
		return "Resumed" + reason(v.Why) + "."
	case fact.Noticed:
		return cmpOr(v.Words, "Noticed on the "+v.Scale+" scale: "+v.What+".")
	case fact.Checked:
		return v.Words
	case fact.Repeatability:
		return v.Words
	case fact.Unknown:
		return fmt.Sprintf("%s: a newer program wrote this; the line itself says what it is: %s", v.Name, v.JSON)
	case nil:
		return "nothing is known of it"
	}
	if s := laterWords(f.Body); s != "" {
		return s
	}
	return f.Body.Kind()
}

func plannedWords(v fact.Planned) string {
	var on []string
	for _, s := range v.Scales {
		on = append(on, s.Name)
	}
	s := fmt.Sprintf("Planned %s: %s of base, %s dry, %s", cmpOr(v.Title, "a batch"), v.Base, v.Dry, many(len(v.Lines), "material", "materials"))
	if len(on) > 0 {
		s += " on " + and(on)
	}
	if v.Simulated {
		s += " (simulated)"
	}
	if v.Again != "" {
		s += ", in place of " + v.Again + ", which was spoiled"
	}
	return s + "."
}

func taredWords(v fact.Tared) string {
	p := v.Step.Places()
	s := fmt.Sprintf("A container on the %s scale counts as zero at %s g", v.Scale, v.Container.Grams(p))
	if v.Material != "" {
		s += ", for " + v.Material
	}
	switch v.How {
	case "answered":
		s += "; a person said so"
	case "proven":
		s += "; the pan showed the same as before the gap"
	}
	s += "."
	for _, m := range zeroMoved(v.Carried, v.Zero, p) {
		s += " " + m.String()
	}
	return s
}

func portionWords(v fact.Portion) string {
	p := v.Step.Places()
	g := func(m protocol.Mass) string { return m.Grams(p) }
	s := fmt.Sprintf("%s g of %s went in", g(v.Delivered), v.Material)
	if v.As != "" {
		s = fmt.Sprintf("%s g of %s went in for %s", g(v.Delivered), v.As, v.Material)
	}
	if v.Into != "" {
		s = fmt.Sprintf("%s g of %s went into the %s", g(v.Delivered), cmpOr(v.As, v.Material), v.Into)
	}
	switch v.How {
	case "typed":
		s += fmt.Sprintf(", read by eye on the %s scale and typed in", v.Scale)
	case "not-returned":
		s += "; the container did not come back, so its own weight stands in"
	case "unsettled":
		s += "; the scale had not settled"
	case "tub":
		s += ", into the tub on the pan"
	}
	switch v.Verdict {
	case "in":
		s += fmt.Sprintf(": in the band of %s to %s g", v.Low.Rounded(p), v.High.Rounded(p))
	case "under":
		s += fmt.Sprintf(": under the band, which begins at %s g", v.Low.Rounded(p))
	case "over":
		s += fmt.Sprintf(": over the band, which ends at %s g", v.High.Rounded(p))
	}
	if v.U > 0 {
		s += " (± " + Amount{v.U, p}.Doubt() + " g)"
	}
	s += "."
	if v.Words != "" {
		s += " " + v.Words
	}
	return s
}

func decidedWords(v fact.Decided) string {
	var s string
	switch {
	case v.Question == "operator":
		s = v.Answer + " weighs from here on"
	case v.Question == "mix":
		s = v.Material + " is mixed"
	case v.Question == "confirm":
		s = v.With + " looked at the " + v.Material + " as a second person and confirmed it"
	case v.Answer == "skip":
		s = v.Material + " is left out"
	case v.Answer == "substitute":
		s = v.With + " goes in for " + v.Material
	case v.Question == "overpour" && v.Answer == "keep":
		s = "Too much " + v.Material + " is kept as a deviation"
	case v.Question == "overpour" && v.Answer == "anew":
		s = "Too much " + v.Material + " spoiled the batch, and it is begun once more"
	case v.Question == "batch" && v.Answer == "anew":
		s = "The batch is spoiled, and begun once more"
	case v.Question == "overpour" && v.Answer == "enlarge":
		s = "The batch is to be enlarged to fit the " + v.Material
	case v.Question == "tare" && v.Answer == "keep":
		s = "After the gap the same container stands on the pan"
	case v.Question == "tare":
		s = "After the gap the container was tared again"
	case v.Question == "gone" && v.Answer == "keep":
		s = "What left the container while the scale was away went into the batch"
	case v.Question == "gone":
		s = "What left the container while the scale was away did not go into the batch"
	case v.Question == "order":
		s = v.Material + " is weighed first: it was poured before its turn"
	case v.Question == "early" && v.Answer == "keep":
		s = "What was in the container already is " + v.Material
	case v.Question == "early":
		s = "What was in the container already is not " + v.Material + ", and was tared with it"
	case v.Question == "which", v.Question == "strayed":
		return v.Words + ", a person says (" + v.Amount.Rounded(min(3, v.Amount.Places())) + " g)."
	case v.Question == "lifted":
		s = "The pour of " + v.Material + " began again"
	default:
		s = fmt.Sprintf("Asked %q, the answer was %q", v.Question, v.Answer)
		if v.Material != "" {
			s += " for " + v.Material
		}
	}
	if v.Amount != 0 && v.Answer != "skip" {
		s += " (" + v.Amount.Rounded(min(3, v.Amount.Places())) + " g)"
	}
	if v.Words != "" {
		s += ": " + strings.TrimSuffix(v.Words, ".")
	}
	return s + "."
}

func amendedWords(v fact.Amended) string {
	what := fmt.Sprintf("entry %d", v.Of)
	if v.Material != "" {
		what += " (" + v.Material + ")"
	}
	var s string
	switch {
	case v.Void && v.Field != "":
		s = fmt.Sprintf("Amended: %s, %q, no longer counts", what, v.Field)
	case v.Void:
		s = fmt.Sprintf("Amended: %s no longer counts; it was %s", what, v.Was)
	case v.Field != "":
		s = fmt.Sprintf("Amended: %s of %s was %q and is %q", v.Field, what, v.Old, v.New)
	default:
		s = fmt.Sprintf("Amended: %s was %s and is %s", what, v.Was, v.Is)
	}
	if v.How == "typed" {
		n := v.Step.Places()
		s = fmt.Sprintf("Amended: %s was %s g and is %s g, typed (± %s g)", what, v.Was.Grams(n), v.Is.Grams(n), Amount{Mass: v.U}.Doubt())
	}
	if v.Reason != "" {
		s += ". Reason: " + strings.TrimSuffix(v.Reason, ".")
	}
	return s + "."
}

func reason(why string) string {
	if why == "" {
		return ""
	}
	return ": " + strings.TrimSuffix(why, ".")
}

// factor writes an exact fraction with four decimals.
func factor(s string) string {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		return s
	}
	return strings.TrimSuffix(strings.TrimRight(r.FloatString(4), "0"), ".")
}

func and(names []string) string {
	switch len(names) {
	case 1:
		return names[0]
	case 0:
		return ""
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}
