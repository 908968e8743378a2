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
		Use:   "serve",
		Short: "The bench on real scales, with its page",
		Args:  noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			lvl, err := parseLevel(level)
			if err != nil {
				return err
			}
			first, err := s.gather(cmd.Flags())
			if err != nil {
				return err
			}
			d := service{say: sayer{cmd.OutOrStdout(), asJSON}, log: newLog(cmd.ErrOrStderr(), lvl)}
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
	f.StringVar(&level, "log", "info", "what is logged on standard error: debug, info, warn or error")
	f.BoolVar(&asJSON, "json", false, "what is printed on standard output (address, pairing code) as one JSON object a line")
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
