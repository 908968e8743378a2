package protocol

import "slices"

// formats is the one list of every format. A new format is a new file and one
// line here; the order is the order in which people see them.
var formats = []*Format{
	letterStatus,
	printNetLetter,
	headerComma,
	headerCommaCSV,
	headerSpace,
	bareNumber,
	blankUnitWhenMoving,
	headerCommaMode,
	headerCommaIDLamp,
	fixedSignUnit,
	fixedSignUnitID,
	weightUnitQuestion,
	stabilitySignMassUnit,
	signDigitsUnitLetters,
	stabilityLetterPrefix,
	signPadUnit,
	signGapUnit2,
	signNumberTailLetters,
	stxStatusWord,
	stxStatusWordSum8,
	stxStatusWordLoose,
	stxStatusWordLF,
	stxStatusWordShort,
	lfWeightStatusETX,
	stxWeightCR,
	lfFlagFields,
	stxPolarityUnitLetter,
	stxPolarityGapLegend,
	stxPolarityGapUnit,
	stxSignModeETX,
	crSignETX,
	stxSignDigitsXOR,
	equalsReversed,
	equalsForward,
	prefixWeightChecksum,
	wnPrefix,
	sohSTXBCC,
	sohSignStatusDigit,
	bcdFFFrame,
	floatSignUnit,
	colonLetterMass,
	counterPacket,
	letterKeyedBlock,
	titledBlock,
	multiLinePrint,
	hidPOSScale,
}

// All gives every format that is built in, in a slice of the caller's own.
func All() []*Format { return slices.Clone(formats) }

// Lookup finds a format by its name.
func Lookup(name string) (*Format, bool) {
	for _, f := range formats {
		if f.Name == name {
			return f, true
		}
	}
	return nil, false
}
