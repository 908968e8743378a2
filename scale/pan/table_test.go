package pan

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
)

// hands is a pan with somebody at it, and a scale that speaks ten times a second.
type hands struct {
	p    Pan
	now  time.Time
	mode protocol.Mode
	key  bool // a print-key scale
	rows []string
	last Event
}

func newHands(t *testing.T) *hands {
	h := &hands{p: New("bench", g("2000"), g("0.1")), now: time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)}
	taken = func(row string) { h.rows = append(h.rows, row) }
	t.Cleanup(func() { taken = nil })
	return h
}

func (h *hands) line(m string, settled bool) {
	h.now = h.now.Add(100 * time.Millisecond)
	stable := protocol.No
	if settled {
		stable = protocol.Yes
	}
	h.rows = nil
	h.last = h.p.Hear(scale.Update{At: h.now, Link: scale.Up, Print: h.key, HasReading: true, HasMass: true, Mass: g(m), Step: g("0.1"), Settled: settled,
		Reading: protocol.Reading{Status: protocol.OK, Unit: protocol.UnitGram, Stable: stable, Mode: h.mode, Raw: []byte(m)}})
}

// rest shows a weight that has settled, and move some that have not.
func (h *hands) rest(m string) { h.line(m, true) }

func (h *hands) move(masses ...string) {
	for _, m := range masses {
		h.line(m, false)
	}
}

// comes has a load come, or go, as hands bring it.
func (h *hands) comes(m string) {
	from := h.p.Gross() - h.p.Carried()
	for i := range protocol.Mass(3) {
		h.line((from + (g(m)-from)*(i+1)/4).Grams(1), false)
	}
	h.rest(m)
}

// runs has it come like powder, in six seconds.
func (h *hands) runs(m string) {
	from := h.p.Gross() - h.p.Carried()
	for i := range protocol.Mass(60) {
		h.line((from + (g(m)-from)*i/60).Grams(1), false)
	}
	h.rest(m)
}

// stands tares a container of 100 g that was seen coming.
func (h *hands) stands() {
	h.rest("0")
	h.comes("100")
	h.p.Stand(h.p.Gross())
	h.rest("100")
	h.rest("100")
}

// filled has 50 g in it, and lifted has it lifted.
func (h *hands) filled() {
	h.stands()
	h.comes("150")
}

func (h *hands) lifted() {
	h.filled()
	h.move("0")
}

// pressTare shows the net weight, and moves the zero by a container.
func (h *hands) pressTare() {
	h.mode = protocol.Gross
	h.stands()
	h.mode = protocol.Net
	h.rest("0")
}

// prints has a print-key scale print these, and a container tared at the first.
func (h *hands) prints(masses ...string) {
	for i, m := range masses {
		h.key = true
		h.now = h.now.Add(5 * time.Second)
		if h.rest(m); i == 0 {
			h.p.Stand(h.p.Gross())
		}
	}
}

func (h *hands) gap() {
	h.rows = nil
	h.p.Gap(h.now)
}

// walk takes a row; says and leaves are what it must come to.
type walk struct {
	do     func(h *hands)
	says   Event
	leaves State
}

