package web

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"time"

	"tared/session"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/plan"
	"tared/session/recipe"
	"tared/session/recipebook"
	"tared/session/sheet"
	"tared/session/stock"
	"tared/session/text"
)

// fakeBench is a bench made of what a test puts in. It remembers what it was asked.
type fakeBench struct {
	views   session.Views
	mu      sync.Mutex
	seq     uint64
	did     []session.Command
	started []plan.Request
	noted   []session.EntryRequest
	checks  []session.CheckRequest
	orders  []string
	vessels []session.VesselRequest
	devices []session.Device
	reads   uint64
	fail    error // what everything gives that records
	planned sheet.Sheet
	planErr error
	stuck   bool
	tally   session.Tally
	asked   chan session.Command // told of each command, when not nil
}

func newFakeBench() *fakeBench { return &fakeBench{} }

func (b *fakeBench) Watch(news func()) *session.Watcher { return b.views.Watch(news) }

// show makes v the newest view.
func (b *fakeBench) show(v session.View) { b.showAs(v.Shown()) }

// showAs does not work out what it looks like.
func (b *fakeBench) showAs(v session.View) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.seq++
	v.Seq = b.seq
	b.views.Show(&v)
}

func (b *fakeBench) latest() []byte {
	w := b.Watch(nil)
	defer w.Close()
	return w.Latest()
}

func (b *fakeBench) Alive(ctx context.Context) error {
	b.mu.Lock()
	stuck := b.stuck
	b.mu.Unlock()
	if stuck {
		<-ctx.Done()
		return ctx.Err()
	}
	return nil
}

func (b *fakeBench) Tally(ctx context.Context) (session.Tally, error) {
	if err := b.Alive(ctx); err != nil {
		return session.Tally{}, err
	}
	return b.tally, nil
}

func (b *fakeBench) Devices(context.Context) ([]session.Device, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.devices), nil
}

func (b *fakeBench) Pair(_ context.Context, r session.DeviceRequest, fresh string) error {
	return b.record(func() {
		k := slices.IndexFunc(b.devices, func(d session.Device) bool { return d.ID == r.Device })
		switch {
		case b.fail != nil:
		case r.Device == "":
			b.devices = append(b.devices, session.Device{ID: fresh, Name: r.Name, From: r.From, Token: r.Token, At: moment})
		case k < 0:
		case r.Name == "":
			b.devices[k].Revoked = moment
		default:
			b.devices[k].Name = r.Name
		}
	})
}

func (b *fakeBench) setStuck(yes bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.stuck = yes
}

func (b *fakeBench) setFail(err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.fail = err
}

// record does what a request does to a bench, and gives what fails.
func (b *fakeBench) record(do func()) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	do()
	return b.fail
}

func (b *fakeBench) Do(_ context.Context, c session.Command) error {
	return b.record(func() {
		b.did = append(b.did, c)
		if b.asked != nil {
			b.asked <- c
		}
	})
}

func (b *fakeBench) commands() []session.Command {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.did)
}

func (b *fakeBench) Plan(_ context.Context, r plan.Request) (sheet.Sheet, error) {
	if _, err := recipe.Parse(r.Recipe); len(amongOf(err)) > 0 {
		return sheet.Sheet{}, err
	}
	return b.planned, b.planErr
}

func (b *fakeBench) Start(_ context.Context, r plan.Request) (string, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.planErr != nil {
		return "", b.planErr
	}
	b.started = append(b.started, r)
	return "a251125", nil
}

func (b *fakeBench) Check(_ context.Context, r session.CheckRequest) error {
	return b.record(func() { b.checks = append(b.checks, r) })
}

func (b *fakeBench) Order(_ context.Context, name, what, by string) error {
	return b.record(func() { b.orders = append(b.orders, name+" "+what+" "+by) })
}

func (b *fakeBench) AddEntry(_ context.Context, r session.EntryRequest, _ func(uint64) book.Amendable) (uint64, error) {
	return 43, b.record(func() { b.noted = append(b.noted, r) })
}

func (b *fakeBench) requests() []session.EntryRequest {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.noted)
}

