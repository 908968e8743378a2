package main

import (
	"cmp"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"syscall"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	"tared/scale"
	"tared/session"
	"tared/session/plan"
	"tared/session/sheet"
	"tared/web"
)

func serveCommand() *cobra.Command {
	var scales scaleFlags
	var level string
	var s settings
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "serve --scale SCALE…",
		Short: "The bench on real scales, with its page",
		Args:  noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			lvl, err := parseLevel(level)
			if err != nil {
				return err
			}
			all, err := s.gather(scales)
			if err != nil {
				return err
			}
			return serve(cmd.Context(), cmd.OutOrStdout(), all, newLog(cmd.ErrOrStderr(), lvl), asJSON)
		},
	}
	scales.add(cmd)
	addData(cmd, &s.data)
	f := cmd.Flags()
	f.StringVar(&s.listen, "listen", "", "address of the page (default: $TARED_LISTEN, else "+web.DefaultAddr+")")
	f.StringArrayVar(&s.names, "host", nil, "a host name by which browsers may call this machine, such as glaze.local; may be repeated")
	f.BoolVar(&s.pair, "pair", false, "ask for a paired browser on this machine too")
	f.StringVar(&s.table, "materials", "", materialsUse)
	f.StringVar(&s.confirm, "confirm", "", confirmUse)
	f.StringVar(&s.accept, "accept", "", acceptUse)
	f.StringVar(&s.water, "water", "", waterUse+", for recipes that say nothing of it")
	f.StringVar(&s.url, "url", "", "address of the page as phones reach it, for the QR code of labels; without it that by which the page was opened")
	for flag, key := range map[string]string{"listen": "listen", "host": "names", "pair": "pair", "materials": "materials", "confirm": "confirm", "accept": "accept", "water": "water", "url": "url"} {
		fills(f, flag, key)
	}
	f.StringVar(&level, "log", "info", "what is logged on standard error: debug, info, warn or error")
	f.BoolVar(&asJSON, "json", false, "what is printed on standard output (address, pairing code) as one JSON object a line")
	return cmd
}

// settings is what the daemon is told besides its recipes: by flags, the
// environment and a file, the earlier going before the later.
type settings struct {
	listen  string
	data    string
	names   []string // host names by which browsers may call this machine
	table   string   // file with the user's own materials
	pair    bool     // ask for a paired browser even on this machine
	confirm string   // what a second person confirms
	accept  string   // by what a weight is accepted
	water   string   // the studio's habit for the first water
	url     string   // address of the page as phones reach it, for labels
	scales  []scale.Config
}

// gather adds the environment and what is usual, and checks all of it.
func (s settings) gather(flags scaleFlags) (settings, error) {
	var err error
	if s.scales, err = flags.parse(false); err != nil {
		return s, err
	}
	if len(s.scales) == 0 {
		return s, usagef("a scale is missing: give --scale name=bench,port=/dev/ttyUSB0; 'tared scales' lists what is plugged in")
	}
	if s.listen == "" {
		s.listen = cmp.Or(os.Getenv("TARED_LISTEN"), web.DefaultAddr)
		if err := checkAddr(s.listen); err != nil {
			return s, configf("TARED_LISTEN=%w", err)
		}
	}
	if err := checkAddr(s.listen); err != nil {
		return s, usagef("--listen %w", err)
	}
	if err := plan.CheckWater(s.water); err != nil {
		return s, usagef("--water: %w", err)
	}
	if _, err := session.CheckConfirm(s.confirm); err != nil {
		return s, usagef("--confirm %w", err)
	}
	if _, err := sheet.ReadRule(s.accept); err != nil {
		return s, usagef("--accept: %w", err)
	}
	if err := checkURL(s.url); err != nil {
		return s, usagef("--url: %w", err)
	}
	return s, nil
}

