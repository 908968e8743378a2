//go:build unix

package main

import (
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"net"
	"net/http"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/label"
	"tared/web"
	"tared/web/lan"
)

// At a terminal a bench with its own authority shows first what makes a device trust it, then
// what pairs it, each as a code for the camera and as an address; and the name of the bench
// in its network is the first that can be typed.
func TestFirstTrustThenPair(t *testing.T) {
	t.Parallel()
	_, tty := onTerminal(t, 80, "serve", "--listen", "0.0.0.0:0", "--tls", "own", "--local-name", "tared-try-first", "--data", filepath.Join(t.TempDir(), "data"), "--log", "error")
	var said strings.Builder
	for b := make([]byte, 4096); !strings.Contains(said.String(), "The code is"); {
		require.NoError(t, tty.SetReadDeadline(time.Now().Add(patience(t))))
		n, err := tty.Read(b)
		require.NoError(t, err, said.String())
		said.Write(b[:n])
	}
	all := said.String()
	if len(lan.Addresses()) == 0 {
		t.Skip("this machine has no network")
	}
	trust := regexp.MustCompile(`open (http://\S+/ca) on it first`).FindStringSubmatch(all)
	require.NotNil(t, trust, all)
	code := regexp.MustCompile(`The code is (\w+) (\w+)`).FindStringSubmatch(all)
	require.NotNil(t, code, all)
	link := strings.Replace(strings.TrimSuffix(trust[1], "/ca"), "http://", "https://", 1) + "/pair"
	last := 0
	for _, part := range []string{"1. Point the camera", drawn(t, trust[1]), trust[1], "2. Then point it", drawn(t, link+"#"+code[1]+code[2]), link, "The code is"} {
		at := strings.Index(all[last:], part)
		require.GreaterOrEqual(t, at, 0, "%s\nis not behind what comes before it in\n%s", part, all)
		last += at
	}
	if name := strings.Index(all, "https://tared-try-first.local:"); name >= 0 { // where multicast is
		assert.Less(t, name, strings.Index(all, link+"\r"), "the name comes before the addresses")
	}
}

// drawn is the code of a link as a terminal gets it.
func drawn(t *testing.T, link string) string {
	t.Helper()
	code, err := label.Modules(link)
	require.NoError(t, err)
	return "  " + strings.Join(code.Lines(), "\r\n  ")
}

// A bench in the network is called by its name there: whoever invites a device is told, the
// page answers to it and to no other, and the certificate has it. By choice it has none.
func TestTheBenchHasAName(t *testing.T) {
	t.Parallel()
	all, err := net.Interfaces()
	require.NoError(t, err)
	if !slices.ContainsFunc(all, func(i net.Interface) bool {
		return i.Flags&net.FlagMulticast != 0 && i.Flags&net.FlagUp != 0
	}) || len(lan.Addresses()) == 0 {
		t.Skip("this machine has no network by which it can be found")
	}
	const name = "tared-try-second"
	for _, own := range []string{name, noName} {
		dir := filepath.Join(t.TempDir(), "data")
		d := startDaemon(t, "serve", "--listen", "0.0.0.0:0", "--tls", "own", "--local-name", own, "--data", dir, "--log", "error")
		var i web.Invitation
		for range 100 {
			code, out, errs := tared(t, "devices", "--add", "--json", "--data", dir)
			require.Equal(t, exitDone, code, errs)
			require.NoError(t, json.Unmarshal([]byte(out), &i))
			if own == noName || i.Named != "" {
				break
			}
			time.Sleep(100 * time.Millisecond) // it looks first whether somebody else has it
		}
		c := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}} // #nosec G402: whose it is is looked at below
		ask := func(host string) (int, *x509.Certificate) {
			r, err := http.NewRequest("GET", strings.Replace(d.url, "http://", "https://", 1)+"healthz", nil)
			require.NoError(t, err)
			r.Host = host
			res, err := c.Do(r)
			require.NoError(t, err)
			require.NoError(t, res.Body.Close())
			return res.StatusCode, res.TLS.PeerCertificates[0]
		}
		got, leaf := ask(name + ".local")
		if own == name {
			assert.Regexp(t, `^https://`+name+`\.local:\d+/pair#`, i.Named)
			assert.Equal(t, http.StatusOK, got)
			assert.NoError(t, leaf.VerifyHostname(name+".local"))
		} else {
			assert.Empty(t, i.Named)
			assert.Equal(t, http.StatusForbidden, got)
			assert.Error(t, leaf.VerifyHostname(name+".local"))
		}
		got, _ = ask("tared-try-nobody.local")
		assert.Equal(t, http.StatusForbidden, got)
		assert.Equal(t, exitDone, d.end(t))
	}
}
