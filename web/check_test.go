package web

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
	"tared/session/text"
)

func TestCheckAndOrder(t *testing.T) {
	b := newFakeBench()
	s, err := New(Config{Bench: b})
	require.NoError(t, err)
	send := func(s *Server, path, body string) *httptest.ResponseRecorder {
		r := httptest.NewRequest(http.MethodPost, "http://localhost"+path, strings.NewReader(body))
		r.RemoteAddr = "127.0.0.1:50000"
		r.Header.Set("Content-Type", "application/json")
		w := httptest.NewRecorder()
		s.handler.ServeHTTP(w, r)
		return w
	}
	w := send(s, "/api/check", `{"scale":"bench","what":"mass","mass":"100g","by":"Mara"}`)
	assert.Equal(t, http.StatusOK, w.Code, w.Body)
	w = send(s, "/api/order", `{"scale":"bench","do":"Zero","by":"Ilse"}`)
	assert.Equal(t, http.StatusOK, w.Code, w.Body)
	assert.Equal(t, []session.CheckRequest{{Scale: "bench", What: "mass", Mass: "100g", By: "Mara"}}, b.checks)
	assert.Equal(t, []string{"bench zero Ilse"}, b.orders)

	b.fail = &text.Refusal{Message: text.Written("which weight?")}
	w = send(s, "/api/check", `{"scale":"bench","what":"mass"}`)
	assert.Equal(t, http.StatusConflict, w.Code)
	assert.Contains(t, w.Body.String(), "which weight?")
	assert.Equal(t, http.StatusBadRequest, send(s, "/api/order", `{"nonsense":1}`).Code)

	// A stranger may watch, and not command.
	s, err = New(Config{Bench: b, Pair: true})
	require.NoError(t, err)
	for _, path := range []string{"/api/check", "/api/order"} {
		assert.Equal(t, http.StatusUnauthorized, send(s, path, `{}`).Code)
	}
	assert.Len(t, b.orders, 1)
}
