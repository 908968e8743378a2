package sim

import (
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

// voices is every format that the simulated scale speaks.
var voices = map[string]voice{
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

func letterStatus(b []byte, s Shown) ([]byte, error) {
	u, err := unitIn(s, lower)
	if err != nil {
		return nil, err
	}
	if err := room(signed(s), 10); err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "S %s %10s %s\r\n", pick(s.Stable, "S", "D"), signed(s), u), nil
}

func printNetLetter(b []byte, s Shown) ([]byte, error) {
	if s.Status != protocol.OK || !s.Stable {
		return nil, nil // the print key waits for rest
	}
	u, err := unitIn(s, lower2)
	if err != nil {
		return nil, err
	}
	if err := room(signed(s), 13); err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "     N%13s %-4s\r\n", signed(s), u), nil
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

func headerSpace(b []byte, s Shown) ([]byte, error) {
	d, u, err := number(s, 10, lower)
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "%s%11s%3s\r\n", pick(s.Stable, "WT", "US"), string(sign(s, '+'))+d, u), nil
}

func bareNumber(b []byte, s Shown) ([]byte, error) {
	n := pick(s.Value.Places > 0, 9, 8)
	if err := room(num(s), n); err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "%c%s\r\n", sign(s, '+'), zeros(num(s), n)), nil
}

func blankUnit(b []byte, s Shown) ([]byte, error) {
	d, u, err := number(s, 8, lower)
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "%c%8s %-4s\r\n", sign(s, '+'), d, pick(s.Stable, u, "")), nil
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

func weightUnitQuestion(b []byte, s Shown) ([]byte, error) {
	d, u, err := number(s, 7, lower2)
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "%c %6s %-2s   %c%s\r\n", sign(s, ' '), d, u, pick(s.Stable, ' ', '?'), pick(s.Mode == protocol.Net, "N", "G")), nil
}

func stabilitySignMassUnit(b []byte, s Shown) ([]byte, error) {
	d, u, err := number(s, 9, lower)
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "%c %c%9s %-3s\r\n", pick(s.Stable, ' ', '?'), sign(s, ' '), d, u), nil
}

func signDigitsUnitLetters(b []byte, s Shown) ([]byte, error) {
	d, u, err := number(s, 7, upper2)
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "%c%s%2s %c\r\n", sign(s, '+'), zeros(d, 7), u, pick(s.Stable, 'S', 'U')), nil
}

func stabilityLetterPrefix(b []byte, s Shown) ([]byte, error) {
	d, u, err := number(s, 8, lower2)
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "%c%c%8s%-2s\r", pick(s.Stable, 'S', 'U'), sign(s, ' '), d, u), nil
}

func signNumberTailLetters(b []byte, s Shown) ([]byte, error) {
	d, u, err := number(s, 9, map[protocol.Unit]string{
		protocol.UnitGram: "G", protocol.UnitOunce: "O", protocol.UnitPound: "P", protocol.UnitCarat: "C",
		protocol.UnitKilogram: "K", protocol.UnitPennyweight: "D",
	})
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "%c%s   %s%c\r\n", sign(s, '+'), d, u, pick(s.Stable, 'S', ' ')), nil
}

// The ends of a status word frame: what closes it behind its digits.
func minusSum(b []byte) []byte { b = append(b, '\r'); return append(b, -sum(b)&0x7f) }
func plainSum(b []byte) []byte { b = append(b, '\r'); return append(b, sum(b)) }
func lineFeed(b []byte) []byte { return append(b, "\r\n"...) }

func sum(b []byte) (s byte) {
	for _, c := range b {
		s += c
	}
	return s
}

func statusWord(tare bool, end func([]byte) []byte) func([]byte, Shown) ([]byte, error) {
	return func(b []byte, s Shown) ([]byte, error) {
		b, err := statusBytes(b, s)
		if err != nil || len(b) == 0 {
			return nil, err
		}
		if tare {
			b = fmt.Appendf(b, "%06d", min(s.Tare.Coef, 999999))
		}
		return end(b), nil
	}
}

// stxStatusWordLoose sets bits that others leave alone.
func stxStatusWordLoose(b []byte, s Shown) ([]byte, error) {
	return statusWord(true, func(b []byte) []byte {
		b[2] |= 0x40
		b[3] |= 0x50
		return minusSum(b)
	})(b, s)
}

