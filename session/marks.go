package session

import (
	"strings"
)

// markLetters follow the date in a batch's mark; letters that look like
// others, or like digits, are left out so that the mark can be written on a
// tile.
const markLetters = "acdefhkmnprtwxy"

// afterMark is the mark of a cup that takes the place of another: 260302a-3, then
// 260302a-3a, 260302a-3c and on through markLetters.
func afterMark(mark string) string {
	last := mark[len(mark)-1:]
	if k := strings.Index(markLetters, last); k >= 0 && k+1 < len(markLetters) {
		return mark[:len(mark)-1] + markLetters[k+1:k+2]
	}
	return mark + markLetters[:1]
}
