package main

import (
	"errors"
	"fmt"
	"io/fs"
	"net"
	"net/netip"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/BurntSushi/toml"

	"tared/protocol"
	"tared/scale"
	"tared/session"
	"tared/session/copies"
	"tared/session/label"
	"tared/session/plain"
	"tared/session/plan"
	"tared/session/sheet"
	"tared/session/text"
	"tared/web/mqtt"
)

// configFile is a configuration file as it is written, in TOML:
//
//	listen = "0.0.0.0:7410"
//	data   = "/var/lib/tared"
//	names  = ["glaze.local"]
//	local_name = "tared"                 # in the local network: tared.local; none: no name
//	trusted_proxies = ["192.168.1.2"]    # believed who asks through them; it opens nothing
//	materials = "/etc/tared/materials.json"
//	analyses  = "/etc/tared/analyses.csv"
//	tls     = "own"                      # https, vouched for by an authority of this bench
//	readers = "anyone"                   # who may read beyond this machine; else the paired
//	confirm = "strong,typed"              # what a second person confirms
//	accept = "guarded"                    # when a weight is in its band
//	sign   = "KA"                        # of the bench, on marks, tiles and lots
//	water  = "85%"                       # first water where the recipe says nothing
//	mqtt   = "mqtt://192.168.178.2/workshop" # a broker that is told how the bench stands
//	backup_dir  = "/media/stick"         # where a copy of the record goes each night
//	backup_at   = "03:30"
//	backup_keep = "7 days, 5 weeks, 12 months"
//	print_label = "lp -d labels"           # prints a label, which it gets on its standard input
//	print_as    = "zpl 203dpi 100x60mm"    # what it takes: svg unless it is said
//	url    = "http://192.168.178.40:7410/" # of the page, for the QR code of labels
//
//	[[scale]]
//	name = "bench"
//	port = "/dev/serial/by-id/usb-…"
//	step = "0.1g"
//	max  = "2000g"
//
// The keys of a scale are those of --scale.
type configFile struct {
	Listen, Data, Materials, Analyses, Confirm, Accept, Sign, Water, URL, Readers, MQTT words

	BackupDir  words `toml:"backup_dir"`
	BackupAt   words `toml:"backup_at"`
	BackupKeep words `toml:"backup_keep"`

	LocalName  words `toml:"local_name"`
	Names      list  // host names by which browsers may call this machine
	PrintLabel words `toml:"print_label"`
	PrintAs    words `toml:"print_as"`

	Proxy   list `toml:"trusted_proxies"`
	TLS     words
	TLSCert words `toml:"tls_cert"`
	TLSKey  words `toml:"tls_key"`
	Pair    yesNo
	Scale   []map[string]any
	Format  []formatTable

	formats []*protocol.Format // of the Format tables
	specs   []spec             // of the Scale tables
	faults  []error            // what is wrong with other Scale tables; see readScales
	doc     document
}

// spec is one scale as --scale takes it.
type spec struct {
	words string
	line  int // of its table
}

// formatTable declares a format of the user's own; see protocol.Pattern for what
// each key means:
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
//	length   = 14               # signs of every line that is a weight
//	pairs    = true             # believe a frame only when the next is equal
//	lines    = ["9600 8N1"]     # settings of the port to try
type formatTable struct {
	Name, Summary, Expr, Overload, Underload, End, Unit words

	Stable, Moving, Gross, Net, Tare, Units, Lines list
	Comma, Pairs                                   yesNo
	Length                                         wholeNumber
}

// The values of a file. Each says in words what it takes.
type (
	words       string
	list        []string
	yesNo       bool
	wholeNumber int
)

func (w *words) UnmarshalTOML(v any) error {
	s, ok := v.(string)
	if *w = words(s); !ok {
		return failf("cli.put-the-text-in-quotes")
	}
	return nil
}

func (l *list) UnmarshalTOML(v any) error {
	all, ok := v.([]any)
	for _, x := range all {
		s, isText := x.(string)
		ok = ok && isText
		*l = append(*l, s)
	}
	if !ok {
		return failf("cli.give-a-list-of-texts")
	}
	return nil
}

func (y *yesNo) UnmarshalTOML(v any) error {
	b, ok := v.(bool)
	if *y = yesNo(b); !ok {
		return failf("cli.say-true-or-false")
	}
	return nil
}

