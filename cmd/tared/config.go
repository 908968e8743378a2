package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"

	"tared/protocol"
	"tared/scale"
	"tared/session"
)

// settings is what the daemon is told besides its recipes: by a file, the
// environment and flags, the later going before the earlier.
type settings struct {
	listen  string
	data    string
	names   []string // host names by which browsers may call this machine
	table   string   // file with the user's own materials
	pair    bool     // ask for a paired browser even on this machine
	confirm string   // what a second person confirms
	water   string   // the studio's habit for the first water
	url     string   // address of the page as phones reach it, for labels
	scales  []scale.Config

	formats []*protocol.Format // declared by the user
}

// readConfig reads the daemon's configuration file. It is written in a small
// part of TOML 1.0: comments, key = value with a string, a whole number, true,
// false or a one-line list of strings, and [[scale]] and [[format]] tables.
//
//	listen = "0.0.0.0:7410"
//	data   = "/var/lib/tared"
//	names  = ["glaze.local"]
//	materials = "/etc/tared/materials.json"
//	confirm = "strong,typed"              # what a second person confirms
//	water  = "85%"                       # first water where the recipe says nothing
//	url    = "http://192.168.178.40:7410/" # of the page, for the QR code of labels
//
//	[[scale]]
//	name = "bench"
//	port = "/dev/serial/by-id/usb-…"
//	step = "0.1g"
//	max  = "2000g"
//
// The keys of a scale are those of --scale; those of a format are explained at
// readFormats. Every error is a *configError that names file and line.
func readConfig(path string) (settings, error) {
	d, err := openTOML(path)
	if err != nil {
		return settings{}, err
	}
	return d.settings()
}

// readFormats reads formats that the user declares, from [[format]] tables:
//
//	[[format]]
//	name     = "our-old-scale"
//	expr     = 'W(?P<stable>[ ?]) (?P<sign>[ -]) *(?P<number>[0-9]+\.[0-9]) (?P<unit>g|kg)'
//	overload = 'W.  *OVER'
//	stable   = [" "]            # texts of the group "stable" that mean at rest
//	moving   = ["?"]            # and those that mean moving
//	gross    = ["B"]            # texts of the group "mode"; net and tare likewise
//	units    = ["gr=g"]         # the instrument's own letters for a unit
//	unit     = "g"              # what no unit means
//	end      = "\r\n"           # what closes a frame; without it any CR or LF
//	comma    = true             # the decimal mark is a comma
//	pairs    = true             # believe a frame only when the next is equal
//	lines    = ["9600 8N1"]     # settings of the port to try
//
// See protocol.Pattern for what each means.
func readFormats(path string) ([]*protocol.Format, error) {
	if path == "" {
		return nil, nil
	}
	d, err := openTOML(path)
	if err != nil {
		return nil, err
	}
	s, err := d.settings()
	return s.formats, err
}

// document is a file in the small part of TOML.
type document struct {
	path   string
	head   section
	tables []section
}

// section is the head of a document, or one of its [[tables]].
type section struct {
	name  string // of the table; "" for the head
	line  int
	pairs []pair
}

// pair is one key = value.
type pair struct {
	line  int
	key   string
	value any // string, []string or bare
}

// bare is a value that stands without quotes: a number, true or false.
type bare string

func openTOML(path string) (document, error) {
	f, err := os.Open(path)
	if err != nil {
		return document{}, configf("configuration %s: %w", path, errors.Unwrap(err))
	}
	defer f.Close()
	return parseTOML(path, f)
}

func (d document) fault(line int, err error) error {
	return configf("configuration %s, line %d: %w", d.path, line, err)
}

func parseTOML(path string, r io.Reader) (document, error) {
	d := document{path: path}
	at := &d.head
	seen := map[string]bool{}
	in := bufio.NewScanner(r)
	for n := 1; in.Scan(); n++ {
		line := strings.TrimSpace(in.Text())
		if line == "" || line[0] == '#' {
			continue
		}
		if line[0] == '[' {
			head := strings.TrimSpace(stripComment(line))
			name, ok := strings.CutPrefix(head, "[[")
			name, closed := strings.CutSuffix(name, "]]")
			if !ok || !closed || name != "scale" && name != "format" {
				return d, d.fault(n, fmt.Errorf("%s is not a table that is known here: use [[scale]] or [[format]], once for each", head))
			}
			d.tables = append(d.tables, section{name: name, line: n})
			at = &d.tables[len(d.tables)-1]
			clear(seen)
			continue
		}
		key, text, ok := strings.Cut(line, "=")
		key = strings.TrimSpace(key)
		if !ok {
			return d, d.fault(n, fmt.Errorf("%q is not key = value", line))
		}
		if seen[key] {
			return d, d.fault(n, fmt.Errorf("%s was given before: keep one of them", key))
		}
		seen[key] = true
		value, err := parseValue(strings.TrimSpace(text))
		if err != nil {
			return d, d.fault(n, fmt.Errorf("%s: %w", key, err))
		}
		at.pairs = append(at.pairs, pair{n, key, value})
	}
	if err := in.Err(); err != nil {
		return d, configf("configuration %s: %w", path, err)
	}
	return d, nil
}

