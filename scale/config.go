package scale

import (
	"errors"
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"tared/protocol"
)

// Eye is the Port of a balance that is read by eye and typed in.
const Eye = "eye"

// Config is one scale as the user describes it. What is left out is found by
// listening, where that is possible.
type Config struct {
	Name      string
	Port      string         // path, COM3, Eye, or "usb:" and the identity of a USB device, see ByUSB
	Format    string         // name of a line format; "": detect
	Baud      int            // 0: hunt
	Line      *protocol.Line // framing, with Baud in it where that is given; nil: hunt
	Step      protocol.Mass  // step; 0: as the digits show
	Max       protocol.Mass  // capacity; 0: not known
	Spread    protocol.Mass  // measured repeatability s; 0: not measured
	BlankUnit protocol.Unit  // unit of a line that shows none
	Unit      protocol.Unit  // in which it shows: the user's word, or that of the step; "": not known
	Ask       bool           // send the format's question for the weight
	Print     bool           // it speaks only on its print key, or when the weight has changed
	LowDTR    bool           // keep DTR and RTS low, for boards that reset on them
	Silence   time.Duration  // without a byte for so long it counts as silent; 0: DefaultSilence

	// What the user says of the check of the scale itself; see Check.
	Class    Class         // accuracy class; NoClass: two steps are allowed
	Interval protocol.Mass // verification scale interval e; 0: the step
	Weight   protocol.Mass // usual check weight; 0: it is named each time
	Every    time.Duration // how long a check counts; 0: as usual, below 0: for ever

	Remote *Remote // a hand on it while it runs; nil: none is needed

	// Formats holds formats declared by the user, beside protocol.All.
	Formats []*protocol.Format
}

// DefaultSilence is the time without a byte after which a scale counts as silent.
const DefaultSilence = 5 * time.Second

// ByEye tells whether the balance is read by eye.
func (c Config) ByEye() bool { return c.Port == Eye }

// usbPort begins a Port that names a device by what it is, not by where it is.
const usbPort = "usb:"

// ByUSB gives the identity, vendor:product:serial, of a port that is named so. A
// device that has no serial number is named by its kind, with nothing behind the
// last colon; of that kind only one may be plugged in.
func ByUSB(port string) (usb string, ok bool) { return strings.CutPrefix(port, usbPort) }

// SpecError is what is wrong with a scale as written on the command line or in
// the configuration.
type SpecError struct {
	Spec string // as written
	Key  string // which key, "" where it is none of them
	What string // what is wrong
	Do   string // what to do
}

// Error gives one sentence for a person.
func (e *SpecError) Error() string {
	s := fmt.Sprintf("scale %q: ", e.Spec)
	if e.Key != "" {
		s += e.Key + ": "
	}
	return s + e.What + ": " + e.Do
}

// ParseSpec reads a scale from one word of the command line, such as
//
//	name=bench,port=/dev/ttyUSB0,format=header-comma-mode,baud=9600,line=7E1,step=0.1g,max=2000g,spread=0.03g,unit=g
//
// port=eye is a balance read by eye; its step must be given. usb=0403:6001:A5 in place
// of port is the device of that USB vendor, product and serial number, wherever it is
// plugged in. Further keys: ask=yes
// for an instrument that must be asked, print=yes for one that speaks on its
// print key only, dtr=low for a board that resets when the port is opened,
// silence=20s for one that speaks seldom. For the check of the scale itself:
// class=III and interval=0.1g as they stand on its plate, weight=500g for the check
// weight at hand, check=7d for how long a check counts (check=never: no check is
// asked for). Errors are *SpecError.
func ParseSpec(spec string) (Config, error) {
	var c Config
	fail := func(key, what, do string) (Config, error) {
		return Config{}, &SpecError{Spec: spec, Key: key, What: what, Do: do}
	}
	seen := map[string]bool{}
	// Before anything else, for a decimal comma makes nonsense of the part before it.
	for part := range strings.SplitSeq(spec, ",") {
		if strings.TrimSpace(part) != "" && !strings.Contains(part, "=") {
			return fail("", fmt.Sprintf("%q is not key=value", part), "write it as name=bench,port=/dev/ttyUSB0, and decimals with a point, as step=0.1g")
		}
	}
	for part := range strings.SplitSeq(spec, ",") {
		key, value, _ := strings.Cut(part, "=")
		key, value = strings.ToLower(strings.TrimSpace(key)), strings.TrimSpace(value)
		at := slices.IndexFunc(specKeys, func(k specKey) bool { return k.name == key })
		switch {
		case strings.TrimSpace(part) == "":
			return fail("", "an empty part between commas", "write it as name=bench,port=/dev/ttyUSB0")
		case at < 0:
			return fail("", fmt.Sprintf("there is no key %q", key), "use one of "+specNames())
		case seen[key]:
			return fail(key, "given twice", "keep one of them")
		case value == "":
			return fail(key, "nothing behind the =", "give a value or leave the key out")
		}
		seen[key] = true
		if err := specKeys[at].set(&c, value); err != nil {
			return fail(key, err.Error(), specKeys[at].do)
		}
	}
	switch {
	case seen["port"] && seen["usb"]:
		return fail("usb", "given beside port", "keep one of them")
	case c.Port == "":
		return fail("port", "missing", `name the port as port=/dev/ttyUSB0, or port=eye for a balance read by eye`)
	}
	if strings.EqualFold(c.Port, Eye) {
		c.Port = Eye
	}
	if c.Name == "" {
		c.Name = nameOf(c.Port)
	}
	if c.Line != nil {
		c.Line.Baud = c.Baud
	}
	if bad := c.check(); bad != nil {
		bad.Spec = spec
		return Config{}, bad
	}
	return c, nil
}

