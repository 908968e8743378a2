// Package peers takes the lines of other benches over HTTP, from what each serves at
// /api/v1/lines, and keeps them as package peer does. This bench goes on whatever another
// does: one that is slow, gone, huge or lies costs a goroutine that waits.
//
// What is known of a peer stands in files of its directory, peers/NAME beside the journal: its
// address and what it was paired with, how it stands, its lines. A
// command reads the same as a page.
//
// Start with Puller; Add makes a peer.
package peers

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"tared/session/journal"
	"tared/session/text"
	"tared/web/device"
)

// Dir is where peers are kept in a data directory.
const Dir = "peers"

const (
	configName = "peer.json"
	stateName  = "state.json"
	answerWait = 15 * time.Second
)

// Peer is another bench, as it was added.
type Peer struct {
	Bench string    `json:"bench"` // fingerprint of its key
	URL   string    `json:"url"`   // of its page
	Token string    `json:"token"` // what it was paired with; empty: it asks for nothing
	Added time.Time `json:"added"`
}

// State is how a peer stands.
type State struct {
	Bench string    `json:"bench"`
	Sign  string    `json:"sign"`
	URL   string    `json:"url"`
	Epoch uint64    `json:"epoch"`
	Lines uint64    `json:"lines"`          // that were taken
	Has   uint64    `json:"has"`            // that it said to have
	Last  time.Time `json:"last,omitzero"`  // time of the last line that was taken
	Heard time.Time `json:"heard,omitzero"` // when it answered last
	// Trouble is a code: unreachable, unpaired, refused (a line that does not hold), older (it
	// has fewer lines than before), fork (another history); empty: none. Since is when it
	// began, Why what was wrong.
	Trouble string    `json:"trouble,omitempty"`
	Since   time.Time `json:"since,omitzero"`
	Why     string    `json:"why,omitempty"`
	// Noted is the number of its last line, beside those that witness others, that this
	// bench witnessed in its own journal.
	Noted uint64 `json:"noted,omitempty"`
}

// Behind is how many of its lines were not taken yet, as far as it said.
func (s State) Behind() uint64 { return max(s.Has, s.Lines) - s.Lines }

// Short is the beginning of its fingerprint, for people.
func (s State) Short() string { return s.Bench[:min(len(s.Bench), 12)] }

// List gives the peers of a data directory as they stand, by their signs.
func List(data string) (all []State) {
	files, _ := filepath.Glob(filepath.Join(data, Dir, "*", configName))
	for _, f := range files {
		p, err := read[Peer](f)
		if err != nil {
			continue
		}
		s, _ := read[State](filepath.Join(filepath.Dir(f), stateName)) // none before it was asked for the first time
		s.Bench, s.URL = p.Bench, p.URL
		all = append(all, s)
	}
	slices.SortStableFunc(all, func(a, b State) int { return strings.Compare(a.Sign+a.Bench, b.Sign+b.Bench) })
	return all
}

func read[T any](path string) (v T, err error) {
	b, err := os.ReadFile(path)
	if err == nil {
		err = json.Unmarshal(b, &v)
	}
	return v, err
}

// write puts a file in its place, for its owner alone where it has a secret.
func write(path string, v any, mode os.FileMode) error {
	b, err := json.Marshal(v)
	if err != nil {
		return err
	}
	tmp, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+"-*.part")
	if err != nil {
		return err
	}
	defer func() { _ = os.Remove(tmp.Name()) }() // gone already when all went well
	_, err = tmp.Write(append(b, '\n'))
	err = errors.Join(err, tmp.Chmod(mode), tmp.Sync(), tmp.Close())
	if err != nil {
		return err
	}
	return os.Rename(tmp.Name(), path)
}

