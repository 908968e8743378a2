package main

import (
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"tared/scale"
	"tared/session"
	"tared/session/copies"
	"tared/session/label"
	"tared/session/plan"
	"tared/session/sheet"
	"tared/session/text"
	"tared/web"
	"tared/web/mqtt"
)

// settings is what the daemon is told besides its recipes: by flags, the
// environment and a file, the earlier going before the later.
type settings struct {
	listen  string
	data    string
	names   []string // host names by which browsers may call this machine
	local   string   // name in the local network; noName: none
	proxies []string // that are believed who asks through them
	own     ownFiles
	tls     tlsSettings
	readers string // who may read beyond this machine: paired or anyone
	pair    bool   // ask for a paired browser even on this machine
	confirm string // what a second person confirms
	accept  string // by what a weight is accepted
	water   string // the studio's habit for the first water
	sign    string // of the bench, on marks, tiles and lots
	url     string // address of the page as phones reach it, for labels
	mqtt    string // address of a broker that is told how the bench stands; empty: none is
	backup  backupSettings
	printer string // command that prints a label; empty: there is none
	as      string // what it takes
	given   scaleFlags
	faults  []string // what is wrong with scales of the file
	file    string   // of settings, or where one would be looked for first; "": none is wanted
	scales  []scale.Config
}

// add gives a command the flags of the daemon.
func (s *settings) add(cmd *cobra.Command) {
	s.given.add(cmd)
	addData(cmd, &s.data)
	f := cmd.Flags()
	f.StringVar(&s.listen, "listen", "", "")
	f.StringArrayVar(&s.names, "host", nil, "")
	f.StringVar(&s.local, "local-name", localName, "")
	f.StringArrayVar(&s.proxies, "trusted-proxy", nil, "")
	s.tls.add(f)
	f.StringVar(&s.readers, "readers", readersPaired, "")
	f.BoolVar(&s.pair, "pair", false, "")
	s.own.add(cmd)
	f.StringVar(&s.confirm, "confirm", "", "")
	f.StringVar(&s.accept, "accept", "", "")
	f.StringVar(&s.sign, "sign", "", "")
	f.StringVar(&s.water, "water", "", "")
	f.StringVar(&s.url, "url", "", "")
	f.StringVar(&s.mqtt, "mqtt", "", "")
	s.backup.add(f)
	f.StringVar(&s.printer, "printer", "", "")
	f.StringVar(&s.as, "printer-as", "", "")
	f.StringArrayVar(&s.faults, scaleFaults, nil, "")
	_ = f.MarkHidden(scaleFaults)
	for flag, key := range map[string]string{"listen": "listen", "host": "names", "local-name": "local_name", "trusted-proxy": "trusted_proxies", "readers": "readers", "pair": "pair", "confirm": "confirm",
		"accept": "accept", "sign": "sign", "water": "water", "url": "url", "mqtt": "mqtt", "printer": "print_label", "printer-as": "print_as", scaleFaults: scaleFaults} {
		fills(f, flag, key)
	}
}

// backupSettings say where the daemon puts a copy of the record each night, when, and how
// many it keeps.
type backupSettings struct{ dir, at, keep string }

func (b *backupSettings) add(f *pflag.FlagSet) {
	f.StringVar(&b.dir, "backup-dir", "", "")
	f.StringVar(&b.at, "backup-at", copies.Night.String(), "")
	f.StringVar(&b.keep, "backup-keep", copies.Usual.String(), "")
	fills(f, "backup-dir", "backup_dir")
	fills(f, "backup-at", "backup_at")
	fills(f, "backup-keep", "backup_keep")
}

// settingsFile gives the file of settings that counts, or the first place where one would be
// looked for; "" where none is wanted.
func settingsFile(named string) string {
	file := findConfig(named)
	if file == "" && cmp.Or(named, os.Getenv("TARED_CONFIG")) != noConfig {
		return usualConfigs()[0]
	}
	return file
}

