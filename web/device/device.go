// Package device knows the browsers and programs that may command from elsewhere: by what
// they prove who they are, and the codes by which new ones come in. Which there are stands
// in the journal; a Keeper is told, and forgets one at once that is sent away.
package device

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"maps"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"
)

// CookieName is the name of the cookie by which a browser proves itself.
const CookieName = "tared_paired"

// lasts is how long a proof holds; 400 days is the most that browsers keep a cookie
// (RFC 6265bis, section on Max-Age). A browser that is used gets a new one in time.
const lasts = 400 * 24 * time.Hour

// CodeFor is how long a code serves, once.
const CodeFor = 10 * time.Minute

// signs leave out letters that are easily taken for others, read from a terminal through a
// dusty mask.
const signs = "23456789abcdefghjkmnpqrstuvwxyz"

// codeLen of 31 signs are 49 bits: not to be guessed over a network.
const codeLen = 10

const (
	mostTries = 5 // wrong codes of an address in triesFor
	triesFor  = time.Minute
	mostTried = 1024 // addresses that are remembered
	mostWrong = 30   // wrong codes of all addresses, and the code serves no more
)

// What is wrong with a code.
var (
	ErrWrong = errors.New("that is not the code")
	ErrWait  = errors.New("too many wrong codes")
)

// Keeper knows who may. It is safe for use by many.
type Keeper struct {
	key []byte
	now func() time.Time

	mu    sync.Mutex
	may   map[string]map[*func()]struct{} // devices, with what ends what each is doing
	code  string                          // "" when used up
	until time.Time
	wrong int              // since that code was made
	tried map[string]tries // by address
}

// tries are the wrong codes of one address, and when the first came.
type tries struct {
	n     int
	since time.Time
}

// New makes a Keeper whose proofs the key signs; nil makes a key.
func New(key []byte, now func() time.Time) (*Keeper, error) {
	if key == nil {
		key = make([]byte, 32)
		_, _ = rand.Read(key) // never fails, says crypto/rand
	}
	if len(key) < 16 {
		return nil, errors.New("device: a key needs 16 bytes or more")
	}
	return &Keeper{key: key, now: now, may: map[string]map[*func()]struct{}{}, tried: map[string]tries{}}, nil
}

// NewID makes the id of a new device.
func NewID() string {
	var b [8]byte
	_, _ = rand.Read(b[:])
	return hex.EncodeToString(b[:])
}

// Admit lets a device command from now on.
func (k *Keeper) Admit(id string) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.may[id] == nil {
		k.may[id] = map[*func()]struct{}{}
	}
}

// Revoke lets a device command no longer, and ends what it is doing.
func (k *Keeper) Revoke(id string) {
	k.mu.Lock()
	ends := slices.Collect(maps.Keys(k.may[id]))
	delete(k.may, id)
	k.mu.Unlock()
	for _, end := range ends {
		(*end)()
	}
}

// Hold remembers what ends something that a device does, until release is called. It is
// called at once where the device may not.
func (k *Keeper) Hold(id string, end func()) (release func()) {
	k.mu.Lock()
	defer k.mu.Unlock()
	held, may := k.may[id]
	if !may {
		go end()
		return func() {}
	}
	held[&end] = struct{}{}
	return func() {
		k.mu.Lock()
		defer k.mu.Unlock()
		delete(held, &end)
	}
}

// Of gives the device that a request proves to come from, "" for none, and whether its
// cookie is so old that it should get a new one. Programs send what Token gives as a bearer
// token (RFC 6750).
func (k *Keeper) Of(r *http.Request) (id string, old bool) {
	proof, bearer := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
	if c, err := r.Cookie(CookieName); err == nil && !bearer {
		proof = c.Value
	}
	raw, err := base64.RawURLEncoding.DecodeString(proof)
	if err != nil || len(raw) != 16+sha256.Size {
		return "", false
	}
	body, sum := raw[:16], raw[16:]
	if !hmac.Equal(sum, k.sign(body)) {
		return "", false
	}
	left := time.Unix(int64(binary.BigEndian.Uint64(body)), 0).Sub(k.now())
	if id = hex.EncodeToString(body[8:]); left <= 0 {
		return "", false
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.may[id] == nil {
		return "", false
	}
	return id, !bearer && left < lasts/2
}

// Token is the proof of a device that is a program.
func (k *Keeper) Token(id string) string {
	body := make([]byte, 16)
	binary.BigEndian.PutUint64(body, uint64(k.now().Add(lasts).Unix()))
	_, _ = hex.Decode(body[8:], []byte(id)) // as NewID made it
	return base64.RawURLEncoding.EncodeToString(append(body, k.sign(body)...))
}

// Cookie is the proof of a browser. No script sees it, and no other site sends it along.
func (k *Keeper) Cookie(id string, secure bool) *http.Cookie {
	return &http.Cookie{
		Name:     CookieName,
		Value:    k.Token(id),
		Path:     "/",
		MaxAge:   int(lasts / time.Second),
		HttpOnly: true,
		Secure:   secure, // plain http in a workshop's network has no secure context
		SameSite: http.SameSiteStrictMode,
	}
}

func (k *Keeper) sign(body []byte) []byte {
	m := hmac.New(sha256.New, k.key)
	m.Write([]byte("tared-device\x00"))
	m.Write(body)
	return m.Sum(nil)
}

// NewCode makes the code that pairs the next browser, in the place of one that was there.
func (k *Keeper) NewCode() (code string, until time.Time) {
	var all strings.Builder
	for all.Len() < codeLen {
		var b [1]byte
		_, _ = rand.Read(b[:])
		// Bytes beyond the last whole round of signs would make some signs likelier.
		if int(b[0]) < 256/len(signs)*len(signs) {
			all.WriteByte(signs[int(b[0])%len(signs)])
		}
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	k.code, k.until, k.wrong = all.String(), k.now().Add(CodeFor), 0
	return k.code, k.until
}

// Use uses a code up if it is the right one and what is done then succeeds. An address has a
// few tries a minute, and a code a few in all.
func (k *Keeper) Use(code, from string, then func() error) error {
	code = strings.ToLower(strings.NewReplacer(" ", "", "-", "").Replace(code))
	if err := k.take(code, from); err != nil {
		return err
	}
	err := then()
	if err != nil {
		k.mu.Lock()
		defer k.mu.Unlock()
		if k.code == "" {
			k.code = code // it was not its fault
		}
	}
	return err
}

func (k *Keeper) take(code, from string) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	t, now := k.tried[from], k.now()
	if now.Sub(t.since) >= triesFor {
		t = tries{since: now}
	}
	if t.n >= mostTries {
		return ErrWait
	}
	if k.code != "" && now.Before(k.until) && subtle.ConstantTimeCompare([]byte(code), []byte(k.code)) == 1 {
		k.code = ""
		return nil
	}
	if k.wrong++; k.wrong >= mostWrong {
		k.code = ""
	}
	if len(k.tried) >= mostTried {
		clear(k.tried)
	}
	t.n++
	k.tried[from] = t
	return ErrWrong
}
