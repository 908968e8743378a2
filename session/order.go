package session

import (
	"context"
	"strings"

	"tared/scale"
	"tared/session/fact"
	"tared/session/text"
)

// Order tells a scale to zero or to tare, because a person said so. With a batch
// in work on that scale it is recorded first. Errors that a person can mend have
// ErrRefused in their chain. It may take some seconds.
func (b *Bench) Order(ctx context.Context, name, what, by string) error {
	eye, known := false, false
	for _, s := range b.cfg.Scales {
		if s.Name == name {
			known, eye = true, s.Eye
		}
	}
	switch {
	case !known:
		return text.Refuse("order.no-scale", text.Name("scale", name))
	case eye:
		return text.Refuse("order.by-eye", text.Name("scale", name))
	case scale.Order(what) != scale.OrderZero && scale.Order(what) != scale.OrderTare:
		return text.Refuse("order.unknown", text.Name("order", string(what)))
	case b.cfg.Order == nil:
		return text.Refuse("order.cannot", text.Name("scale", name))
	}
	var err error
	if e := b.call(ctx, func() {
		t := change{s: b.s, at: b.cfg.Now(), by: strings.TrimSpace(by)}
		if !t.s.open() || !t.s.uses(name) {
			return
		}
		t.emit(fact.Noticed{Scale: name, What: "told-" + what})
		if err = b.commit(t.s, t.facts); err == nil {
			b.publish(true)
		}
	}); e != nil {
		return e
	}
	if err != nil {
		return err
	}
	// Not in the goroutine of the bench: the instrument may be waiting to feed it.
	if err := b.cfg.Order(name, scale.Order(what)); err != nil {
		return text.Refuse("order.failed", text.Name("scale", name), text.Because("why", err))
	}
	return nil
}

// Wants tells whether somebody needs the weight of a scale now: a batch in work
// that is not paused, or a check. A scale that must be asked is asked only then.
// Any goroutine may call it.
func (b *Bench) Wants(name string) bool {
	wants := b.wants.Load()
	return wants != nil && (*wants)[name]
}

// want notes what Wants tells.
func (b *Bench) want() {
	wants := map[string]bool{}
	t := change{s: b.s}
	for _, s := range b.cfg.Scales {
		g := b.workshop.scales[s.Name]
		wants[s.Name] = t.s.open() && !t.s.Batch.Paused && t.s.uses(s.Name) || g != nil && g.run != nil || b.s.Now.Before(b.readUntil[s.Name])
	}
	b.wants.Store(&wants)
}
