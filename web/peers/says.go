package peers

import "tared/session/text"

// Wrong reports whether a person should look at it.
func (s State) Wrong() bool { return s.Trouble != "" && s.Trouble != "unreachable" }

// Says tells how a peer stands, in a sentence.
func (s State) Says() text.Message {
	switch s.Trouble {
	case "fork":
		return text.New("peer.says-fork", text.Moment("day", s.Since))
	case "older":
		return text.New("peer.says-older", text.Moment("day", s.Since))
	case "refused":
		return text.New("peer.says-refused", text.Moment("day", s.Since), text.Name("why", s.Why))
	case "unpaired":
		return text.New("peer.says-unpaired", text.Moment("day", s.Since))
	case "unreachable":
		return text.New("peer.says-unreachable", text.Moment("day", s.Since), text.Count("lines", int(s.Lines)))
	}
	if s.Heard.IsZero() {
		return text.New("peer.says-new")
	}
	return text.New("peer.says", text.Count("lines", int(s.Lines)))
}
