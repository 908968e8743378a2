package sim

import (
	"cmp"
	"fmt"
	"strings"

	"tared/protocol"
)

// Short names for the table.
const (
	silent = protocol.Invalid
	over   = protocol.Overload
	under  = protocol.Underload
	fault  = protocol.Error
)

// encoders is every format that the simulated scale speaks.
var encoders = map[string]encoder{
	"letter-status":            {say: letterStatus, says: states{over: "S +\r\n", under: "S -\r\n", fault: "S I\r\n"}, stable: flagged, mode: modeNet, over: over, under: under, fault: fault},
	"print-net-letter":         {say: printNetLetter, stable: onlyStill, mode: modeNet},
	"header-comma":             {say: headerComma("", "%s,%c%s%3s\r\n"), stable: flagged, over: over, under: under, fault: fault},
	"header-comma-csv":         {say: headerComma(",  g", "%s,%c%s,%3s\r\n"), stable: flagged, over: over, under: under},
	"header-space":             {say: headerSpace, says: states{over: "WT          E   \r\n", under: "WT         -E   \r\n"}, stable: flagged, over: over, under: under},
	"bare-number":              {say: bareNumber, says: states{over: "+99999999\r\n", under: "-99999999\r\n"}, noUnit: true, over: over, under: under},
	"blank-unit-when-moving":   {say: blankUnit, says: states{over: "     H        \r\n", under: "     L        \r\n"}, stable: byUnit, over: over, under: under},
	"header-comma-mode":        {say: headerCommaMode, stable: flagged, mode: modeSaid, over: over, under: under},
	"header-comma-id-lamp":     {say: headerCommaIDLamp, stable: flagged, mode: modeSaid, over: over, under: over, fault: fault},
	"fixed-sign-unit":          {say: fixedSignUnit(""), stable: byUnit, over: over, under: under, fault: fault},
	"fixed-sign-unit-id":       {say: fixedSignUnit("id"), stable: byUnit, mode: modeSaid, over: over, under: under, fault: fault},
	"weight-unit-question":     {say: weightUnitQuestion, says: states{fault: "ES\r\n"}, stable: flagged, mode: modeSaid, fault: fault},
	"stability-sign-mass-unit": {say: stabilitySignMassUnit, says: states{over: "^\r\n", under: "v\r\n", fault: "SI I\r\n"}, stable: flagged, over: over, under: under, fault: fault},
	"sign-digits-unit-letters": {say: signDigitsUnitLetters, says: states{over: "+00000.0 G E\r\n", under: "+00000.0 G E\r\n", fault: "+00000.0 G E\r\n"}, stable: flagged, over: fault, under: fault, fault: fault},
	"stability-letter-prefix":  {say: stabilityLetterPrefix, says: states{over: "U     oL   \r", under: "U    -oL   \r"}, stable: flagged, over: over, under: under},
	"sign-number-tail-letters": {say: signNumberTailLetters, says: states{}, stable: flagged},
	"stx-status-word":          {say: statusWord(true, minusSum), stable: flagged, mode: modeSaid, over: over, under: under},
	"stx-status-word-sum8":     {say: statusWord(true, plainSum), stable: flagged, mode: modeSaid, over: over, under: under},
	"stx-status-word-loose":    {say: stxStatusWordLoose, stable: flagged, mode: modeSaid, over: over, under: under},
	"stx-status-word-lf":       {say: statusWord(true, lineFeed), stable: flagged, mode: modeSaid, over: over, under: under},
	"stx-status-word-short":    {say: statusWord(false, lineFeed), stable: flagged, mode: modeSaid, over: over, under: under},
	"lf-weight-status-etx":     {say: lfWeightStatusETX, says: states{over: "\nS02\r\x03", under: "\nS01\r\x03"}, stable: flagged, over: over, under: under},
	"stx-weight-cr":            {say: stxWeightCR, stable: moving, noUnit: true, noNeg: true, over: over, under: under},
	"lf-flag-fields":           {say: lfFlagFields, stable: flagged, mode: modeSaid, over: over, under: under, fault: fault},
	"stx-polarity-unit-letter": {say: stxPolarityUnitLetter, stable: flagged, mode: modeSaid, over: over, under: under, fault: fault},
	"stx-polarity-gap-legend":  {say: stxPolarityGapLegend, stable: ifMoving, mode: modeSaid, over: over, under: under},
	"stx-polarity-gap-unit":    {say: stxPolarityGapUnit, stable: flagged, over: over, under: under},
	"cr-sign-etx":              {say: crSignETX, says: states{}, mode: modeSaid},
	"stx-sign-mode-etx":        {say: stxSignModeETX, stable: flagged, mode: modeStill, noUnit: true, over: over, under: under, fault: fault},
	"stx-sign-digits-xor":      {say: stxSignDigitsXOR, says: states{}, noUnit: true},
	"equals-reversed":          {say: equals(true), noUnit: true},
	"equals-forward":           {say: equals(false), noUnit: true},
	"prefix-weight-checksum":   {say: prefixWeightChecksum, says: states{over: "         OL23\r\n", under: "         LO23\r\n"}, mode: modeSaid, over: over, under: under},
	"wn-prefix":                {say: wnPrefix, says: states{}, mode: modeNet},
	"soh-stx-bcc":              {say: sohSTXBCC, stable: flagged, over: over, under: over},
	"soh-sign-status-digit":    {say: sohSignStatusDigit, says: states{}, stable: flagged},
	"bcd-ff-frame":             {say: bcdFFFrame, stable: flagged, over: over, under: over},
	"float-sign-unit":          {say: floatSignUnit, says: states{fault: "           Error\r\n"}, stable: byUnit, fault: fault},
	"sign-pad-unit":            {say: signPadUnit, says: states{over: " ~~~~~~~~ g \r\n"}, over: over},
	"sign-gap-unit2":           {say: signGapUnit2, says: states{}},
	"colon-letter-mass":        {say: colonLetterMass, says: states{over: ":M OVER      \r"}, stable: flagged, over: over},
	"hid-pos-scale":            {say: hidPOSScale, stable: flagged, noNeg: true, over: over, under: under, fault: fault},
	"counter-packet":           {say: counterPacket, stable: onlyStill, mode: modeNet},
	"letter-keyed-block":       {say: letterKeyedBlock, stable: onlyStill, mode: modeNet, noUnit: true},
	"multi-line-print":         {say: counterPacket, stable: onlyStill, mode: modeNet},
}

