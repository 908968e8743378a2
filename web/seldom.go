package web

import (
	"sync"
	"time"

	"github.com/rs/zerolog"
)

// logEvery is how often the log says the same thing.
const logEvery = time.Minute

// seldom is a hook of the log: a warning is said once, and after a while once more with
// how often it came. Strangers can ask what they like as often as they like.
type seldom struct {
	mu   sync.Mutex
	said map[string]said // by the message, which is one of a few
}

type said struct {
	at   time.Time
	more int
}

// Run is called for each event.
func (s *seldom) Run(e *zerolog.Event, level zerolog.Level, message string) {
	if level < zerolog.WarnLevel {
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	last, now := s.said[message], time.Now()
	if now.Sub(last.at) < logEvery {
		last.more++
		s.said[message] = last
		e.Discard()
		return
	}
	if last.more > 0 {
		e.Int("more", last.more).Time("since", last.at)
	}
	s.said[message] = said{at: now}
}
