package scale

import (
	"bytes"
	"fmt"
	"time"

	"tared/protocol"
)

// Contact is the first meeting with an instrument that no format knows: what comes is kept,
// a format is proposed from it, and tried with a weight that a person knows. It is fed with
// bytes and asked how it stands; it knows no time but what it is given, and sends nothing.
type Contact struct {
	line  protocol.Line
	heard []Heard
	size  int // bytes of heard

	unit   protocol.Unit // the user's word, for lines that show none
	weight protocol.Mass // that is tried; 0: none
	began  time.Time     // the trial
	passed *protocol.Proposal
	last   Met // of the trial that passed
}

// The bounds of what is kept.
const (
	contactBytes = 8 << 10   // some 400 lines
	trialBytes   = 128 << 10 // while a weight is tried: some minutes
)

// Trial is how far the trial of a proposal with a known weight is.
type Trial string

// The stages of a trial.
const (
	TrialNone   Trial = ""
	TrialEmpty  Trial = "empty"  // the pan must be empty, and rest
	TrialPut    Trial = "put"    // the weight must be put on
	TrialPassed Trial = "passed" // the lines say what the weight weighs
	TrialWrong  Trial = "wrong"  // they say something else
	TrialLight  Trial = "light"  // the weight is too small for these digits to prove anything
	TrialUnit   Trial = "unit"   // the lines show no unit, and nobody named it
	TrialLost   Trial = "lost"   // no format can be proposed any more, or it took too long
)

// Met is how a Contact stands.
type Met struct {
	Line     protocol.Line // setting of the port
	Lines    []string      // the last whole lines, as Go would write them, without quotes
	Proposal *protocol.Proposal
	Unclear  protocol.Unclear // why there is no proposal

	Trial  Trial
	Weight protocol.Mass // that is tried
	Zero   protocol.Mass // what the empty pan showed
	Shows  protocol.Mass // what it showed last at rest
	Step   protocol.Mass
	Doubt  protocol.Mass // how far from Weight the difference may be
}

// Net is what the weight weighed.
func (m Met) Net() protocol.Mass { return m.Shows - m.Zero }

// Hear takes bytes that came at a time, with a setting of the port.
func (c *Contact) Hear(at time.Time, line protocol.Line, b []byte) {
	if !sameLine(line, c.line) {
		*c = Contact{line: line, unit: c.unit}
	}
	c.heard = append(c.heard, Heard{at, bytes.Clone(b)})
	most := contactBytes
	if c.weight > 0 {
		most = trialBytes
	}
	if c.size += len(b); c.size <= most {
		return
	}
	if c.weight > 0 && c.passed == nil {
		c.weight, c.last = 0, Met{Trial: TrialLost}
	}
	for c.size > contactBytes {
		c.size -= len(c.heard[0].Raw)
		c.heard = c.heard[1:]
	}
}

// Try begins a trial with a weight of this mass. The pan is empty now, or will be before
// the weight is put on. unit is that of lines which show none.
func (c *Contact) Try(now time.Time, weight protocol.Mass, unit protocol.Unit) {
	c.weight, c.began, c.unit = weight, now, unit
	c.passed, c.last = nil, Met{}
}

// State tells how it stands.
func (c *Contact) State() Met {
	var sample []byte
	for _, h := range c.heard {
		sample = append(sample, h.Raw...)
	}
	m := Met{Line: c.line, Lines: lastLines(sample)}
	all, unclear := protocol.Propose(sample, false, c.unit)
	m.Unclear = unclear
	if len(all) > 0 {
		m.Proposal = &all[0]
	}
	switch {
	case c.passed != nil:
		m.Proposal, m.Unclear = c.passed, ""
		return c.trialOf(m, c.last)
	case c.weight == 0:
		m.Trial = c.last.Trial
		return m
	case len(all) == 0:
		m.Trial = TrialLost
		return m
	}
	var first Met
	for i := range all {
		tried := c.try(&all[i])
		if tried.Trial == TrialPassed {
			c.passed, c.last = &all[i], tried
			m.Proposal = c.passed
			return c.trialOf(m, tried)
		}
		if i == 0 {
			first = tried
		}
	}
	return c.trialOf(m, first)
}

func (c *Contact) trialOf(m, of Met) Met {
	m.Trial, m.Weight, m.Zero, m.Shows, m.Step, m.Doubt = of.Trial, c.weight, of.Zero, of.Shows, of.Step, of.Doubt
	return m
}

// try reads what came by a proposal. The lowest weight at rest is the empty pan; what
// comes to rest above it later is the weight that was put on.
func (c *Contact) try(p *protocol.Proposal) Met {
	if p.Unit == protocol.UnitNone {
		return Met{Trial: TrialUnit}
	}
	pattern := p.Pattern
	pattern.Name = "proposed"
	f, err := protocol.CompilePattern(pattern)
	if err != nil {
		return Met{Trial: TrialLost}
	}
	m := Met{Trial: TrialEmpty}
	dec := protocol.NewDecoder(f, protocol.Options{Midstream: true})
	settler := Settler{}
	for _, h := range c.heard {
		dec.Push(h.Raw)
		for {
			r, ok := dec.Next()
			if !ok {
				break
			}
			var u Update
			if r.Status != protocol.OK || measure(&r, 0, &u) != "" {
				settler.Reset()
				continue
			}
			if settler.Add(h.At, u.Mass, u.Step, r.Stable) && h.At.After(c.began) {
				if m.rests(u.Mass, u.Step, c.weight); m.Trial == TrialPassed || m.Trial == TrialLight {
					return m
				}
			}
		}
	}
	return m
}

// The doubt of a trial. It tells a wrong column, unit or decimal mark from the right one;
// how true the scale is, is for its check.
const (
	trialSteps = 2  // each reading is within half a step, and rests within one
	trialShare = 50 // a scale that nobody has checked is true to a fiftieth; common practice, no source
	trialLeast = 20 // steps that the weight must have, so that they say something
)

// LeastTried gives the least weight that proves anything on a scale of that step.
func LeastTried(step protocol.Mass) protocol.Mass { return trialLeast * step }

// rests takes a weight at rest.
func (m *Met) rests(shows, step, weight protocol.Mass) {
	m.Shows, m.Step = shows, step
	m.Doubt = max(trialSteps*step, weight/trialShare)
	if m.Trial == TrialEmpty || shows < m.Zero {
		m.Zero, m.Trial = shows, TrialPut
	}
	switch net := m.Net(); {
	case weight < LeastTried(step):
		m.Trial = TrialLight
	case net <= trialSteps*step: // nothing was put on yet
		m.Trial = TrialPut
	case (net - weight).Abs() <= m.Doubt:
		m.Trial = TrialPassed
	default:
		m.Trial = TrialWrong
	}
}

// lastLines gives the last whole lines of a sample.
func lastLines(sample []byte) []string {
	const few = 3
	cut := func(r rune) bool { return r == '\r' || r == '\n' }
	from, to := bytes.IndexFunc(sample, cut), bytes.LastIndexFunc(sample, cut)
	if from < 0 {
		if len(sample) == 0 {
			return nil
		}
		s := fmt.Sprintf("%+q", sample[max(0, len(sample)-80):])
		return []string{s[1 : len(s)-1]}
	}
	var all []string
	lines := bytes.FieldsFunc(sample[from:to], cut)
	for _, l := range lines[max(0, len(lines)-few):] {
		s := fmt.Sprintf("%+q", l)
		all = append(all, s[1:len(s)-1])
	}
	return all
}
