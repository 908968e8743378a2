package web

import (
	"context"
	"errors"
	"net"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"tared/session"
	"tared/session/label"
	"tared/session/text"
	"tared/web/device"
)

func (s *site) getView(w http.ResponseWriter, r *http.Request) {
	watch := s.cfg.Bench.Watch(nil).In(languageOf(r))
	defer watch.Close()
	b := watch.Latest()
	if b == nil {
		refuse(w, r, http.StatusServiceUnavailable, text.New("page.api.no-view"))
		return
	}
	write(w, http.StatusOK, ".json", b)
}

func (s *site) do(ctx context.Context, c session.Command) (any, error) {
	c.At = s.cfg.Now()
	c.Word = strings.ToLower(strings.TrimSpace(c.Word))
	c.Rest, c.By = strings.TrimSpace(c.Rest), strings.TrimSpace(c.By)
	if c.Word == "" {
		return nil, text.Refuse("page.api.no-word")
	}
	return ok, s.cfg.Bench.Do(ctx, c)
}

func (s *site) getHands(*http.Request) (any, error) {
	if s.cfg.Hands == nil {
		return []HandMoves{}, nil // no error: most benches have real hands, and their page asks all the same
	}
	return s.cfg.Hands.Moves(), nil
}

func (s *site) postHands(w http.ResponseWriter, r *http.Request) {
	var m struct {
		Scale string `json:"scale"`
		Do    string `json:"do"`
	}
	if !read(w, r, &m) {
		return
	}
	if s.cfg.Hands == nil {
		refuse(w, r, http.StatusNotFound, text.New("page.api.no-hands"))
		return
	}
	if err := s.cfg.Hands.Move(r.Context(), m.Scale, m.Do); err != nil {
		refuse(w, r, http.StatusConflict, text.Of(err))
		return
	}
	answer(w, http.StatusOK, s.cfg.Hands.Moves())
}

// pairPage tells a page whether it may command.
type pairPage struct {
	Needed bool `json:"needed"`
	May    bool `json:"may"`
}

func pairData(s *site, r *http.Request) (any, error) {
	return pairPage{s.cfg.Pair || !callerOf(r).local, s.mayCommand(r)}, nil
}

func (s *site) postPair(w http.ResponseWriter, r *http.Request) {
	var p struct {
		Code string `json:"code"`
	}
	if !read(w, r, &p) {
		return
	}
	from, id := addrOf(r.RemoteAddr), device.NewID()
	err := s.devices.Use(p.Code, from, func() error { return s.admit(r.Context(), session.DeviceRequest{Name: s.nameFor(r), From: from}, id) })
	switch {
	case errors.Is(err, device.ErrWait):
		s.cfg.Log.Warn().Str("from", r.RemoteAddr).Msg("wrong pairing code")
		refuse(w, r, http.StatusTooManyRequests, text.New("page.pair.wait"))
		return
	case errors.Is(err, device.ErrWrong):
		s.cfg.Log.Warn().Str("from", r.RemoteAddr).Msg("wrong pairing code")
		refuse(w, r, http.StatusForbidden, text.New("page.pair.wrong"))
		return
	case err != nil:
		s.done(w, r, nil, err)
		return
	}
	http.SetCookie(w, s.devices.Cookie(id, callerOf(r).secure))
	s.cfg.Log.Info().Str("from", r.RemoteAddr).Str("device", id).Msg("paired")
	answer(w, http.StatusOK, ok)
}

// admit lets a new device command, once the record says so.
func (s *site) admit(ctx context.Context, d session.DeviceRequest, id string) error {
	if err := s.cfg.Bench.Pair(ctx, d, id); err != nil {
		return err
	}
	s.devices.Admit(id)
	return nil
}

// kindsOf are words in what a browser says of itself, and what it is then called.
var kindsOf = [][2]string{{"iPad", "iPad"}, {"iPhone", "iPhone"}, {"Android", "Android"}, {"CrOS", "Chromebook"}, {"Windows", "Windows"}, {"Macintosh", "Mac"}, {"Linux", "Linux"}}

// nameFor is what a new device is called until somebody names it.
func (s *site) nameFor(r *http.Request) string {
	name := addrOf(r.RemoteAddr)
	for _, k := range kindsOf {
		if strings.Contains(r.UserAgent(), k[0]) {
			name = k[1]
			break
		}
	}
	all, _ := s.cfg.Bench.Devices(r.Context()) // where they are not known, Pair says so
	for n := 1; ; n++ {
		one := name
		if n > 1 {
			one = name + " " + strconv.Itoa(n)
		}
		if !slices.ContainsFunc(all, func(d session.Device) bool { return d.Revoked.IsZero() && strings.EqualFold(d.Name, one) }) {
			return one
		}
	}
}

