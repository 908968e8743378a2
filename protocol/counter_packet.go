package protocol

import (
	"bytes"
)

// counter-packet: the block that a packing counter prints.
//
//	^KJIK000 | date | time | tare | gross | price | price | net | net | n pcs | | | E | ~P1
//
// Source: NSerialCommTools, folder JIK6CAB, capture.
//
// It gives the net weight, if all lines are there, gross less tare is net, and
// both nets are equal.
var counterPacket = &Format{
	Name:    "counter-packet",
	Summary: "printed block from ^KJIK000 to ~P1, read as a whole",
	Example: `^KJIK000\r\n2023-11-07\r\n17:19:26\r\n  0.00 kg\r\n  1.94 kg\r\n0\r\n0\r\n  1.94 kg\r\n  1.94 kg\r\n    0 pcs\r\n \r\n \r\nE\r\n~P1\r\n`,
	Split:   blockSplit(counterBlock),
	Parse:   parseCounterPacket,
	Lines:   []Line{{9600, 8, 'N', 1, "from memory"}},
}

var counterBlock = block{head: "^KJIK000", tail: "~P1"}

func parseCounterPacket(frame []byte, r *Reading) error {
	if !counterBlock.opens(frame) {
		return foreign("it does not open with ^KJIK000")
	}
	it := items{frame}
	if string(it.next()) != "^KJIK000" || !isShape(it.next(), "0000-00-00") || !isShape(it.next(), "00:00:00") {
		return damaged("head, date or time is not as it should be")
	}
	var tare, gross, net, again Decimal
	var unit Unit
	weights := [...]*Decimal{&tare, &gross, nil, nil, &net, &again} // nil: a price
	for i, d := range weights {
		line := it.next()
		ok := d == nil && printedNumber(line)
		if d != nil {
			var u Unit
			*d, u, ok = printedWeight(line)
			ok = ok && (i == 0 || u == unit)
			unit = u
		}
		if !ok {
			return damaged("a line is not the weight or price that belongs there")
		}
	}
	if !isCount(it.next()) || !isBlank(it.next()) || !isBlank(it.next()) || string(it.next()) != "E" || string(it.next()) != "~P1" || len(it.next()) != 0 {
		return damaged("the end is not as it should be")
	}
	if net != again || !balances(gross, tare, net) {
		return damaged("gross less tare is not net")
	}
	r.Value, r.Unit, r.Mode, r.Status = net, unit, Net, OK
	return nil
}

// printedWeight reads a line such as "  1.94 kg".
func printedWeight(line []byte) (d Decimal, u Unit, ok bool) {
	i := bytes.LastIndexByte(line, ' ')
	if i < 0 {
		return Decimal{}, UnitNone, false
	}
	d, num := paddedNumber(line[:i])
	u, unit := unitWord(line[i+1:])
	return d, u, num && unit
}

func printedNumber(line []byte) bool {
	_, ok := paddedNumber(trimRight(line))
	return ok
}

func isCount(line []byte) bool {
	return bytes.HasSuffix(line, []byte(" pcs")) && printedNumber(line[:len(line)-4])
}

func isBlank(line []byte) bool { return len(trimBlanks(line)) == 0 }