// Add pairs with another bench by a code that it shows, where it asks for one, and keeps it as a
// peer of a data directory. Own is the fingerprint of this bench.
func Add(ctx context.Context, data, own, address, code string, now time.Time) (State, error) {
	p := Peer{URL: strings.TrimSuffix(address, "/") + "/", Added: now}
	u, err := url.Parse(p.URL)
	if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "" || u.RawQuery != "" || u.Fragment != "" {
		return State{}, text.Refuse("peer.address", text.Name("address", address))
	}
	if code != "" {
		if p.Token, err = pair(ctx, p.URL, code); err != nil {
			return State{}, err
		}
	}
	var about struct {
		Bench, Sign string
	}
	res, err := p.get(ctx, "api/v1/bench")
	if err != nil {
		return State{}, text.Refuse("peer.unreachable", text.Name("address", p.URL), text.Because("why", err))
	}
	defer func() { _ = res.Body.Close() }()
	if err := json.NewDecoder(io.LimitReader(res.Body, 1<<20)).Decode(&about); err != nil || res.StatusCode != http.StatusOK || !fingerprint(about.Bench) {
		return State{}, text.Refuse("peer.no-bench", text.Name("address", p.URL))
	}
	if about.Bench == own {
		return State{}, text.Refuse("peer.own")
	}
	p.Bench = about.Bench
	res, err = p.get(ctx, "api/v1/lines?from=1")
	if err == nil {
		_ = res.Body.Close()
		if res.StatusCode == http.StatusUnauthorized {
			return State{}, text.Refuse("peer.code", text.Name("address", p.URL))
		}
	}
	dir := dirOf(data, p.Bench)
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return State{}, err
	}
	return State{Bench: p.Bench, Sign: about.Sign, URL: p.URL}, write(filepath.Join(dir, configName), p, 0o600)
}

// Remove forgets a peer, by its sign or the beginning of its fingerprint. Its lines stay.
func Remove(data, name string) (State, error) {
	for _, s := range List(data) {
		if strings.EqualFold(s.Sign, name) || len(name) >= 4 && strings.HasPrefix(s.Bench, strings.ToLower(name)) {
			return s, os.Remove(filepath.Join(dirOf(data, s.Bench), configName))
		}
	}
	return State{}, text.Refuse("peer.none", text.Name("name", name))
}

func fingerprint(s string) bool {
	var h journal.Hash
	return h.UnmarshalText([]byte(s)) == nil
}

func dirOf(data, bench string) string { return filepath.Join(data, Dir, bench[:16]) }

func pair(ctx context.Context, address, code string) (token string, err error) {
	body, _ := json.Marshal(map[string]string{"code": code}) // a text can always be written
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, address+"api/pair", bytes.NewReader(body))
	if err != nil {
		return "", err
	}
	r.Header.Set("Content-Type", "application/json")
	res, err := client.Do(r)
	if err != nil {
		return "", text.Refuse("peer.unreachable", text.Name("address", address), text.Because("why", err))
	}
	defer func() { _ = res.Body.Close() }()
	for _, c := range res.Cookies() {
		if c.Name == device.CookieName && res.StatusCode == http.StatusOK {
			return c.Value, nil
		}
	}
	return "", text.Refuse("peer.code", text.Name("address", address))
}

// client follows no one elsewhere, and waits for nobody's first word for long.
var client = &http.Client{
	CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	Transport:     &http.Transport{ResponseHeaderTimeout: answerWait, TLSHandshakeTimeout: answerWait, DisableCompression: true, MaxResponseHeaderBytes: 64 << 10, IdleConnTimeout: time.Minute},
}

func (p Peer) get(ctx context.Context, path string) (*http.Response, error) {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, p.URL+path, nil)
	if err != nil {
		return nil, err
	}
	if p.Token != "" {
		r.AddCookie(&http.Cookie{Name: device.CookieName, Value: p.Token})
	}
	if strings.HasPrefix(path, "api/v1/lines") {
		r.Header.Set("Accept-Encoding", "gzip")
	}
	res, err := client.Do(r)
	if err != nil {
		var u *url.Error
		if errors.As(err, &u) {
			err = u.Err // the address is said beside it
		}
		return nil, err
	}
	return res, nil
}
