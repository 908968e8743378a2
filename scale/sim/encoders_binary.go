package sim

import (
	"cmp"
	"fmt"
	"strings"

	"tared/protocol"
)

// The ends of a status word frame: what closes it behind its digits.
func minusSum(b []byte) []byte { b = append(b, '\r'); return append(b, -sum(b)&0x7f) }

func plainSum(b []byte) []byte { b = append(b, '\r'); return append(b, sum(b)) }

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
	if err := cmp.Or(pointed(s), room(num(s), 6)); err != nil {
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

var (
	stxPolarityUnitLetter = columns(7, map[protocol.Unit]string{
		protocol.UnitGram: "G", protocol.UnitKilogram: "K", protocol.UnitPound: "L", protocol.UnitOunce: "O",
	}, func(b []byte, s Shown, d, u string) []byte {
		status, p := pick(s.Stable, ' ', 'M'), sign(s, ' ')
		switch s.Status {
		case over:
			status, d = 'O', "9999.99"
		case under:
			status, d, p = 'O', "9999.99", '-'
		case fault:
			status = 'I'
		}
		return fmt.Appendf(b, "\x02%c%7s%s%c%c\r\n", p, d, u, pick(s.Mode == protocol.Net, 'N', 'G'), status)
	})
	stxPolarityGapLegend = columns(7, lower2, func(b []byte, s Shown, d, u string) []byte {
		legend := pick(s.Mode == protocol.Net, "NT", "GR")
		if !s.Stable && s.Status == protocol.OK {
			legend = strings.ToLower(legend)
		}
		return polarWords(s, d, func(d string) []byte {
			return fmt.Appendf(b, "\x02%c%7s %-2s %s\r\n", sign(s, ' '), d, u, legend)
		})
	})
	stxPolarityGapUnit = columns(7, map[protocol.Unit]string{
		protocol.UnitGram: "G", protocol.UnitKilogram: "KG", protocol.UnitPound: "LB", protocol.UnitOunce: "OZ",
	}, func(b []byte, s Shown, d, u string) []byte {
		return polarWords(s, d, func(d string) []byte {
			return fmt.Appendf(b, "\x02%c%7s %-2s%c\r\n", sign(s, ' '), d, u, pick(s.Stable, ' ', 'M'))
		})
	})
)

// polarWords has the words for out of range stand in the place of the digits.
func polarWords(s Shown, digits string, write func(digits string) []byte) []byte {
	switch s.Status {
	case over:
		digits = "--oL--"
	case under:
		digits = "--uL--"
	case fault:
		return nil
	}
	return write(digits)
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