// Each function below writes one format.

// layout puts digits and unit into the columns of a format; nothing where it has no
// words for a state.
type layout func(b []byte, s Shown, digits, unit string) []byte

// columns says a weight whose number has at most n columns.
func columns(n int, units map[protocol.Unit]string, write layout) func([]byte, Shown) ([]byte, error) {
	return written(func(s Shown) (string, string, error) { return number(s, n, units) }, write)
}

// signedColumns is columns with the minus at the digits, where it counts as one.
func signedColumns(n int, units map[protocol.Unit]string, write layout) func([]byte, Shown) ([]byte, error) {
	return written(func(s Shown) (string, string, error) { return signedNumber(s, n, units) }, write)
}

func written(read func(Shown) (digits, unit string, err error), write layout) func([]byte, Shown) ([]byte, error) {
	return func(b []byte, s Shown) ([]byte, error) {
		d, u, err := read(s)
		if err != nil {
			return nil, err
		}
		return write(b, s, d, u), nil
	}
}

var (
	letterStatus = signedColumns(10, lower, func(b []byte, s Shown, d, u string) []byte {
		return fmt.Appendf(b, "S %s %10s %s\r\n", pick(s.Stable, "S", "D"), d, u)
	})
	floatSignUnit = signedColumns(10, lower, func(b []byte, s Shown, d, u string) []byte {
		return fmt.Appendf(b, "  %10s %-3s\r\n", d, pick(s.Stable, u, ""))
	})
	prefixWeightChecksum = written(sevenColumns, func(b []byte, s Shown, d, u string) []byte {
		b = fmt.Appendf(b, "%s%s%s", pick(s.Mode == protocol.Net, "WN", "WG"), d, u)
		return fmt.Appendf(b, "%02X\r\n", xor(b))
	})
	// The heads for gross and tare are known from memory only, so that no reader takes
	// a weight from them.
	wnPrefix    = written(sevenColumns, func(b []byte, _ Shown, d, u string) []byte { return fmt.Appendf(b, "wn%s%s\r\n", d, u) })
	headerSpace = columns(10, lower, func(b []byte, s Shown, d, u string) []byte {
		return fmt.Appendf(b, "%s%11s%3s\r\n", pick(s.Stable, "WT", "US"), string(sign(s, '+'))+d, u)
	})
	blankUnit = columns(8, lower, func(b []byte, s Shown, d, u string) []byte {
		return fmt.Appendf(b, "%c%8s %-4s\r\n", sign(s, '+'), d, pick(s.Stable, u, ""))
	})
	weightUnitQuestion = columns(7, lower2, func(b []byte, s Shown, d, u string) []byte {
		return fmt.Appendf(b, "%c %6s %-2s   %c%s\r\n", sign(s, ' '), d, u, pick(s.Stable, ' ', '?'), pick(s.Mode == protocol.Net, "N", "G"))
	})
	stabilitySignMassUnit = columns(9, lower, func(b []byte, s Shown, d, u string) []byte {
		return fmt.Appendf(b, "%c %c%9s %-3s\r\n", pick(s.Stable, ' ', '?'), sign(s, ' '), d, u)
	})
	signDigitsUnitLetters = columns(7, upper2, func(b []byte, s Shown, d, u string) []byte {
		return fmt.Appendf(b, "%c%s%2s %c\r\n", sign(s, '+'), zeros(d, 7), u, pick(s.Stable, 'S', 'U'))
	})
	stabilityLetterPrefix = columns(8, lower2, func(b []byte, s Shown, d, u string) []byte {
		return fmt.Appendf(b, "%c%c%8s%-2s\r", pick(s.Stable, 'S', 'U'), sign(s, ' '), d, u)
	})
	signNumberTailLetters = columns(9, initials, func(b []byte, s Shown, d, u string) []byte {
		return fmt.Appendf(b, "%c%s   %s%c\r\n", sign(s, '+'), d, u, pick(s.Stable, 'S', ' '))
	})
	signPadUnit = columns(8, lower2, func(b []byte, s Shown, d, u string) []byte {
		return fmt.Appendf(b, "%c%8s %-2s\r\n", sign(s, ' '), d, u)
	})
	signGapUnit2 = columns(8, lower2, func(b []byte, s Shown, d, u string) []byte {
		return fmt.Appendf(b, "%c %8s %2s \r\n", sign(s, ' '), d, u)
	})
	colonLetterMass = columns(6, lower2, func(b []byte, s Shown, d, u string) []byte {
		return fmt.Appendf(b, ":W%c%6s%2s%c \r", sign(s, ' '), d, u, pick(s.Stable, 'S', ' '))
	})
	sohSignStatusDigit = columns(7, lower2, func(b []byte, s Shown, d, u string) []byte {
		return fmt.Appendf(b, "\x01%c%7s%2s%c\r\n", sign(s, '+'), d, u, pick(s.Stable, '0', '1'))
	})
)

