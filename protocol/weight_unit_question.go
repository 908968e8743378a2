package protocol

import (
	"bytes"
	"time"
)

// weight-unit-question: number, unit, '?' while the weight moves, a legend. The
// width differs from family to family of the same maker, so each is drawn.
//
//	bench   column 1 polarity, 2 blank, weight of 6 (or 7), blank, unit in 5,
//	        '?' or blank, legend
//	lab     weight in 11 (polarity and 10) or 10, blank, unit of up to 5 letters
//	        (padded or not), blank, '?' or blank, perhaps a blank, legend of up
//	        to 10
//	older   number to column 12, blank, unit in 5, '?' or blank: 19 columns
//
//	   0.360 kg    G      bench
//	-  1.340 kg   ?N      the minus stands apart from its digits
//	       0.01 g ?       lab
//	     192.21 g
//	       12.73 g    ?   older
//	     192.21 g   14:05:00  printed at an interval
//	     207.80 g  TOTAL  a sum of several loads, not the pan
//	OK!                   a command was done
//	ES                    unknown command, or no stable weight within 40 s
//
// A line without '?' is stable, so a line whose end was lost would look stable;
// the terminator is therefore asked for.
//
// Sources: Ohaus manuals for Explorer, Navigator, Scout, AS series, Ranger,
// Defender 3000; captures in chumpon-asaneerat/NSerialCommTools, folders
// DEFENDER3000 and WEIGHT SPUN.
var weightUnitQuestion = &Format{
	Name:    "weight-unit-question",
	Summary: "padded number, unit, '?' while moving, legend",
	Example: `   0.415 kg   ?G\r\n`,
	Split:   splitWhole,
	Parse:   parseWeightUnitQuestion,
	Lines: []Line{
		{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1, Source: "Ohaus Defender 3000, Explorer manuals"},
		{Baud: 2400, Bits: 7, Parity: 'N', Stop: 2, Source: "from memory: older models"},
	},
	Ask:  &Ask{Weight: []byte("IP\r\n"), Zero: []byte("Z\r\n"), Tare: []byte("T\r\n")},
	Ends: true,

	OneLength: true, // of the number: the families right-align it, and the rest comes and goes
	length:    questionNumberEnd,
}

// questionNumberEnd gives the column in which the number of a weight ends: the
// first digits of the line, for a time of day may come behind.
func questionNumberEnd(b []byte) int {
	end := max(bytes.IndexAny(b, "0123456789"), 0)
	for end < len(b) && (isDigit(b[end]) || b[end] == '.') {
		end++
	}
	return end
}

func parseWeightUnitQuestion(b []byte, r *Reading) error {
	switch string(b) {
	case "OK!":
		return r.is(Invalid, "an acknowledgement")
	case "ES":
		return r.is(Error, "ES: unknown command, or no stable weight in time")
	}
	// The number ends where its family has it, with one blank behind it.
	end, padded := questionNumber(b)
	if end < 8 || end > 12 || end >= len(b) || b[end] != ' ' {
		return foreign("no number that ends in columns 8 to 12, with a blank behind it")
	}
	v, ok := paddedNumber(b[:end])
	if !ok {
		return foreign("no number")
	}
	stop := end + 1
	for stop < len(b) && b[stop] != ' ' && b[stop] != '?' {
		stop++
	}
	u, ok := unitWord(b[end+1 : stop])
	if !ok {
		return foreign("no unit behind the number")
	}
	moving, legend, ok := false, []byte(nil), false
	switch {
	case end <= 9:
		moving, legend, ok = questionBench(b, end)
	case end <= 11 && !padded:
		moving, legend, ok = questionLab(b[stop:], stop-end-1)
	case end == 12:
		moving, ok = questionOlder(b, stop)
	}
	if !ok {
		return damaged("what stands behind the unit fits no family of this format")
	}
	if live, err := questionLegend(legend, r); !live {
		return err
	}
	r.Status, r.Value, r.Unit, r.Stable = OK, v, u, Yes
	if moving {
		r.Stable = No
	}
	return nil
}

// questionNumber gives the column in which the number ends. padded says that
// blanks stand between the minus and its digits.
func questionNumber(b []byte) (end int, padded bool) {
	for end < len(b) && b[end] == ' ' {
		end++
	}
	if end < len(b) && b[end] == '-' {
		for end++; end < len(b) && b[end] == ' '; end++ {
			padded = true
		}
	}
	for end < len(b) && (isDigit(b[end]) || b[end] == '.') {
		end++
	}
	return end, padded
}

// questionLegend reads the legend. live is false where the weight is not that of
// the pan now.
func questionLegend(legend []byte, r *Reading) (live bool, err error) {
	switch string(legend) {
	case "":
	case "G":
		r.Mode = Gross
	case "N", "NET":
		r.Mode = Net
	case "T":
		r.Mode, r.Why = Tare, "this is the tare, not the load"
		return false, nil
	case "TOTAL":
		r.Why = "this is a sum of several loads, not the pan"
		return false, nil
	default:
		// Printed at intervals, a line has the time of day.
		if _, err := time.Parse("15:04:05", string(legend)); err != nil {
			return false, damaged("unknown legend behind the weight")
		}
	}
	return true, nil
}

// questionBench reads a line of the bench family behind its number: a blank, the
// unit in 5, '?' or blank, a legend or a blank.
func questionBench(b []byte, end int) (moving bool, legend []byte, ok bool) {
	if len(b) < end+8 || len(b) > end+10 {
		return false, nil, false
	}
	if len(trimBlanks(b[end+1:end+6])) != len(trimRight(b[end+1:end+6])) {
		return false, nil, false
	}
	for i := end + 1; i < end+5; i++ {
		if b[i] == '?' || b[i] == ' ' && b[i+1] != ' ' {
			return false, nil, false
		}
	}
	moving = b[end+6] == '?'
	return moving, trimRight(b[end+7:]), moving || b[end+6] == ' '
}

// questionOlder reads a line of the older family behind its unit.
func questionOlder(b []byte, stop int) (moving, ok bool) {
	if len(b) != 19 || len(trimBlanks(b[stop:18])) != 0 {
		return false, false
	}
	return b[18] == '?', b[18] == '?' || b[18] == ' '
}

// questionLab reads what stands behind a unit of n letters in the lab family.
func questionLab(b []byte, n int) (moving bool, legend []byte, ok bool) {
	if len(b) == 0 {
		return false, nil, true
	}
	pad := 0
	for pad < len(b) && b[pad] == ' ' {
		pad++
	}
	switch {
	case pad == len(b):
		// Blanks to the end: the whole of a padded line, or a cut one.
		return false, nil, pad >= 5-n+2
	case b[pad] == '?':
		legend = trimBlanks(b[pad+1:])
		return true, legend, pad == 1 || pad == 5-n+1
	}
	return false, trimRight(b[pad:]), pad >= 2
}
