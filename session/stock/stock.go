// Package stock knows the lots of materials: the bags, sacks and jars, what each
// still holds, how moist it is and what it costs.
//
// Give a Stock every fact with Add; Lots tells how things stand. What was taken
// is not kept a second time: a batch says at its planning which lot each material
// comes from, and its portions take from it. So what is undone at the bench is
// back in the bag, and a corrected portion corrects the stock. What a count says
// holds from there on, whatever was corrected before it.
//
// A lot may come out below nothing: then more was weighed than the record had,
// and it wants a count. It is shown so, never hidden.
package stock

import (
	"cmp"
	"encoding/json"
	"math/big"
	"slices"
	"strconv"
	"strings"
	"time"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/material"
	"tared/session/recipe"
	"tared/session/sheet"
	"tared/session/signer"
	"tared/session/text"
)

// Most bounds what a lot may hold; a lorry brings less.
const Most = 5000 * protocol.Kilogram

// Lot is one bag as it stands.
type Lot struct {
	Mark     string        `json:"lot"`
	Material string        `json:"material"`
	Supplier string        `json:"supplier,omitempty"` // the supplier's mark
	Opened   string        `json:"opened,omitempty"`   // date
	Moisture string        `json:"moisture_percent,omitempty"`
	Price    string        `json:"price_per_kg,omitempty"`
	Currency string        `json:"currency,omitempty"`
	Words    string        `json:"words,omitempty"`
	Content  *fact.Content `json:"content,omitempty"`  // what it holds, where it was kept of a mixture or a solution
	Came     protocol.Mass `json:"came"`               // what was in it when it came
	Taken    protocol.Mass `json:"taken"`              // weighed out of it, in all
	Left     protocol.Mass `json:"left"`               // by the last count, less what was weighed since
	NotKnown protocol.Mass `json:"not_known,omitzero"` // as much more may be gone since: what was to go in where nobody knows how much did
	Since    time.Time     `json:"since"`              // when it came
	Entries  []Entry       `json:"entries,omitempty"`
}

// Entry is a correction.
type Entry struct {
	Seq    uint64    `json:"seq"`
	At     time.Time `json:"at"`
	By     string    `json:"by"`
	Field  string    `json:"field"`
	Old    string    `json:"old"`
	New    string    `json:"new"`
	Reason string    `json:"reason"`
}

// Stock is all lots, in the order in which they came. It is not safe for use
// while Add runs. The zero value is empty.
type Stock struct {
	// Recall gives the facts of a batch so far. With it, the batches that were planned last
	// are kept in mind and no others, so that a Stock is as large as what is in it.
	Recall func(batch string) []fact.Fact

	lots   []*lot
	batch  map[string]*taking
	recent []string // the batches that are kept in mind, the last one at the end
}

// mostRecent is how many batches are kept in mind: the one in work, the tub of its series,
// and those of which somebody corrects a portion.
const mostRecent = 8

type lot struct {
	Lot
	counted uint64 // seq of the entry that Left rests on
	came    uint64 // seq of the entry by which it came
}

// taking is what a batch takes from lots.
type taking struct {
	from  map[string]*lot // what is weighed in it, by its name there
	takes map[uint64]take // portions, by their seq
}

type take struct {
	from  *lot
	m     protocol.Mass
	maybe protocol.Mass // as much may have gone, where nobody knows how much did
}

// Reads reports whether facts of a kind can matter here; those of a batch, only where
// it takes from a lot.
func (s *Stock) Reads(kind, batch string, _ time.Time, _ []byte) bool {
	switch kind {
	case "stocked", "corrected":
		return true
	case "planned":
		return len(s.lots) > 0
	case "portion", "amended":
		b, known := s.batch[batch]
		return b != nil && len(b.from) > 0 || !known && s.Recall != nil && len(s.lots) > 0
	}
	return false
}

// Add takes the next fact; one that is about no lot changes nothing.
func (s *Stock) Add(f fact.Fact) {
	switch v := f.Body.(type) {
	case fact.Stocked:
		s.lots = append(s.lots, &lot{Lot{Mark: v.Lot, Material: v.Material, Supplier: v.Supplier, Opened: v.Opened, Moisture: v.Moisture,
			Price: v.Price, Currency: v.Currency, Words: v.Words, Content: v.Content, Came: v.Amount, Left: v.Amount, Since: f.At}, f.Seq, f.Seq})
	case fact.Corrected:
		s.correct(f, v)
	case fact.Planned:
		s.keep(f.Batch, s.opened(f.Seq, v))
	case fact.Portion:
		if l, by, _ := s.of(f).add(f); l != nil {
			l.Taken += by.m
			l.Left -= by.m
			l.NotKnown += by.maybe
		}
	case fact.Amended:
		if l, by, seq := s.of(f).add(f); l != nil {
			if l.Taken += by.m; seq > l.counted { // else the count saw what was really there
				l.Left -= by.m
				l.NotKnown += by.maybe
			}
		}
	}
}

