package sim

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"time"

	"tared/protocol"
)

// Tick is the step of the physics: the converter of a bench scale samples about
// a hundred times a second (common practice, no source).
const Tick = 10 * time.Millisecond

const tickSeconds = float64(Tick) / float64(time.Second)

// The shape of pushes, all ours: a hand needs handTime to put a thing down or to
// press, and a pan that was hit rings at ringRate and dies away within ringDown.
const (
	handTime = 0.12 // seconds
	ringRate = 9.0  // hertz
	ringDown = 0.15 // seconds
	airTime  = 0.7  // seconds over which a draught changes
)

// handAlpha is the share of the way that a pressing hand goes in a tick.
var handAlpha = 1 - math.Exp(-tickSeconds/handTime)

// tareWait is how long a pressed tare key waits for rest before it gives up.
const tareWait = 10 * time.Second

// Scale is one scale and what is on its pan. It is not safe for use by several
// goroutines; a World is.
type Scale struct {
	model Model
	rng   *rand.Rand
	start time.Time
	n     int64 // ticks done

	// On the pan.
	vessels []*standing
	things  []thing
	spilled float64   // powder on the pan itself
	streams []*stream // usually one
	press   float64   // grams that a hand is after
	pressed float64   // grams that it presses now
	tremor  float64
	knock   knock
	air     air

	// In the box.
	drift   float64
	alpha   float64
	sigma   float64 // of one sample of the cell
	y       float64 // filtered signal
	zero    float64 // signal at which the gross is zero
	born    float64 // signal at the factory's zero
	tare    float64
	off     bool
	faulted bool
	boot    int64 // tick at which it wakes; 0: awake
	unit    int
	rest    stand // as the detector of rest sees it
	live    stand // the same for auto-off
	tareN   int64 // tick at which a pending tare gives up; 0: none
	zeroN   int64 // the same for the zero key
	shown   Shown
	freshN  int64 // tick at which the display changes next
}

// knock is the last knock against the scale.
type knock struct {
	peak  float64 // grams
	since float64 // seconds ago
}

// air is the moving air around the scale.
type air struct {
	wind float64 // standard deviation added to the model's draught
	push float64 // standard normal
}

// stand is where the signal stood, and since which tick.
type stand struct {
	at float64
	n  int64
}

// standing is a vessel that stands on the pan, or is being put there or taken off.
type standing struct {
	v     *Vessel
	share float64 // of its weight that the pan carries
	going bool
}

type thing struct {
	name  string
	grams float64
}

// NewScale makes a scale that is on and stands at zero with an empty pan at
// start. The seed decides all its noise.
func NewScale(m Model, seed uint64, start time.Time) (*Scale, error) {
	if err := m.Check(); err != nil {
		return nil, err
	}
	if m.Band == 0 {
		m.Band = 1
	}
	if m.Rest == 0 {
		m.Rest = time.Second
	}
	if m.Under == 0 {
		m.Under = m.Max
	}
	s := &Scale{model: m, rng: source(seed, m.Name), start: start, alpha: alpha(Tick, m.Lag), knock: knock{since: 1e9}}
	// White noise of deviation s through the filter comes out with s*sqrt(a/(2-a)).
	s.sigma = m.Noise / math.Sqrt(s.alpha/(2-s.alpha))
	s.rest.n = -ticks(m.Rest) // it has stood there for a while
	s.show()
	return s, nil
}

// source makes the stream of numbers of one part of the world, so that one part
// does not disturb another.
func source(seed uint64, part string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(part))
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// alpha is the weight of a new sample in a one-pole filter with the given time
// constant: 1 - e^(-T/tau).
func alpha(period, tau time.Duration) float64 {
	if tau <= 0 {
		return 1
	}
	return 1 - math.Exp(-float64(period)/float64(tau))
}

// At lets time pass up to t and gives what the display shows then. Time does not
// run backwards: an earlier t gives the present display.
func (s *Scale) At(t time.Time) Shown {
	s.advance(t)
	sh := s.shown
	sh.At = t
	return sh
}

// Pouring tells whether powder is running or in the air.
func (s *Scale) Pouring() bool { return len(s.streams) > 0 }