// walks has for each row of the table what takes it, as the last thing that happens.
var walks = map[string]walk{
	"a container comes like powder":          {func(h *hands) { h.rest("0"); h.runs("100") }, CameSlowly, Empty},
	"a container comes":                      {func(h *hands) { h.rest("0"); h.comes("100") }, PutOn, Empty},
	"a container comes back to a key's zero": {func(h *hands) { h.rest("0"); h.move("-114", "-118"); h.comes("0") }, PutOn, Empty},
	"an empty pan defines zero":              {func(h *hands) { h.rest("0.2") }, None, Empty},
	"the presumed key was a lift":            {func(h *hands) { h.stands(); h.rest("0"); h.rest("0"); h.comes("100") }, KeyWasLift, Container},
	"the remainder leaves": {func(h *hands) {
		h.stands()
		h.comes("120")
		h.p.LeftBehind(Remainder{Of: 1, Amount: g("20"), Slack: g("0.5"), Base: g("100")})
		h.comes("100")
	}, RemainderGone, Container},
	"the container leaves":                     {func(h *hands) { h.stands(); h.rest("20") }, TakenOff, Lifted},
	"the container is leaving":                 {func(h *hands) { h.stands(); h.move("30") }, TakenOff, Lifted},
	"most of it left unseen":                   {func(h *hands) { h.filled(); h.rest("100") }, FellUnseen, Container},
	"most of it is gone, and no lift was seen": {func(h *hands) { h.filled(); h.move("100", "100.1", "100", "100.1", "100.1", "100", "100.1", "100.1") }, FellUnseen, Container},
	"an object beside it leaves":               {func(h *hands) { h.objectStays(); h.comes("120"); h.p.Took(); h.comes("100") }, None, Container},
	"the container is emptied out":             {func(h *hands) { h.comes("130"); h.p.Stand(g("130")); h.comes("110") }, EmptiedOut, Container},
	"it is back, and the pan was empty before": {func(h *hands) {
		h.mode = protocol.Gross
		h.lifted()
		h.move("10")
		h.mode = protocol.Net
		h.move("-0.3", "-0.2")
		h.rest("-0.2")
		h.comes("99.8")
	}, PutBack, Lifted},
	"after a gap zero proves nothing":         {func(h *hands) { h.pressTare(); h.move("-100"); h.gap(); h.rest("0") }, None, lostZero},
	"after a gap a load proves nothing":       {func(h *hands) { h.lifted(); h.gap(); h.rest("100") }, None, lostZero},
	"after a gap the empty pan is below zero": {func(h *hands) { h.lifted(); h.gap(); h.rest("-100") }, None, Lifted},
	"after a gap the pan is empty":            {func(h *hands) { h.lifted(); h.gap(); h.rest("0") }, None, Lifted},
	"it was off below zero, and is back": {func(h *hands) {
		h.filled()
		h.move("40", "-150")
		h.rest("-50")
	}, ZeroLost, lostZero},
	"the lift was a key in a pour": {func(h *hands) { h.stands(); h.move("105", "110", "115", "118", "121", "0.3"); h.runs("10") }, ZeroLost, Unknown},
	"the key, in a pour": {func(h *hands) {
		h.mode = protocol.Gross
		h.stands()
		h.move("110", "120")
		h.mode = protocol.Net
		h.move("1")
	}, ZeroLost, Unknown},
	"the key, as a load comes": {func(h *hands) {
		h.mode = protocol.Gross
		h.rest("0")
		h.move("20", "40")
		h.mode = protocol.Net
		h.move("10")
	}, None, Empty},
	"the key, as the container comes or goes":    {func(h *hands) { h.mode = protocol.Gross; h.lifted(); h.move("20"); h.mode = protocol.Net; h.move("10") }, ZeroLost, lostZero},
	"the lift was the key, and powder came":      {func(h *hands) { h.lifted(); h.rest("0"); h.runs("10") }, LiftWasKey, Container},
	"the container is back":                      {func(h *hands) { h.lifted(); h.comes("100.3") }, PutBack, Lifted},
	"an object stayed":                           {(*hands).objectStays, None, Lifted},
	"another container, or an object":            {func(h *hands) { h.lifted(); h.rest("0"); h.comes("20") }, PutBack, Lifted},
	"below zero since a gap":                     {func(h *hands) { h.lifted(); h.gap(); h.rest("0"); h.rest("-20") }, None, Lifted},
	"the lift was the key, and this is the lift": {func(h *hands) { h.lifted(); h.rest("0"); h.rest("-150") }, None, Lifted},
	"a key was pressed, and not seen":            {func(h *hands) { h.filled(); h.move("40"); h.rest("-30") }, None, Lifted},
	"it was back, tared, and is off again":       {func(h *hands) { h.lifted(); h.rest("0"); h.rest("-100") }, PutBack, Lifted},
	"below zero with the container off":          {func(h *hands) { h.lifted(); h.rest("0"); h.rest("-20") }, None, Lifted},
	"silence on an empty pan":                    {func(h *hands) { h.gap() }, None, Empty},
	"silence with a container":                   {func(h *hands) { h.stands(); h.gap() }, None, Unknown},
	"silence with the container off":             {func(h *hands) { h.lifted(); h.gap() }, None, lostZero},
	"silence again":                              {func(h *hands) { h.stands(); h.gap(); h.gap() }, None, Unknown},
	"what it shows proves nothing":               {func(h *hands) { h.pressTare(); h.gap(); h.rest("0") }, None, Unknown},
	"the pan is below zero":                      {func(h *hands) { h.stands(); h.gap(); h.rest("-20") }, SeenEmpty, Unknown},
	"the pan is empty":                           {func(h *hands) { h.stands(); h.gap(); h.rest("0") }, SeenEmpty, Unknown},
	"something stands there":                     {func(h *hands) { h.stands(); h.gap(); h.rest("100") }, Standing, Unknown},
	"the key":                                    {(*hands).pressTare, KeyPressed, Container},
	"the key, as it seems":                       {func(h *hands) { h.stands(); h.rest("0") }, KeyPressed, Container},
	"a container, printed":                       {func(h *hands) { h.key = true; h.rest("100") }, PutOn, Empty},
	"an empty pan, printed":                      {func(h *hands) { h.key = true; h.rest("0.2") }, None, Empty},
	"no container, printed":                      {func(h *hands) { h.prints("100", "150", "0.1") }, TakenOff, Lifted},
	"half empty, printed":                        {func(h *hands) { h.prints("100", "150", "120") }, PartlyTipped, Lifted},
	"all but empty, printed":                     {func(h *hands) { h.prints("100", "150", "100.1") }, TippedUnseen, Lifted},
	"lighter than empty, printed":                {func(h *hands) { h.prints("130", "120") }, EmptiedOut, Container},
	"the container is back, printed":             {func(h *hands) { h.prints("100", "150", "0", "100") }, PutBack, Lifted},
	"off the pan, printed":                       {func(h *hands) { h.prints("100", "150", "0", "0.1") }, None, Lifted},
	"what is printed proves nothing":             {func(h *hands) { h.key = true; h.rest("-20"); h.prints("80"); h.gap(); h.rest("0") }, None, Unknown},
	"empty after a gap, printed":                 {func(h *hands) { h.prints("100"); h.gap(); h.rest("0") }, SeenEmpty, Unknown},
	"something stands there, printed":            {func(h *hands) { h.prints("100"); h.gap(); h.rest("100") }, Standing, Unknown},
}