// of gives what the batch of a fact has taken before it.
func (s *Stock) of(f fact.Fact) *taking {
	b, known := s.batch[f.Batch]
	if known || s.Recall == nil {
		return b
	}
	for _, before := range s.Recall(f.Batch) {
		if before.Seq >= f.Seq {
			break
		}
		if p, ok := before.Body.(fact.Planned); ok {
			b = s.opened(before.Seq, p)
		} else {
			b.add(before)
		}
	}
	s.keep(f.Batch, b)
	return b
}

// keep keeps a batch in mind.
func (s *Stock) keep(batch string, b *taking) {
	if s.batch == nil {
		s.batch = map[string]*taking{}
	}
	if _, known := s.batch[batch]; !known {
		s.recent = append(s.recent, batch)
	}
	if s.batch[batch] = b; s.Recall != nil && len(s.recent) > mostRecent {
		delete(s.batch, s.recent[0])
		s.recent = s.recent[1:]
	}
}

// add takes a portion or an amendment of one, and tells how much more than before it took
// from a lot, and as which entry; nil: it is of none.
func (b *taking) add(f fact.Fact) (from *lot, by take, seq uint64) {
	if b == nil {
		return nil, by, 0
	}
	switch v := f.Body.(type) {
	case fact.Portion:
		if l := b.from[v.Material]; l != nil && v.As == "" {
			t := take{from: l, m: v.Delivered}
			if v.How == batch.Unknown {
				t.maybe = v.Target
			}
			b.takes[f.Seq] = t
			return l, t, f.Seq
		}
	case fact.Amended:
		t, ok := b.takes[v.Of]
		if !ok || v.Field != "" && !v.Void {
			return nil, by, 0
		}
		is := v.Is
		if v.Void {
			is = 0
		}
		b.takes[v.Of] = take{from: t.from, m: is}
		return t.from, take{m: is - t.m, maybe: -t.maybe}, v.Of
	}
	return nil, by, 0
}

// MarshalJSON writes the lots as they stand; UnmarshalJSON goes on from there, with Recall.
func (s *Stock) MarshalJSON() ([]byte, error) {
	all := make([]kept, 0, len(s.lots))
	for _, l := range s.lots {
		all = append(all, kept{l.Lot, l.counted, l.came})
	}
	return json.Marshal(all)
}

// UnmarshalJSON reads what MarshalJSON writes.
func (s *Stock) UnmarshalJSON(b []byte) error {
	var all []kept
	if err := json.Unmarshal(b, &all); err != nil {
		return err
	}
	s.lots = nil
	for _, k := range all {
		s.lots = append(s.lots, &lot{k.Lot, k.Counted, k.Arrived})
	}
	return nil
}

// kept is a lot as it is written.
type kept struct {
	Lot
	Counted uint64 `json:"counted"`
	Arrived uint64 `json:"arrived"`
}

// opened gives which lot each weighing of a batch takes from; nil: none does. What comes
// out of the tub of a series was taken when the tub was filled.
func (s *Stock) opened(seq uint64, p fact.Planned) *taking {
	from := map[string]*lot{}
	for _, u := range p.Lots {
		if l := s.find(u.Lot); l != nil && l.came < seq {
			from[u.Material] = l
		}
	}
	if len(from) == 0 {
		return nil
	}
	for _, m := range p.Mixes {
		for _, part := range m.Parts {
			if l := from[part.Material]; l != nil && part.Step.Material != "" {
				from[part.Step.Material] = l
			}
		}
	}
	return &taking{from, map[uint64]take{}}
}

// Snapshot is the stock as it stands, for somebody who must not see it change; nil
// where there is no lot. What is weighed later does not reach it.
func (s *Stock) Snapshot() *Stock {
	if len(s.lots) == 0 {
		return nil
	}
	c := &Stock{}
	for _, l := range s.lots {
		one := *l
		one.Entries = slices.Clip(one.Entries)
		c.lots = append(c.lots, &one)
	}
	return c
}

func (s *Stock) correct(f fact.Fact, v fact.Corrected) {
	l := s.find(v.Lot)
	if l == nil {
		return
	}
	e := Entry{Seq: f.Seq, At: f.At, By: f.By, Field: v.Field, Old: v.Old, New: v.New, Reason: v.Reason}
	switch v.Field {
	case "amount":
		e.Old, e.New = v.Was.Grams(0)+" g", v.Is.Grams(0)+" g"
		l.Left, l.NotKnown, l.counted = v.Is, 0, f.Seq
	case "moisture":
		l.Moisture = v.New
	case "price":
		l.Price, l.Currency, _ = strings.Cut(v.New, " ")
	case "opened":
		l.Opened = v.New
	case "supplier":
		l.Supplier = v.New
	}
	l.Entries = append(l.Entries, e)
}

