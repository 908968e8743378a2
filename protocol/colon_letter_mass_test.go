package protocol

import (
	"testing"
)

func TestColonLetterMass(t *testing.T) {
	runRows(t, colonLetterMass, []row{
		{":W 118.70kgS \r", "118.70", "kg", "true", "-", "ok", "My Weigh HD manual p. 7"},
		{":W  64.15kg  \r", "64.15", "kg", "false", "-", "ok", "built from the layout; My Weigh HD manual p. 7"},
		{":W- 64.15lbSL\r", "-64.15", "lb", "true", "-", "ok", "built from the layout; My Weigh HD manual p. 7; battery low"},
		{":M  OVER     \r", "", "", "", "-", "overload", "built from the layout; My Weigh HD manual p. 7"},
		{":M OVER     L\r", "", "", "", "-", "overload", "built from the layout; My Weigh HD manual p. 7"},
		{":MOVER\r", "", "", "", "-", "overload", "built from the layout; My Weigh HD manual p. 7; without blanks"},
		{":M  LO       \r", "", "", "", "-", "invalid", "built from the layout; My Weigh HD manual p. 7; another message"},
	})
	runNever(t, colonLetterMass,
		"W 118.70kgS \r",
		":W 118.70kgS\r",
		":W 118.70kgS  \r",
		":W118.70kgS \r",
		":X 118.70kgS \r",
		":W+118.70kgS \r",
		":W 118.70kgX \r",
		":W 118.70kgSX\r",
		":W 118.70xxS \r",
		":W 11 .70kgS \r",
		":W 118.7 kgS \r",
		":M 118.70kgS \r",
	)
	runDamage(t, colonLetterMass, ":W 118.70kgS \r", false)
	runDamage(t, colonLetterMass, ":W  64.15kg  \r", false)
}