func printNetLetter(b []byte, s Shown) ([]byte, error) {
	if s.Status != protocol.OK || !s.Stable {
		return nil, nil // the print key waits for rest
	}
	d, u, err := signedNumber(s, 13, lower2)
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "     N%13s %-4s\r\n", d, u), nil
}

func headerComma(filler, layout string) func([]byte, Shown) ([]byte, error) {
	return func(b []byte, s Shown) ([]byte, error) {
		switch s.Status {
		case over:
			return append(append(append(b, "OL,+9999999E+19"...), filler...), "\r\n"...), nil
		case under:
			return append(append(append(b, "OL,-9999999E+19"...), filler...), "\r\n"...), nil
		case fault:
			if filler != "" {
				return nil, nil
			}
			return append(b, "EC,E02\r\n"...), nil
		}
		d, u, err := number(s, 9, lower)
		if err != nil {
			return nil, err
		}
		return fmt.Appendf(b, layout, pick(s.Stable, "ST", "US"), sign(s, '+'), zeros(d, 8), u), nil
	}
}

// zeros pads with zeros on the left.
func zeros(t string, n int) string { return strings.Repeat("0", max(0, n-len(t))) + t }

func bareNumber(b []byte, s Shown) ([]byte, error) {
	n := pick(s.Value.Places > 0, 9, 8)
	if err := room(num(s), n); err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "%c%s\r\n", sign(s, '+'), zeros(num(s), n)), nil
}

func headerCommaMode(b []byte, s Shown) ([]byte, error) {
	mode := pick(s.Mode == protocol.Net, "NT", "GS")
	switch s.Status {
	case over:
		return fmt.Appendf(b, "OL,%s,+999.999kg\r\n", mode), nil
	case under:
		return fmt.Appendf(b, "UL,%s,-999.999kg\r\n", mode), nil
	case fault:
		return nil, nil
	}
	d, u, err := number(s, 7, lower2)
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "%s,%s,%c%7s%2s\r\n", pick(s.Stable, "ST", "US"), mode, sign(s, '+'), d, u), nil
}

