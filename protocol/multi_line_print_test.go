package protocol

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// No line of a block is a weight by itself, to any of the block formats.
func TestPrintBlocksAreNotReadByLines(t *testing.T) {
	for _, f := range []*Format{counterPacket, letterKeyedBlock, titledBlock, multiLinePrint} {
		for _, line := range strings.FieldsFunc(packet+keyed, func(r rune) bool { return r == '\r' || r == '\n' }) {
			for _, r := range decodeCut(f, Options{EachFrame: true}, []byte(line+"\r\n")) {
				assert.Equal(t, Invalid, r.Status, "%s: %q", f.Name, line)
			}
		}
	}
}
