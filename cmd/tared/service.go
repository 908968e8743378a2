package main

import (
	"context"
	"errors"
	"net"
	"os"
	"os/signal"
	"runtime/debug"
	"sync"
	"syscall"
	"time"

	"github.com/mattn/go-isatty"
	"github.com/rs/zerolog"

	"tared/scale"
	"tared/scale/serialport"
	"tared/session"
	"tared/web"
	"tared/web/help"
	"tared/web/mqtt"
	"tared/web/peers"
)

// service is serve from its start to its end. New settings make a new bench with a new
// page in its place, at a moment when nothing is being weighed.
type service struct {
	say    sayer
	log    zerolog.Logger
	help   help.Book
	reread func() (settings, error)
	reload chan struct{} // asks for that, as SIGHUP does

	terminal      bool   // it was started from one
	listen, bound string // what was asked for, and the address that it came to
	said          string // the address that was printed last

	heard []scale.Sighting // at ports without a scale, when new settings came
}

// idleEvery is how often a daemon with new settings looks whether a batch is still open.
const idleEvery = 500 * time.Millisecond

// renewed is why a bench ended that makes way for new settings; heard is what talked at the
// ports where no scale was set up.
type renewed struct {
	settings
	heard []scale.Sighting
}

func (renewed) Error() string { return "new settings" }

// run serves until ctx ends. A failure of new settings leaves those that served before.
func (d *service) run(ctx context.Context, s settings) error {
	d.reload = make(chan struct{}, 1)
	d.terminal = isatty.IsTerminal(os.Stdin.Fd())
	hup := make(chan os.Signal, 1)
	signal.Notify(hup, syscall.SIGHUP)
	defer signal.Stop(hup)
	var good *settings
	for {
		next, served, err := d.serve(ctx, s, hup)
		switch {
		case served && next != nil:
			good, s = &s, *next
		case !served && good != nil && ctx.Err() == nil:
			d.log.Error().Err(err).Msg("the new settings do not serve; those from before do")
			s, good = *good, nil
		default:
			_ = notify("STOPPING=1") // it notices that by itself, too
			return err
		}
	}
}

// serve runs one bench and its page. next are new settings that ended it; served tells
// whether the page was up.
func (d *service) serve(ctx context.Context, s settings, hup <-chan os.Signal) (next *settings, served bool, err error) {
	for _, f := range s.faults {
		d.log.Error().Str("why", f).Msg("a scale is left out")
	}
	shelf, err := s.own.open()
	if err != nil {
		return nil, false, err
	}
	w, err := newLiveBench(liveBenchConfig{dir: s.data, witness: witnessFile(s.data), scales: s.scales, shelf: shelf, water: s.water, confirm: s.confirm, accept: s.accept, sign: s.sign, log: d.log, listen: listenPorts(s.data, d.log), damaged: true})
	if err != nil {
		return nil, false, err
	}
	key, err := pairingKey(s.data)
	if err != nil {
		d.log.Warn().Err(err).Msg("browsers will have to be paired again after a restart")
	}
	forget := func() {}
	defer func() { forget() }()
	ctx, end := context.WithCancelCause(ctx)
	nightly := newNightly(s.data, s.backup, d.log)
	ports := newOpenPorts(serialport.Ports{}, s, d.heard, d.reload)
	ports.Log = d.log
	var group sync.WaitGroup
	defer group.Wait()
	defer end(nil)
	group.Go(func() { d.renew(ctx, w.bench, ports, hup, end) })
	group.Go(func() { keepAlive(ctx, watchdog(), w.bench.Alive, d.log) })
	group.Go(func() { _ = ports.Run(ctx) }) // ends with ctx alone
	proxies, _ := readProxies(s.proxies)    // they were checked with the other settings
	others := peers.Puller{Data: s.data, Witness: w.bench.Witness, Log: d.log}
	group.Go(func() { _ = others.Run(ctx) }) // ends with ctx alone
	if at, err := mqtt.ParseBroker(s.mqtt); err == nil {
		told := mqtt.Publisher{Broker: at, Bench: w.bench, Version: thisEdition().Version, Reader: language, Log: d.log}
		group.Go(func() { _ = told.Run(ctx) }) // ends with ctx alone
	}
	name := nameOf(w.bench, s.local, d.log)
	secure, authority, err := s.tls.open(s.data, s.names, name)
	if err != nil {
		return nil, false, errors.Join(err, w.Close())
	}
	addr := s.listen
	if s.listen == d.listen {
		addr = d.bound
	}
	err = withPage(ctx, w, web.Config{Addr: addr, Names: s.names, Name: name, Proxies: proxies, Open: s.readers == readersAnyone, TLS: secure, Authority: authority, Pair: s.pair, Key: key, Log: d.log, Help: d.help,
		Book: pageBook{&w.record}, Materials: shelf.Table, Photos: s.data, Lines: pageLines{&w.record}, Printer: pagePrinterOf(s, &w.record), Peers: func() []peers.State { return peers.List(s.data) }, Archive: pageArchive{s.data, shelf.Table, nightly}, Link: s.url, Ports: ports,
		Ready: func(a net.Addr) {
			served = true
			if name != nil {
				group.Go(func() { _ = name.Run(ctx, a) }) // ends with ctx alone
			}
			d.listen, d.bound = s.listen, a.String()
			_ = w.bench.Alive(ctx)                // its record has begun: other commands know that it is in use
			group.Go(func() { nightly.run(ctx) }) // a copy is named by the bench that the record names
			d.log.Info().Str("address", a.String()).Str("data", s.data).Msg("serving")
			var err error
			if forget, err = keepAddress(s.data, "http://"+pageHost(a)+"/"); err != nil {
				d.log.Warn().Err(err).Msg("commands cannot go through this bench")
			}
			if d.said != a.String() {
				d.say.address(a)
			}
			d.said = a.String()
			if err := notify("READY=1\nSTATUS=The page is at http://" + pageHost(a) + "/"); err != nil {
				d.log.Warn().Err(err).Msg("the service manager cannot be told that the page is up")
			}
			group.Go(debug.FreeOSMemory) // what the start alone needed
		},
		Code: d.say.invitation,
	})
	err = errors.Join(err, w.Close())
	var r renewed
	if errors.As(context.Cause(ctx), &r) {
		next, d.heard = &r.settings, r.heard
	}
	return next, served, err
}

// renew ends a bench when there are new settings and nothing is in work. It returns with ctx.
func (d *service) renew(ctx context.Context, bench *session.Bench, ports *openPorts, hup <-chan os.Signal, end context.CancelCauseFunc) {
	var next *settings
	for {
		var idle <-chan time.Time
		if next != nil {
			idle = time.After(idleEvery)
		}
		select {
		case <-ctx.Done():
			return
		case <-d.reload:
			next = d.read()
		case <-hup:
			if d.terminal && !isatty.IsTerminal(os.Stdin.Fd()) { // SIGHUP means what it says: the terminal is gone
				end(nil)
				return
			}
			next = d.read()
		case <-idle:
		}
		if next == nil {
			continue
		}
		if busy, err := bench.Busy(ctx); err == nil && !busy {
			end(renewed{*next, ports.Lookout.Seen()})
			return
		}
	}
}

// read reads the settings anew; nil where they are wrong.
func (d *service) read() *settings {
	s, err := d.reread()
	if err != nil {
		d.log.Error().Err(err).Msg("the new settings are not taken up")
		return nil
	}
	d.log.Info().Msg("the settings were read again, and are taken up as soon as nothing is being weighed")
	return &s
}
