package web

import (
	"cmp"

	"tared/session/batch"
	"tared/session/book"
	"tared/session/doubt"
	"tared/session/sheet"
	"tared/session/text"
)

// chip is a verdict in a word, a shape and a tone.
type chip struct {
	Tone, Shape string
	Words       text.Message
}

// outcome tells how a batch went.
func outcome(b book.Row) chip {
	switch {
	case b.State == book.Open:
		return chip{"", "now", text.New("page.book.open", text.Count("done", b.Done), text.Count("of", b.Of))}
	case b.State == book.Abandoned:
		return chip{"", "skip", text.New("page.book.early", text.Count("done", b.Done), text.Count("of", b.Of))}
	case b.Off > 0 && b.Worst == "skipped":
		return chip{"", "skip", text.New("page.book.left-out", text.Count("off", b.Off), text.Count("of", b.Of))}
	case b.Off > 0:
		tone := cmp.Or(b.Worst, "over")
		if tone == batch.Unknown {
			tone = "under"
		}
		return chip{tone, tone, text.New("page.book.off", text.Count("off", b.Off), text.Count("of", b.Of))}
	case b.Cannot > 0:
		return chip{"", "ask", text.New("page.book.cannot-tell", text.Count("cannot", b.Cannot), text.Count("of", b.Of))}
	case b.Done < b.Of:
		return chip{"", "skip", text.New("page.book.closed", text.Count("done", b.Done), text.Count("of", b.Of))}
	}
	return chip{"in", "in", text.New("page.book.all-in")}
}

// verdict tells how it went with one material, or one portion of it.
func verdict(v string) chip {
	switch v {
	case "in":
		return chip{v, v, text.New("page.verdict.in")}
	case "under":
		return chip{v, v, text.New("page.verdict.under")}
	case "over":
		return chip{v, v, text.New("page.verdict.over")}
	case "skipped":
		return chip{"", "skip", text.New("page.verdict.skipped")}
	case string(doubt.Cannot):
		return chip{"", "ask", text.New("page.verdict.cannot-tell")}
	case batch.Unknown:
		return chip{"under", "wait", text.New("page.verdict.not-known")}
	case book.NothingIn:
		return chip{"", "skip", text.New("page.verdict.none")}
	}
	return chip{"", "wait", text.New("page.verdict.open")}
}

// fit is how well a scale weighs something.
func fit(v sheet.Verdict) chip {
	switch v {
	case sheet.Good:
		return chip{"good", "in", text.New("page.fit.good")}
	case sheet.Coarse:
		return chip{"coarse", "ask", text.New("page.fit.coarse")}
	case sheet.Blind:
		return chip{"blind", "lost", text.New("page.fit.blind")}
	case sheet.Full:
		return chip{"full", "over", text.New("page.fit.full")}
	}
	return chip{string(v), "ask", text.Written(string(v))}
}

// whys say what the words of a sheet mean, by their tone.
func whys() []chip {
	return []chip{
		{Tone: "good", Words: text.New("page.why.good")}, {Tone: "coarse", Words: text.New("page.why.coarse")},
		{Tone: "blind", Words: text.New("page.why.blind")}, {Tone: "full", Words: text.New("page.why.full")},
		{Tone: "u", Words: text.New("page.why.u")},
	}
}

// role is the role of a material.
func role(r string) text.Message {
	switch r {
	case "base":
		return text.New("page.role.base")
	case "addition":
		return text.New("page.role.addition")
	case "suspender":
		return text.New("page.role.suspender")
	case "opacifier":
		return text.New("page.role.opacifier")
	case "strong":
		return text.New("page.role.strong")
	case "water":
		return text.New("page.role.water")
	}
	return text.Written(r)
}
