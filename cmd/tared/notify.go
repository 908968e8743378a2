package main

import (
	"context"
	"net"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/rs/zerolog"
)

// notify tells the service manager of systemd how things stand, by the protocol of
// sd_notify(3): lines of KEY=value in one datagram. Without such a manager it does nothing.
func notify(state string) error {
	path := os.Getenv("NOTIFY_SOCKET")
	if path == "" {
		return nil
	}
	if strings.HasPrefix(path, "@") {
		path = "\x00" + path[1:] // a name that is in no directory
	}
	c, err := net.DialUnix("unixgram", nil, &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		return err
	}
	defer func() { _ = c.Close() }()
	_, err = c.Write([]byte(state))
	return err
}

// watchdog is how often the service manager wants to hear that this program is alive
// (WatchdogSec= in the unit); 0: never.
func watchdog() time.Duration {
	if pid := os.Getenv("WATCHDOG_PID"); pid != "" && pid != strconv.Itoa(os.Getpid()) {
		return 0
	}
	us, err := strconv.ParseInt(os.Getenv("WATCHDOG_USEC"), 10, 64)
	if err != nil || us <= 0 {
		return 0
	}
	return time.Duration(us) * time.Microsecond
}

// keepAlive tells the service manager, twice as often as it wants, that the bench is alive,
// as long as it is: the bench answers only while its goroutine runs and no line of its
// journal hangs on the way to the disk. It returns with ctx.
func keepAlive(ctx context.Context, within time.Duration, alive func(context.Context) error, log zerolog.Logger) {
	if within <= 0 {
		return
	}
	tick := time.NewTicker(within / 2)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		wait, cancel := context.WithTimeout(ctx, within/2)
		err := alive(wait)
		cancel()
		if err == nil {
			err = notify("WATCHDOG=1")
		}
		if err != nil && ctx.Err() == nil {
			log.Error().Err(err).Msg("the bench does not answer; the service manager will start it again")
		}
	}
}