// Put sets a vessel on the pan.
func (s *Scale) Put(t time.Time, v *Vessel) {
	s.advance(t)
	for _, p := range s.vessels {
		if p.v == v {
			p.going = false
			return
		}
	}
	s.vessels = append(s.vessels, &standing{v: v})
	s.hit(0.15 * (v.Empty + v.Content())) // it is put down, not lowered by a crane
}

// Lift takes a vessel off the pan. It carries no weight after about half a second.
func (s *Scale) Lift(t time.Time, v *Vessel) {
	s.advance(t)
	for _, p := range s.vessels {
		if p.v == v {
			p.going = true
		}
	}
}

// Pour lets powder run, or changes how the running one runs. One hand pours.
func (s *Scale) Pour(t time.Time, f Flow) {
	s.advance(t)
	for _, r := range s.streams {
		if r.Material == f.Material && r.aim > 0 {
			r.turn(f)
			return
		}
	}
	s.streams = append(s.streams, newStream(f))
}

// Stop closes the hand. What it lets go while closing, and what is in the air,
// still lands.
func (s *Scale) Stop(t time.Time) {
	s.advance(t)
	for _, r := range s.streams {
		r.aim = 0
	}
}

// Spoon takes up to so many grams out of the vessel on the pan, and gives what
// it got.
func (s *Scale) Spoon(t time.Time, grams float64) (took *Vessel) {
	s.advance(t)
	took = &Vessel{Name: "spoon"}
	if v := s.vessel(); v != nil {
		v.pourInto(took, v.Content()-grams)
		s.hit(0.4 * math.Min(grams, 5))
	}
	return took
}

// Press lays a hand on the pan with so many grams; 0 takes it away.
func (s *Scale) Press(t time.Time, grams float64) {
	s.advance(t)
	s.press = grams
}

// Lay puts a thing beside the vessel; Take removes it.
func (s *Scale) Lay(t time.Time, name string, grams float64) {
	s.advance(t)
	s.things = append(s.things, thing{name, grams})
	s.hit(0.2 * grams)
}

// Take removes a thing that was laid on the pan and tells whether it was there.
func (s *Scale) Take(t time.Time, name string) bool {
	s.advance(t)
	for i, x := range s.things {
		if x.name == name {
			s.things = append(s.things[:i], s.things[i+1:]...)
			return true
		}
	}
	return false
}

// Knock hits the bench, so that the pan rings with so many grams at the peak.
func (s *Scale) Knock(t time.Time, grams float64) {
	s.advance(t)
	s.hit(grams)
}

// Draught adds so many grams of standard deviation to the push of moving air; 0
// shuts the door.
func (s *Scale) Draught(t time.Time, grams float64) {
	s.advance(t)
	s.air.wind = grams
}

// TareKey presses the scale's own tare key. It acts when the scale is at rest,
// and gives up after ten seconds without. With nothing on the pan it goes back to
// gross.
func (s *Scale) TareKey(t time.Time) {
	s.advance(t)
	if s.awake() {
		s.tareN = s.n + ticks(tareWait)
	}
}

// ZeroKey presses the zero key. It acts when the scale is at rest, as the tare
// key does, cancels a tare, reaches 4 % of the capacity about the factory zero and
// does nothing beyond (OIML R 76-1, from memory).
func (s *Scale) ZeroKey(t time.Time) {
	s.advance(t)
	if s.awake() {
		s.zeroN = s.n + ticks(tareWait)
	}
}

// UnitKey goes to the next unit.
func (s *Scale) UnitKey(t time.Time) {
	s.advance(t)
	if s.awake() {
		s.unit = (s.unit + 1) % len(s.model.Units)
		s.freshN = s.n
		s.show()
	}
}

// PowerKey turns the scale off or on. At power-up whatever lies on the pan
// becomes zero, up to 20 % of the capacity (OIML R 76-1); above that it shows an
// error until unloaded.
func (s *Scale) PowerKey(t time.Time) {
	s.advance(t)
	if s.off {
		s.off, s.faulted = false, false
		s.boot = s.n + max(1, ticks(s.model.Boot))
	} else {
		s.off, s.boot = true, 0
	}
	s.freshN = s.n
	s.show()
}

func (s *Scale) awake() bool { return !s.off && s.boot == 0 && !s.faulted }

func ticks(d time.Duration) int64 { return int64(d / Tick) }

func gramsOf(m protocol.Mass) float64 { return float64(m) / float64(protocol.Gram) }

