package session

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"tared/scale"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/recipebook"
	say "tared/session/sentence"
	"tared/session/sheet"
	"tared/session/stock"
	"tared/session/text"
)

// What people ask of the bench beside its commands. An error that a person can mend has
// ErrRefused in its chain.

// Open gives the mark and the plan of the batch in work or of the last one, with a cup of a series
// the plan of its tub; ok is false where none is in work. The error says that nobody
// could tell: ErrStopped, or that of ctx.
func (b *Bench) Open(ctx context.Context) (mark string, plan fact.Planned, ok bool, err error) {
	err = b.call(ctx, func() {
		if b.s.Batch != nil {
			mark, plan, ok = b.s.Batch.Mark, b.s.Batch.Plan, b.s.open()
			if b.s.Series != nil {
				plan = b.s.Series.Tub.Plan
			}
		}
	})
	return mark, plan, ok, err
}

// Busy tells whether a batch is in work or a scale is being checked: whether somebody
// would lose something if the bench ended now.
func (b *Bench) Busy(ctx context.Context) (busy bool, err error) {
	err = b.call(ctx, func() { busy = b.s.open() || len(b.checker.runs) > 0 })
	return busy, err
}

// Tally gives what was counted. It is made when somebody asks: a line of a scale pays
// nothing for it.
func (b *Bench) Tally(ctx context.Context) (t Tally, err error) {
	err = b.call(ctx, func() {
		t = Tally{Bench: b.workshop.epochs.bench, Sign: b.workshop.epochs.sign, Epoch: b.workshop.epochs.epoch, Seq: b.s.Seq, Recording: b.broken == "", Working: b.s.open(), Takes: b.tallied.takes, Syncs: b.tallied.syncs, SyncTime: b.tallied.syncTime}
		for i := range b.s.Pans {
			in := b.s.Pans[i].Instrument()
			t.Scales = append(t.Scales, ScaleTally{b.s.Pans[i].Name(), in.Link == scale.Up, in.Counts.Frames, in.Counts.Damaged, in.Counts.Foreign, in.Counts.Gaps})
		}
	})
	return t, err
}

// Witness records how far the lines of another bench were taken; where it showed another
// history, everybody is told.
func (b *Bench) Witness(ctx context.Context, w fact.Witnessed) error {
	return b.do(ctx, func() error {
		t := change{s: b.s, at: b.cfg.Now(), by: "tared"}
		t.put("", "tared", w)
		if w.Other != "" {
			for _, m := range say.Messages(t.facts[0]) {
				t.Tell(m)
			}
		}
		err := b.commit(t.s, t.facts)
		b.publish(err == nil)
		return err
	})
}

// AddEntry records something of a batch that is closed, and gives the number of the
// entry. entry is that of EntryRequest.Body.
func (b *Bench) AddEntry(ctx context.Context, r EntryRequest, entry func(seq uint64) book.Amendable) (seq uint64, err error) {
	// An amendment says what was there before it: two at once would say the same.
	b.entries.Lock()
	defer b.entries.Unlock()
	r, err = ask(ctx, b, func() (EntryRequest, error) { return r.resolved(b.workshop.Vessels, b.readings.net) })
	if err != nil {
		return 0, err
	}
	body, err := r.Body(entry, b.cfg.Photos)
	if err != nil {
		return 0, err
	}
	f, err := ask(ctx, b, func() (fact.Fact, error) { return b.addEntry(r, body) })
	return f.Seq, err
}

// addEntry records it, unless its batch is not one to which something may be added.
func (b *Bench) addEntry(r EntryRequest, body fact.Body) (fact.Fact, error) {
	switch {
	case !b.workshop.Marks[r.Batch]:
		return fact.Fact{}, text.Refuse("entry.no-batch", text.Name("batch", r.Batch))
	case b.s.open() && b.s.Batch.Mark == r.Batch:
		return fact.Fact{}, text.Refuse("entry.open", text.Name("batch", r.Batch))
	}
	return b.record(r.Batch, r.By, body)
}

// Read takes what a scale shows now. It is refused when the scale is not at rest,
// cannot be heard, or weighs a batch.
func (b *Bench) Read(ctx context.Context, name string) (Reading, error) {
	return ask(ctx, b, func() (r Reading, err error) {
		i := slices.IndexFunc(b.cfg.Scales, func(s sheet.Scale) bool { return s.Name == name })
		p := b.s.pan(name)
		switch {
		case i < 0:
			return r, text.Refuse("scale.none", text.Name("scale", name))
		case p == nil:
			return r, text.Refuse("scale.by-eye", text.Name("scale", name))
		case b.s.uses(name):
			return r, text.Refuse("scale.in-use", text.Name("batch", b.s.Batch.Mark), text.Name("scale", name))
		}
		now := b.cfg.Now()
		b.readings.want(name, now)
		b.want()
		return b.readings.read(p, b.workshop.Measured(b.cfg.Scales[i]).Weighs(), now)
	})
}

