// Package signer keeps the key of a bench (Ed25519, RFC 8032) beside its journal: by its
// fingerprint one bench is told from another, and with it a bench signs the lines that
// close its batches.
//
// The file is an ordinary private key (PKCS #8 in PEM, RFC 5958 and 7468), which openssl
// reads; a line above it names the place that it was made for. A key that was copied to
// another place is not used there: two benches with one key could not be told apart.
//
// Start with Open.
package signer

import (
	"crypto/ed25519"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"encoding/base64"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"tared/session/text"
)

// Name is the file of the key in the data directory.
const Name = "bench.key"

// Letters are those of a bench's sign: none looks like another, like a digit, or like
// another upside down when it is written with a thick pencil (common practice, no source).
const Letters = "ACDEFHKMNPRTWXY"

// Key is the key of a bench.
type Key struct {
	private ed25519.PrivateKey
	New     bool // it was made by Open
}

// Open reads the key in dir, or makes one where there is none, or one of another place. The
// error says in words what is wrong with the file, and what to do. Only one may open it at
// a time: have the lock of the journal.
func Open(dir string) (*Key, error) {
	path := filepath.Join(dir, Name)
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return newKey(dir, path)
	}
	var b []byte
	if err == nil {
		b, err = os.ReadFile(path)
	}
	switch {
	case err != nil:
		return nil, text.Kind(err, text.Fault("signer.unreadable", text.Name("file", path), text.Because("why", err)))
	case runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0:
		return nil, text.Fault("signer.mode", text.Name("file", path), text.Name("mode", info.Mode().Perm().String()))
	}
	block, _ := pem.Decode(b)
	if block == nil {
		return nil, text.Fault("signer.no-key", text.Name("file", path))
	}
	any, _ := x509.ParsePKCS8PrivateKey(block.Bytes)
	private, ok := any.(ed25519.PrivateKey)
	if !ok {
		return nil, text.Fault("signer.no-key", text.Name("file", path))
	}
	if k := (&Key{private: private}); strings.Contains(string(b), placeOf(dir)) {
		return k, nil
	} else if err := os.Rename(path, path+"."+Short(k.ID())); err != nil {
		return nil, text.Kind(err, text.Fault("signer.write", text.Name("file", path), text.Because("why", err)))
	}
	return newKey(dir, path)
}

func newKey(dir, path string) (*Key, error) {
	_, private, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		return nil, err
	}
	der, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		return nil, err
	}
	b := append([]byte("place "+placeOf(dir)+"\n"), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der})...)
	tmp, err := os.CreateTemp(dir, Name+"-*.part") // nobody but its owner may read it
	if err == nil {
		_, err = tmp.Write(b)
		err = errors.Join(err, tmp.Sync(), tmp.Close())
		if err == nil {
			err = os.Rename(tmp.Name(), path)
		}
		_ = os.Remove(tmp.Name()) // gone already when all went well
	}
	if err != nil {
		return nil, text.Kind(err, text.Fault("signer.write", text.Name("file", path), text.Because("why", err)))
	}
	return &Key{private, true}, nil
}

// placeOf names a directory of a machine. Where the system has no name of its own for the
// machine (machine-id(5)), the directory alone has to do.
func placeOf(dir string) string {
	if abs, err := filepath.Abs(dir); err == nil {
		dir = abs
	}
	if real, err := filepath.EvalSymlinks(dir); err == nil {
		dir = real
	}
	machine, _ := os.ReadFile("/etc/machine-id") // elsewhere there is none
	sum := sha256.Sum256(append(machine, dir...))
	return hex.EncodeToString(sum[:])
}

// Public is the public key (SubjectPublicKeyInfo, RFC 8410) in base64.
func (k *Key) Public() string {
	der, err := x509.MarshalPKIXPublicKey(k.private.Public())
	if err != nil {
		panic(err) // an Ed25519 key always marshals
	}
	return base64.StdEncoding.EncodeToString(der)
}

// ID is the fingerprint of the public key, by which the bench is known: its SHA-256.
func (k *Key) ID() string { id, _ := ID(k.Public()); return id }

// ID is the fingerprint of a public key as Public writes it.
func ID(public string) (string, error) {
	der, err := base64.StdEncoding.DecodeString(public)
	if err != nil {
		return "", text.Kind(err, text.Fault("signer.no-public"))
	}
	sum := sha256.Sum256(der)
	return hex.EncodeToString(sum[:]), nil
}

// Short is the beginning of a fingerprint, or of a hash, by which people tell it from others.
func Short(id string) string { return id[:min(len(id), 12)] }

// Sign signs bytes, in base64.
func (k *Key) Sign(b []byte) string {
	return base64.StdEncoding.EncodeToString(ed25519.Sign(k.private, b))
}

// Verify reports whether a signature is that of bytes by a public key.
func Verify(public string, b []byte, signature string) bool {
	der, err := base64.StdEncoding.DecodeString(public)
	if err != nil {
		return false
	}
	any, err := x509.ParsePKIXPublicKey(der)
	key, ok := any.(ed25519.PublicKey)
	sig, bad := base64.StdEncoding.DecodeString(signature)
	return err == nil && ok && bad == nil && ed25519.Verify(key, b, sig)
}

// Own gives the sign of two letters that a bench has where nobody chose one, by its
// fingerprint, and not one of those that are taken.
func Own(id string, taken func(sign string) bool) string {
	for n := byte(0); ; n++ {
		sum := sha256.Sum256(append([]byte(id), n))
		sign := string([]byte{Letters[int(sum[0])%len(Letters)], Letters[int(sum[1])%len(Letters)]})
		if n == 255 || !taken(sign) {
			return sign
		}
	}
}

// ReadSign understands a sign that a person chose: one or two of the Letters, in any case.
func ReadSign(s string) (string, error) {
	sign := strings.ToUpper(strings.TrimSpace(s))
	if len(sign) < 1 || len(sign) > 2 || strings.Trim(sign, Letters) != "" {
		return "", text.Refuse("signer.sign", text.Name("sign", s), text.Name("letters", Letters))
	}
	return sign, nil
}

// OfMark gives the sign that stands on the mark of a batch; empty: none, for it is older
// than signs are.
func OfMark(mark string) string {
	sign := strings.TrimRight(mark, strings.TrimLeft(mark, Letters))
	if rest := mark[len(sign):]; len(sign) > 2 || rest == "" || rest[0] < '0' || rest[0] > '9' {
		return ""
	}
	return sign
}
