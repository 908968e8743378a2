package sentence

import (
	"cmp"
	"strconv"
	"strings"
	"time"

	"tared/protocol"
	"tared/session/curve"
	"tared/session/fact"
	"tared/session/signer"
	"tared/session/text"
)

// What is recorded of a closed batch, and of what belongs to none.

func sayBegan(t *telling, v fact.Began) {
	seen, _ := time.Parse(time.RFC3339, v.Seen) // it was written by us
	switch v.Why {
	case fact.BeganGone:
		t.add(text.New("fact.began-gone", text.Count("lines", int(v.Lines)), text.Date("day", seen)))
	case fact.BeganOlder:
		t.add(text.New("fact.began-older", text.Count("lines", int(v.Lines)), text.Date("day", seen)))
	case fact.BeganCopy:
		t.add(text.New("fact.began-copy", text.Count("lines", int(v.Lines)), text.Date("day", seen)))
	case fact.BeganNamed, fact.BeganKey, fact.BeganSign:
	default:
		t.add(text.New("fact.began"))
	}
	bench := signer.Short(v.Bench)
	switch v.Why {
	case fact.BeganKey:
		t.add(text.New("fact.began-key", text.Name("sign", v.Sign), text.Name("bench", bench)))
	case fact.BeganSign:
		t.add(text.New("fact.began-sign", text.Name("sign", v.Sign), text.Name("bench", bench)))
	default:
		t.some(bench, text.New("fact.began-bench", text.Name("sign", v.Sign), text.Name("bench", bench)))
	}
}

func sayWitnessed(t *telling, v fact.Witnessed) {
	bench, head := signer.Short(v.Bench), signer.Short(v.Head)
	if v.Other != "" {
		t.add(text.New("fact.witnessed-other", text.Name("sign", v.Sign), text.Name("bench", bench), text.Number("line", entryNumber(v.Lines)), text.Name("hash", head)))
		return
	}
	t.add(text.New("fact.witnessed", text.Name("sign", v.Sign), text.Name("bench", bench), text.Number("line", entryNumber(v.Lines)), text.Name("hash", head)))
}

func saySigned(t *telling, v fact.Signed) {
	t.add(text.New("fact.signed", text.Number("entry", entryNumber(v.Of))))
}

func sayWatered(t *telling, v fact.Watered) {
	if v.Added.Mass > 0 {
		t.add(text.New("fact.watered-added", text.Exact("mass", v.Added.Mass, v.Added.Step.Places())))
	}
	slip, water := v.Sample.Step.Places(), v.Bottle.Step.Places()
	switch {
	case v.Gravity == "":
	case v.Vessel != "":
		t.add(text.New("fact.watered-vessel", text.Number("gravity", v.Gravity), text.Name("vessel", v.Vessel), text.Exact("slip", v.Sample.Mass, slip),
			text.Exact("water", v.Bottle.Mass, water), text.Number("celsius", v.Celsius), text.Number("volume", v.Volume)))
	case v.Bottle.Mass > 0 && v.Celsius != "":
		t.add(text.New("fact.watered-bottle-at", text.Number("gravity", v.Gravity), text.Exact("slip", v.Sample.Mass, slip),
			text.Exact("water", v.Bottle.Mass, water), text.Number("celsius", v.Celsius)))
		if v.Volume != "" {
			t.add(text.New("fact.watered-takes", text.Number("volume", v.Volume)))
		}
	case v.Bottle.Mass > 0:
		t.add(text.New("fact.watered-bottle", text.Number("gravity", v.Gravity), text.Exact("slip", v.Sample.Mass, slip), text.Exact("water", v.Bottle.Mass, water)))
	default:
		t.add(text.New("fact.watered-volume", text.Number("gravity", v.Gravity), text.Number("volume", v.Volume), text.Exact("slip", v.Sample.Mass, slip)))
	}
	t.some(v.Seconds, text.New("fact.watered-flow", text.Number("seconds", v.Seconds)))
	switch {
	case v.Mesh != "":
		t.add(text.New("fact.watered-sieved", text.Name("standard", v.Standard), text.Name("mesh", v.Mesh), text.Number("opening", v.Opening)))
	case v.Opening != "":
		t.add(text.New("fact.watered-opening", text.Number("opening", v.Opening)))
	}
	t.words(v.Words)
	if len(t.says) == 0 {
		t.add(text.New("fact.watered"))
	}
	if scale := cmp.Or(v.Sample.Scale, v.Added.Scale); scale != "" {
		t.add(text.New("fact.watered-scale", text.Name("scale", scale)))
	}
}

func sayFired(t *telling, v fact.Fired) {
	t.either(v.Cone != "", text.New("fact.fired-cone", text.Name("kiln", v.Kiln), text.Name("cone", v.Cone)),
		text.New("fact.fired", text.Name("kiln", v.Kiln)))
	t.some(v.Atmosphere, text.New("fact.fired-atmosphere", text.Name("atmosphere", v.Atmosphere)))
	t.some(v.Hold, text.New("fact.fired-hold", text.Name("hold", v.Hold)))
	if len(v.Tiles) > 0 {
		t.add(text.New("fact.fired-tiles", text.Names("tiles", v.Tiles)))
	}
	if c, err := curve.Parse(v.Curve); err == nil {
		t.add(text.New("fact.fired-hottest", text.Number("celsius", curve.Number(c.Hottest()))))
	} else if v.Curve != "" && !curve.HasReadings(v.Curve) {
		t.add(text.New("fact.fired-curve", text.Name("curve", unended(strings.Join(strings.Fields(v.Curve), " ")))))
	}
	t.words(v.Words)
	t.photos(v.Photos)
}

