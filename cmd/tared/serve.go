package main

import (
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

	"github.com/spf13/cobra"

	"tared/web"
)

func serveCommand() *cobra.Command {
	var s settings
	var level string
	var asJSON bool
	cmd := &cobra.Command{
		Use:  "serve",
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			lvl, err := parseLevel(level)
			if err != nil {
				return err
			}
			first, err := s.gather(cmd.Flags())
			if err != nil {
				return err
			}
			d := service{say: sayer{cmd.OutOrStdout(), asJSON}, log: newLog(cmd.ErrOrStderr(), lvl), help: helpBook(cmd.Root())}
			d.reread = func() (settings, error) {
				if err := cmd.PreRunE(cmd, nil); err != nil {
					return settings{}, err
				}
				return s.gather(cmd.Flags())
			}
			return d.run(cmd.Context(), first)
		},
	}
	s.add(cmd)
	f := cmd.Flags()
	f.StringVar(&level, "log", "info", "")
	f.BoolVar(&asJSON, "json", false, "")
	return cmd
}

// withPage runs the bench and the page until ctx or one of them ends.
func withPage(ctx context.Context, w *liveBench, cfg web.Config) error {
	cfg.Bench, cfg.Version = w.bench, thisEdition().Version
	page, err := web.New(cfg)
	if err != nil {
		return err
	}
	w.site = page
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
		err = failf("cli.another-program-has-that-port", err)
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
	s.say("serving", "url", url, says("cli.page-at", url))
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
		return nil, failf("cli.the-pairing-key-can-be", path)
	}
	key, err := os.ReadFile(path)
	if err == nil && len(key) == 32 {
		return key, nil
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, failf("cli.read-the-pairing-key", err)
	}
	key = make([]byte, 32)
	_, _ = rand.Read(key) // never fails, says crypto/rand
	if err := os.WriteFile(path, key, 0o600); err != nil {
		return key, failf("cli.keep-the-pairing-key", err)
	}
	return key, nil
}