// specKey is one key of a scale on the command line: how it is understood, and
// what to do where it is not.
type specKey struct {
	name string
	set  func(c *Config, value string) error
	do   string
}

// specKeys are all of them, in the order in which an error lists them.
var specKeys = []specKey{
	{"name", func(c *Config, v string) error { c.Name = v; return nil }, ""},
	{"port", func(c *Config, v string) error { c.Port = v; return nil }, ""},
	{"usb", (*Config).setUSB, "write what the list of scales shows behind usb, such as usb=0403:6001:A5"},
	{"format", func(c *Config, v string) error { c.Format = v; return nil }, ""},
	{"baud", (*Config).setBaud, "write a number of bits a second, such as baud=9600"},
	{"line", (*Config).setLine, "see the menu or manual of the scale"},
	{"step", (*Config).setStep, "write the smallest step of the display with its unit, as step=0.1g"},
	{"max", massKey(func(c *Config) *protocol.Mass { return &c.Max }), "write the capacity with its unit, as max=2000g"},
	{"spread", massKey(func(c *Config) *protocol.Mass { return &c.Spread }), "write the measured standard deviation with its unit, as spread=0.03g, or leave it out"},
	{"unit", (*Config).setUnit, "use g, kg, mg, oz, lb, ct or gn"},
	{"ask", func(c *Config, v string) (err error) { c.Ask, err = yesNo(v); return err }, "write ask=yes or ask=no"},
	{"print", func(c *Config, v string) (err error) { c.Print, err = yesNo(v); return err }, "write print=yes or print=no"},
	{"dtr", (*Config).setDTR, "write dtr=low or dtr=high"},
	{"silence", (*Config).setSilence, "write a time such as silence=20s"},
	{"class", func(c *Config, v string) (err error) { c.Class, err = ParseClass(v); return err }, "leave it out for a scale that has none: two steps are allowed then"},
	{"interval", massKey(func(c *Config) *protocol.Mass { return &c.Interval }), "write the e of the plate with its unit, as interval=0.1g"},
	{"weight", massKey(func(c *Config) *protocol.Mass { return &c.Weight }), "write the mass of your check weight with its unit, as weight=500g"},
	{"check", func(c *Config, v string) (err error) { c.Every, err = parseEvery(v); return err }, "write how long a check counts, as check=1d, check=12h or check=never"},
}

func specNames() string {
	var all []string
	for _, k := range specKeys {
		all = append(all, k.name)
	}
	return strings.Join(all, ", ")
}

// massKey makes the reading of a key that takes a mass above nothing.
func massKey(of func(*Config) *protocol.Mass) func(*Config, string) error {
	return func(c *Config, v string) (err error) {
		*of(c), err = positive(v)
		return err
	}
}

var usbIdentity = regexp.MustCompile(`^(?i)([0-9a-f]{4}:[0-9a-f]{4})(?::(.*))?$`)

func (c *Config) setUSB(v string) error {
	m := usbIdentity.FindStringSubmatch(v)
	if m == nil {
		return fmt.Errorf("%q is not vendor:product:serial", v)
	}
	c.Port = usbPort + strings.ToLower(m[1]) + ":" + m[2]
	return nil
}

var notInName = regexp.MustCompile(`[^0-9A-Za-z]+`)

// nameOf makes a name of a port for a scale that was given none.
func nameOf(port string) string {
	if _, ok := ByUSB(port); ok {
		return strings.Trim(notInName.ReplaceAllString(port, "-"), "-")
	}
	return filepath.Base(port)
}

func (c *Config) setBaud(v string) (err error) {
	if c.Baud, err = strconv.Atoi(v); err != nil || c.Baud < 50 || c.Baud > 4_000_000 {
		return fmt.Errorf("%q is not a speed", v)
	}
	return nil
}

func (c *Config) setLine(v string) error {
	l, err := ParseFraming(v)
	c.Line = &l
	return err
}

