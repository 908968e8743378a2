package protocol

// letter-keyed-block: a printed block of items with a letter in front. Items end
// with CR, the block with LF. A gross, 0 net, 4 tare, B a status byte, C the date,
// V1 the end.
//
//	F | H | Q | X | A 351.0 | 0 7.5 | 4 343.5 | 1 | 2 | B 83 | C date | V1 LF
//
// Source: NSerialCommTools, folder TFO1, capture.
//
// It gives the net weight, without a unit, if gross less tare is net and the
// status byte is the one of the capture: what its bits mean is not known.
var letterKeyedBlock = &Format{
	Name:    "letter-keyed-block",
	Summary: "printed block of items with a letter in front, from F to V1, read as a whole",
	Example: `F      0.0\rH      0.0\rQ      0.0\rX      0.0\rA    351.0\r0      7.5\r4    343.5\r1      0.0\r2       0\rB\x83\rC20\xf4 02\xf3 2023\xf2 MON 09:18AM\rV1\r\n`,
	Split:   blockSplit(letterBlock),
	Parse:   parseLetterKeyedBlock,
	Lines:   []Line{{9600, 8, 'N', 1, "from memory"}},
}

var letterBlock = block{is: isLetterHead, tail: "V1"}

// isLetterHead knows the first item of a letter-keyed block: F and a number to
// the right of nine columns.
func isLetterHead(line []byte) bool {
	if len(line) != 10 || line[0] != 'F' {
		return false
	}
	_, ok := paddedNumber(line[1:])
	return ok
}

func parseLetterKeyedBlock(frame []byte, r *Reading) error {
	if !letterBlock.opens(frame) {
		return foreign("it does not open with the item F")
	}
	const keys = "FHQXA0412"
	var gross, net, tare Decimal
	it := items{frame}
	for i := range len(keys) {
		item := it.next()
		if len(item) < 2 || item[0] != keys[i] {
			return damaged("an item is missing or out of order")
		}
		d, ok := paddedNumber(item[1:])
		if !ok {
			return damaged("an item is not a number")
		}
		switch keys[i] {
		case 'A':
			gross = d
		case '0':
			net = d
		case '4':
			tare = d
		}
	}
	const good = 0x83
	status := it.next()
	if len(status) != 2 || status[0] != 'B' || status[1] < 0x80 {
		return damaged("the status item is not B and one byte above 7F")
	}
	if date := it.next(); len(date) == 0 || date[0] != 'C' {
		return damaged("the date is missing")
	}
	if string(it.next()) != "V1" {
		return damaged("it does not end with V1")
	}
	if !balances(gross, tare, net) {
		return damaged("gross less tare is not net")
	}
	if status[1] != good {
		return r.is(Invalid, "a status byte whose meaning is not known")
	}
	r.Value, r.Mode, r.Status = net, Net, OK
	return nil
}
