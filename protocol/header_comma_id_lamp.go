package protocol

// header-comma-id-lamp: the 22-byte relative of header-comma-mode. Two binary
// bytes stand before the weight, so a reader that takes the first number in the
// line reads the number of the scale.
//
//	column  1..2   ST stable, US unstable, OL over range
//	        3      comma
//	        4..5   GS gross, NT net
//	        6      comma
//	        7      number of the scale, one byte, often '1'
//	        8      lamps: bit 7 always set, 6 stable, 5 fixed, 4 hold, 3 printer,
//	               2 gross, 1 tare, 0 zero
//	        9      comma
//	        10..17 number, right-aligned
//	        18     blank
//	        19..20 unit
//
//	ST,GS,1\xc4,    13.5 kg
//	US,GS,1\x84,   0.860 kg
//	OL,GS,1\x84,         kg
//	ERR 03
//
// The lamps say again what the header says; where the two disagree the line is
// damaged. With the hold lamp on, the weight is one of a while ago, so it is handed
// out without a value. The 10-byte form of the same instruments, eight characters of weight
// and nothing else, is not read: a cut line looks just like it.
//
// Sources: CAS indicator manuals, "CI-600D" / "PDI" family; the lines are built
// from their layout.
var headerCommaIDLamp = &Format{
	Name:      "header-comma-id-lamp",
	Summary:   "header-comma-mode with a scale number and a byte of lamps before the weight",
	Example:   `ST,GS,1\xc4,    13.5 kg\r\n`,
	Split:     splitLine,
	Parse:     parseHeaderCommaIDLamp,
	OneLength: true,
	Lines:     []Line{{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1, Source: "CAS CI-600D; the lamps need 8 data bits"}},
}

// lamps are the byte of lamps.
type lamps byte

const (
	lampOn     lamps = 1 << 7
	lampStable lamps = 1 << 6
	lampHold   lamps = 1 << 4
	lampGross  lamps = 1 << 2
)

// agrees refuses lamps that say otherwise than the header.
func (l lamps) agrees(claim Claim, mode Mode) error {
	switch {
	case l&lampOn == 0:
		return damaged("the lamp byte has lost its top bit; set the port to 8 data bits")
	case claim == Yes && l&lampStable == 0, claim == No && l&lampStable != 0:
		return damaged("the header and the lamps disagree about stable")
	case mode == Net && l&lampGross != 0:
		return damaged("the header and the lamps disagree about gross")
	}
	return nil
}

func parseHeaderCommaIDLamp(b []byte, r *Reading) error {
	if len(b) == 6 && string(b[:4]) == "ERR " && isDigit(b[4]) && isDigit(b[5]) {
		return r.is(Error, "the instrument reports fault "+string(b[4:]))
	}
	claim, status, mode, rest, err := headerCommaModeHead(b, r)
	if err != nil {
		return err
	}
	if len(rest) < 4 || rest[0] != ',' || rest[3] != ',' || mode == Tare {
		return foreign("no scale number and lamps between two commas")
	}
	lamp := lamps(rest[2])
	if err := lamp.agrees(claim, mode); err != nil {
		return err
	}
	if len(b) != 20 || b[17] != ' ' {
		return damaged("not 20 bytes")
	}
	switch num := b[9:17]; {
	case !r.unit(b[18:]):
		return damaged("unknown unit")
	case status != OK:
		return headerCommaModeOut(status, mode, num, r)
	case !r.number(paddedNumber(num)):
		return damaged("the number does not end in column 17")
	}
	r.Stable, r.Mode = claim, mode
	if lamp&lampHold != 0 {
		return r.is(Invalid, "a held weight, not what is on the pan now")
	}
	return r.ok()
}
