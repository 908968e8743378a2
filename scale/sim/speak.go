package sim

import (
	"errors"
	"fmt"
	"slices"

	"tared/protocol"
)

// A format that cannot carry what is shown: too many digits for its columns, a
// unit it has no letters for. Encode wraps it.
var errCarry = errors.New("cannot carry it")

// Encode writes what a display shows as one frame of a line format of package
// protocol, terminator included. It returns nothing and no error where an
// instrument of that format would keep silent: when it is off, and where the
// format has no words for an overload or for a pan that moves. The layouts and
// their sources stand with each format in package protocol.
func Encode(format string, s Shown) ([]byte, error) {
	v, ok := encoders[format]
	if !ok {
		return nil, fmt.Errorf("format %q: the simulated scale does not speak it; it speaks %v", format, Speaks())
	}
	if s.Silent {
		return nil, nil
	}
	if s.Status != protocol.OK && v.says != nil {
		return []byte(v.says[s.Status]), nil
	}
	b, err := v.say(make([]byte, 0, 40), s)
	if err != nil {
		return nil, fmt.Errorf("format %q: %s %s: %w", format, s.Value, s.Unit, err)
	}
	return b, nil
}

// Speaks lists the formats that Encode knows, by name in order.
func Speaks() []string {
	names := make([]string, 0, len(encoders))
	for n := range encoders {
		names = append(names, n)
	}
	slices.Sort(names)
	return names
}

// encoder is how one format is spoken, and what of a display gets through it.
type encoder struct {
	say    func(b []byte, s Shown) ([]byte, error)
	says   states
	stable tells // how rest gets through
	mode   mode
	noUnit bool // no unit in the frame
	noNeg  bool // a weight below zero comes as an underload without digits
	// What an overload, an underload and a fault come through as; Invalid: the
	// instrument sends nothing.
	over, under, fault protocol.Status
}

// states are the frames of a format that say without a weight how the instrument
// is; nothing is sent for those that are not there. Nil: the format's own function
// says them, for they hold more than that.
type states map[protocol.Status]string

// tells is how a format shows rest.
type tells uint8

const (
	unsaid    tells = iota // not at all
	flagged                // by a letter or bit
	byUnit                 // the unit is blank while it moves
	ifMoving               // said while it moves, and unsaid at rest
	onlyStill              // nothing is sent while it moves
	moving                 // no weight while it moves, but a word about it
)

// mode is how a format shows gross or net.
type mode uint8

const (
	modeUnsaid mode = iota
	modeSaid
	modeStill // said, but not while it moves
	modeNet   // every weight counts as net
)

// num is the number without its sign.
func num(s Shown) string {
	return protocol.Decimal{Coef: s.Value.Coef, Places: s.Value.Places}.String()
}

// signed is the number with a minus that touches its first digit.
func signed(s Shown) string { return s.Value.String() }

// sign gives - or the other letter.
func sign(s Shown, plus byte) byte {
	if s.Value.Neg {
		return '-'
	}
	return plus
}

func pick[T any](b bool, yes, no T) T {
	if b {
		return yes
	}
	return no
}

// room says whether t fits into n columns.
func room(t string, n int) error {
	if len(t) > n {
		return fmt.Errorf("%w: %q needs more than %d columns", errCarry, t, n)
	}
	return nil
}

// unitIn gives the letters of the unit from a format's own table.
func unitIn(s Shown, table map[protocol.Unit]string) (string, error) {
	if t, ok := table[s.Unit]; ok {
		return t, nil
	}
	return "", fmt.Errorf("%w: no letters for %q", errCarry, s.Unit)
}

// Letters of the units where they are written as everywhere.
var (
	lower = map[protocol.Unit]string{
		protocol.UnitGram: "g", protocol.UnitKilogram: "kg", protocol.UnitMilligram: "mg", protocol.UnitPound: "lb",
		protocol.UnitOunce: "oz", protocol.UnitCarat: "ct", protocol.UnitGrain: "gn", protocol.UnitTroyOunce: "ozt",
	}
	lower2 = map[protocol.Unit]string{
		protocol.UnitGram: "g", protocol.UnitKilogram: "kg", protocol.UnitMilligram: "mg", protocol.UnitPound: "lb",
		protocol.UnitOunce: "oz", protocol.UnitCarat: "ct",
	}
	upper2 = map[protocol.Unit]string{
		protocol.UnitGram: "G", protocol.UnitKilogram: "KG", protocol.UnitPound: "LB", protocol.UnitOunce: "OZ", protocol.UnitCarat: "CT",
	}
	initials = map[protocol.Unit]string{
		protocol.UnitGram: "G", protocol.UnitOunce: "O", protocol.UnitPound: "P", protocol.UnitCarat: "C",
		protocol.UnitKilogram: "K", protocol.UnitPennyweight: "D",
	}
	kgOnly = map[protocol.Unit]string{protocol.UnitKilogram: "kg"}
)

// number checks that the frame is a weight with a number of at most n columns
// and gives its letters.
func number(s Shown, n int, units map[protocol.Unit]string) (digits, unit string, err error) {
	digits = num(s)
	if err = room(digits, n); err != nil {
		return "", "", err
	}
	unit, err = unitIn(s, units)
	return digits, unit, err
}

// signedNumber is number with the minus at the digits, where it counts as a column.
func signedNumber(s Shown, n int, units map[protocol.Unit]string) (digits, unit string, err error) {
	digits = signed(s)
	if unit, err = unitIn(s, units); err != nil {
		return "", "", err
	}
	return digits, unit, room(digits, n)
}

// pointed says whether the number has the decimal point without which a format
// cannot be told.
func pointed(s Shown) error {
	if s.Value.Places == 0 {
		return fmt.Errorf("%w: it needs a decimal point", errCarry)
	}
	return nil
}
