package protocol

import "strings"

// Unit is the canonical name of a unit as an instrument showed it; empty when
// it showed none.
type Unit string

// The units that instruments show. Pieces, percent and newton are known so
// that they can be refused in words; they are not masses.
const (
	UnitNone        Unit = ""
	UnitGram        Unit = "g"
	UnitKilogram    Unit = "kg"
	UnitMilligram   Unit = "mg"
	UnitTonne       Unit = "t"
	UnitPound       Unit = "lb"
	UnitOunce       Unit = "oz"
	UnitTroyOunce   Unit = "ozt"
	UnitCarat       Unit = "ct"
	UnitGrain       Unit = "gn"
	UnitPennyweight Unit = "dwt"
	UnitNewton      Unit = "N"
	UnitPieces      Unit = "pcs"
	UnitPercent     Unit = "%"
	UnitMomme       Unit = "mom"
	UnitTael        Unit = "tl"
	UnitMesghal     Unit = "MS"
	UnitTola        Unit = "tol"
	UnitBaht        Unit = "bat"
	UnitDensity     Unit = "DS"
)

// Picograms gives how many picograms one of the unit is, exactly; 0 for a unit
// that is no mass or whose size differs from maker to maker (tael, tola,
// mesghal, baht, momme), which are therefore never turned into a Mass.
//
// Sources: pound, ounce and troy ounce: UK Weights and Measures Act 1985,
// Schedule 1 Part V; grain = 1/7000 lb and metric carat = 0.2 g: NIST SP 811
// Appendix B; pennyweight = 24 grains.
func (u Unit) Picograms() int64 {
	switch u {
	case UnitGram:
		return 1_000_000_000_000
	case UnitKilogram:
		return 1_000_000_000_000_000
	case UnitMilligram:
		return 1_000_000_000
	case UnitTonne:
		return 1_000_000_000_000_000_000
	case UnitPound:
		return 453_592_370_000_000
	case UnitOunce:
		return 28_349_523_125_000
	case UnitTroyOunce:
		return 31_103_476_800_000
	case UnitCarat:
		return 200_000_000_000
	case UnitGrain:
		return 64_798_910_000
	case UnitPennyweight:
		return 1_555_173_840_000
	}
	return 0
}

// IsMass tells whether digits in this unit can become a Mass.
func (u Unit) IsMass() bool { return u.Picograms() != 0 }

// LookupUnit finds a unit by the letters that people and most instruments
// write, without regard to case or blanks around it. Formats whose letters mean
// something else ("K", "GN" as gram and net, "  t" as tola) have their own
// table.
func LookupUnit(s string) (Unit, bool) {
	t := strings.TrimSpace(s)
	if u, ok := written[strings.TrimSuffix(strings.ToLower(t), "s")]; ok {
		return u, true
	}
	return unitWord([]byte(t))
}

// written are the units as people write them out; instruments do not.
var written = map[string]Unit{"gram": UnitGram, "ounce": UnitOunce, "pound": UnitPound, "grain": UnitGrain, "carat": UnitCarat}

// unitWord finds a unit by its letters, without regard to case and without
// allocating: the one table of them, behind LookupUnit too. The bytes must have
// been trimmed.
func unitWord(b []byte) (Unit, bool) {
	var buf [4]byte
	if len(b) == 0 || len(b) > len(buf) || string(b) == "Mg" {
		return UnitNone, false // Mg is a tonne, and a sloppy milligram
	}
	for i, c := range b {
		if c >= 'A' && c <= 'Z' {
			c += 'a' - 'A'
		}
		buf[i] = c
	}
	u := unitOfWord(string(buf[:len(b)]))
	return u, u != UnitNone
}

// unitOfWord is the table behind unitWord, in lower case.
func unitOfWord(word string) Unit {
	switch word {
	case "g":
		return UnitGram
	case "kg":
		return UnitKilogram
	case "mg":
		return UnitMilligram
	case "t":
		return UnitTonne
	case "lb", "lbs", "/lb":
		return UnitPound
	case "oz":
		return UnitOunce
	case "ozt", "oz t", "ot":
		return UnitTroyOunce
	case "ct":
		return UnitCarat
	case "gn":
		return UnitGrain
	case "dwt", "dw":
		return UnitPennyweight
	case "n":
		return UnitNewton
	case "pcs", "pc":
		return UnitPieces
	case "%":
		return UnitPercent
	case "mom", "mo":
		return UnitMomme
	case "tl", "tlh", "tls", "tlt":
		return UnitTael
	case "ms":
		return UnitMesghal
	case "tol":
		return UnitTola
	case "bat":
		return UnitBaht
	case "ds":
		return UnitDensity
	}
	return UnitNone
}
