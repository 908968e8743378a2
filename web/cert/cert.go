// Package cert is the certificate authority of one bench: it vouches for the names and
// addresses that this machine has in its own network, and can vouch for no others.
//
// A browser that trusts it takes the page for secure, as what locks the screen on and installs
// the page wants it. The names that it may vouch for are fixed in the authority
// itself (name constraints, RFC 5280 section 4.2.1.10), so whoever trusts it trusts nothing
// beyond his own network, even if its key is stolen.
package cert

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"tared/session/text"
)

// Name is the file beside the journal that keeps the authority: its certificate, and its key
// for its user alone.
const Name = "authority.pem"

// The blocks of that file (RFC 7468, sections 5 and 10).
const (
	certBlock block = "CERTIFICATE"
	keyBlock  block = "PRIVATE KEY"
)

type block string

const (
	lasts     = 10 * 365 * 24 * time.Hour // the authority, which people install by hand
	leafLasts = 200 * 24 * time.Hour      // 398 days is the most that browsers take (CA/Browser Forum, Baseline Requirements, section 6.3.2)
	renewed   = 100 * 24 * time.Hour      // before its end a new one is made
	early     = 24 * time.Hour            // clocks differ
)

// private are the networks (RFC 1918, 3927, 4193, 4291, 1122) and domains (RFC 6761, 6762, 8375,
// ICANN for internal, from memory, and the custom of routers for lan and home) of which an
// authority may vouch for names. Nobody on the internet can own one of them.
var (
	privateNetworks = []string{"10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8", "fc00::/7", "fe80::/10", "::1/128"}
	privateDomains  = []string{"localhost", "local", "lan", "home.arpa", "internal", "home"}
)

// Authority vouches for the names of this machine.
type Authority struct {
	cert *x509.Certificate
	key  *ecdsa.PrivateKey

	mu   sync.Mutex
	leaf *tls.Certificate
}

// Open gives the authority of a data directory, and makes it where there is none. Names are
// those of this machine, which it may vouch for beside those of private domains.
func Open(dir string, names []string, now time.Time) (*Authority, error) {
	path := filepath.Join(dir, Name)
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return create(path, names, now)
	}
	if err == nil && info.Mode().Perm()&0o077 != 0 && runtime.GOOS != "windows" {
		return nil, text.Refuse("cert.open", text.Name("path", path))
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	a := &Authority{}
	for p, rest := pem.Decode(b); p != nil; p, rest = pem.Decode(rest) {
		switch block(p.Type) {
		case certBlock:
			a.cert, err = x509.ParseCertificate(p.Bytes)
		case keyBlock:
			var key any
			key, err = x509.ParsePKCS8PrivateKey(p.Bytes)
			a.key, _ = key.(*ecdsa.PrivateKey) // of another kind it is none of ours
		}
		if err != nil {
			return nil, text.Refuse("cert.damaged", text.Name("path", path), text.Because("why", err))
		}
	}
	if a.cert == nil || a.key == nil || !a.key.PublicKey.Equal(a.cert.PublicKey) {
		return nil, text.Refuse("cert.damaged", text.Name("path", path), text.Because("why", text.Fault("cert.no-pair")))
	}
	return a, nil
}

func create(path string, names []string, now time.Time) (*Authority, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	public, err := x509.MarshalPKIXPublicKey(&key.PublicKey)
	if err != nil {
		return nil, err
	}
	id := sha256.Sum256(public)
	who := "tared"
	if len(names) > 0 {
		who += " " + names[0]
	}
	template := &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{CommonName: who + " " + hex.EncodeToString(id[:4])},
		NotBefore: now.Add(-early), NotAfter: now.Add(lasts),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true, KeyUsage: x509.KeyUsageCertSign, SubjectKeyId: id[:20],
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: append(slices.Clone(privateDomains), unqualified(names)...),
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	for _, n := range privateNetworks {
		_, network, _ := net.ParseCIDR(n)
		template.PermittedIPRanges = append(template.PermittedIPRanges, network)
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		return nil, err
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, err
	}
	raw, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	file := append(certBlock.of(der), keyBlock.of(raw)...)
	tmp := path + ".part" // whole or not at all; nobody else makes it, for the journal is locked
	if err := os.WriteFile(tmp, file, 0o600); err != nil {
		return nil, err
	}
	return &Authority{cert: cert, key: key}, os.Rename(tmp, path)
}

func (b block) of(der []byte) []byte {
	return pem.EncodeToMemory(&pem.Block{Type: string(b), Bytes: der})
}

func serial() *big.Int {
	n, _ := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 120)) // never fails, says crypto/rand
	return n
}

// unqualified are the names that have no dot: nobody else can own one of them.
func unqualified(names []string) []string {
	return slices.DeleteFunc(slices.Clone(names), func(n string) bool { return n == "" || strings.Contains(n, ".") })
}

// DER is the certificate that browsers are to trust.
func (a *Authority) DER() []byte { return a.cert.Raw }

// Fingerprint is the SHA-256 of it, as browsers and telephones show it.
func (a *Authority) Fingerprint() string {
	sum := sha256.Sum256(a.cert.Raw)
	return fmt.Sprintf("% X", sum)
}

// vouches reports whether the authority may vouch for a name or an address.
func (a *Authority) vouches(name string) bool {
	if ip, err := netip.ParseAddr(name); err == nil {
		return slices.ContainsFunc(a.cert.PermittedIPRanges, func(n *net.IPNet) bool { return n.Contains(ip.AsSlice()) })
	}
	return slices.ContainsFunc(a.cert.PermittedDNSDomains, func(d string) bool { return name == d || strings.HasSuffix(name, "."+d) })
}

// Config serves what the authority vouches for: the names and addresses that this machine
// has when somebody comes. Certificates are made as they are needed, and anew in time.
func (a *Authority) Config(names func() []string, now func() time.Time) *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: func(hello *tls.ClientHelloInfo) (*tls.Certificate, error) {
		want := names()
		if local, ok := hello.Conn.LocalAddr().(*net.TCPAddr); ok {
			want = append(want, local.AddrPort().Addr().Unmap().WithZone("").String())
		}
		return a.certificate(want, now())
	}}
}

// certificate gives one that holds now, for all names that the authority may vouch for.
func (a *Authority) certificate(names []string, now time.Time) (*tls.Certificate, error) {
	names = slices.DeleteFunc(names, func(n string) bool { return !a.vouches(n) })
	slices.Sort(names)
	names = slices.Compact(names)
	a.mu.Lock()
	defer a.mu.Unlock()
	if l := a.leaf; l != nil && now.After(l.Leaf.NotBefore) && now.Before(l.Leaf.NotAfter.Add(-renewed)) &&
		!slices.ContainsFunc(names, func(n string) bool { return l.Leaf.VerifyHostname(n) != nil }) {
		return l, nil
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	template := &x509.Certificate{SerialNumber: serial(), Subject: pkix.Name{CommonName: "tared"}, NotBefore: now.Add(-early), NotAfter: now.Add(leafLasts),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}
	for _, n := range names {
		if ip := net.ParseIP(n); ip != nil {
			template.IPAddresses = append(template.IPAddresses, ip)
		} else {
			template.DNSNames = append(template.DNSNames, n)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, template, a.cert, &key.PublicKey, a.key)
	if err != nil {
		return nil, err
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, err
	}
	a.leaf = &tls.Certificate{Certificate: [][]byte{der, a.cert.Raw}, PrivateKey: key, Leaf: leaf}
	return a.leaf, nil
}
