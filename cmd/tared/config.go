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

	"tared/scale"
)

// settings is what the daemon is told besides its recipes: by a file, the
// environment and flags, the later going before the earlier.
type settings struct {
	listen string
	data   string
	names  []string // host names by which browsers may call this machine
	pair   bool     // ask for a paired browser even on this machine
	scales []scale.Config
}

// readConfig reads the daemon's configuration file. It is written in a small
// part of TOML 1.0: comments, key = value with a string, a whole number, true,
// false or a one-line list of strings, and [[scale]] tables.
//
//	listen = "0.0.0.0:7410"
//	data   = "/var/lib/tared"
//	names  = ["glaze.local"]
//
//	[[scale]]
//	name = "bench"
//	port = "/dev/serial/by-id/usb-…"
//	step = "0.1g"
//	max  = "2000g"
//
// The keys of a scale are those of --scale. Every error is a *configError that
// names file and line.
func readConfig(path string) (settings, error) {
	f, err := os.Open(path)
	if err != nil {
		return settings{}, configf("configuration %s: %w", path, errors.Unwrap(err))
	}
	defer f.Close()
	return parseConfig(path, f)
}

// bare is a value that stands without quotes: a number, true or false.
type bare string

// scaleTable is one [[scale]] while its lines are read.
type scaleTable struct {
	line int
	spec []string
}

func parseConfig(path string, r io.Reader) (settings, error) {
	var s settings
	var tables []scaleTable
	seen := map[string]bool{}
	in := bufio.NewScanner(r)
	for n := 1; in.Scan(); n++ {
		line := strings.TrimSpace(in.Text())
		bad := func(format string, args ...any) (settings, error) {
			return settings{}, configf("configuration %s, line %d: %w", path, n, fmt.Errorf(format, args...))
		}
		if line == "" || line[0] == '#' {
			continue
		}
		if line[0] == '[' {
			if head := strings.TrimSpace(stripComment(line)); head != "[[scale]]" {
				return bad("%s is not a table that is known here: use [[scale]], once for each scale", head)
			}
			tables = append(tables, scaleTable{line: n})
			clear(seen)
			continue
		}
		key, text, ok := strings.Cut(line, "=")
		key = strings.TrimSpace(key)
		if !ok {
			return bad("%q is not key = value", line)
		}
		if seen[key] {
			return bad("%s was given before: keep one of them", key)
		}
		seen[key] = true
		value, err := parseValue(strings.TrimSpace(text))
		if err != nil {
			return bad("%s: %w", key, err)
		}
		if len(tables) > 0 {
			word, ok := value.(string)
			if b, number := value.(bare); number {
				word, ok = string(b), true
			}
			if !ok || strings.Contains(word, ",") {
				return bad("%s: want one value in quotes, without a comma", key)
			}
			t := &tables[len(tables)-1]
			t.spec = append(t.spec, key+"="+word)
			continue
		}
		if err := s.set(key, value); err != nil {
			return bad("%w", err)
		}
	}
	if err := in.Err(); err != nil {
		return settings{}, configf("configuration %s: %w", path, err)
	}
	for _, t := range tables {
		c, err := scale.ParseSpec(strings.Join(t.spec, ","))
		if err != nil {
			return settings{}, configf("configuration %s, the scale in line %d: %w", path, t.line, err)
		}
		s.scales = append(s.scales, c)
	}
	if err := checkScales(s.scales); err != nil {
		return settings{}, configf("configuration %s: %w", path, err)
	}
	return s, nil
}

// set takes one key of the file's head.
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
	case "pair":
		s.pair, ok = value == bare("true"), value == bare("true") || value == bare("false")
		want = "true or false"
	default:
		return fmt.Errorf("there is no key %q: use listen, data, names, pair, and [[scale]] tables", key)
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
	case text[0] == '"':
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

// quoted reads a string in double quotes at the front of text. TOML's escapes
// of a basic string that people use (\" and \\) are those of Go.
func quoted(text string) (value, rest string, err error) {
	q, err := strconv.QuotedPrefix(text)
	if err != nil || text[0] != '"' {
		return "", "", errors.New("want a text in double quotes")
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
