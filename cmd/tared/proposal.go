package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"tared/protocol"
	"tared/scale"
	"tared/session/text"
	"tared/web"
)

// proposalOf tells what is proposed for a scale that no format knows; nil where nothing is.
func proposalOf(m *scale.Met) *web.Proposal {
	if m == nil || m.Proposal == nil {
		return nil
	}
	p := m.Proposal
	return &web.Proposal{Reads: strings.TrimSpace(p.Shows.String() + " " + string(p.Unit)), NoUnit: p.Unit == protocol.UnitNone || p.Asked,
		Sure: sureOf(p), Guessed: guessedOf(p), Trial: string(m.Trial), Says: trialWords(*m)}
}

// sureOf tells what the lines themselves show.
func sureOf(p *protocol.Proposal) []text.Message {
	var all []text.Message
	switch {
	case p.Asked:
		all = append(all, text.New("ports.sure-asked", text.Name("unit", string(p.Unit))))
	case p.Unit != protocol.UnitNone:
		all = append(all, text.New("ports.sure-unit", text.Name("unit", string(p.Unit))))
	}
	if p.Minus {
		all = append(all, text.New("ports.sure-minus"))
	}
	if p.Pattern.DecimalComma && !slices.Contains(p.Guesses, protocol.GuessComma) {
		all = append(all, text.New("ports.sure-comma"))
	}
	if len(p.Pattern.Stable) > 0 {
		var rest, moving []string
		for _, mark := range slices.Sorted(maps.Keys(p.Pattern.Stable)) {
			if p.Pattern.Stable[mark] {
				rest = append(rest, fmt.Sprintf("%q", mark))
			} else {
				moving = append(moving, fmt.Sprintf("%q", mark))
			}
		}
		all = append(all, text.New("ports.sure-rest", text.Name("rest", strings.Join(rest, " ")), text.Name("moving", strings.Join(moving, " "))))
	}
	if n := p.Pattern.Length; n > 0 {
		all = append(all, text.New("ports.sure-length", text.Count("count", n)))
	}
	return all
}

// guessedOf tells what they do not show.
func guessedOf(p *protocol.Proposal) []text.Message {
	var all []text.Message
	if p.Unit == protocol.UnitNone {
		all = append(all, text.New("ports.guess-unit"))
	}
	words := map[protocol.Guess]text.Message{
		protocol.GuessMinus: text.New("ports.guess-minus"), protocol.GuessGram: text.New("ports.guess-gram"), protocol.GuessRest: text.New("ports.guess-rest"),
		protocol.GuessMark: text.New("ports.guess-mark"), protocol.GuessBlank: text.New("ports.guess-blank"), protocol.GuessComma: text.New("ports.guess-comma"),
		protocol.GuessColumn: text.New("ports.guess-column"), protocol.GuessFew: text.New("ports.guess-few"),
	}
	for _, g := range p.Guesses {
		all = append(all, words[g])
	}
	return all
}

// unclearWords tells why nothing is proposed.
func unclearWords(u protocol.Unclear) text.Message {
	switch u {
	case protocol.UnclearNumber:
		return text.New("ports.unclear-number")
	case protocol.UnclearPrintout:
		return text.New("ports.unclear-printout")
	case protocol.UnclearNotMass:
		return text.New("ports.unclear-not-mass")
	case protocol.UnclearDigits:
		return text.New("ports.unclear-digits")
	case protocol.UnclearUneven:
		return text.New("ports.unclear-uneven")
	}
	return text.Message{} // no text: what stands in the way is said elsewhere
}

// trialWords tells how a trial stands, and what to do now.
func trialWords(m scale.Met) text.Message {
	places := min(m.Step.Places(), 3) // a step in ounces has more in grams, and they say nothing
	switch m.Trial {
	case scale.TrialEmpty:
		return text.New("ports.trial-empty")
	case scale.TrialPut:
		return text.New("ports.trial-put", text.Mass("shows", m.Shows, places), text.Exact("weight", m.Weight, 0))
	case scale.TrialPassed:
		return text.New("ports.trial-passed", text.Exact("weight", m.Weight, 0), text.Mass("net", m.Net(), places))
	case scale.TrialWrong:
		return text.New("ports.trial-wrong", text.Exact("weight", m.Weight, 0), text.Mass("net", m.Net(), places))
	case scale.TrialLight:
		return text.New("ports.trial-light", text.Exact("weight", m.Weight, 0), text.Exact("least", scale.LeastTried(m.Step), 0))
	case scale.TrialUnit:
		return text.New("ports.trial-unit")
	case scale.TrialLost:
		return text.New("ports.trial-lost")
	}
	return text.Message{}
}

// tellProposal tells at the terminal how lines could be read.
func tellProposal(b *strings.Builder, p *web.Proposal) {
	b.WriteString("  " + says("ports.reads", language.Digits(p.Reads)) + "\n")
	for _, m := range p.Sure {
		b.WriteString("    " + language.Say(m) + "\n")
	}
	for _, m := range p.Guessed {
		b.WriteString("    " + says("ports.guessed", m) + "\n")
	}
}