// hit starts a ringing of the pan; a weaker hit does not drown a stronger one.
func (s *Scale) hit(grams float64) {
	if grams >= s.knock.peak*math.Exp(-s.knock.since/ringDown) {
		s.knock.peak, s.knock.since = grams, 0
	}
}

// vessel gives what powder falls into: the vessel that stands on the pan.
func (s *Scale) vessel() *Vessel {
	for i := len(s.vessels) - 1; i >= 0; i-- {
		if !s.vessels[i].going {
			return s.vessels[i].v
		}
	}
	return nil
}

func (s *Scale) advance(t time.Time) {
	for target := int64(t.Sub(s.start) / Tick); s.n < target; {
		s.tick()
	}
}

// tick lets one Tick pass.
func (s *Scale) tick() {
	s.n++
	force := s.spilled + s.fall() + s.stand() + s.pushes()
	for _, x := range s.things {
		force += x.grams
	}
	s.drift += s.model.Drift * tickSeconds
	s.y += s.alpha * (force + s.drift + s.sigma*s.rng.NormFloat64() - s.y)
	s.electronics()
}

// fall lands what is due and gives the force of its landing. Powder that stops
// dead after falling for f seconds pushes with its flow times g times f, which
// in grams is flow times f: as much as hangs in the air. A steady pour therefore
// shows all that left the hand, and nothing more comes after a clean stop but
// what the hand still lets go.
func (s *Scale) fall() (push float64) {
	v := s.vessel()
	keep := s.streams[:0]
	for _, r := range s.streams {
		landed := r.step(s.rng)
		if landed > 0 {
			if v != nil {
				v.add(r.Material, landed)
			} else {
				s.spilled += landed
			}
			push += landed / tickSeconds * r.Fall
		}
		if !r.spent() {
			keep = append(keep, r)
		}
	}
	clear(s.streams[len(keep):])
	s.streams = keep
	return push
}

// stand gives the weight of the vessels, which hands put down and take up.
func (s *Scale) stand() (weight float64) {
	keep := s.vessels[:0]
	for _, p := range s.vessels {
		if p.going {
			p.share -= tickSeconds / (2 * handTime)
		} else {
			p.share = math.Min(1, p.share+tickSeconds/(2*handTime))
		}
		if p.share <= 0 && p.going {
			continue
		}
		weight += p.share * (p.v.Empty + p.v.Content())
		keep = append(keep, p)
	}
	clear(s.vessels[len(keep):])
	s.vessels = keep
	return weight
}

// pushes gives what acts on the pan and is no weight: a hand, a knock, the air.
func (s *Scale) pushes() (push float64) {
	s.pressed += (s.press - s.pressed) * handAlpha
	if math.Abs(s.pressed) > 1e-9 {
		// A resting hand wavers by some percent, several times a second.
		s.tremor += -0.1*s.tremor + 0.03*s.rng.NormFloat64()
		push += s.pressed * (1 + s.tremor)
	}
	s.knock.since += tickSeconds
	if s.knock.since < 10*ringDown {
		push += s.knock.peak * math.Exp(-s.knock.since/ringDown) * math.Sin(2*math.Pi*ringRate*s.knock.since)
	} else {
		s.knock.peak = 0
	}
	if sd := s.model.Draught + s.air.wind; sd > 0 {
		s.air.push += -tickSeconds/airTime*s.air.push + math.Sqrt(2*tickSeconds/airTime)*s.rng.NormFloat64()
		push += sd * s.air.push
	}
	return push
}

// electronics does what the scale's own program does once a tick.
func (s *Scale) electronics() {
	m := &s.model
	if s.off || s.boot != 0 && s.n < s.boot {
		return
	}
	if s.boot != 0 {
		s.wake()
	}
	if s.faulted && !s.farFromBirth(0.2) {
		s.faulted = false
		s.zero = s.y
	}
	step := s.Step()
	if math.Abs(s.y-s.rest.at) > float64(m.Band)*step {
		s.rest.at, s.rest.n = s.y, s.n
	}
	if math.Abs(s.y-s.live.at) > 3*step {
		s.live.at, s.live.n = s.y, s.n
	}
	if m.AutoOff > 0 && s.n-s.live.n > ticks(m.AutoOff) {
		s.off = true
		s.show()
		return
	}
	rest := s.atRest()
	if gross := s.y - s.zero; m.Track && rest && s.tare == 0 && math.Abs(gross) <= step/2 {
		by := math.Max(-step/2*tickSeconds, math.Min(step/2*tickSeconds, gross))
		s.zero += by
		s.rest.at += by // rest is judged on what it shows, or its own tracking would disturb it
	}
	s.keys(rest, step)
	if s.n >= s.freshN {
		s.show()
		s.freshN = s.n + max(1, ticks(m.Refresh))
	}
}

