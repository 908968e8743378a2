package book

import (
	"math/big"
	"slices"
	"strings"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/recipe"
)

// Comparison sets the shares of batches side by side. The first batch is the one
// that the others are held against.
type Comparison struct {
	Batches []Row     `json:"batches"`
	Lines   []Against `json:"lines"`
	// Explains tells whether the weighing can explain a difference of the tiles: some
	// material is further from its plan in one batch than in another, by more than the
	// joint uncertainty and the bands together, or something else went in.
	Explains bool     `json:"explains"`
	Verdict  string   `json:"verdict"` // the same in a sentence; empty: there are no two finished batches
	Causes   []Cause  `json:"causes"`  // what differs, the likeliest cause first
	Notes    []string `json:"notes"`   // what else is to be known
	Words    []string `json:"words"`   // all three in order
}

// Against is one material of all batches.
type Against struct {
	Material string `json:"material"`
	Addition bool   `json:"addition"`
	Cells    []Cell `json:"cells"`   // one for each batch, in order
	Differs  bool   `json:"differs"` // between some two batches by more than their joint U
}

// Cell is one material of one batch.
type Cell struct {
	In      bool   `json:"in"` // the batch has this material in its plan, or got some
	As      string `json:"as,omitempty"`
	Share   string `json:"share"`                      // percent of the delivered base
	U       string `json:"u"`                          // of the share
	Was     string `json:"share_at_closing,omitempty"` // where the amount was corrected since
	Verdict string `json:"verdict"`                    // as in Line
	Less    string `json:"difference"`                 // this minus the first batch, signed; empty where it means nothing
	JointU  string `json:"difference_u"`               // of that difference
	Differs bool   `json:"differs"`                    // from the first batch, by more than that
}

// side is one material of one batch, exact.
type side struct {
	in      bool
	open    bool // the batch is not finished: its shares mean nothing yet
	as      string
	m       *big.Int // delivered
	base    *big.Int // delivered; 1 where there is none, so that the share is what it is: nothing
	doubt   *big.Int // of the share, see shareDoubts
	four    *big.Int // base⁴
	text    string
	was     string // the share when the batch was closed, where the amount was corrected since
	verdict string
	plan    *big.Rat // share planned; 0 where it is not in the plan
	role    string
	weighed protocol.Mass // delivered, with its moisture
	target  protocol.Mass // the same
	low     protocol.Mass
	high    protocol.Mass
	over    *big.Rat // share less plan
	common  *common  // where its doubt comes from, in a cup of a series
	bound   bool     // micro and microU hold, see quick
	micro   int64
	microU  int64
}

func (s side) share() *big.Rat {
	r := new(big.Rat).SetFrac(s.m, s.base)
	return r.Mul(r, big.NewRat(100, 1))
}

// joint gives n and d of the U of the difference of two shares, 100·√(n/d).
func joint(a, b side) (n, d *big.Int) {
	if together(a, b) {
		return jointCommon(a.common, b.common)
	}
	n = new(big.Int).Mul(a.doubt, b.four)
	n.Add(n, new(big.Int).Mul(b.doubt, a.four))
	return n, new(big.Int).Mul(a.four, b.four)
}

// differ reports whether two shares differ by more than their joint U. It is exact:
// with m and B of the two,
//
//	(m/B - m'/B')² > N/B⁴ + N'/B'⁴
//
// is brought onto whole numbers, since a batch may be compared with many.
func differ(a, b side) bool {
	if a.m.Sign() == 0 && b.m.Sign() == 0 {
		return false
	}
	if yes, sure := quick(a, b); sure {
		return yes
	}
	d := new(big.Int).Mul(a.m, b.base)
	d.Sub(d, new(big.Int).Mul(b.m, a.base))
	n, per := joint(a, b)
	if together(a, b) {
		// (m/B - m'/B')² > n/per
		n = new(big.Int).Mul(n, a.base)
		n.Mul(n, a.base).Mul(n, b.base).Mul(n, b.base)
		return d.Mul(d, d).Mul(d, per).Cmp(n) > 0
	}
	d.Mul(d, a.base).Mul(d, b.base)
	return d.Mul(d, d).Cmp(n) > 0
}

// quick does the same with bounds on share and U in millionths of a percent, which
// settle nearly every pair. It adds up the U of two weighings that know nothing of
// each other, so cups of one tub are left to joint.
func quick(a, b side) (yes, sure bool) {
	if !a.bound || !b.bound || together(a, b) {
		return false, false
	}
	square := func(n int64) int64 { return n * n }
	d := max(a.micro-b.micro, b.micro-a.micro) // the difference is less than one from it
	if d > 0 && square(d-1) > square(a.microU)+square(b.microU) {
		return true, true
	}
	return false, square(d+1) <= square(max(a.microU-1, 0))+square(max(b.microU-1, 0))
}

