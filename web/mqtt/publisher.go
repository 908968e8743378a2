package mqtt

import (
	"bytes"
	"context"
	"crypto/tls"
	"errors"
	"net"
	"time"

	"github.com/eclipse/paho.golang/packets"
	"github.com/eclipse/paho.golang/paho"
	"github.com/rs/zerolog"

	"tared/session"
	"tared/session/text"
)

// Bench is what is published of.
type Bench interface {
	Watch(news func()) *session.Watcher
	Tally(ctx context.Context) (session.Tally, error)
}

// Publisher tells a broker how a bench stands.
type Publisher struct {
	Broker  Broker
	Bench   Bench
	Version string         // of the program
	Sign    string         // of the bench, for people
	Reader  *text.Language // of the names of what can be shown; nil: who reads English
	Log     zerolog.Logger

	id string // of the bench, in topics
}

const (
	lookEvery  = time.Second
	tellEvery  = 20 * time.Second
	expiry     = time.Minute // of what is not told anew
	brokerWait = 5 * time.Second
	retryFirst = time.Second
	retryLast  = 30 * time.Second
)

// Run publishes until ctx ends, and goes on whenever the broker is there again. What goes
// wrong is logged once, and once more when it is well again.
func (p *Publisher) Run(ctx context.Context) error {
	for p.id == "" {
		t, err := p.Bench.Tally(ctx)
		if err != nil {
			return nil // the bench has ended
		}
		if p.id, p.Sign = t.Bench[:min(len(t.Bench), 12)], t.Sign; p.id == "" {
			p.id = "bench" // it has no key
		}
	}
	wait, down := retryFirst, false
	for ctx.Err() == nil {
		err := p.session(ctx, func() {
			if wait = retryFirst; down {
				p.Log.Info().Str("broker", p.Broker.Address).Msg("the broker is there again")
			}
			down = false
		})
		if ctx.Err() != nil {
			break
		}
		if !down {
			p.Log.Warn().Err(err).Str("broker", p.Broker.Address).Msg("nothing can be published; it is tried again and again, and the bench goes on")
		}
		down = true
		pause(ctx, wait)
		wait = min(2*wait, retryLast)
	}
	return nil
}

func pause(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
	case <-ctx.Done():
	}
}

func (p *Publisher) dial(ctx context.Context) (net.Conn, error) {
	d := net.Dialer{Timeout: brokerWait}
	if p.Broker.TLS {
		return (&tls.Dialer{NetDialer: &d, Config: &tls.Config{MinVersion: tls.VersionTLS12}}).DialContext(ctx, "tcp", p.Broker.Address)
	}
	return d.DialContext(ctx, "tcp", p.Broker.Address)
}

// session publishes as long as one connection stands; up is called when it does.
func (p *Publisher) session(ctx context.Context, up func()) error {
	conn, err := p.dial(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = conn.Close() }()
	broke := make(chan error, 2)
	c := paho.NewClient(paho.ClientConfig{Conn: packets.NewThreadSafeConn(conn), ClientID: "tared-" + p.id, PacketTimeout: brokerWait,
		OnClientError:      func(err error) { broke <- err },
		OnServerDisconnect: func(d *paho.Disconnect) { broke <- errors.New("the broker closed the connection") }})
	hello := &paho.Connect{ClientID: "tared-" + p.id, CleanStart: true, KeepAlive: 30,
		WillMessage: &paho.WillMessage{Topic: p.topic("status"), Payload: []byte("offline"), QoS: 1, Retain: true}}
	if p.Broker.User != "" {
		hello.UsernameFlag, hello.Username = true, p.Broker.User
		hello.PasswordFlag, hello.Password = p.Broker.Password != "", []byte(p.Broker.Password)
	}
	// The client goes on in the context that it is given; Disconnect, or its end, ends it.
	within, cancel := context.WithCancel(context.WithoutCancel(ctx))
	defer cancel()
	_ = conn.SetDeadline(time.Now().Add(brokerWait))
	if _, err := c.Connect(within, hello); err != nil {
		return err
	}
	_ = conn.SetDeadline(time.Time{})
	up()
	err = p.publish(ctx, c, broke)
	if ctx.Err() != nil {
		_ = p.send(within, c, message{topic: p.topic("status"), payload: []byte("offline")})
	}
	_ = c.Disconnect(&paho.Disconnect{})
	return err
}

// publish tells what is new until ctx or the connection ends.
func (p *Publisher) publish(ctx context.Context, c *paho.Client, broke <-chan error) error {
	watch := p.Bench.Watch(nil)
	defer watch.Close()
	if err := p.send(ctx, c, message{topic: p.topic("status"), payload: []byte("online")}); err != nil {
		return err
	}
	type last struct {
		payload []byte
		at      time.Time
	}
	said := map[string]last{}
	look := time.NewTicker(lookEvery)
	defer look.Stop()
	for {
		for _, m := range p.messages(watch.View()) {
			was, there := said[m.topic]
			if there && bytes.Equal(was.payload, m.payload) && (!m.live || time.Since(was.at) < tellEvery) {
				continue
			}
			if err := p.send(ctx, c, m); err != nil {
				return err
			}
			said[m.topic] = last{m.payload, time.Now()}
		}
		select {
		case <-ctx.Done():
			return nil
		case err := <-broke:
			return err
		case <-look.C:
		}
	}
}

// send publishes one message, which the broker keeps for those who come later, until it
// expires.
func (p *Publisher) send(ctx context.Context, c *paho.Client, m message) error {
	ctx, cancel := context.WithTimeout(ctx, brokerWait)
	defer cancel()
	out := &paho.Publish{Topic: m.topic, Payload: m.payload, QoS: 1, Retain: true}
	if m.live {
		seconds := uint32(expiry / time.Second)
		out.Properties = &paho.PublishProperties{MessageExpiry: &seconds}
	}
	_, err := c.Publish(ctx, out)
	return err
}