// statusBytes writes STX, the three status bytes and the weight.
func statusBytes(b []byte, s Shown) ([]byte, error) {
	d, step := s.Value, s.Step
	if s.Status != protocol.OK {
		d = protocol.Decimal{}
	}
	// The bits know steps of 1, 2 and 5 in the last place: a step of 1.0 is shown as 1.
	for step.Places > 0 && step.Coef > 0 && step.Coef%10 == 0 && d.Places == step.Places && d.Coef%10 == 0 {
		step.Coef, step.Places, d.Coef, d.Places = step.Coef/10, step.Places-1, d.Coef/10, d.Places-1
	}
	if d.Places > 5 || d.Coef > 999999 {
		return nil, fmt.Errorf("%w: more than six digits or five decimals", errCarry)
	}
	a := byte(1<<5) | 2 + d.Places
	switch step.Coef {
	case 1:
		a |= 1 << 3
	case 2:
		a |= 2 << 3
	case 5:
		a |= 3 << 3
	default:
		return nil, fmt.Errorf("%w: no bits for a step of %s", errCarry, s.Step)
	}
	w := byte(1 << 5)
	w |= pick[byte](s.Mode == protocol.Net, 1, 0)
	w |= pick[byte](d.Neg || s.Status == under, 1<<1, 0)
	w |= pick[byte](s.Status != protocol.OK, 1<<2, 0)
	w |= pick[byte](!s.Stable, 1<<3, 0)
	c := byte(1 << 5)
	switch s.Unit {
	case protocol.UnitKilogram:
		w |= 1 << 4
	case protocol.UnitPound:
	case protocol.UnitGram:
		w |= 1 << 4
		c |= 1
	default:
		return nil, fmt.Errorf("%w: no bits for %q", errCarry, s.Unit)
	}
	if s.Status == fault {
		return nil, nil
	}
	return fmt.Appendf(append(b, 2, a, w, c), "%06d", d.Coef), nil
}

func lfWeightStatusETX(b []byte, s Shown) ([]byte, error) {
	u, err := unitIn(s, upper2)
	if err != nil {
		return nil, err
	}
	d := num(s)
	if err := room(d, 6); err != nil {
		return nil, err
	}
	d = pick(s.Value.Neg, "-", "") + zeros(d, 6)
	first := byte('0')
	first |= pick[byte](!s.Stable, 1, 0)
	first |= pick[byte](s.Zero, 2, 0)
	return fmt.Appendf(b, "\n%s%s\r\nS%c0\r\x03", d, u, first), nil
}

func stxWeightCR(b []byte, s Shown) ([]byte, error) {
	switch {
	case s.Status == over:
		return append(b, "\x02?b\r"...), nil
	case s.Status == under, s.Status == protocol.OK && s.Value.Neg:
		return append(b, "\x02?d\r"...), nil
	case s.Status == fault:
		return nil, nil
	case !s.Stable:
		return append(b, "\x02?a\r"...), nil
	}
	if s.Value.Places == 0 {
		return nil, fmt.Errorf("%w: it needs a decimal point", errCarry)
	}
	if err := room(num(s), 6); err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "\x02%s\r", zeros(num(s), 6)), nil
}

func lfFlagFields(b []byte, s Shown) ([]byte, error) {
	status := pick(s.Zero, 'Z', ' ')
	d := signed(s)
	switch s.Status {
	case over:
		status, d = 'O', "----------"
	case under:
		status, d = 'U', "----------"
	case fault:
		status, d = 'E', "----------"
	}
	u, err := unitIn(s, lower)
	if err != nil {
		return nil, err
	}
	if err := room(d, 10); err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "\n%c1%c%c %10s%-3s\r", status, pick(s.Mode == protocol.Net, 'N', 'G'), pick(s.Stable, ' ', 'M'), d, u), nil
}

func stxPolarityUnitLetter(b []byte, s Shown) ([]byte, error) {
	d, u, err := number(s, 7, map[protocol.Unit]string{
		protocol.UnitGram: "G", protocol.UnitKilogram: "K", protocol.UnitPound: "L", protocol.UnitOunce: "O",
	})
	if err != nil {
		return nil, err
	}
	status, p := pick(s.Stable, ' ', 'M'), sign(s, ' ')
	switch s.Status {
	case over:
		status, d = 'O', "9999.99"
	case under:
		status, d, p = 'O', "9999.99", '-'
	case fault:
		status = 'I'
	}
	return fmt.Appendf(b, "\x02%c%7s%s%c%c\r\n", p, d, u, pick(s.Mode == protocol.Net, 'N', 'G'), status), nil
}

