package main

import (
	"crypto/tls"
	"os"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"tared/session/text"
	"tared/web"
	"tared/web/cert"
	"tared/web/lan"
)

// How the page is encrypted.
const (
	tlsOff = "off"
	tlsOwn = "own" // by an authority of this bench
)

// tlsSettings say so; cert and key are files of somebody else's authority.
type tlsSettings struct{ how, cert, key string }

func (t *tlsSettings) add(f *pflag.FlagSet) {
	f.StringVar(&t.how, "tls", tlsOff, "")
	f.StringVar(&t.cert, "tls-cert", "", "")
	f.StringVar(&t.key, "tls-key", "", "")
	fills(f, "tls", "tls")
	fills(f, "tls-cert", "tls_cert")
	fills(f, "tls-key", "tls_key")
}

func (t tlsSettings) check() error {
	switch {
	case t.how != tlsOff && t.how != tlsOwn:
		return text.Refuse("settings.tls", text.Name("value", t.how))
	case (t.cert == "") != (t.key == ""):
		return text.Refuse("settings.tls-both")
	case t.cert != "" && t.how == tlsOwn:
		return text.Refuse("settings.tls-one")
	}
	return nil
}

// open gives what the page is encrypted with, nil where it is not, and what devices are to
// trust, where they do not yet.
func (t tlsSettings) open(dir string, names []string, local *lan.Name) (*tls.Config, web.Authority, error) {
	if t.cert != "" {
		pair := func() (*tls.Certificate, error) {
			c, err := tls.LoadX509KeyPair(t.cert, t.key)
			if err != nil {
				err = text.Refuse("settings.tls-files", text.Name("cert", t.cert), text.Name("key", t.key), text.Said("why", whyFile(err)))
			}
			return &c, err
		}
		if _, err := pair(); err != nil {
			return nil, nil, err
		}
		// They are read anew for each browser that comes, so a renewed one serves at once.
		return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return pair() }}, nil, nil
	}
	if t.how != tlsOwn {
		return nil, nil, nil
	}
	own, _ := os.Hostname() // without one the others serve
	all := []string{own, "localhost"}
	if own != "" {
		all = append(all, strings.TrimSuffix(own, ".local")+".local")
	}
	for _, n := range names {
		all = append(all, strings.ToLower(strings.TrimSuffix(n, ".")))
	}
	a, err := cert.Open(dir, all, time.Now())
	if err != nil {
		return nil, nil, err
	}
	now := func() []string {
		names := append([]string{"127.0.0.1", "::1"}, all...)
		if name := local.Now(); name != "" {
			names = append(names, name)
		}
		for _, ip := range lan.Addresses() {
			names = append(names, ip.String())
		}
		return names
	}
	return a.Config(now, time.Now), a, nil
}
