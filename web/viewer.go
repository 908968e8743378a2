package web

import (
	"encoding/binary"
	"math"
	"sync"
	"time"

	"github.com/gorilla/websocket"

	"tared/session"
	"tared/session/text"
)

// viewer is one browser that watches. What it is told is written at once, by whoever tells
// it, as far as the system takes it without waiting. What is left, another goroutine
// writes; until that is done nothing more is told, and then the newest view. So a slow
// browser delays nobody, and for a quick one no goroutine is woken.
type viewer struct {
	live  *live
	place *place
	reads *text.Language

	mu   sync.Mutex // never held while something is waited for
	conn *websocket.Conn
	send func([]byte) int // gives how much the system took; nil: that cannot be asked
	view *session.Watcher
	busy bool           // another goroutine writes
	rest sync.WaitGroup // of it
	also []byte         // a beat or a ping that comes behind it
	last []byte         // what is told last, once the browser is to leave
	gone bool           // nothing more is told
}

// run tells the page what is there, and what comes, until the browser is gone.
func (v *viewer) run(conn *websocket.Conn) {
	v.mu.Lock()
	v.conn, v.send = conn, sender(conn.NetConn())
	v.view = v.live.bench.Watch(v.news).In(v.reads)
	v.mu.Unlock()
	v.news()
	v.hear()
	v.view.Close()
	v.mu.Lock()
	v.gone = true
	left := v.last != nil
	v.mu.Unlock()
	if left {
		v.rest.Wait() // the last is on its way
	}
	_ = conn.Close()
	v.rest.Wait()
}

// hear reads what the browser sends, which is pongs and the close: without a
// reader neither would be seen. Anything else is passed over.
func (v *viewer) hear() {
	v.conn.SetReadLimit(1 << 10)
	extend := func(string) error { return v.conn.SetReadDeadline(time.Now().Add(pongWait)) }
	v.conn.SetPongHandler(extend)
	v.conn.SetPingHandler(func(data string) error {
		v.tell(frameOf(websocket.PongMessage, []byte(data)))
		return nil
	})
	v.conn.SetCloseHandler(func(code int, _ string) error {
		v.leave(code)
		return nil
	})
	if extend("") != nil {
		return
	}
	for {
		if _, _, err := v.conn.NextReader(); err != nil {
			return
		}
	}
}

// news tells what is new. The bench's own goroutine calls it.
func (v *viewer) news() {
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.busy || v.gone {
		return
	}
	if frame := v.next(); frame != nil {
		v.write(frame, v.last != nil)
	}
}

// next is what to write; nil: nothing.
func (v *viewer) next() []byte {
	if v.last != nil {
		return v.last
	}
	if also := v.also; also != nil {
		v.also = nil
		return also
	}
	return v.live.frames.of(v.view.Next())
}

// tell sends a frame. Of several that wait only the newest is sent.
func (v *viewer) tell(frame []byte) {
	v.mu.Lock()
	defer v.mu.Unlock()
	switch {
	case v.conn == nil || v.gone || v.last != nil:
	case v.busy:
		v.also = frame
	default:
		v.write(frame, false)
	}
}

// leave sends the browser away.
func (v *viewer) leave(code int) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.last != nil || v.gone {
		return
	}
	v.last = frameOf(websocket.CloseMessage, websocket.FormatCloseMessage(code, ""))
	switch {
	case v.conn == nil: // run says so first
	case v.busy:
		_ = v.conn.NetConn().SetWriteDeadline(time.Now().Add(closeWait))
	default:
		v.write(v.last, true)
	}
}

// write sends a frame; the connection ends behind the last. With v.mu held, and nobody busy.
func (v *viewer) write(frame []byte, last bool) {
	n := 0
	if v.send != nil {
		n = v.send(frame)
	}
	if n < len(frame) || last {
		v.busy = true
		v.rest.Go(func() { v.finish(frame[n:], last) })
	}
}

// finish writes what is left of a frame, and then what is new.
func (v *viewer) finish(rest []byte, last bool) {
	out := v.conn.NetConn()
	for {
		wait := writeWait
		if last {
			wait = closeWait
		}
		_ = out.SetWriteDeadline(time.Now().Add(wait))
		if _, err := out.Write(rest); err != nil || last {
			_ = v.conn.Close() // run ends with it
			return
		}
		v.mu.Lock()
		rest, last = v.next(), v.last != nil
		if rest == nil || v.gone && !last {
			v.busy = false
			_ = out.SetWriteDeadline(time.Time{})
			v.mu.Unlock()
			return
		}
		v.mu.Unlock()
	}
}

// frameOf is a frame of the server: whole, and not masked (RFC 6455, section 5.2).
func frameOf(kind int, what []byte) []byte {
	f := append(make([]byte, 0, 10+len(what)), 0x80|byte(kind))
	switch n := len(what); {
	case n < 126:
		f = append(f, byte(n))
	case n <= math.MaxUint16:
		f = binary.BigEndian.AppendUint16(append(f, 126), uint16(n))
	default:
		f = binary.BigEndian.AppendUint64(append(f, 127), uint64(n))
	}
	return append(f, what...)
}