// mostConfig bounds a file of settings; one has a kB or two.
const mostConfig = 1 << 20

func readPlain(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return plain.Read(f, mostConfig)
}

func (w *wholeNumber) UnmarshalTOML(v any) error {
	n, ok := v.(int64)
	if *w = wholeNumber(n); !ok || n < 1 || n > 1000 {
		return failf("cli.say-a-whole-number")
	}
	return nil
}

// readConfig reads a configuration file. Every error is a *configError that names
// file and line.
func readConfig(path string) (configFile, error) {
	b, err := readPlain(path)
	switch {
	case errors.Is(err, fs.ErrPermission):
		return configFile{}, &configError{text.Refuse("settings.denied", text.Name("path", path))}
	case errors.Is(err, fs.ErrNotExist):
		return configFile{}, &configError{text.Refuse("settings.no-file", text.Name("path", path))}
	case errors.As(err, new(*fs.PathError)):
		return configFile{}, configf("cli.configuration", path, errors.Unwrap(err))
	case err != nil:
		return configFile{}, configf("cli.configuration", path, err)
	}
	return parseConfig(path, string(b))
}

// document is the text of a configuration file, for errors that say where.
type document struct{ path, text string }

func (d document) fault(line int, code string, args ...any) error {
	return configf("cli.configuration-line", d.path, line, text.Failed(code, args...))
}

// line finds the nth line, from 0, that begins with what expr matches; it gives
// the first line of all where there is none.
func (d document) line(n int, expr string) int {
	begins := regexp.MustCompile(`^\s*` + expr)
	for i, l := range strings.Split(d.text, "\n") {
		if begins.MatchString(l) {
			if n == 0 {
				return i + 1
			}
			n--
		}
	}
	return 1
}

// key finds the line of a key. Where several tables have it, that is the first.
func (d document) key(name string) int {
	return d.line(0, `["']?`+regexp.QuoteMeta(name)+`["']?\s*=`)
}

func parseConfig(path, content string) (configFile, error) {
	d := document{path, content}
	c := configFile{doc: d}
	meta, err := toml.Decode(d.text, &c)
	for _, name := range []string{"scale", "format"} {
		if meta.Type(name) == "Hash" {
			return c, d.unknownTable(name)
		}
	}
	if err != nil {
		return c, d.broken(err)
	}
	for _, k := range meta.Undecoded() {
		return c, d.unknown(meta, k)
	}
	for _, check := range []struct {
		key, value string
		err        func(string) error
	}{
		{"listen", string(c.Listen), checkAddr},
		{"accept", string(c.Accept), func(s string) error { _, err := sheet.ReadRule(s); return err }},
		{"confirm", string(c.Confirm), func(s string) error { _, err := session.CheckConfirm(s); return err }},
		{"water", string(c.Water), plan.CheckWater},
		{"url", string(c.URL), checkURL},
		{"readers", string(c.Readers), checkReaders},
		{"trusted_proxies", strings.Join(c.Proxy, ","), func(string) error { _, err := readProxies(c.Proxy); return err }},
		{"sign", string(c.Sign), func(s string) error { return checkSign(&s) }},
		{"mqtt", string(c.MQTT), checkBroker},
		{"local_name", string(c.LocalName), checkLocalName},
		{"names", strings.Join(c.Names, " "), func(string) error { return checkHosts(c.Names) }},
		{"backup_at", string(c.BackupAt), func(s string) error { return second(copies.ReadClock(s)) }},
		{"backup_keep", string(c.BackupKeep), func(s string) error { return second(copies.ReadKeep(s)) }},
		{"print_label", string(c.PrintLabel), func(s string) error { return second(label.ReadPrinter(s, "")) }},
		{"print_as", string(c.PrintAs), func(s string) error { return second(label.ReadPrinter("", s)) }},
	} {
		if check.value == "" {
			continue
		}
		if err := check.err(check.value); err != nil {
			return c, d.fault(d.key(check.key), "cli.layout", check.key, err)
		}
	}
	for i, t := range c.Format {
		f, err := t.compile(d, d.line(i, `\[\[\s*format\s*]]`))
		if err != nil {
			return c, err
		}
		c.formats = append(c.formats, f)
	}
	c.readScales(d)
	return c, nil
}