func stxPolarityGapLegend(b []byte, s Shown) ([]byte, error) {
	d, u, err := number(s, 7, lower2)
	if err != nil {
		return nil, err
	}
	legend := pick(s.Mode == protocol.Net, "NT", "GR")
	switch {
	case s.Status == over:
		d = "--oL--"
	case s.Status == under:
		d = "--uL--"
	case s.Status == fault:
		return nil, nil
	case !s.Stable:
		legend = strings.ToLower(legend)
	}
	return fmt.Appendf(b, "\x02%c%7s %-2s %s\r\n", sign(s, ' '), d, u, legend), nil
}

func stxPolarityGapUnit(b []byte, s Shown) ([]byte, error) {
	d, u, err := number(s, 7, map[protocol.Unit]string{
		protocol.UnitGram: "G", protocol.UnitKilogram: "KG", protocol.UnitPound: "LB", protocol.UnitOunce: "OZ",
	})
	if err != nil {
		return nil, err
	}
	switch s.Status {
	case over:
		d = "--oL--"
	case under:
		d = "--uL--"
	case fault:
		return nil, nil
	}
	return fmt.Appendf(b, "\x02%c%7s %-2s%c\r\n", sign(s, ' '), d, u, pick(s.Stable, ' ', 'M')), nil
}

func crSignETX(b []byte, s Shown) ([]byte, error) {
	d, u, err := number(s, pick(s.Value.Places > 0, 7, 6), lower2)
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "\r%c%s  %-2s %c  \x03", sign(s, ' '), zeros(d, 6), u, pick(s.Mode == protocol.Net, 'n', 'g')), nil
}

func stxSignModeETX(b []byte, s Shown) ([]byte, error) {
	if err := room(num(s), 7); err != nil {
		return nil, err
	}
	letter := pick(s.Mode == protocol.Net, 'N', 'G')
	switch {
	case s.Status == over:
		letter = 'O'
	case s.Status == under:
		letter = 'U'
	case s.Status == fault:
		letter = 'E'
	case !s.Stable:
		letter = 'M'
	}
	return fmt.Appendf(b, "\x02%c%7s%c\x03", sign(s, ' '), num(s), letter), nil
}

func stxSignDigitsXOR(b []byte, s Shown) ([]byte, error) {
	if s.Value.Coef > 999999 || s.Value.Places > 4 {
		return nil, fmt.Errorf("%w: more than six digits or four decimals", errCarry)
	}
	b = fmt.Appendf(b, "\x02%c%06d%d", sign(s, '+'), s.Value.Coef, s.Value.Places)
	return fmt.Appendf(b, "%02X\x03", xor(b[1:])), nil
}

func xor(b []byte) (x byte) {
	for _, c := range b {
		x ^= c
	}
	return x
}