// moved is by how much, and why, the zero has moved then; else it has not.
var moved = map[string]Offsets{
	"an empty pan defines zero":                  {Drift: -g("0.2")},
	"a container comes back to a key's zero":     {Inferred: g("118")},
	"it is back, and the pan was empty before":   {Inferred: g("0.2")},
	"after a gap zero proves nothing":            {Key: g("100")},
	"after a gap the empty pan is below zero":    {Inferred: g("100")},
	"the lift was the key, and powder came":      {Inferred: g("150")},
	"an object stayed":                           {Object: -g("20")},
	"below zero since a gap":                     {Inferred: g("20")},
	"the lift was the key, and this is the lift": {Inferred: g("150")},
	"a key was pressed, and not seen":            {Inferred: g("30")},
	"it was back, tared, and is off again":       {Inferred: g("100")},
	"below zero with the container off":          {Inferred: g("20")},
	"what it shows proves nothing":               {Key: g("100")},
	"the pan is below zero":                      {Object: g("20")},
	"the key":                                    {Key: g("100")},
	"the key, as it seems":                       {Inferred: g("100")},
	"an empty pan, printed":                      {Drift: -g("0.2")},
	"no container, printed":                      {Drift: -g("0.1")},
	"off the pan, printed":                       {Drift: -g("0.1")},
	"what is printed proves nothing":             {Object: g("20")},
}

// objectStays lifts a container from beside an object of 20 g.
func (h *hands) objectStays() {
	h.stands()
	h.comes("120")
	h.move("20")
	h.rest("20")
}

// Each row of the table is walked, and says and leaves what it claims.
func TestTable(t *testing.T) {
	names := map[string]bool{}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			require.False(t, names[r.name], "two rows of one name")
			names[r.name] = true
			w := walks[r.name]
			require.NotNil(t, w.do, "nothing walks this row: write what takes it")
			h := newHands(t)
			w.do(h)
			require.Contains(t, h.rows, r.name)
			assert.Equal(t, w.says, r.emit)
			assert.Equal(t, w.leaves, h.p.state)
			assert.Equal(t, moved[r.name], h.p.Offsets())
			if r.on != silent {
				assert.Equal(t, w.says, h.last)
			}
		})
	}
	for name := range walks {
		assert.True(t, names[name], "no row is called %q", name)
	}
}

// The zero key, pressed while powder runs, takes the display near zero, and what runs on
// comes too fast for powder. It is asked about, as what a lift left there is.
func TestZeroKeyWhilePowderRuns(t *testing.T) {
	h := newHands(t)
	h.stands()
	h.move("105", "110", "117")
	h.move("0.7")
	require.Equal(t, TakenOff, h.last)
	h.move("2.2", "3.2")
	h.rest("3.3")
	assert.Equal(t, PutBack, h.last)
	assert.Contains(t, h.rows, "another container, or an object")
}
