package label

import (
	"strconv"
	"strings"

	"tared/session/text"
)

// Printer is a label printer.
type Printer struct {
	Command []string // the program and its words; empty: there is none

	dpi, width, height int // of its labels, in millimetres; dpi 0: it takes SVG, else ZPL
}

// Draw gives what it takes for so many labels, and how often it has to get that.
func (p Printer) Draw(l Label, count int) (drawn string, times int, err error) {
	if p.dpi > 0 {
		drawn, err = l.ZPL(p.width, p.height, p.dpi, count)
		return drawn, 1, err
	}
	drawn, err = l.SVG(float64(p.width), float64(p.height))
	return drawn, count, err
}

// ReadPrinter understands the settings of a printer: the command as it would be typed, and
// what it takes, svg, or zpl with the dots an inch and the size of the label.
func ReadPrinter(command, as string) (p Printer, err error) {
	p.width, p.height = 105, 74
	wrong := text.Refuse("label.print-as", text.Name("value", as))
	for i, word := range strings.Fields(strings.ToLower(as)) {
		w, h, size := strings.Cut(strings.TrimSuffix(word, "mm"), "x")
		dpi, dots := strings.CutSuffix(word, "dpi")
		switch {
		case i == 0 && word == "svg":
		case i == 0 && word == "zpl":
			p.dpi = 203
		case i > 0 && dots && p.dpi > 0 && (dpi == "203" || dpi == "300"):
			p.dpi, _ = strconv.Atoi(dpi)
		case i > 0 && size && strings.HasSuffix(word, "mm"):
			var errW, errH error
			p.width, errW = strconv.Atoi(w)
			p.height, errH = strconv.Atoi(h)
			if errW != nil || errH != nil {
				return p, wrong
			}
		default:
			return p, wrong
		}
	}
	p.Command, err = splitCommand(command)
	return p, err
}

// splitCommand splits a command at its blanks. What stands between quotes of one kind is one
// word; nothing else means anything.
func splitCommand(s string) (words []string, err error) {
	var word strings.Builder
	begun, quote := false, rune(0)
	for _, r := range s {
		switch {
		case quote != 0 && r == quote:
			quote = 0
		case quote == 0 && (r == '"' || r == '\''):
			begun, quote = true, r
		case quote == 0 && (r == ' ' || r == '\t'):
			if begun {
				words = append(words, word.String())
			}
			word.Reset()
			begun = false
		case r == 0 || r == '\n':
			return nil, text.Refuse("label.print-command", text.Name("command", s))
		default:
			begun = true
			word.WriteRune(r)
		}
	}
	if begun {
		words = append(words, word.String())
	}
	if quote != 0 || len(words) > 0 && words[0] == "" {
		return nil, text.Refuse("label.print-command", text.Name("command", s))
	}
	return words, nil
}