// wake ends the boot: the pan as it stands is the new zero, unless that is too far
// from the factory's.
func (s *Scale) wake() {
	s.boot, s.tare, s.unit, s.tareN = 0, 0, 0, 0
	if s.faulted = s.farFromBirth(0.2); !s.faulted {
		s.zero = s.y
	}
	s.live.at, s.live.n, s.rest.at, s.rest.n = s.y, s.n, s.y, s.n
	s.freshN = s.n
}

// farFromBirth reports whether the signal is further than a share of the capacity
// from the factory's zero.
func (s *Scale) farFromBirth(share float64) bool {
	return math.Abs(s.y-s.born) > share*gramsOf(s.model.Max)
}

// keys does what a pressed key waits to do at rest.
func (s *Scale) keys(rest bool, step float64) {
	if s.zeroN != 0 {
		switch {
		case rest:
			s.zeroN = 0
			if !s.farFromBirth(0.04) {
				s.zero, s.tare = s.y, 0
				s.freshN = s.n
			}
		case s.n > s.zeroN:
			s.zeroN = 0
		}
	}
	if s.tareN != 0 {
		switch {
		case rest:
			s.tareN = 0
			s.tare = s.y - s.zero
			if math.Abs(s.tare) < step/4 {
				s.tare = 0
			}
			s.freshN = s.n
		case s.n > s.tareN:
			s.tareN = 0
		}
	}
}

func (s *Scale) atRest() bool { return s.n-s.rest.n >= ticks(s.model.Rest) }

// at gives the range in which the load stands.
func (s *Scale) at() (UnitSteps, Range) {
	u := s.model.Units[s.unit]
	gross := math.Abs(s.y - s.zero)
	for _, r := range u.Ranges {
		if r.Upto == 0 || gross <= gramsOf(r.Upto) {
			return u, r
		}
	}
	return u, u.Ranges[len(u.Ranges)-1]
}

// Step gives the step in grams at the present load.
func (s *Scale) Step() float64 {
	u, r := s.at()
	return stepIn(u.Unit, r.Step)
}

func stepIn(u protocol.Unit, d protocol.Decimal) float64 {
	return float64(d.Coef) / math.Pow10(int(d.Places)) * float64(u.Picograms()) / float64(protocol.Gram)
}

// show renders the display.
func (s *Scale) show() {
	sh := Shown{Silent: s.off || s.boot != 0, Cable: true}
	if sh.Silent {
		s.shown = sh
		return
	}
	u, r := s.at()
	step := stepIn(u.Unit, r.Step)
	gross := s.y - s.zero
	sh.Unit, sh.Step, sh.Mode = u.Unit, r.Step, protocol.Gross
	if s.tare != 0 {
		sh.Mode = protocol.Net
		sh.Tare = rounded(s.tare, step, r.Step, false)
	}
	switch {
	case s.faulted:
		sh.Status = protocol.Error
	case gross > gramsOf(s.model.Max)+9*step: // no indication above Max + 9 e (OIML R 76-1, from memory)
		sh.Status = protocol.Overload
	case gross < -gramsOf(s.model.Under):
		sh.Status = protocol.Underload
	default:
		sh.Status = protocol.OK
		net := gross - s.tare
		sh.Value = rounded(net, step, r.Step, s.model.MinusZero)
		sh.Stable = !s.model.NoFlag && s.atRest()
		sh.Zero = math.Abs(net) <= step/4
	}
	s.shown = sh
}

// rounded gives the digits that stand nearest to g grams.
func rounded(g, step float64, d protocol.Decimal, minusZero bool) protocol.Decimal {
	n := math.Round(math.Abs(g) / step)
	return protocol.Decimal{
		Coef:   uint64(n) * d.Coef,
		Places: d.Places,
		Neg:    g < 0 && (n > 0 || minusZero && g < -step/4),
	}
}