func (s *Stock) find(mark string) *lot {
	for _, is := range []func(l *lot) bool{
		func(l *lot) bool { return strings.EqualFold(l.Mark, mark) },
		func(l *lot) bool { return strings.EqualFold(strings.TrimLeft(l.Mark, signer.Letters), mark) }, // the sign may be left out
	} {
		if i := slices.IndexFunc(s.lots, is); i >= 0 && mark != "" {
			return s.lots[i]
		}
	}
	return nil
}

// Lots gives every lot, in the order in which they came.
func (s *Stock) Lots() []Lot {
	out := make([]Lot, 0, len(s.lots))
	for _, l := range s.lots {
		c := l.Lot
		c.Entries = slices.Clone(l.Entries)
		out = append(out, c)
	}
	return out
}

// Find gives the lot of a mark, without regard to case.
func (s *Stock) Find(mark string) (Lot, bool) {
	if l := s.find(mark); l != nil {
		return l.Lot, true
	}
	return Lot{}, false
}

// Next is the mark for a lot that comes to a bench of that sign: KAL7. The numbers go on
// where the sign changes, so that a lot is found by its number alone.
func (s *Stock) Next(sign string) string {
	n := 0
	for _, l := range s.lots {
		if k, err := strconv.Atoi(l.Mark[strings.LastIndexByte(l.Mark, 'L')+1:]); err == nil {
			n = max(n, k)
		}
	}
	return sign + "L" + strconv.Itoa(n+1)
}

// Key is the name under which a material lies in the stock: what the table calls
// it where the name is one of its own, so that a bag of "flint" serves a recipe
// with "quartz". What has no formula, and clays, feldspars, frits and suspenders, keep
// the name on the bag: two that the table takes for one are not the same there.
func Key(t *material.Table, name string) string {
	k := recipe.Key(name)
	m, ok := t.Or().Lookup(name)
	if !ok || m.Various() {
		return k
	}
	for _, n := range append([]string{m.Name}, m.Synonyms...) {
		if recipe.Key(n) == k {
			return recipe.Key(m.Name)
		}
	}
	return k
}

// Of gives the lots of a material by itself, those opened first before the others.
func (s *Stock) Of(t *material.Table, name string) []Lot {
	var out []Lot
	k := Key(t, name)
	for _, l := range s.lots {
		if l.Content == nil && Key(t, l.Material) == k {
			out = append(out, l.Lot)
		}
	}
	slices.SortStableFunc(out, func(a, b Lot) int {
		switch {
		case a.Opened == "" || b.Opened == "": // one that is closed waits
			return cmp.Compare(len(b.Opened), len(a.Opened))
		}
		return cmp.Compare(a.Opened, b.Opened)
	})
	return out
}

// Wet is the moisture of the lot in percent of the whole; nil: it is dry.
func (l Lot) Wet() *big.Rat {
	r, ok := new(big.Rat).SetString(l.Moisture)
	if !ok || r.Sign() <= 0 {
		return nil
	}
	return r
}

// Dry is what of the lot is dry.
func (l Lot) Dry() protocol.Mass { return sheet.Dried(max(l.Left, 0), l.Wet()) }

// String names the lot for people.
func (l Lot) String() string {
	s := "lot " + l.Mark
	if l.Supplier != "" {
		s += " (" + l.Supplier + ")"
	}
	return s
}

// Choose gives the lot for so much dry of a material: the one opened first that
// holds enough, else the one that holds most; false where no lot of it is kept.
func (s *Stock) Choose(t *material.Table, name string, dry protocol.Mass) (Lot, bool) {
	all := s.Of(t, name)
	if len(all) == 0 {
		return Lot{}, false
	}
	best := all[0]
	for _, l := range all {
		if l.Dry() >= dry {
			return l, true
		}
		if l.Dry() > best.Dry() {
			best = l
		}
	}
	return best, true
}

// Shown writes a mass of the lot with as many decimals as it was last counted with: what was
// weighed out of it since is known better than that.
func (l Lot) Shown(m protocol.Mass) string { return m.Rounded(l.places()) }

func (l Lot) places() int {
	for _, e := range slices.Backward(l.Entries) {
		if is, err := protocol.ParseMass(e.New); e.Field == "amount" && err == nil {
			return is.Places()
		}
	}
	return l.Came.Places()
}

// Trouble says what is wrong with a lot by itself; "" where nothing is.
func (l Lot) Trouble() string {
	if l.Left < 0 {
		return text.New("stock.below-zero", text.Mass("mass", -l.Left, protocol.Apart(l.Left, 0, l.places()))).String()
	}
	if l.NotKnown > 0 {
		return text.New("stock.not-known", text.Mass("mass", l.NotKnown, protocol.Apart(l.NotKnown, 0, l.places()))).String()
	}
	return ""
}