func (c *Config) setUnit(v string) error {
	u, known := protocol.LookupUnit(v)
	if !known || !u.IsMass() {
		return fmt.Errorf("%q is not a unit of mass", v)
	}
	c.BlankUnit, c.Unit = u, u
	return nil
}

// setStep takes the step, and from it the unit that the display shows.
func (c *Config) setStep(v string) (err error) {
	if c.Step, err = positive(v); err == nil && c.Unit == "" {
		c.Unit, _ = protocol.LookupUnit(strings.TrimLeft(v, "0123456789., "))
	}
	return err
}

func (c *Config) setDTR(v string) error {
	switch strings.ToLower(v) {
	case "low":
		c.LowDTR = true
	case "high":
	default:
		return fmt.Errorf("%q is neither low nor high", v)
	}
	return nil
}

func (c *Config) setSilence(v string) (err error) {
	if c.Silence, err = time.ParseDuration(v); err == nil && c.Silence < time.Second {
		err = errors.New("under a second")
	}
	return err
}

// Check tells whether the scale is described so that it can be run. Errors are
// *SpecError.
func (c Config) Check() error {
	if bad := c.check(); bad != nil {
		bad.Spec = c.Name
		return bad
	}
	if c.Format == "" || c.ByEye() {
		return nil
	}
	if _, ok := c.format(c.Format); !ok {
		return &SpecError{Spec: c.Name, Key: "format", What: fmt.Sprintf("there is no format %q", c.Format), Do: `take a name of the list of formats; leave it out to have it found by listening`}
	}
	return nil
}

func (c Config) check() *SpecError {
	bad := func(key, what, do string) *SpecError { return &SpecError{Key: key, What: what, Do: do} }
	switch {
	case !isName(c.Name):
		return bad("name", fmt.Sprintf("%q is not a name", c.Name), "use letters and digits without blanks, as name=bench")
	case c.Step < 0 || c.Max < 0 || c.Spread < 0:
		return bad("step", "a negative mass", "write masses above nothing, as step=0.1g")
	case c.Interval > 0 && c.Class == NoClass:
		return bad("class", "missing", "an interval says nothing without the class: both stand on the plate, as class=III,interval=0.1g")
	case c.Max > 0 && c.Weight > c.Max:
		return bad("weight", fmt.Sprintf("the check weight %s is above the capacity %s", c.Weight, c.Max), "check both")
	case c.Step > 0 && c.Max > 0 && c.Step > c.Max:
		return bad("max", fmt.Sprintf("the capacity %s is below the step %s", c.Max, c.Step), "check both on the plate of the scale")
	case c.ByEye() && c.Step == 0:
		return bad("step", "missing", "a balance read by eye cannot tell it: write the smallest step of its display, as step=0.01g")
	case c.ByEye() && c.speaks():
		return bad("port", "a balance read by eye has no line", "leave out format, baud, line, ask and print")
	}
	return nil
}

func isName(s string) bool {
	return s != "" && !strings.ContainsFunc(s, func(r rune) bool { return r <= ' ' || r == ',' || r == '=' || r == 0x7f })
}

// speaks reports whether anything is said of a line.
func (c Config) speaks() bool {
	return c.Format != "" || c.Baud != 0 || c.Line != nil || c.Ask || c.Print
}

// format finds a format by name, the user's own first.
func (c Config) format(name string) (*protocol.Format, bool) {
	for _, f := range c.known() {
		if f.Name == name {
			return f, true
		}
	}
	return nil, false
}

func positive(s string) (protocol.Mass, error) {
	m, err := protocol.ParseMass(s)
	if err == nil && m <= 0 {
		err = fmt.Errorf("%q is not above nothing", s)
	}
	return m, err
}

// parseEvery reads how long a check counts: "7d", "12h", "never".
func parseEvery(s string) (time.Duration, error) {
	if strings.EqualFold(s, "never") {
		return -1, nil
	}
	d, err := time.ParseDuration(s)
	if days, ok := strings.CutSuffix(s, "d"); ok {
		var n int
		n, err = strconv.Atoi(days)
		d = time.Duration(n) * 24 * time.Hour
		if n > 36500 {
			d = 0
		}
	}
	if err != nil || d <= 0 {
		return 0, fmt.Errorf("%q is not a time", s)
	}
	return d, nil
}

func yesNo(s string) (bool, error) {
	switch strings.ToLower(s) {
	case "yes", "true", "on", "1":
		return true, nil
	case "no", "false", "off", "0":
		return false, nil
	}
	return false, fmt.Errorf("%q is neither yes nor no", s)
}

// known lists the formats that an instrument may speak, the user's own first.
func (c Config) known() []*protocol.Format {
	return append(c.Formats[:len(c.Formats):len(c.Formats)], protocol.All()...)
}
