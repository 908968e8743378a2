package text

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// What is said of ports and lines is recognised whole, whatever stands in it.
func TestHeard(t *testing.T) {
	de, fr := Named("de"), Named("fr")
	for english, want := range map[string]string{
		`port "/dev/ttyUSB0": the device is gone: check the cable and whether the scale is switched on; it is taken up again by itself`: "Anschluss „/dev/ttyUSB0“: das Gerät ist weg: das Kabel prüfen und ob die Waage eingeschaltet ist; sie wird von selbst wieder aufgenommen",
		`port "/dev/ttyUSB0": permission denied (only root may open it): unplug the adapter and plug it in again`:                       "Anschluss „/dev/ttyUSB0“: kein Zugriff (nur root darf ihn öffnen): den Adapter ausstecken und wieder einstecken",
		"Finding the speed and format.": "Geschwindigkeit und Format werden gesucht.",
		"the whiting was damp":          "the whiting was damp",
		"":                              "",
	} {
		assert.Equal(t, want, de.Say(Written(english)))
		assert.Equal(t, english, English.Say(Written(english)))
	}
	assert.Equal(t, "pas de lecture depuis deux secondes", fr.Term("no reading for two seconds"))
	values, ok := taken([]piece{{"a ", "1"}, {" b ", "2"}}, "a x b y")
	assert.True(t, ok)
	assert.Equal(t, []Value{Name("1", "x"), Name("2", "y")}, values)
	_, ok = taken([]piece{{"a ", "1"}}, "b x")
	assert.False(t, ok)
}

// A sentence of another area never stands for what was heard, and each is heard by itself.
func TestEachIsHeard(t *testing.T) {
	for _, code := range heards() {
		words := written(English.sentences()[code].forms[other])
		assert.NotEqual(t, words, Pseudo.heard(words), code)
	}
}
