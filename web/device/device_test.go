package device

import (
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var key = []byte("a key of more than sixteen bytes")

// clock is a Keeper and the time that it sees.
func clock(t *testing.T, key []byte) (*Keeper, *time.Time) {
	t.Helper()
	now := time.Date(2026, 12, 1, 9, 0, 0, 0, time.UTC)
	k, err := New(key, func() time.Time { return now })
	require.NoError(t, err)
	return k, &now
}

func with(c *http.Cookie, header ...string) *http.Request {
	r := httptest.NewRequest("POST", "/", nil)
	if c != nil {
		r.AddCookie(c)
	}
	for i := 0; i < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	return r
}

func of(k *Keeper, r *http.Request) string {
	id, _ := k.Of(r)
	return id
}

func nothing() error { return nil }

func TestAProofHoldsForItsDeviceAndItsTime(t *testing.T) {
	k, now := clock(t, key)
	id := NewID()
	assert.Empty(t, of(k, with(k.Cookie(id, false))), "a device that nobody admitted")
	k.Admit(id)
	c := k.Cookie(id, true)
	assert.True(t, c.HttpOnly)
	assert.True(t, c.Secure)
	assert.Equal(t, http.SameSiteStrictMode, c.SameSite)
	assert.Equal(t, "/", c.Path)
	assert.Equal(t, id, of(k, with(c)))
	assert.Equal(t, id, of(k, with(nil, "Authorization", "Bearer "+k.Token(id))))

	// Every bit of it counts.
	for i := range c.Value {
		f := *c
		b := []byte(c.Value)
		b[i] ^= 4
		f.Value = string(b)
		assert.Empty(t, of(k, with(&f)), i)
	}
	for _, v := range []string{"", "x", strings.Repeat("A", 64), c.Value + "A", c.Value[:40]} {
		f := *c
		f.Value = v
		assert.Empty(t, of(k, with(&f)))
		assert.Empty(t, of(k, with(nil, "Authorization", "Bearer "+v)))
	}
	assert.Empty(t, of(k, with(nil, "Authorization", "Basic "+c.Value)))

	// A restart with the same key knows it, another bench does not.
	again, _ := clock(t, key)
	again.Admit(id)
	assert.Equal(t, id, of(again, with(c)))
	other, _ := clock(t, nil)
	other.Admit(id)
	assert.Empty(t, of(other, with(c)))

	_, old := k.Of(with(c))
	assert.False(t, old)
	*now = now.Add(lasts/2 + time.Second)
	_, old = k.Of(with(c))
	assert.True(t, old, "it gets a new one in time")
	*now = now.Add(lasts / 2)
	assert.Empty(t, of(k, with(c)))
	_, err := New([]byte("short"), time.Now)
	assert.Error(t, err)
}

// Who is sent away is out at once, with all that he is doing, and never comes back by what
// he has.
func TestRevokedIsOutAtOnce(t *testing.T) {
	k, _ := clock(t, key)
	one, two := NewID(), NewID()
	k.Admit(one)
	k.Admit(two)
	ended := map[string]int{}
	release := k.Hold(one, func() { ended["released"]++ })
	k.Hold(one, func() { ended["one"]++ })
	k.Hold(one, func() { ended["one"]++ })
	k.Hold(two, func() { ended["two"]++ })
	release()
	k.Revoke(one)
	assert.Equal(t, map[string]int{"one": 2}, ended)
	assert.Empty(t, of(k, with(k.Cookie(one, false))))
	assert.Equal(t, two, of(k, with(k.Cookie(two, false))))
	late := make(chan bool)
	k.Hold(one, func() { close(late) })
	<-late
	k.Revoke(one) // again, and who never was
	k.Revoke("nobody")
}

func TestACodeServesOnceForAWhileAndToFew(t *testing.T) {
	k, now := clock(t, key)
	assert.ErrorIs(t, k.Use("", "a", nothing), ErrWrong, "there is none yet")
	code, until := k.NewCode()
	assert.Equal(t, CodeFor, until.Sub(*now))
	assert.ErrorIs(t, k.Use("", "a", nothing), ErrWrong)
	failed := errors.New("the disk is full")
	assert.ErrorIs(t, k.Use(code, "a", func() error { return failed }), failed)
	assert.NoError(t, k.Use(strings.ToUpper(code[:5]+"-"+code[5:]), "a", nothing), "what failed used nothing up")
	assert.ErrorIs(t, k.Use(code, "a", nothing), ErrWrong, "replayed")

	code, _ = k.NewCode()
	*now = now.Add(CodeFor)
	assert.ErrorIs(t, k.Use(code, "b", nothing), ErrWrong, "expired")

	first, _ := k.NewCode()
	second, _ := k.NewCode()
	assert.ErrorIs(t, k.Use(first, "c", nothing), ErrWrong, "the newest counts")
	for range mostTries - 1 {
		assert.ErrorIs(t, k.Use("wrong", "c", nothing), ErrWrong)
	}
	assert.ErrorIs(t, k.Use(second, "c", nothing), ErrWait)
	*now = now.Add(triesFor)
	assert.NoError(t, k.Use(second, "c", nothing))

	code, _ = k.NewCode()
	for i := range 10_000 {
		_ = k.Use("wrong", fmt.Sprint("address ", i), nothing)
	}
	assert.LessOrEqual(t, len(k.tried), mostTried)
	assert.ErrorIs(t, k.Use(code, "the owner", nothing), ErrWrong, "guessed at from everywhere")
}

// No two codes and no two ids are alike, and each sign comes about as often as the others.
func TestCodesAreByChance(t *testing.T) {
	k, _ := clock(t, key)
	seen, count := map[string]bool{}, map[rune]int{}
	for range 2000 {
		code, _ := k.NewCode()
		require.Len(t, code, codeLen)
		require.False(t, seen[code] || seen[NewID()])
		seen[code] = true
		for _, s := range code {
			count[s]++
		}
	}
	require.Len(t, count, len(signs))
	for s, n := range count {
		assert.InDelta(t, 2000*codeLen/len(signs), n, 180, "%c", s) // some seven standard deviations
	}
}