func serve(ctx context.Context, out io.Writer, s settings, log zerolog.Logger, asJSON bool) error {
	table, err := openMaterials(s.table)
	if err != nil {
		return err
	}
	w, err := newLiveBench(liveBenchConfig{dir: s.data, witness: witnessFile(s.data), scales: s.scales, materials: table, water: s.water, confirm: s.confirm, accept: s.accept, log: log, listen: listenPorts(s.data, log), damaged: true})
	if err != nil {
		return err
	}
	say := sayer{out, asJSON}
	key, err := pairingKey(s.data)
	if err != nil {
		log.Warn().Err(err).Msg("browsers will have to be paired again after a restart")
	}
	forget := func() {}
	defer func() { forget() }()
	err = withPage(ctx, w, web.Config{Addr: s.listen, Names: s.names, Pair: s.pair, Key: key, Log: log,
		Book: pageBook{&w.record}, Materials: table, Photos: s.data, Link: s.url,
		Ready: func(a net.Addr) {
			_ = w.bench.Alive(ctx) // its record has begun: other commands know that it is in use
			log.Info().Str("address", a.String()).Str("data", s.data).Msg("serving")
			var err error
			if forget, err = keepAddress(s.data, "http://"+pageHost(a)+"/"); err != nil {
				log.Warn().Err(err).Msg("commands cannot go through this bench")
			}
			say.address(a)
		},
		Code: say.code,
	})
	return errors.Join(err, w.Close())
}

// withPage runs the bench and the page until ctx or one of them ends.
func withPage(ctx context.Context, w *liveBench, cfg web.Config) error {
	cfg.Bench = w.bench
	page, err := web.New(cfg)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	ran := make(chan error, 1)
	go func() {
		defer cancel()
		ran <- w.Run(ctx)
	}()
	err = page.Run(ctx)
	cancel()
	if errors.Is(err, syscall.EADDRINUSE) {
		err = fmt.Errorf("%w: another program has that port, perhaps another tared: stop it, or choose another with --listen 127.0.0.1:0", err)
	}
	return errors.Join(err, <-ran)
}

// sayer prints what the person who started the daemon needs to know.
type sayer struct {
	out  io.Writer
	json bool
}

func (s sayer) say(kind, word, value, words string) {
	if !s.json {
		_, _ = fmt.Fprintln(s.out, words)
		return
	}
	_ = json.NewEncoder(s.out).Encode(map[string]string{"kind": kind, word: value})
}

func (s sayer) address(a net.Addr) {
	url := "http://" + pageHost(a) + "/"
	s.say("serving", "url", url, "The page is at "+url+"  (Ctrl-C ends)")
}

func (s sayer) code(code string) {
	s.say("pairing", "code", code, "To pair a browser, open /pair on the page and give the code "+code+". It serves once.")
}

// pageHost is how this machine's browser calls the page.
func pageHost(a net.Addr) string {
	t, ok := a.(*net.TCPAddr)
	if !ok || !t.IP.IsUnspecified() {
		return a.String()
	}
	return net.JoinHostPort("127.0.0.1", fmt.Sprint(t.Port))
}

// pairingKeyName is the file beside the journal that keeps browsers paired.
const pairingKeyName = "pairing.key"

// pairingKey reads the key that signs the pairing cookies, or makes it. One that others
// can read is not used: whoever has it is paired.
func pairingKey(dir string) ([]byte, error) {
	path := filepath.Join(dir, pairingKeyName)
	info, err := os.Stat(path)
	if err == nil && info.Mode().Perm()&0o077 != 0 && runtime.GOOS != "windows" {
		return nil, fmt.Errorf("the pairing key %s can be read by others and is not used: delete it, and pair the browsers again", path)
	}
	key, err := os.ReadFile(path)
	if err == nil && len(key) == 32 {
		return key, nil
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("read the pairing key: %w", err)
	}
	key = make([]byte, 32)
	_, _ = rand.Read(key) // never fails, says crypto/rand
	if err := os.WriteFile(path, key, 0o600); err != nil {
		return key, fmt.Errorf("keep the pairing key: %w", err)
	}
	return key, nil
}