func sayJudged(t *telling, v fact.Judged) {
	t.add(text.New("fact.judged", text.Name("tile", v.Tile)))
	t.some(v.Clay, text.New("fact.judged-clay", text.Name("clay", v.Clay)))
	t.some(v.Coats, text.New("fact.judged-coats", text.Name("coats", v.Coats)))
	t.some(v.Thick, text.New("fact.judged-thickness", text.Name("thickness", v.Thick)))
	t.some(v.Place, text.New("fact.judged-place", text.Name("place", v.Place)))
	t.words(v.Words)
	if len(v.Tags) > 0 {
		t.add(text.New("fact.judged-tags", text.Names("tags", v.Tags)))
	}
	t.some(v.Verdict, text.New("fact.judged-verdict", text.Name("verdict", unended(v.Verdict))))
	t.some(v.Next, text.New("fact.judged-next", text.Name("next", unended(v.Next))))
	t.photos(v.Photos)
}

// photos names photographs by the beginning of their hash.
func (t *telling) photos(names []string) {
	if len(names) == 0 {
		return
	}
	short := make([]string, len(names))
	for i, n := range names {
		short[i] = n[:min(len(n), 8)]
	}
	t.add(text.New("fact.photographs", text.Names("names", short)))
}

func sayVessel(t *telling, v fact.Vessel) {
	t.add(text.New("fact.vessel", text.Name("vessel", v.Name), text.Exact("water", v.Water.Mass, v.Water.Step.Places()),
		text.Number("celsius", v.Celsius), text.Number("volume", v.Volume)))
}

func sayPaired(t *telling, v fact.Paired) {
	switch {
	case v.Was != "":
		t.add(text.New("fact.device-named", text.Name("was", v.Was), text.Name("device", v.Name)))
	case v.Token:
		t.add(text.New("fact.device-token", text.Name("device", v.Name)))
	default:
		t.add(text.New("fact.paired", text.Name("device", v.Name), text.Name("from", v.From)))
	}
	t.some(v.Via, text.New("fact.device-via", text.Name("device", v.Via)))
}

func sayRevoked(t *telling, v fact.Revoked) {
	t.add(text.New("fact.revoked", text.Name("device", v.Name)))
	t.some(v.Via, text.New("fact.device-via", text.Name("device", v.Via)))
}

func sayChecked(t *telling, v fact.Checked) {
	if v.Words != "" {
		t.words(v.Words)
		return
	}
	n := v.Step.Places()
	edges, off := v.What == "edges", v.Deviation.Grams(n)
	if v.Deviation > 0 {
		off = "+" + off
	}
	switch {
	case edges && len(v.Shown) > 0:
		var tilt protocol.Mass
		for _, m := range v.Shown {
			tilt = max(tilt, (m - v.Shown[0]).Abs())
		}
		t.add(text.New("fact.checked-centre", text.Exact("mass", v.Mass, n), text.Exact("off", v.Deviation.Abs(), n), text.Exact("tilt", tilt, n), text.Exact("limit", v.Allowed, n)))
	case len(v.Shown) > 0:
		t.add(text.New("fact.checked-mass", text.Exact("mass", v.Mass, n), text.Exact("shown", v.Shown[0], n), text.Grams("off", off), text.Exact("limit", v.Allowed, n)))
	}
	t.some(v.Class, text.New("fact.checked-class", text.Name("class", v.Class)))
	switch {
	case v.Pass:
		t.add(text.New("fact.checked-passed"))
	case edges:
		t.add(text.New("fact.checked-failed-edges"))
	default:
		t.add(text.New("fact.checked-failed"))
	}
}

func sayRepeatability(t *telling, v fact.Repeatability) {
	if v.Words != "" {
		t.words(v.Words)
		return
	}
	n := v.Step.Places()
	t.add(text.New("fact.repeatability", text.Count("count", len(v.Shown)), text.Exact("mass", v.Mass, n), text.Grams("spread", v.Spread.Doubt()),
		text.Exact("range", v.Range, n), text.Grams("base", v.LeastBase.Doubt()), text.Grams("addition", v.LeastAddition.Doubt()),
		text.Grams("usp", v.LeastUSP.Doubt())))
}

func sayStocked(t *telling, v fact.Stocked) {
	t.add(text.New("fact.stocked", text.Name("lot", v.Lot), text.Name("material", v.Material), text.Exact("amount", v.Amount, 0)))
	t.words(v.Words)
}

func sayCorrectedLot(t *telling, v fact.Corrected) {
	t.either(v.Field == "amount", text.New("fact.corrected-amount", text.Name("lot", v.Lot), text.Exact("was", v.Was, 0), text.Exact("is", v.Is, 0), text.Name("reason", unended(v.Reason))),
		text.New("fact.corrected-field", text.Name("lot", v.Lot), text.Name("field", v.Field), text.Name("old", v.Old), text.Name("new", v.New), text.Name("reason", unended(v.Reason))))
}

func sayKeptRecipe(t *telling, v fact.Recipe) {
	t.add(text.New("fact.recipe", text.Name("name", v.Name), text.Number("version", strconv.FormatUint(v.Version, 10))))
	t.words(v.Words)
}
