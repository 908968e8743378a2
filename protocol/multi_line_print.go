package protocol

// multi-line-print: any of counter-packet, letter-keyed-block and titled-block,
// for whoever does not know which of them the printer port sends. Their files
// show the layouts.
var multiLinePrint = &Format{
	Name:    "multi-line-print",
	Summary: "any of counter-packet, letter-keyed-block and titled-block",
	Example: `^KJIK000\r\n2023-11-07\r\n17:19:26\r\n  0.00 kg\r\n  1.94 kg\r\n0\r\n0\r\n  1.94 kg\r\n  1.94 kg\r\n    0 pcs\r\n \r\n \r\nE\r\n~P1\r\n`,
	Split:   blockSplit(append([]block{counterBlock, letterBlock}, titledBlocks...)...),
	Parse: func(frame []byte, r *Reading) error {
		switch {
		case counterBlock.opens(frame):
			return parseCounterPacket(frame, r)
		case letterBlock.opens(frame):
			return parseLetterKeyedBlock(frame, r)
		}
		return parseTitledBlock(frame, r)
	},
	Lines: []Line{{9600, 8, 'N', 1, "from memory"}},
}