// invite lets one device in.
func (s *site) invite() Invitation {
	i := Invitation{Now: s.cfg.Now(), Links: []string{}}
	i.Code, i.Until = s.devices.NewCode()
	links := s.links()
	pair := func(l string) string { return strings.TrimSuffix(l, "/") + pairPath + "#" + i.Code }
	for _, l := range links {
		i.Links = append(i.Links, pair(l))
	}
	if name := s.cfg.Name.Now(); name != "" && len(links) > 0 {
		i.Named = pair(schemeOf(s.cfg.TLS != nil) + net.JoinHostPort(name, s.port) + "/")
	}
	if s.cfg.Authority != nil && len(links) > 0 {
		i.Trust = strings.Replace(strings.TrimSuffix(links[0], "/"), "https://", "http://", 1) + trustPath
	}
	return i
}

// invited is an invitation with its QR codes, for a page.
type invited struct {
	Invitation
	QR      string `json:"qr"`
	TrustQR string `json:"trust_qr,omitempty"`
}

func (s *site) postInvite(ctx context.Context, _ struct{}) (any, error) {
	i := invited{Invitation: s.invite()}
	if len(i.Links) == 0 {
		return i, nil
	}
	var err error
	if i.QR, err = label.QR(i.Links[0]); err == nil && i.Trust != "" {
		i.TrustQR, err = label.QR(i.Trust)
	}
	return i, err
}

// devicesPage lists the devices.
type devicesPage struct {
	May     bool             `json:"may"`     // who asks may command
	Self    string           `json:"self"`    // the device that asks; empty: this machine
	Reached bool             `json:"reached"` // others than this machine reach the page
	Devices []session.Device `json:"devices"` // that may command
}

func devicesData(s *site, r *http.Request) (any, error) {
	p := devicesPage{May: s.mayCommand(r), Self: callerOf(r).device, Reached: len(s.links()) > 0, Devices: []session.Device{}}
	if !p.May {
		return p, nil
	}
	all, err := s.cfg.Bench.Devices(r.Context())
	for _, d := range all {
		if d.Revoked.IsZero() {
			p.Devices = append(p.Devices, d)
		}
	}
	return p, err
}

// postDevice names a device anew or sends it away, which holds at once, whether it can be
// recorded or not. A new one is a program, and gets its token.
func (s *site) postDevice(w http.ResponseWriter, r *http.Request) {
	var d session.DeviceRequest
	if !read(w, r, &d) {
		return
	}
	d.Via, d.From, d.Token = "", "", d.Device == ""
	all, _ := s.cfg.Bench.Devices(r.Context()) // where they are not known, Pair says so
	if k := slices.IndexFunc(all, func(o session.Device) bool { return o.ID == callerOf(r).device }); k >= 0 {
		d.Via = all[k].Name
	}
	ctx := context.WithoutCancel(r.Context()) // a device may send itself away
	switch id := device.NewID(); {
	case d.Device == "":
		err := s.admit(ctx, d, id)
		s.done(w, r, map[string]string{"token": s.devices.Token(id)}, err)
	case strings.TrimSpace(d.Name) == "":
		s.devices.Revoke(d.Device)
		s.cfg.Log.Info().Str("device", d.Device).Msg("revoked")
		s.done(w, r, ok, s.cfg.Bench.Pair(ctx, d, ""))
	default:
		s.done(w, r, ok, s.cfg.Bench.Pair(ctx, d, ""))
	}
}

// trustPage tells how a device comes to trust the page.
type trustPage struct {
	Fingerprint string // empty: there is nothing to trust
	Page        string
}

func trustData(s *site, r *http.Request) (any, error) {
	p := trustPage{Page: schemeOf(s.cfg.TLS != nil) + r.Host + "/"}
	if s.cfg.Authority != nil {
		p.Fingerprint = s.cfg.Authority.Fingerprint()
	}
	return p, nil
}

// getAuthority gives what a device is to trust, of the type that asks it to
// (application/x-x509-ca-cert, as browsers know it; from memory).
func (s *site) getAuthority(w http.ResponseWriter, r *http.Request) {
	if s.cfg.Authority == nil {
		refuse(w, r, http.StatusNotFound, text.New("page.api.no-file"))
		return
	}
	w.Header().Set("Content-Type", "application/x-x509-ca-cert")
	w.Header().Set("Content-Disposition", `attachment; filename="tared.crt"`)
	w.Header().Set("Cache-Control", "no-store")
	_, _ = w.Write(s.cfg.Authority.DER()) // who left needs no answer
}