// settings understands the whole document.
func (d document) settings() (settings, error) {
	var s settings
	for _, p := range d.head.pairs {
		if err := s.set(p.key, p.value); err != nil {
			return s, d.fault(p.line, err)
		}
	}
	for _, t := range d.tables {
		switch t.name {
		case "format":
			f, err := d.format(t)
			if err != nil {
				return s, err
			}
			s.formats = append(s.formats, f)
		case "scale":
			c, err := d.scale(t)
			if err != nil {
				return s, err
			}
			s.scales = append(s.scales, c)
		}
	}
	for i := range s.scales {
		s.scales[i].Formats = s.formats
	}
	if err := checkScales(s.scales); err != nil {
		return s, configf("configuration %s: %w", d.path, err)
	}
	return s, nil
}

// scale reads a [[scale]] table by the words of --scale.
func (d document) scale(t section) (scale.Config, error) {
	var spec []string
	for _, p := range t.pairs {
		word, ok := p.value.(string)
		if b, number := p.value.(bare); number {
			word, ok = string(b), true
		}
		if !ok || strings.Contains(word, ",") {
			return scale.Config{}, d.fault(p.line, fmt.Errorf("%s: want one value in quotes, without a comma", p.key))
		}
		spec = append(spec, p.key+"="+word)
	}
	c, err := scale.ParseSpec(strings.Join(spec, ","))
	if err != nil {
		return c, configf("configuration %s, the scale in line %d: %w", d.path, t.line, err)
	}
	return c, nil
}

// format reads a [[format]] table.
func (d document) format(t section) (*protocol.Format, error) {
	p := protocol.Pattern{Stable: map[string]bool{}, Modes: map[string]string{}, Units: map[string]string{}}
	for _, v := range t.pairs {
		text, isText := v.value.(string)
		list, isList := v.value.([]string)
		yes := v.value == bare("true")
		isYes := yes || v.value == bare("false")
		ok, want := isText, "a text in quotes"
		switch v.key {
		case "name":
			p.Name = text
		case "summary":
			p.Summary = text
		case "expr":
			p.Expr = text
		case "overload":
			p.Overload = text
		case "underload":
			p.Underload = text
		case "end":
			p.End = text
		case "unit":
			p.BlankUnit = text
		case "comma":
			p.DecimalComma, ok, want = yes, isYes, "true or false"
		case "pairs":
			p.Pairs, ok, want = yes, isYes, "true or false"
		case "stable", "moving":
			ok, want = isList, `a list such as ["S"]`
			for _, s := range list {
				p.Stable[s] = v.key == "stable"
			}
		case "gross", "net", "tare":
			ok, want = isList, `a list such as ["N"]`
			for _, s := range list {
				p.Modes[s] = v.key
			}
		case "units":
			ok, want = isList, `a list such as ["gr=g"]`
			for _, s := range list {
				letters, unit, both := strings.Cut(s, "=")
				ok = ok && both
				p.Units[letters] = unit
			}
		case "lines":
			ok, want = isList, `a list such as ["9600 8N1"]`
			for _, s := range list {
				baud, framing, both := strings.Cut(s, " ")
				l, err := scale.ParseFraming(framing)
				n, nan := strconv.Atoi(baud)
				ok = ok && both && err == nil && nan == nil
				l.Baud, l.Source = n, d.path
				p.Lines = append(p.Lines, l)
			}
		default:
			return nil, d.fault(v.line, fmt.Errorf("a format has no key %q: use name, summary, expr, overload, underload, end, unit, units, stable, moving, gross, net, tare, comma, pairs and lines", v.key))
		}
		if !ok {
			return nil, d.fault(v.line, fmt.Errorf("%s: want %s", v.key, want))
		}
	}
	f, err := protocol.CompilePattern(p)
	if err != nil {
		return nil, configf("configuration %s, the format in line %d: %w", d.path, t.line, err)
	}
	return f, nil
}

