package web

import (
	"net/http"
	"time"

	"tared/session/text"
)

// A browser says which languages its reader knows; a choice on the page, kept in a cookie,
// comes before that.

const (
	languageCookie = "tared_lang"
	languageParam  = "lang"
	languageFor    = 400 * 24 * time.Hour // as long as browsers keep a cookie, see pairedFor
)

// languageOf is the language of who asks.
func languageOf(r *http.Request) *text.Language { return text.From(r.Context()) }

// wished is the language that a browser asks for.
func wished(r *http.Request) *text.Language {
	if c, err := r.Cookie(languageCookie); err == nil {
		if l := text.Named(c.Value); l != nil {
			return l.In(r.Header.Get("Accept-Language"))
		}
	}
	return text.For(r.Header.Get("Accept-Language"))
}

// keepsChoice keeps the language that an address chooses, and leads to the same page in it.
func keepsChoice(w http.ResponseWriter, r *http.Request) bool {
	q := r.URL.Query()
	l := text.Named(q.Get(languageParam))
	if l == nil {
		return false
	}
	q.Del(languageParam)
	to := *r.URL
	to.RawQuery = q.Encode()
	http.SetCookie(w, &http.Cookie{Name: languageCookie, Value: l.Tag, Path: "/", MaxAge: int(languageFor.Seconds()), Secure: callerOf(r).secure, HttpOnly: true, SameSite: http.SameSiteLaxMode})
	w.Header().Set("Cache-Control", "no-store")
	http.Redirect(w, r, to.RequestURI(), http.StatusSeeOther)
	return true
}

// tongue is a language in which the page can be read.
type tongue struct {
	*text.Language
	Link string
	Now  bool
}

// tongues are all of them, each with the address of the page that is asked for.
func tongues(r *http.Request, now *text.Language) (all []tongue) {
	for _, l := range text.All {
		q, to := r.URL.Query(), *r.URL
		q.Set(languageParam, l.Tag)
		to.RawQuery = q.Encode()
		all = append(all, tongue{l, to.RequestURI(), l.Name == now.Name})
	}
	return all
}
