package scale

import "tared/protocol"

// known lists the formats that an instrument may speak, the user's own first.
func (c Config) known() []*protocol.Format {
	return append(c.Formats[:len(c.Formats):len(c.Formats)], protocol.All()...)
}
