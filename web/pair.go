package web

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/binary"
	"errors"
	"net/http"
	"strings"
	"sync"
	"time"
)

// cookieName is the name of the pairing cookie.
const cookieName = "tared_paired"

// pairedFor is how long a browser stays paired; 400 days is the most that
// browsers keep a cookie (RFC 6265bis, section on Max-Age).
const pairedFor = 400 * 24 * time.Hour

// codeDigits leaves out letters that are easily taken for others, read from a
// terminal through a dusty mask.
const codeDigits = "23456789abcdefghjkmnpqrstuvwxyz"

// codeLen digits of 31 signs are 49 bits: not to be guessed over a network.
const codeLen = 10

// pairing knows which browsers may command. A cookie is a signed date, so that
// a restart with the same key forgets nobody and nothing is stored.
type pairing struct {
	key []byte
	now func() time.Time

	mu    sync.Mutex
	code  string           // "" when used up
	wrong map[string]tries // by address
}

// tries are the wrong codes of one address, and when the first came.
type tries struct {
	n     int
	since time.Time
}

const (
	mostTries = 5 // wrong codes of an address in triesFor
	triesFor  = time.Minute
	mostTried = 1024 // addresses that are remembered
)

func newPairing(key []byte, now func() time.Time) (*pairing, error) {
	if key == nil {
		key = make([]byte, 32)
		_, _ = rand.Read(key) // never fails, says crypto/rand
	}
	if len(key) < 16 {
		return nil, errors.New("web: a pairing key needs 16 bytes or more")
	}
	return &pairing{key: key, now: now, wrong: map[string]tries{}}, nil
}

// newCode makes the code that pairs the next browser.
func (p *pairing) newCode() string {
	code := make([]byte, 0, codeLen)
	for len(code) < codeLen {
		var b [1]byte
		_, _ = rand.Read(b[:])
		// Bytes beyond the last whole round of signs would make some signs likelier.
		if int(b[0]) < 256/len(codeDigits)*len(codeDigits) {
			code = append(code, codeDigits[int(b[0])%len(codeDigits)])
		}
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.code = string(code)
	return p.code
}

// use takes the code if it is the right one, and gives the status of the answer. A code
// serves once, and an address has a few tries a minute.
func (p *pairing) use(code, from string) int {
	code = strings.ToLower(strings.NewReplacer(" ", "", "-", "").Replace(code))
	p.mu.Lock()
	defer p.mu.Unlock()
	t, now := p.wrong[from], p.now()
	if now.Sub(t.since) >= triesFor {
		t = tries{since: now}
	}
	if t.n >= mostTries {
		return http.StatusTooManyRequests
	}
	if p.code != "" && subtle.ConstantTimeCompare([]byte(code), []byte(p.code)) == 1 {
		p.code = ""
		return http.StatusOK
	}
	if len(p.wrong) >= mostTried {
		clear(p.wrong)
	}
	t.n++
	p.wrong[from] = t
	return http.StatusForbidden
}

// cookie makes the proof that a browser is paired.
func (p *pairing) cookie(secure bool) *http.Cookie {
	body := make([]byte, 24)
	binary.BigEndian.PutUint64(body, uint64(p.now().Add(pairedFor).Unix()))
	_, _ = rand.Read(body[8:])
	return &http.Cookie{
		Name:     cookieName,
		Value:    base64.RawURLEncoding.EncodeToString(append(body, p.sign(body)...)),
		Path:     "/",
		MaxAge:   int(pairedFor / time.Second),
		HttpOnly: true,
		Secure:   secure, // plain http in a workshop's network has no secure context
		SameSite: http.SameSiteStrictMode,
	}
}

// paired reports whether a request carries a proof that holds.
func (p *pairing) paired(r *http.Request) bool {
	c, err := r.Cookie(cookieName)
	if err != nil {
		return false
	}
	raw, err := base64.RawURLEncoding.DecodeString(c.Value)
	if err != nil || len(raw) != 24+sha256.Size {
		return false
	}
	body, sum := raw[:24], raw[24:]
	if !hmac.Equal(sum, p.sign(body)) {
		return false
	}
	return p.now().Unix() < int64(binary.BigEndian.Uint64(body))
}

func (p *pairing) sign(body []byte) []byte {
	m := hmac.New(sha256.New, p.key)
	m.Write([]byte("tared pairing\x00"))
	m.Write(body)
	return m.Sum(nil)
}