// bounded sets the bounds: share rounded down, U rounded up.
func (s *side) bounded() {
	const most = 1 << 30 // a thousand percent; squares and their sum fit
	q := new(big.Int).Mul(s.m, big.NewInt(100_000_000))
	q.Div(q, s.base)
	u := rooted(s.doubt, s.four, 6)
	un := new(big.Int).Mul(u.Num(), big.NewInt(1_000_000))
	un.Div(un, u.Denom())
	if s.bound = q.IsInt64() && un.IsInt64() && q.Int64() >= 0 && q.Int64() < most && un.Int64() < most; s.bound {
		s.micro, s.microU = q.Int64(), un.Int64()
	}
}

// apart reports whether a material differs: there is more of it than the weighing
// can be wrong by, or something else went in.
func apart(a, b side) bool {
	return !a.open && !b.open && (differ(a, b) || other(a, b))
}

func other(a, b side) bool { return recipe.Key(a.as) != recipe.Key(b.as) }

// Compare holds two or more batches against the first. Materials stand in the
// order of the first batch, then as the others bring them.
func Compare(batches ...*Batch) Comparison {
	var c Comparison
	type key struct {
		name     string
		addition bool
	}
	one := big.NewInt(1)
	where := map[key]int{}
	var sides [][]side // by material, then by batch
	for k, n := range batches {
		c.Batches = append(c.Batches, n.Row())
		plan, went := n.Lines, n.Deliveries()
		made, base, _ := batch.AsMade(plan, went)
		onBase := batch.Bases(plan)
		whole := new(big.Int).Set(one)
		if base > 0 {
			whole.SetInt64(int64(base))
		}
		driest := batch.DriedAll(went)
		doubts, four := shareDoubts(onBase, driest, base), new(big.Int).Exp(whole, big.NewInt(4), nil)
		commons := n.commons(went, onBase)
		before := n.whenClosed()
		for i, l := range plan {
			id := key{recipe.Key(l.Material), !onBase[i]}
			m, ok := where[id]
			if !ok {
				m = len(sides)
				where[id] = m
				row := make([]side, len(batches))
				for j := range row {
					row[j] = side{m: new(big.Int), base: one, doubt: new(big.Int), four: one, open: !batches[j].Finished, plan: new(big.Rat)}
				}
				sides = append(sides, row)
				c.Lines = append(c.Lines, Against{Material: l.Material, Addition: !onBase[i]})
			}
			was := ""
			if before != nil {
				was = before[i].share
			}
			sides[m][k] = side{was: was, in: true, open: !n.Finished, as: went[i].As, m: new(big.Int), base: whole, doubt: new(big.Int), four: four,
				text: made[i].Share, verdict: made[i].Verdict, plan: new(big.Rat), role: l.Role, weighed: went[i].Delivered, target: l.Target, low: l.Low, high: l.High}
			if p, ok := new(big.Rat).SetString(l.Share); ok {
				sides[m][k].plan = p
			}
			if base > 0 { // no base, no share
				sides[m][k].m.SetInt64(int64(driest[i].Delivered))
				sides[m][k].doubt = doubts[i]
				if i < len(commons) {
					sides[m][k].common = commons[i]
				}
			}
		}
	}
	for m := range c.Lines {
		row := sides[m]
		for k := range row {
			row[k].bounded()
			row[k].over = row[k].share()
			row[k].over.Sub(row[k].over, row[k].plan)
		}
		for k, s := range row {
			c.Lines[m].Cells = append(c.Lines[m].Cells, cell(row[0], s, k == 0))
			for _, t := range row[:k] {
				c.Lines[m].Differs = c.Lines[m].Differs || apart(t, s)
			}
		}
	}
	c.why(batches, sides)
	return c
}

func cell(first, s side, reference bool) Cell {
	o := Cell{In: s.in, As: s.as, Verdict: s.verdict}
	if s.open {
		o.Verdict = ""
		return o
	}
	if s.in {
		o.Share, o.Was = s.text, s.was
		o.U = rooted(s.doubt, s.four, batch.SharePlaces).FloatString(batch.SharePlaces)
	}
	if reference || first.open || !s.in && !first.in {
		return o
	}
	d := s.share()
	o.Less = signed(d.Sub(d, first.share()).FloatString(batch.SharePlaces))
	n, four := joint(first, s)
	o.JointU = rooted(n, four, batch.SharePlaces).FloatString(batch.SharePlaces)
	o.Differs = apart(first, s)
	return o
}

// assumed names the scales of the batch whose repeatability nobody measured.
func (n *Batch) assumed() []string {
	var names []string
	for _, s := range n.Plan.Scales {
		if s.Assumed && slices.ContainsFunc(n.Materials(), func(m batch.Material) bool { return m.Line.Scale == s.Name && m.Portions > 0 }) {
			names = append(names, s.Name)
		}
	}
	return names
}

// strangers reports whether the batches rest on different instruments.
func strangers(batches []*Batch) bool {
	id := func(n *Batch) string {
		var all []string
		for _, s := range n.Plan.Scales {
			all = append(all, cmpOr(s.Identity, s.Name))
		}
		slices.Sort(all)
		return strings.Join(all, "\n")
	}
	for _, n := range batches[1:] {
		if id(n) != id(batches[0]) {
			return true
		}
	}
	return false
}