// Measure records a vessel. The last of a name counts.
func (b *Bench) Measure(ctx context.Context, w VesselRequest) (fact.Vessel, error) {
	return ask(ctx, b, func() (fact.Vessel, error) { return b.measure(w) })
}

func (b *Bench) measure(w VesselRequest) (v fact.Vessel, err error) {
	var here fact.Typed
	if w.Weighed.After != 0 {
		if here, err = b.readings.net(text.New("field.water-in-the-vessel"), w.Weighed); err != nil {
			return v, err
		}
	}
	if v, err = w.body(here); err == nil {
		_, err = b.record("", w.By, v)
	}
	return v, err
}

// Vessels gives those that were measured, by name.
func (b *Bench) Vessels(ctx context.Context) (all []fact.Vessel, err error) {
	err = b.call(ctx, func() { all = slices.Clone(b.workshop.Vessels) })
	return all, err
}

// Devices gives all that were ever paired.
func (b *Bench) Devices(ctx context.Context) (all []Device, err error) {
	err = b.call(ctx, func() { all = slices.Clone(b.workshop.Devices) })
	return all, err
}

// Pair takes a device in under the id fresh, names one anew, or sends one away, and records
// it.
func (b *Bench) Pair(ctx context.Context, r DeviceRequest, fresh string) error {
	_, err := ask(ctx, b, func() (fact.Fact, error) { return b.pair(r, fresh) })
	return err
}

func (b *Bench) pair(r DeviceRequest, fresh string) (f fact.Fact, err error) {
	body, err := b.workshop.Devices.body(r, fresh)
	if err != nil {
		return f, err
	}
	return b.record("", cmp.Or(strings.TrimSpace(r.By), "tared"), body)
}

// Keep records a lot, a correction of one, or a recipe. The error may also have a
// *recipe.Error in its chain.
func (b *Bench) Keep(ctx context.Context, r KeepRequest) (Receipt, error) {
	return ask(ctx, b, func() (Receipt, error) { return b.keep(r) })
}

func (b *Bench) keep(r KeepRequest) (Receipt, error) {
	body, err := r.Body(&b.workshop)
	if err != nil {
		return Receipt{}, err
	}
	f, err := b.record("", r.By, body)
	return receipt(f), err
}

// LotsAndRecipes gives those that are kept, as they stand.
func (b *Bench) LotsAndRecipes(ctx context.Context) (lots []stock.Lot, recipes []recipebook.Recipe, err error) {
	err = b.call(ctx, func() { lots, recipes = b.workshop.Stock.Lots(), b.workshop.Recipes.All() })
	return lots, recipes, err
}

// Check begins, or ends, a run in which a scale is checked. The run goes on by
// itself: the view says what to do, and what was found is recorded. A balance read
// by eye is judged at once by what the person typed.
func (b *Bench) Check(ctx context.Context, r CheckRequest) error {
	return b.do(ctx, func() error { return b.check(r) })
}

func (b *Bench) check(r CheckRequest) error {
	if err := written(r); err != nil {
		return err
	}
	var hinders error
	if b.s.uses(r.Scale) {
		hinders = text.Refuse("gauge.in-use", text.Name("batch", b.s.Batch.Mark), text.Name("scale", r.Scale))
	} else if b.broken != "" {
		hinders = text.Refuse("gauge.broken", text.Name("why", b.broken))
	}
	body, err := b.checker.begin(r, b.s.pan(r.Scale), hinders)
	if err == nil && body != nil {
		_, err = b.record("", r.By, body)
	} else if err == nil {
		b.publish(true)
	}
	return err
}

// Order tells a scale to zero or to tare, because a person said so. With a batch
// in work on that scale it is recorded first. It may take some seconds.
func (b *Bench) Order(ctx context.Context, name, what, by string) error {
	i := slices.IndexFunc(b.cfg.Scales, func(s sheet.Scale) bool { return s.Name == name })
	switch {
	case i < 0:
		return text.Refuse("order.no-scale", text.Name("scale", name))
	case b.cfg.Scales[i].Eye:
		return text.Refuse("order.by-eye", text.Name("scale", name))
	case scale.Order(what) != scale.OrderZero && scale.Order(what) != scale.OrderTare:
		return text.Refuse("order.unknown", text.Name("order", what))
	case b.cfg.Order == nil:
		return text.Refuse("order.cannot", text.Name("scale", name))
	}
	if err := person(by); err != nil {
		return err
	}
	err := b.do(ctx, func() error {
		if !b.s.uses(name) {
			return nil
		}
		_, err := b.record(b.s.Batch.Mark, cmp.Or(strings.TrimSpace(by), b.s.Batch.By), fact.Noticed{Scale: name, What: "told-" + what})
		return err
	})
	if err != nil {
		return err
	}
	// Not in the goroutine of the bench: the instrument may be waiting to feed it.
	if err := b.cfg.Order(name, scale.Order(what)); err != nil {
		return text.Refuse("order.failed", text.Name("scale", name), text.Because("why", err))
	}
	return nil
}