func (d document) unknownTable(name string) error {
	return d.fault(d.line(0, `\[+\s*`+regexp.QuoteMeta(name)), "cli.is-not-a-table-that", name)
}

// unknown says of a key that nothing took what there is.
func (d document) unknown(meta toml.MetaData, k toml.Key) error {
	name := k[len(k)-1]
	switch kind := meta.Type(k...); {
	case k[0] == "format" && len(k) > 1:
		return d.fault(d.key(name), "cli.a-format-has-no-key", name)
	case kind == "Hash" || kind == "ArrayHash":
		return d.unknownTable(k[0])
	}
	return d.fault(d.key(name), "cli.there-is-no-key-use", name)
}

// broken says in words what is wrong with text that is no TOML, or with the kind
// of a value.
func (d document) broken(err error) error {
	var at toml.ParseError
	if !errors.As(err, &at) {
		return configf("cli.configuration", d.path, err)
	}
	key := at.LastKey[strings.LastIndex(at.LastKey, ".")+1:]
	for _, m := range []struct{ says, words string }{
		{"already been defined", says("cli.given-before")},
		{"expected a top-level item to end", says("cli.one-value")},
		{"expected '.' or '='", says("cli.key-value")},
		{"strings cannot contain newlines", says("cli.quotes-open")},
		{"expected value but found '\\n'", says("cli.nothing-after")},
		{"expected value but found", says("cli.put-the-text-in-quotes")},
		{"expected a comma", says("cli.comma-between")},
	} {
		if strings.Contains(at.Message, m.says) {
			at.Message = m.words
			break
		}
	}
	if at.Message == says("cli.given-before") || key != "" {
		return d.fault(at.Position.Line, "cli.layout", key, at.Message)
	}
	return d.fault(at.Position.Line, "cli.layout-2", at.Message)
}

// readScales reads the [[scale]] tables by the words of --scale. One that is wrong
// does not stand in the way of the others.
func (c *configFile) readScales(d document) {
	var all []scale.Config
	for i, t := range c.Scale {
		line := d.line(i, `\[\[\s*scale\s*]]`)
		words, one, err := d.scale(t, line)
		if err == nil {
			one.Formats = c.formats
			if err = checkScales(append(all[:len(all):len(all)], one)); err != nil {
				err = d.inScale(line, err)
			}
		}
		if err != nil {
			c.faults = append(c.faults, err)
			continue
		}
		all, c.specs = append(all, one), append(c.specs, spec{words, line})
	}
}

func (d document) inScale(line int, err error) error {
	return configf("cli.configuration-the-scale-in-line", d.path, line, err)
}

// scale reads the table of one scale.
func (d document) scale(table map[string]any, line int) (string, scale.Config, error) {
	var parts []string
	for key, v := range table {
		word := fmt.Sprint(v)
		switch v.(type) {
		case string, int64, bool:
		default:
			word = ","
		}
		if strings.Contains(word, ",") {
			return "", scale.Config{}, d.fault(d.key(key), "cli.give-one-value-in-quotes", key)
		}
		parts = append(parts, key+"="+word)
	}
	slices.Sort(parts)
	words := strings.Join(parts, ",")
	one, err := scale.ParseSpec(words)
	if err != nil {
		err = d.inScale(line, err)
	}
	return words, one, err
}

// compile makes a format of the table in that line.
func (t formatTable) compile(d document, line int) (*protocol.Format, error) {
	p := protocol.Pattern{
		Name: string(t.Name), Summary: string(t.Summary), Expr: string(t.Expr), Overload: string(t.Overload), Underload: string(t.Underload),
		End: string(t.End), BlankUnit: string(t.Unit), DecimalComma: bool(t.Comma), Pairs: bool(t.Pairs), Length: int(t.Length),
		Stable: map[string]bool{}, Modes: map[string]string{}, Units: map[string]string{},
	}
	for stable, texts := range map[bool]list{true: t.Stable, false: t.Moving} {
		for _, s := range texts {
			p.Stable[s] = stable
		}
	}
	for mode, texts := range map[string]list{"gross": t.Gross, "net": t.Net, "tare": t.Tare} {
		for _, s := range texts {
			p.Modes[s] = mode
		}
	}
	for _, s := range t.Units {
		letters, unit, ok := strings.Cut(s, "=")
		if !ok {
			return nil, d.fault(d.key("units"), "cli.units-write-each-as-gr")
		}
		p.Units[letters] = unit
	}
	for _, s := range t.Lines {
		baud, framing, _ := strings.Cut(s, " ")
		l, err := scale.ParseFraming(framing)
		n, nan := strconv.Atoi(baud)
		if err != nil || nan != nil {
			return nil, d.fault(d.key("lines"), "cli.lines-write-each-as-n")
		}
		l.Baud, l.Source = n, d.path
		p.Lines = append(p.Lines, l)
	}
	f, err := protocol.CompilePattern(p)
	if err != nil {
		return nil, configf("cli.configuration-the-format-in-line", d.path, line, err)
	}
	return f, nil
}