// set takes one key of the document's head.
func (s *settings) set(key string, value any) error {
	var ok bool
	want := "a text in quotes"
	switch key {
	case "listen":
		s.listen, ok = value.(string)
	case "data":
		s.data, ok = value.(string)
	case "names":
		s.names, ok = value.([]string)
		want = `a list such as ["glaze.local"]`
	case "materials":
		s.table, ok = value.(string)
	case "confirm":
		if s.confirm, ok = value.(string); ok {
			if _, err := session.CheckConfirm(s.confirm); err != nil {
				return fmt.Errorf("confirm: %w", err)
			}
		}
	case "water":
		if s.water, ok = value.(string); ok {
			if err := session.CheckWater(s.water); err != nil {
				return fmt.Errorf("water: %w", err)
			}
		}
	case "url":
		if s.url, ok = value.(string); ok {
			if err := checkURL(s.url); err != nil {
				return fmt.Errorf("url: %w", err)
			}
		}
	case "pair":
		s.pair, ok = value == bare("true"), value == bare("true") || value == bare("false")
		want = "true or false"
	default:
		return fmt.Errorf("there is no key %q: use listen, data, names, materials, pair, water, confirm, url, and [[scale]] and [[format]] tables", key)
	}
	if !ok {
		return fmt.Errorf("%s: want %s", key, want)
	}
	return nil
}

// parseValue reads a value: a string, a []string or a bare.
func parseValue(text string) (any, error) {
	switch {
	case text == "":
		return nil, errors.New("nothing stands behind the =")
	case text[0] == '"' || text[0] == '\'':
		s, rest, err := quoted(text)
		if err == nil && strings.TrimSpace(stripComment(rest)) != "" {
			err = fmt.Errorf("%q stands behind the value: one value a line", strings.TrimSpace(rest))
		}
		return s, err
	case text[0] == '[':
		var list []string
		rest := strings.TrimSpace(text[1:])
		for !strings.HasPrefix(rest, "]") {
			s, after, err := quoted(rest)
			if err != nil {
				return nil, err
			}
			list = append(list, s)
			rest = strings.TrimSpace(after)
			if comma, ok := strings.CutPrefix(rest, ","); ok {
				rest = strings.TrimSpace(comma)
			} else if !strings.HasPrefix(rest, "]") {
				return nil, errors.New(`want a list on one line, such as ["a", "b"]`)
			}
		}
		if strings.TrimSpace(stripComment(rest[1:])) != "" {
			return nil, errors.New("something stands behind the list: one value a line")
		}
		return list, nil
	}
	word := strings.TrimSpace(stripComment(text))
	if _, err := strconv.Atoi(word); err == nil || word == "true" || word == "false" {
		return bare(word), nil
	}
	return nil, fmt.Errorf("%s is not a value: put a text in quotes", word)
}

// quoted reads a string at the front of text: in double quotes, with escapes, of
// which those that people use (\", \\, \r, \n, \t) are the same in TOML and Go;
// or in single quotes, as it stands, which suits expressions.
func quoted(text string) (value, rest string, err error) {
	if literal, ok := strings.CutPrefix(text, "'"); ok {
		value, rest, ok = strings.Cut(literal, "'")
		if !ok {
			return "", "", errors.New("a single quote is not closed")
		}
		return value, rest, nil
	}
	q, err := strconv.QuotedPrefix(text)
	if err != nil || text[0] != '"' {
		return "", "", errors.New("want a text in quotes")
	}
	value, err = strconv.Unquote(q)
	return value, text[len(q):], err
}

// stripComment cuts what stands behind a #; only for text without strings.
func stripComment(s string) string {
	before, _, _ := strings.Cut(s, "#")
	return before
}

// checkScales refuses two scales of one name or on one port.
func checkScales(scales []scale.Config) error {
	for i, c := range scales {
		if err := c.Check(); err != nil {
			return err
		}
		if slices.ContainsFunc(scales[:i], func(o scale.Config) bool { return o.Name == c.Name }) {
			return fmt.Errorf("two scales are called %q: give each a name of its own, as name=fine", c.Name)
		}
		if !c.ByEye() && slices.ContainsFunc(scales[:i], func(o scale.Config) bool { return o.Port == c.Port }) {
			return fmt.Errorf("two scales are on port %s: a port has one scale", c.Port)
		}
	}
	return nil
}