// Read gives 52.1 g, and 200.8 g after that, and so on.
func (b *fakeBench) Read(context.Context, string) (r session.Reading, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.fail != nil {
		return r, b.fail
	}
	b.reads++
	return session.Reading{ID: b.reads, Shows: []string{"52.1", "200.8"}[(b.reads-1)%2]}, nil
}

func (b *fakeBench) Measure(_ context.Context, w session.VesselRequest) (fact.Vessel, error) {
	return fact.Vessel{Name: w.Name, Volume: "99.98"}, b.record(func() { b.vessels = append(b.vessels, w) })
}

func (b *fakeBench) Vessels(context.Context) ([]fact.Vessel, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	var all []fact.Vessel
	for _, w := range b.vessels {
		all = append(all, fact.Vessel{Name: w.Name, Volume: "99.98"})
	}
	return all, nil
}

func (b *fakeBench) LotsAndRecipes(context.Context) ([]stock.Lot, []recipebook.Recipe, error) {
	return nil, nil, nil
}

func (b *fakeBench) Keep(context.Context, session.KeepRequest) (session.Receipt, error) {
	return session.Receipt{}, b.record(func() {})
}

// fakeHands do nothing and remember it.
type fakeHands struct {
	mu  sync.Mutex
	did []string
}

func (h *fakeHands) moves() []string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return append([]string(nil), h.did...)
}

func (h *fakeHands) Moves() []HandMoves {
	var moves []HandMove
	for _, m := range []string{"put", "pour", "pinch", "stop", "spoon out", "lift", "tip", "return", "tare key", "zero key", "unit key", "power key",
		"pull the cable", "cable back in", "lay a spoon on the pan", "take the spoon", "lean on the pan", "knock the bench", "open the door"} {
		moves = append(moves, HandMove{Do: m, Label: m})
	}
	return []HandMoves{{"bench", moves}, {"fine", moves}}
}

