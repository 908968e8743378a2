package session

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"tared/session/fact"
	"tared/session/plan"
	"tared/session/question"
	"tared/session/recipe"
	"tared/session/sheet"
	"tared/session/text"
)

// Start plans and opens a batch, and returns its mark.
func (b *Bench) Start(ctx context.Context, r plan.Request) (string, error) {
	return ask(ctx, b, func() (string, error) { return b.start(r) })
}

// Plan makes a sheet and changes nothing.
func (b *Bench) Plan(ctx context.Context, r plan.Request) (sheet.Sheet, error) {
	if err := written(r); err != nil {
		return sheet.Sheet{}, err
	}
	r.Reader = text.From(ctx)
	var scales []sheet.Scale
	if err := b.call(ctx, func() { scales = b.known(); b.taught(&r) }); err != nil {
		return sheet.Sheet{}, err
	}
	return r.Sheet(scales)
}

func (b *Bench) start(r plan.Request) (string, error) {
	if err := written(r); err != nil {
		return "", err
	}
	if b.s.open() {
		return "", text.Refuse("command.batch-in-work", text.Name("batch", b.s.Batch.Mark))
	}
	scales := b.known()
	b.taught(&r)
	sh, err := r.Sheet(scales)
	if err != nil {
		return "", err
	}
	if err := plan.Shortage(sh); err != nil && !r.Short {
		return "", err
	}
	if names := plan.Unknown(sh); len(names) > 0 {
		return "", text.Refuse("plan.unknown", text.Names("materials", names))
	}
	hidden, err := plan.Hidden(sh, r.Although)
	if err != nil {
		return "", err
	}
	now := b.cfg.Now()
	t := change{s: b.s, at: now}
	t.s.Pans = slices.Clone(b.s.Pans)
	t.s.Now, t.s.asked, t.s.overAt = now, question.Case{}, 0
	t.s.reset()
	mark := b.workshop.Marks.next(now, b.workshop.epochs.sign)
	p := planned(sh, r.Recipe, scales, b.cfg.Simulated)
	if p.Confirm, err = CheckConfirm(cmp.Or(r.Confirm, b.cfg.Confirm)); err != nil {
		return "", err
	}
	p.Rule, _ = sheet.ReadRule(r.Accept) // it was understood when the sheet was made
	p.Although = hidden
	p.Kept = b.workshop.Recipes.Of(p.RecipeHash)
	p.Container, p.Most, _ = r.Weights() // they were understood when the sheet was made
	// What was learnt goes first: a batch of which the power left the plan alone would
	// never have it said again.
	for _, f := range b.learnt(r, sh) {
		t.put("", strings.TrimSpace(r.By), f)
	}
	t.put(mark, strings.TrimSpace(r.By), p)
	t.Tell(text.New("notice.begins", text.Name("batch", mark)))
	err = b.commit(t.s, t.facts)
	b.publish(true)
	if err != nil {
		return "", err
	}
	return mark, nil
}

// taught adds to a wish what the bench knows: the studio's habit, the user's own
// table, the stock, and the roles that people gave to materials before.
func (b *Bench) taught(r *plan.Request) {
	if r.Habit == "" {
		r.Habit = b.cfg.Water
	}
	r.Accept = cmp.Or(r.Accept, b.cfg.Accept)
	if r.Materials == nil {
		r.Materials = b.cfg.Materials
	}
	if r.Stock == nil {
		r.Stock = b.workshop.Stock.Snapshot()
	}
	r.Remember(b.workshop.Roles)
}

// learnt gives what a plan teaches: the role of a material that no table knows,
// where a person gave one that is not on record yet.
func (b *Bench) learnt(r plan.Request, sh sheet.Sheet) []fact.Body {
	lines := slices.Clone(sh.Lines)
	for _, c := range sh.Cups {
		lines = append(lines, c.Lines...)
	}
	var out []fact.Body
	seen := map[string]bool{}
	for _, l := range lines {
		k := recipe.Key(l.Material)
		if _, known := r.Materials.Or().Lookup(l.Material); known || seen[k] {
			continue
		}
		seen[k] = true
		for name, role := range r.Roles {
			if recipe.Key(name) == k && b.workshop.Roles[k] != role {
				out = append(out, fact.Role{Material: l.Material, Role: role})
			}
		}
	}
	return out
}