func equals(reversed bool) func([]byte, Shown) ([]byte, error) {
	return func(b []byte, s Shown) ([]byte, error) {
		if s.Status != protocol.OK {
			return nil, nil
		}
		d := num(s)
		if s.Value.Places == 0 {
			return nil, fmt.Errorf("%w: it needs a decimal point", errCarry)
		}
		if err := room(d, 7); err != nil {
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

func prefixWeightChecksum(b []byte, s Shown) ([]byte, error) {
	d, u, err := number(s, pick(s.Value.Neg, 6, 7), kgOnly)
	if err != nil {
		return nil, err
	}
	if s.Value.Places == 0 {
		return nil, fmt.Errorf("%w: it needs a decimal point", errCarry)
	}
	d = pick(s.Value.Neg, "-"+zeros(d, 6), zeros(d, 7))
	b = fmt.Appendf(b, "%s%s%s", pick(s.Mode == protocol.Net, "WN", "WG"), d, u)
	return fmt.Appendf(b, "%02X\r\n", xor(b)), nil
}

func wnPrefix(b []byte, s Shown) ([]byte, error) {
	d, u, err := number(s, pick(s.Value.Neg, 6, 7), kgOnly)
	if err != nil {
		return nil, err
	}
	if s.Value.Places == 0 {
		return nil, fmt.Errorf("%w: it needs a decimal point", errCarry)
	}
	d = pick(s.Value.Neg, "-"+zeros(d, 6), zeros(d, 7))
	// The heads for gross and tare are known from memory only, so that no reader
	// takes a weight from them.
	return fmt.Appendf(b, "wn%s%s\r\n", d, u), nil
}

func sohSTXBCC(b []byte, s Shown) ([]byte, error) {
	if s.Status == fault {
		return nil, nil
	}
	u, err := unitIn(s, lower2)
	if err != nil {
		return nil, err
	}
	d, p := num(s), sign(s, ' ')
	if s.Status != protocol.OK {
		d, p = "FFFFFF", 'F'
	}
	if err := room(d, 6); err != nil {
		return nil, err
	}
	b = fmt.Appendf(b, "\x01\x02%c%c%s%2s", pick(s.Stable, 'S', 'U'), p, zeros(d, 6), u)
	return append(b, xor(b[2:]), 3, 4), nil
}

func sohSignStatusDigit(b []byte, s Shown) ([]byte, error) {
	d, u, err := number(s, 7, lower2)
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "\x01%c%7s%2s%c\r\n", sign(s, '+'), d, u, pick(s.Stable, '0', '1')), nil
}

func bcdFFFrame(b []byte, s Shown) ([]byte, error) {
	d := s.Value
	if s.Status != protocol.OK {
		d = protocol.Decimal{}
	}
	if d.Coef > 999999 || d.Places > 7 {
		return nil, fmt.Errorf("%w: more than six digits", errCarry)
	}
	if s.Status == fault {
		return nil, nil
	}
	status := d.Places
	status |= pick[byte](d.Neg, 1<<5, 0)
	status |= pick[byte](s.Stable, 1<<6, 0)
	status |= pick[byte](s.Status != protocol.OK, 1<<7, 0)
	var u byte
	switch s.Unit {
	case protocol.UnitKilogram:
	case protocol.UnitPound:
		u = 1
	default:
		return nil, fmt.Errorf("%w: no byte for %q", errCarry, s.Unit)
	}
	bcd := func(n uint64) byte { return byte(n/10%10<<4 | n%10) }
	return append(b, 0xff, status, bcd(d.Coef), bcd(d.Coef/100), bcd(d.Coef/10000), u), nil
}

func floatSignUnit(b []byte, s Shown) ([]byte, error) {
	u, err := unitIn(s, lower)
	if err != nil {
		return nil, err
	}
	if err := room(signed(s), 10); err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "  %10s %-3s\r\n", signed(s), pick(s.Stable, u, "")), nil
}

func signPadUnit(b []byte, s Shown) ([]byte, error) {
	d, u, err := number(s, 8, lower2)
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "%c%8s %-2s\r\n", sign(s, ' '), d, u), nil
}

func signGapUnit2(b []byte, s Shown) ([]byte, error) {
	d, u, err := number(s, 8, lower2)
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(b, "%c %8s %2s \r\n", sign(s, ' '), d, u), nil
}

func colonLetterMass(b []byte, s Shown) ([]byte, error) {
	d, u, err := number(s, 6, lower2)
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(b, ":W%c%6s%2s%c \r", sign(s, ' '), d, u, pick(s.Stable, 'S', ' ')), nil
}

func hidPOSScale(b []byte, s Shown) ([]byte, error) {
	const (
		broken = 1 + iota
		still0
		inMotion
		still
		underZero
		overLimit
	)
	units := map[protocol.Unit]byte{
		protocol.UnitMilligram: 1, protocol.UnitGram: 2, protocol.UnitKilogram: 3, protocol.UnitCarat: 4, protocol.UnitGrain: 6,
		protocol.UnitPennyweight: 7, protocol.UnitTonne: 8, protocol.UnitTroyOunce: 10, protocol.UnitOunce: 11, protocol.UnitPound: 12,
	}
	u, ok := units[s.Unit]
	if !ok {
		return nil, fmt.Errorf("%w: no number for %q", errCarry, s.Unit)
	}
	if s.Value.Coef > 0xffff || s.Value.Places > 6 {
		return nil, fmt.Errorf("%w: more than two bytes", errCarry)
	}
	n, status := s.Value.Coef, byte(still)
	switch {
	case s.Status == over:
		status, n = overLimit, 0
	case s.Status == under, s.Value.Neg: // the weight has no sign
		status, n = underZero, 0
	case s.Status == fault:
		status, n = broken, 0
	case !s.Stable:
		status = inMotion
	case n == 0:
		status = still0
	}
	return append(b, 3, status, u, -s.Value.Places, byte(n), byte(n>>8)), nil
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
