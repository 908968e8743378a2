package session

import (
	"tared/scale"
	"tared/scale/pan"
	"tared/session/text"
)

// printWords says what to do at a scale that speaks on its key only.
func printWords(n *NowView, p *pan.Pan) {
	switch n.State {
	case "container":
		n.Detail = []text.Message{text.New("print.then-press", text.Name("scale", p.Name()))}
		if p.Usable() && !p.Settled() {
			n.Detail = []text.Message{text.New("print.moving-press-again")}
		}
	case "pour":
		n.Detail = []text.Message{text.New("print.to-see")}
	case "settle":
		n.Deed = "print"
		n.tell(n.Cue, text.New("print.again"), text.New("print.was-moving"))
	case "in":
		n.tell(n.Cue, text.New("print.good"), text.New("print.good-more"))
	case "over":
		n.Detail = append(n.Detail, text.New("print.then"))
	case "lifted":
		n.Detail = append(n.Detail, text.New("print.when-back"))
	case "lost":
		if p.Instrument().Link == scale.Up {
			n.Detail = []text.Message{text.New("print.check-tare", text.Name("scale", p.Name()))}
		}
	}
}
