package main

import (
	"tared/protocol"
	"tared/scale"
)

// named is a machine of which only some ports count, where some were named.
type named struct {
	scale.Machine
	paths   []string
	formats []*protocol.Format // the user's own
}

func (n named) List() ([]scale.Found, error) {
	if len(n.paths) == 0 {
		return n.Machine.List()
	}
	all, err := n.Machine.List()
	if err != nil {
		all = nil // a port that was named is looked at all the same
	}
	var out []scale.Found
	for _, p := range n.paths {
		f := scale.Found{Port: p}
		for _, known := range all {
			if known.Port == p || known.Lasting == p {
				f = known
			}
		}
		out = append(out, f)
	}
	return out, nil
}