func headerCommaIDLamp(b []byte, s Shown) ([]byte, error) {
	if s.Status == fault {
		return append(b, "ERR 03\r\n"...), nil
	}
	lamp := byte(0x80)
	lamp |= pick[byte](s.Stable, 1<<6, 0)
	lamp |= pick[byte](s.Mode == protocol.Net, 1<<1, 1<<2)
	lamp |= pick[byte](s.Zero, 1, 0)
	mode := pick(s.Mode == protocol.Net, "NT", "GS")
	u, err := unitIn(s, lower2)
	if err != nil {
		return nil, err
	}
	if s.Status != protocol.OK {
		b = append(fmt.Appendf(b, "OL,%s,1", mode), lamp)
		return fmt.Appendf(b, ",%8s %2s\r\n", "", u), nil
	}
	if err := room(signed(s), 8); err != nil {
		return nil, err
	}
	b = append(fmt.Appendf(b, "%s,%s,1", pick(s.Stable, "ST", "US"), mode), lamp)
	return fmt.Appendf(b, ",%8s %2s\r\n", signed(s), u), nil
}

func fixedSignUnit(id string) func([]byte, Shown) ([]byte, error) {
	return func(b []byte, s Shown) ([]byte, error) {
		head := func(t string) []byte {
			if id == "" {
				return b
			}
			return fmt.Appendf(b, "%-6s", t)
		}
		switch s.Status {
		case over:
			return append(head("Stat"), "      High    \r\n"...), nil
		case under:
			return append(head("Stat"), "      Low     \r\n"...), nil
		case fault:
			if id != "" {
				return append(b, "Stat     Err 101    \r\n"...), nil
			}
			return append(b, "     Err 101  \r\n"...), nil
		}
		d, u, err := number(s, 8, lower)
		if err != nil {
			return nil, err
		}
		b = head(pick(s.Mode == protocol.Net, "N", "G"))
		return fmt.Appendf(b, "%c %8s %-3s\r\n", sign(s, '+'), d, pick(s.Stable, u, "")), nil
	}
}

func lineFeed(b []byte) []byte { return append(b, "\r\n"...) }

func equals(reversed bool) func([]byte, Shown) ([]byte, error) {
	return func(b []byte, s Shown) ([]byte, error) {
		if s.Status != protocol.OK {
			return nil, nil
		}
		d := num(s)
		if err := cmp.Or(pointed(s), room(d, 7)); err != nil {
			return nil, err
		}
		t := []byte(string(sign(s, '0')) + zeros(d, 7))
		if reversed {
			for i, j := 0, len(t)-1; i < j; i, j = i+1, j-1 {
				t[i], t[j] = t[j], t[i]
			}
		}
		return append(append(b, '='), t...), nil
	}
}

// sevenColumns gives kilograms with a point and zeros in front, the minus among them.
func sevenColumns(s Shown) (digits, unit string, err error) {
	n := pick(s.Value.Neg, 6, 7)
	if digits, unit, err = number(s, n, kgOnly); err != nil {
		return "", "", err
	}
	return pick(s.Value.Neg, "-", "") + zeros(digits, n), unit, pointed(s)
}

// printed gives tare, gross and net as a print key lists them, or false while
// there is nothing to print.
func printed(s Shown) (tare, gross, net string, ok bool) {
	if s.Status != protocol.OK || !s.Stable {
		return "", "", "", false
	}
	t := protocol.Decimal{Coef: s.Tare.Coef, Places: s.Value.Places}
	n := int64(s.Value.Coef)
	if s.Value.Neg {
		n = -n
	}
	g := int64(t.Coef) + n
	return t.String(), protocol.Decimal{Coef: uint64(max(g, -g)), Places: s.Value.Places, Neg: g < 0}.String(), signed(s), true
}

func counterPacket(b []byte, s Shown) ([]byte, error) {
	tare, gross, net, ok := printed(s)
	if !ok {
		return nil, nil
	}
	u, err := unitIn(s, lower2)
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "^KJIK000\r\n%s\r\n%s\r\n%6s %s\r\n%6s %s\r\n0\r\n0\r\n%6s %s\r\n%6s %s\r\n    0 pcs\r\n \r\n \r\nE\r\n~P1\r\n",
		s.At.Format("2006-01-02"), s.At.Format("15:04:05"), tare, u, gross, u, net, u, net, u), nil
}

func letterKeyedBlock(b []byte, s Shown) ([]byte, error) {
	tare, gross, net, ok := printed(s)
	if !ok {
		return nil, nil
	}
	for _, d := range []string{tare, gross, net} {
		if err := room(d, 9); err != nil {
			return nil, err
		}
	}
	return fmt.Appendf(b, "F%9s\rH%9s\rQ%9s\rX%9s\rA%9s\r0%9s\r4%9s\r1%9s\r2%8s\rB\x83\rC%02d\xf4 %02d\xf3 %d\xf2 %s\rV1\r\n",
		"0.0", "0.0", "0.0", "0.0", gross, net, tare, "0.0", "0",
		s.At.Day(), s.At.Month(), s.At.Year(), strings.ToUpper(s.At.Format("Mon 03:04PM"))), nil
}