// gather adds what is usual, and checks all of it.
func (s settings) gather(f *pflag.FlagSet) (settings, error) {
	var err error
	if s.scales, err = s.given.parse(false); err != nil {
		return s, err
	}
	s.listen = cmp.Or(s.listen, web.DefaultAddr)
	named, _ := f.GetString("config")
	s.file = settingsFile(named)
	for _, check := range []struct {
		flag string
		err  error
	}{
		{"listen", checkAddr(s.listen)},
		{"water", plan.CheckWater(s.water)},
		{"confirm", second(session.CheckConfirm(s.confirm))},
		{"accept", second(sheet.ReadRule(s.accept))},
		{"url", checkURL(s.url)},
		{"tls", s.tls.check()},
		{"readers", checkReaders(s.readers)},
		{"trusted-proxy", second(readProxies(s.proxies))},
		{"sign", checkSign(&s.sign)},
		{"mqtt", checkBroker(s.mqtt)},
		{"host", checkHosts(s.names)},
		{"local-name", checkLocalName(s.local)},
		{"backup-at", second(copies.ReadClock(s.backup.at))},
		{"backup-keep", second(copies.ReadKeep(s.backup.keep))},
		{"printer", second(label.ReadPrinter(s.printer, ""))},
		{"printer-as", second(label.ReadPrinter("", s.as))},
	} {
		if check.err != nil {
			return s, wrongValue(f.Lookup(check.flag), check.err)
		}
	}
	return s, nil
}

func settingsCommand() *cobra.Command {
	var s settings
	var asJSON bool
	cmd := &cobra.Command{
		Use:  "settings",
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			all, err := s.gather(cmd.Flags())
			if err != nil {
				return err
			}
			if _, err := all.own.open(); err != nil {
				return err
			}
			return all.report(cmd.Flags()).tell(cmd.OutOrStdout(), asJSON)
		},
	}
	s.add(cmd)
	cmd.Flags().BoolVar(&asJSON, "json", false, "")
	return cmd
}

// settingsReport is what settings --json says.
type settingsReport struct {
	File     string    `json:"file"`  // that counts; "" where there is none
	Usual    []string  `json:"usual"` // where one is looked for
	Settings []setting `json:"settings"`
	Faults   []string  `json:"faults"` // scales that cannot be used as they are described
}

// setting is one value and where it comes from: a flag, a variable of the environment, a
// file and its line; "" is what is usual.
type setting struct {
	Key   string `json:"key"`
	Value string `json:"value"`
	From  string `json:"from"`
}

func (s settings) report(f *pflag.FlagSet) settingsReport {
	named, _ := f.GetString("config")
	r := settingsReport{File: findConfig(named), Usual: usualConfigs(), Faults: append([]string{}, s.faults...)}
	of := func(flag, value string) {
		r.Settings = append(r.Settings, setting{f.Lookup(flag).Annotations[fromFile][0], value, whence(f.Lookup(flag))})
	}
	of("listen", s.listen)
	of("data", s.data)
	of("host", strings.Join(s.names, ", "))
	of("local-name", s.local)
	of("trusted-proxy", strings.Join(s.proxies, ", "))
	of("tls", s.tls.how)
	of("tls-cert", s.tls.cert)
	of("tls-key", s.tls.key)
	of("readers", s.readers)
	of("pair", strconv.FormatBool(s.pair))
	of("materials", s.own.materials)
	of("analyses", s.own.analyses)
	of("water", s.water)
	of("confirm", s.confirm)
	of("accept", s.accept)
	of("sign", s.sign)
	of("url", s.url)
	of("mqtt", mqtt.Redacted(s.mqtt))
	of("backup-dir", s.backup.dir)
	of("backup-at", s.backup.at)
	of("backup-keep", s.backup.keep)
	of("printer", s.printer)
	of("printer-as", s.as)
	of("formats", strings.Join(s.given.files, ", "))
	scales, flag := s.given.specs, "scale"
	if len(scales) == 0 {
		scales, flag = s.given.configured, "configured-scale"
	}
	for _, words := range scales {
		r.Settings = append(r.Settings, setting{"scale", words, whence(f.Lookup(flag))})
	}
	return r
}

func (r settingsReport) tell(out io.Writer, asJSON bool) error {
	if asJSON {
		if err := json.NewEncoder(out).Encode(r); err != nil {
			return err
		}
	} else if err := r.words(out); err != nil {
		return err
	}
	if len(r.Faults) > 0 {
		return &configError{text.Refuse("settings.scale-faults", text.Name("why", strings.Join(r.Faults, "; ")))}
	}
	return nil
}

func (r settingsReport) words(out io.Writer) error {
	t := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	for _, s := range slices.Insert(r.Settings, 0, setting{Key: "file", Value: r.File, From: strings.Join(r.Usual, ", ")}) {
		from := language.Say(text.New("settings.from", text.Name("where", s.From)))
		switch {
		case s.Key == "file" && s.Value == "":
			from = language.Say(text.New("settings.looked", text.Name("where", s.From)))
		case s.Key == "file":
			from = ""
		case s.From == "":
			from = language.Say(text.New("settings.usual"))
		}
		_, _ = fmt.Fprintf(t, "%s\t%s\t%s\n", s.Key, cmp.Or(s.Value, "-"), from)
	}
	return t.Flush()
}