func (h *fakeHands) Move(_ context.Context, scale, do string) error {
	if do == "fly" {
		return fmt.Errorf("hands cannot fly")
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.did = append(h.did, scale+" "+do)
	return nil
}

// moment is when all the invented views are made.
var moment = time.Date(2026, 11, 25, 14, 3, 22, 0, time.UTC)

// The demonstration's recipe is invented. Its steps are halfway through.
func steps() []session.StepView {
	return []session.StepView{
		{Material: "Nepheline syenite", Role: "base", Target: "307.5", Delivered: "307.3", Scale: "bench", State: "done", Verdict: "in"},
		{Material: "Quartz", Role: "base", Target: "180.0", Delivered: "182.4", Scale: "bench", State: "done", Verdict: "over"},
		{Material: "Whiting", Role: "base", Target: "127.5", Delivered: "0.0", Scale: "bench", State: "now"},
		{Material: "Ball clay", Role: "base", Target: "90.0", Delivered: "0.0", Scale: "bench", State: "waiting"},
		{Material: "Zinc oxide", Role: "base", Target: "45.0", Delivered: "0.0", Scale: "bench", State: "skipped"},
		{Material: "Tin oxide", Role: "addition", Target: "30.0", Delivered: "0.0", Scale: "bench", State: "waiting"},
		{Material: "Copper carbonate", Role: "strong", Target: "9.00", Delivered: "0.00", Scale: "fine", State: "waiting"},
	}
}

func scales() []session.ScaleView {
	return []session.ScaleView{
		{Name: "bench", Port: "/dev/pts/4", Format: "header-comma-mode", Line: "9600 8N1", Link: "up", Shows: "412.6", Unit: "g", Status: "ok", Settled: true, Step: "0.1", Max: "2000", Raw: "ST,NT,+0000412.6 g\\r\\n", At: moment, Frames: 18231, Damaged: 2, Lag: "0.31 s", On: "container", Pan: text.Written("a container of 212.4 g")},
		{Name: "fine", Port: "/dev/pts/5", Format: "header-comma-mode", Line: "2400 7E1", Link: "up", Shows: "0.00", Unit: "g", Status: "ok", Settled: true, Step: "0.01", Max: "200", Raw: "ST,NT,+00000.00 g\\r\\n", At: moment, Frames: 18102, On: "empty", Pan: text.Written("nothing tared on it")},
	}
}

// letterKeys are those that the bench offers in mid-pour, with their words.
func letterKeys() (k []session.KeyView) {
	for _, l := range session.Letters() {
		if l.Word != session.Record && l.Word != "same" { // those of a bench that is blind
			k = append(k, l)
		}
	}
	return append(k, session.KeyView{Word: "substitute", Label: text.New("key.substitute"), Needs: "material", Seldom: true},
		session.KeyView{Word: "anew", Label: text.New("key.anew"), Needs: "reason", Hold: true, Seldom: true},
		session.KeyView{Word: "abandon", Label: text.New("key.abandon"), Needs: "reason", Hold: true, Seldom: true})
}

// alwaysKeys are those that an open batch has in a pause and before the reminder too.
func alwaysKeys() []session.KeyView {
	return slices.DeleteFunc(letterKeys(), func(k session.KeyView) bool {
		return !slices.Contains([]string{"note", "by", "anew", "abandon"}, k.Word)
	})
}

// answering gives a question's keys as the bench does: digits, and the pedal
// for the first two.
func answering(a *session.AskedView, more []session.KeyView) []session.KeyView {
	var k []session.KeyView
	for i, x := range a.Answers {
		if i < 2 {
			k = append(k, session.KeyView{Key: []string{"PageDown", "PageUp"}[i], Word: x.Word, Label: x.Label, Needs: x.Needs, Hold: slices.Contains([]string{"undo", "skip", "anew"}, x.Word)})
		}
		k = append(k, session.KeyView{Key: fmt.Sprint(i + 1), Word: x.Word, Label: x.Label, Needs: x.Needs, Hold: slices.Contains([]string{"undo", "skip", "anew"}, x.Word)})
	}
	return append(k, more...)
}

// whiting is a view of the step in work.
func whiting() session.View {
	return session.View{
		At: moment, Recording: session.Recording{OK: true}, Simulated: true,
		Batch: &session.BatchView{Mark: "a261125", Title: "Tidewrack, satin, cone 6 oxidation", Base: "750.0", Dry: "789.0", By: "Mara", Steps: steps(), Done: 2},
		Now: session.NowView{State: "pour", Material: "Whiting", Role: "base", Scale: "bench", Portion: 1, Portions: 1,
			Target: "127.5", Low: "126.3", High: "128.7", Step: "0.1", In: "84.6", Missing: "42.9", Fill: 663, LowFill: 991, HighFill: 1009,
			Headline: text.New("bench.pour", text.Name("material", "Whiting")), Detail: []text.Message{text.Written("Up to the band; let it rest, then lift the container.")}, Since: moment,
			Next: &session.NextView{Material: "Ball clay", Target: "90.0", Scale: "bench", Role: "base"}},
		Keys: letterKeys(), Scales: scales(), Learnt: []session.LearntView{{Of: "Ilse", Says: text.Written("0.19 s")}, {Of: "Mara", Says: text.Written("0.27 s")}},
		Said: []session.Notice{{At: moment, Says: text.Written("Quartz is in: 182.4 g.")}, {At: moment.Add(-time.Minute), Says: text.Written("Tare key seen on the bench scale. Go on: its zero is carried.")}},
	}
}

// scene is one state of the bench that the page must be able to show.
type scene struct {
	name string
	view session.View
}

// scenes are all states, and those within a state that look different.
func scenes() []scene {
	with := func(f func(v *session.View)) session.View {
		v := whiting()
		f(&v)
		return v
	}
	now := func(state string, f func(n *session.NowView), keys ...session.KeyView) session.View {
		return with(func(v *session.View) { v.Now.State = state; f(&v.Now); v.Keys = append(v.Keys, keys...) })
	}
	empty := func(n *session.NowView) { n.In, n.Missing, n.Fill = "", "", -1 }
	ask := func(state string, a session.AskedView, f func(v *session.View)) session.View {
		return with(func(v *session.View) {
			v.Now.State, v.Now.Cue, v.Asked, v.Keys = state, "ask", &a, answering(&a, letterKeys())
			empty(&v.Now)
			if f != nil {
				f(v)
			}
		})
	}
	return []scene{
		{"water", now("pour", func(n *session.NowView) {
			n.Material, n.Role, n.Target, n.Low, n.High, n.In, n.Missing, n.Fill = "Water", "water", "670.6", "657.2", "684.0", "420.0", "250.6", 626
			n.Headline, n.Detail, n.Next = text.New("bench.pour", text.Name("material", "Water")), []text.Message{text.Written("Up to the band, in a clean jug. What is tipped into the bucket cannot be taken out again.")}, nil
		})},
		{"waiting", session.View{At: moment, Recording: session.Recording{OK: true}, Scales: scales(),
			Now: session.NowView{State: "idle", Portions: 1, Headline: text.Written("Nothing to weigh yet"), Detail: []text.Message{text.Written("Touch a recipe, then your name.")}},
			Due: []session.DueView{{Batch: "260302a", Says: text.Written("Batch 260302a has stood in its water since yesterday: stir it, sieve it, and measure its gravity.")},
				{Batch: "260302b", Says: text.Written("Batch 260302b has stood in its water since yesterday: stir it, sieve it, and measure its gravity.")}}}},
		{"idle", session.View{At: moment, Recording: session.Recording{OK: true}, Scales: scales(),
			Now: session.NowView{State: "idle", Portions: 1, Headline: text.Written("Nothing to weigh yet"), Detail: []text.Message{text.Written("Touch a recipe, then your name.")}}}},
		{"reminder", ask("reminder", session.AskedView{Question: "reminder", Says: text.Written("Is the mask on and the ventilation running?"),
			Lines: []text.Message{text.Written("Mask: put on a fitted respirator for fine dust (P100 or N95, FFP3 or FFP2); a beard spoils the seal."),
				text.Written("Ventilation: switch on the extraction, or open up without stirring the dust."),
				text.Written("Nepheline syenite: feldspathic dust: mask on."),
				text.Written("Quartz: holds free silica, which in dust scars the lungs and can cause cancer: mask on, wet-clean, no dry sweeping (IARC group 1)."),
				text.Written("Whiting and Tin oxide: dust: mask on."),
				text.Written("Ball clay: carries free silica in its dust: mask on, wet-clean, no dry sweeping."),
				text.Written("Zinc oxide: very toxic to water life: keep it out of the drain."),
				text.Written("Copper carbonate: harmful when breathed or swallowed: mask on; keep it out of the drain."),
				text.Written("These are reminders only: the supplier's safety data sheet and your local code come first.")},
			Answers: []session.AnswerView{{Word: "yes", Label: text.Written("yes, both"), Needs: "name"}}}, func(v *session.View) {
			v.Now.Headline, v.Now.Detail = text.Written("Mask on? Ventilation running?"), []text.Message{text.Written("Answer yes, with your name, before any dry material.")}
			v.Keys = answering(v.Asked, alwaysKeys())
		})},
		{"container", now("container", func(n *session.NowView) {
			empty(n)
			n.Headline, n.Detail = text.Written("Put an empty container on the bench scale"), []text.Message{text.Written("It is tared as soon as it rests.")}
		})},
		{"pour", whiting()},
		{"ease", now("pour", func(n *session.NowView) {
			n.In, n.Missing, n.Fill, n.Cue, n.Headline, n.Detail = "118.0", "9.5", 925, "ease", text.New("bench.ease"), []text.Message{text.New("bench.ease-more")}
		})},
		{"stop", now("pour", func(n *session.NowView) {
			n.In, n.Missing, n.Fill, n.Cue, n.Headline, n.Detail = "126.9", "0.6", 995, "stop", text.New("bench.stop"), []text.Message{text.New("bench.stop-more")}
		})},
		{"settle", now("settle", func(n *session.NowView) {
			n.In, n.Missing, n.Fill, n.Headline, n.Detail = "127.4", "0.1", 999, text.New("bench.wait"), []text.Message{text.Written("Hands off. The reading is settling.")}
		})},
		{"in", now("in", func(n *session.NowView) {
			n.In, n.Missing, n.Fill, n.Cue, n.Settled = "127.2", "0.3", 997, "in", true
			n.Headline, n.Detail = text.Written("In the band: lift the container"), []text.Message{text.Written("Lifting records it. Staying on the scale? Hold D.")}
		})},
		{"over", now("over", func(n *session.NowView) {
			n.In, n.Missing, n.Fill, n.Cue, n.Settled = "131.2", "-3.7", 1029, "over", true
			n.Headline, n.Detail = text.New("bench.take-out", text.Grams("excess", "3.7")), []text.Message{text.Written("Spoon it out until the reading is in the band.")}
		})},
		{"lifted", now("lifted", func(n *session.NowView) {
			empty(n)
			n.Lifted = "127.2"
			n.Cue, n.Headline, n.Detail = "taken", text.Written("Tip it into the bucket"), []text.Message{text.Written("Then put the container back on the bench scale.")}
		})},
		{"lost", with(func(v *session.View) {
			v.Now.State, v.Now.Cue = "lost", "lost"
			empty(&v.Now)
			v.Now.Headline, v.Now.Detail = text.Written("The bench scale is gone"), []text.Message{text.Written("read /dev/ttyUSB0: the adapter was unplugged. Plug it in again; tared keeps looking.")}
			v.Scales[0].Link, v.Scales[0].Why, v.Scales[0].Shows = "lost", "read /dev/ttyUSB0: the adapter was unplugged. Plug it in again; tared keeps looking.", ""
			v.Scales[1].Link, v.Scales[1].Why, v.Scales[1].Shows, v.Scales[1].Frames = "waiting", "open /dev/ttyUSB1: permission denied. Add yourself to the group dialout and log in again.", "", 0
		})},
		{"blind", with(func(v *session.View) {
			v.Now.State, v.Now.Cue = "blind", "lost"
			empty(&v.Now)
			v.Now.Headline, v.Now.Detail = text.New("bench.blind"), []text.Message{text.New("bench.blind-more")}
			v.Recording = session.Recording{Why: text.New("bench.not-recording", text.Said("why", text.Written("write /var/lib/tared/journal.jsonl: no space left on device")), text.Key("record", "R"))}
			v.Keys = []session.KeyView{{Key: "r", Word: session.Record, Label: text.New("key.record")}}
		})},
		{"decide", ask("decide", session.AskedView{Question: "overpour", Says: text.Written("131.2 g of Whiting went in; the target is 127.5 g."),
			Lines: []text.Message{text.Written("Enlarged: Nepheline syenite, 7.2 g more"), text.Written("Enlarged: Quartz, 1.9 g more"),
				text.Written("Kept: Nepheline syenite 40.80 % of the base, planned 41.00 % (−0.20 points)"), text.Written("Kept: Quartz 23.88 % of the base, planned 24.00 % (−0.12 points)"),
				text.Written("Kept: Whiting 17.41 % of the base, planned 17.00 % (+0.41 points)")},
			Answers: []session.AnswerView{
				{Word: "enlarge", Label: text.Written("enlarge to 768.0 g of base, top the others up")},
				{Word: "keep", Label: text.Written("keep it and note the deviation")},
				{Word: "undo", Label: text.Written("I did not tip it in")},
				{Word: "anew", Label: text.Written("close it, begin once more")}}}, func(v *session.View) {
			v.Now.Headline, v.Now.Detail = text.Written("Too much Whiting went in"), []text.Message{text.Written("Read the choices below.")}
		})},
		{"which", ask("decide", session.AskedView{Question: "which", Says: text.Written("84.60 g were poured on the fine scale, and Whiting is in turn on the bench scale. What is it?"),
			Answers: []session.AnswerView{
				{Word: "keep", Label: text.Written("it is Whiting: weigh it there")},
				{Word: "next", Label: text.Written("it is Copper carbonate: weigh that first")},
				{Word: "again", Label: text.Written("none of that: it does not count")}}}, func(v *session.View) {
			v.Now.Headline, v.Now.Detail = text.Written("What is it?"), []text.Message{text.Written("Read the choices below.")}
		})},
		{"stray", now("pour", func(n *session.NowView) {
			n.In, n.Missing, n.Fill, n.Cue = "0.0", "127.5", 0, "ask"
			n.Headline, n.Detail = text.Written("Not on the fine scale"), []text.Message{text.Written("Whiting goes on the bench scale; the fine one will not do: it holds 80.00 g beside the container. Nothing is taken from there.")}
		})},
		{"unsettled", ask("decide", session.AskedView{Question: "unsettled", Says: text.Written("It was lifted before the scale had settled. About 84.6 g left the container."),
			Answers: []session.AnswerView{
				{Word: "keep", Label: text.Written("it went into the batch: count that, marked as not settled")},
				{Word: "typed", Label: text.Written("it went into the batch and I know the amount"), Needs: "mass"},
				{Word: "again", Label: text.Written("none of it went into the batch")}}}, func(v *session.View) {
			v.Now.Headline, v.Now.Detail = text.Written("How much went in?"), []text.Message{text.Written("Read the choices below.")}
		})},
		{"eye", ask("pour", session.AskedView{Question: "typed", Says: text.Written("What does the pocket scale show for Copper carbonate?"),
			Answers: []session.AnswerView{{Word: "typed", Label: text.Written("this much went in"), Needs: "mass"}, {Word: "skip", Label: text.Written("leave it out")}}}, func(v *session.View) {
			v.Now.Material, v.Now.Role, v.Now.Scale, v.Now.Eye, v.Now.Cue = "Copper carbonate", "strong", "pocket", true, ""
			v.Now.Target, v.Now.Low, v.Now.High, v.Now.Step = "9.00", "8.82", "9.18", "0.01"
			v.Now.Headline, v.Now.Detail = text.New("bench.by-eye", text.Grams("amount", "9.00"), text.Name("material", "Copper carbonate"), text.Name("scale", "pocket")), []text.Message{text.Written("Read it by eye and type what went in.")}
			v.Now.Next = nil
		})},
		{"portions", now("pour", func(n *session.NowView) {
			n.Material, n.As, n.Portion, n.Portions = "Nepheline syenite", "Minspar, the old bag from the loft", 2, 3
			n.Target, n.Low, n.High, n.In, n.Missing = "1250.5", "1238.0", "1263.0", "1100.2", "150.3"
			n.Fill, n.LowFill, n.HighFill = 879, 990, 1010
			n.Headline = text.New("bench.pour-rest", text.Name("material", "Minspar, the old bag from the loft"))
		})},
		{"tiny", now("pour", func(n *session.NowView) {
			n.Material, n.Role = "Cobalt carbonate", "strong"
			n.Target, n.Low, n.High, n.In, n.Missing = "0.4", "0.3", "0.5", "0.1", "0.3"
			n.Fill, n.LowFill, n.HighFill, n.Headline = 250, 750, 1250, text.New("bench.pour", text.Name("material", "Cobalt carbonate"))
		})},
		{"broken", with(func(v *session.View) {
			v.Recording = session.Recording{Why: text.Written("Nothing is recorded any more: write /var/lib/tared/journal.jsonl: no space left on device. Mend that, then start tared again.")}
		})},
		{"paused", with(func(v *session.View) {
			v.Now.State = "paused"
			empty(&v.Now)
			v.Now.Headline, v.Now.Detail = text.New("bench.paused"), []text.Message{text.Written("Resume goes on with Whiting.")}
			v.Asked = &session.AskedView{Question: "paused", Says: text.Written("The batch is paused."), Answers: []session.AnswerView{{Word: "resume", Label: text.Written("go on")}}}
			v.Keys = answering(v.Asked, []session.KeyView{{Key: "b", Word: "by", Label: text.Written("another person takes over")}})
		})},
		{"finished", with(func(v *session.View) {
			v.Now = session.NowView{State: "finished", Portions: 1, Headline: text.Written("Batch a261125 is complete"),
				Detail: []text.Message{text.Written("Wet-clean the bench and the floor; no dry sweeping. Wash hands and face before you eat or drink.")}}
			v.Keys = nil
			for i := range v.Batch.Steps {
				s := &v.Batch.Steps[i]
				if s.State != "skipped" {
					s.State, s.Delivered, s.Verdict = "done", s.Target, "in"
				}
			}
			v.Batch.Done = 6
		})},
	}
}

// recipeFaults is what a recipe with two bad lines gives.
func recipeFaults() error {
	_, err := recipe.Parse("Quartz 20\nWhiting\nBall clay 12,345,6\n")
	return err
}

// addresses are where tests look at it.
func (p page) addresses() []string {
	if len(p.looks) == 0 {
		return []string{p.Link()}
	}
	return p.looks
}
