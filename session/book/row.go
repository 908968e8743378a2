package book

import (
	"slices"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/doubt"
	"tared/session/fact"
)

// Row gives the batch for a list. It computes no shares, for a list may be long.
func (n *Batch) Row() Row {
	var verdicts []string
	for _, m := range n.Materials() {
		verdicts = append(verdicts, n.Verdict(m.Line, m.In, m.Portions))
	}
	return n.row(verdicts)
}

// worse orders the verdicts of materials by what they mean for the glaze.
var worse = map[string]int{"": 0, "in": 1, string(doubt.Cannot): 2, "skipped": 3, "under": 4, "over": 5, batch.Unknown: 6}

func (n *Batch) row(verdicts []string) Row {
	r := Row{Mark: n.Mark, Title: n.Title, By: n.By, Started: n.Started, Finished: n.Ended, State: n.State(),
		Base: n.size(n.Plan.Base), Of: len(verdicts), Simulated: n.Plan.Simulated, Series: n.Plan.Series.Of, Cups: n.Plan.Series.Cups, Again: n.Plan.Again, Amended: len(n.changes)}
	if n.Base != n.Plan.Base {
		grown := n.size(n.Base)
		r.Enlarged = &grown
	}
	for _, v := range verdicts {
		if v != "" && v != "under" {
			r.Done++
		}
		if v == "under" && !n.Finished {
			continue // it is in work
		}
		switch {
		case v == string(doubt.Cannot):
			r.Cannot++
		case worse[v] > worse["in"]:
			r.Off++
		}
		if worse[v] > worse[r.Worst] {
			r.Worst = v
		}
	}
	for _, c := range n.changes {
		if c.late {
			r.Late++
		}
	}
	r.Photo = n.photo()
	return r
}

// photo is the photograph by which the batch is known: of the tile that was judged last,
// else of its firing.
func (n *Batch) photo() (name string) {
	for _, t := range slices.Backward(n.facts) {
		switch v := t.Body.(type) {
		case fact.Judged:
			if !t.void && len(v.Photos) > 0 {
				return v.Photos[0]
			}
		case fact.Fired:
			if !t.void && len(v.Photos) > 0 && name == "" {
				name = v.Photos[0]
			}
		}
	}
	return name
}

// size is a size that is planned.
func (n *Batch) size(m protocol.Mass) Amount { return Amount{m, m.Size(fact.Doubt(n.Plan.Lines))} }