// readFormats reads the formats that files declare.
func readFormats(paths []string) ([]*protocol.Format, error) {
	var all []*protocol.Format
	for _, path := range paths {
		if _, err := os.Stat(path); err != nil {
			return nil, configf("cli.of-flag", "formats", err)
		}
		c, err := readConfig(path)
		if err != nil {
			return nil, err
		}
		all = append(all, c.formats...)
	}
	return all, nil
}

// checkScales refuses two scales of one name or on one port.
func checkScales(scales []scale.Config) error {
	for i, c := range scales {
		if err := c.Check(); err != nil {
			return err
		}
		if slices.ContainsFunc(scales[:i], func(o scale.Config) bool { return o.Name == c.Name }) {
			return failf("cli.two-scales-are-called-give", c.Name)
		}
		if !c.ByEye() && slices.ContainsFunc(scales[:i], func(o scale.Config) bool { return o.Port == c.Port }) {
			return failf("cli.two-scales-are-on-port", c.Port)
		}
	}
	return nil
}

// checkURL tells whether a label can point there; "" is nothing.
func checkURL(s string) error {
	u, err := url.Parse(s)
	if s == "" || err == nil && (u.Scheme == "http" || u.Scheme == "https") && u.Host != "" && u.RawQuery == "" && u.Fragment == "" && u.User == nil {
		return nil
	}
	return failf("cli.not-an-address-of-a", s)
}

// Who may read the page beyond this machine.
const (
	readersPaired = "paired"
	readersAnyone = "anyone"
)

func checkReaders(s string) error {
	if s == readersPaired || s == readersAnyone {
		return nil
	}
	return text.Refuse("settings.readers", text.Name("value", s))
}

// readProxies reads addresses, or networks of them.
func readProxies(all []string) (networks []netip.Prefix, err error) {
	for _, s := range all {
		n, err := netip.ParsePrefix(s)
		if a, e := netip.ParseAddr(s); e == nil {
			n, err = netip.PrefixFrom(a, a.BitLen()), nil
		}
		if err != nil {
			return nil, text.Refuse("settings.proxy", text.Name("value", s))
		}
		networks = append(networks, n)
	}
	return networks, nil
}

// checkBroker tells whether a broker can be there; "" is none.
func checkBroker(s string) error {
	if s == "" {
		return nil
	}
	_, err := mqtt.ParseBroker(s)
	return err
}

// hostName is a name that a browser can put into an address (RFC 952 and 1123, with the
// underscore that some networks have).
var hostName = regexp.MustCompile(`^[A-Za-z0-9_]([A-Za-z0-9_-]*[A-Za-z0-9_])?(\.[A-Za-z0-9_]([A-Za-z0-9_-]*[A-Za-z0-9_])?)*\.?$`)

// checkHosts tells whether all of these are names of a host.
func checkHosts(all []string) error {
	for _, name := range all {
		if !hostName.MatchString(name) && net.ParseIP(name) == nil {
			return text.Refuse("settings.host", text.Name("name", name))
		}
	}
	return nil
}

func second[T any](_ T, err error) error { return err }

// checkAddr tells whether addr is host:port with a port in digits.
func checkAddr(addr string) error {
	_, port, err := net.SplitHostPort(addr)
	if err != nil {
		return failf("cli.not-an-address-write-it", addr)
	}
	if n, err := net.LookupPort("tcp", port); err != nil || strings.TrimLeft(port, "0123456789") != "" || n < 0 {
		return failf("cli.is-not-a-port-use", addr, port)
	}
	return nil
}
