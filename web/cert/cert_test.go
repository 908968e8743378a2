package cert

import (
	"crypto/x509"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var now = time.Date(2026, 12, 1, 9, 0, 0, 0, time.UTC)

// trusts verifies a certificate as a browser does that trusts the authority.
func trusts(a *Authority, leaf *x509.Certificate, name string, at time.Time) error {
	roots := x509.NewCertPool()
	roots.AddCert(a.cert)
	_, err := leaf.Verify(x509.VerifyOptions{Roots: roots, DNSName: name, CurrentTime: at, KeyUsages: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}})
	return err
}

func TestAnAuthorityVouchesForItsOwnNetworkOnly(t *testing.T) {
	dir := t.TempDir()
	a, err := Open(dir, []string{"bench", "bench.local", "bench.example.org"}, now)
	require.NoError(t, err)
	names := []string{"bench", "bench.local", "glaze.lan", "192.168.178.40", "fd00::2", "127.0.0.1", "bench.example.org", "evil.example", "8.8.8.8", "2001:db8::1"}
	c, err := a.certificate(slices.Clone(names), now)
	require.NoError(t, err)
	for i, n := range names {
		if i < 6 {
			assert.NoError(t, trusts(a, c.Leaf, n, now), n)
		} else {
			assert.Error(t, trusts(a, c.Leaf, n, now), n)
		}
	}
	assert.LessOrEqual(t, c.Leaf.NotAfter.Sub(c.Leaf.NotBefore), 398*24*time.Hour)
	assert.True(t, a.cert.PermittedDNSDomainsCritical)
	assert.Equal(t, x509.ECDSAWithSHA256, c.Leaf.SignatureAlgorithm)
	info, err := os.Stat(filepath.Join(dir, Name))
	require.NoError(t, err)
	if runtime.GOOS != "windows" {
		assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	}

	// Whoever steals the key is trusted nowhere else: the constraint is in the authority.
	_, all, _ := net.ParseCIDR("0.0.0.0/0")
	stolen := &Authority{cert: a.cert, key: a.key}
	wide := *a.cert
	wide.PermittedDNSDomains, wide.PermittedIPRanges = []string{"example", "org"}, []*net.IPNet{all}
	stolen.cert = &wide
	c, err = stolen.certificate([]string{"bank.example", "8.8.8.8"}, now)
	require.NoError(t, err)
	assert.Error(t, trusts(a, c.Leaf, "bank.example", now))
	assert.Error(t, trusts(a, c.Leaf, "8.8.8.8", now))
}

// One authority for ever, and certificates anew as they end, or names come.
func TestCertificatesAreRenewed(t *testing.T) {
	dir := t.TempDir()
	a, err := Open(dir, []string{"bench"}, now)
	require.NoError(t, err)
	again, err := Open(dir, []string{"other"}, now)
	require.NoError(t, err)
	assert.Equal(t, a.Fingerprint(), again.Fingerprint())
	first, err := again.certificate([]string{"bench"}, now)
	require.NoError(t, err)
	assert.NoError(t, trusts(a, first.Leaf, "bench", now))
	same, err := again.certificate([]string{"bench"}, now.Add(50*24*time.Hour))
	require.NoError(t, err)
	assert.Same(t, first, same)
	more, err := again.certificate([]string{"bench", "10.0.0.9"}, now)
	require.NoError(t, err)
	assert.NoError(t, trusts(a, more.Leaf, "10.0.0.9", now))
	for day := range 9 * 365 {
		at := now.AddDate(0, 0, day)
		c, err := again.certificate([]string{"bench"}, at)
		require.NoError(t, err)
		require.NoError(t, trusts(a, c.Leaf, "bench", at), at)
	}

	if runtime.GOOS != "windows" {
		require.NoError(t, os.Chmod(filepath.Join(dir, Name), 0o640))
		_, err = Open(dir, nil, now)
		assert.ErrorContains(t, err, "Others can read")
		require.NoError(t, os.Chmod(filepath.Join(dir, Name), 0o600))
	}
	b, err := os.ReadFile(filepath.Join(dir, Name))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, Name), b[:len(b)/2], 0o600))
	_, err = Open(dir, nil, now)
	assert.Error(t, err)
}
