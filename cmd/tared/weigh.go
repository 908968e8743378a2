package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/mattn/go-isatty"
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"tared/protocol"
	"tared/scale"
	"tared/session"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/glaze"
	"tared/session/plan"
	"tared/session/question"
	"tared/session/sheet"
	"tared/session/text"
)

func weighCommand() *cobra.Command {
	w := &weighing{}
	cmd := &cobra.Command{
		Use:  "weigh RECIPE (--base|--dry|--wet|--cup SIZE) --scale SCALE…",
		Args: oneArg("RECIPE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			w.in, w.out, w.errs = cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr()
			return w.run(cmd.Context(), cmd.Flags(), args[0])
		},
	}
	w.batch.add(cmd)
	cmd.Flags().BoolVar(&w.batch.short, "although-short", false, "")
	w.scales.add(cmd)
	addRecord(cmd, &w.data)
	addLog(cmd, &w.level)
	cmd.Flags().StringVar(&w.confirm, "confirm", "", "")
	fills(cmd.Flags(), "confirm", "confirm")
	cmd.Flags().StringVar(&w.accept, "accept", "", "")
	fills(cmd.Flags(), "accept", "accept")
	cmd.Flags().StringVar(&w.sign, "sign", "", "")
	fills(cmd.Flags(), "sign", "sign")
	cmd.Flags().StringArrayVar(&w.although, "although", nil, "")
	cmd.Flags().BoolVar(&w.remnants, "keep-left", false, "")
	cmd.Flags().StringVar(&w.by, "by", "", "")
	cmd.Flags().BoolVar(&w.json, "json", false, "")
	cmd.Flags().Float64Var(&w.live, "live", 0, "")
	return cmd
}

// weighing is one run of weigh.
type weighing struct {
	batch     batchFlags
	scales    scaleFlags
	data, by  string
	confirm   string
	accept    string
	sign      string
	although  []string
	level     string
	live      float64
	json      bool
	remnants  bool
	in        io.Reader
	out, errs io.Writer
	console   *console // nil: no person types at a terminal

	configs []scale.Config
	bench   *session.Bench
	events  *events
	teller  teller
	view    session.View
	ended   bool // a batch closed
	left    bool // it was closed unfinished
	noWords bool // standard input has ended
}

// heardWithin is how long a scale may take to tell its step before the batch
// can be planned: longer than a hunt through the settings of a port takes.
const heardWithin = 60 * time.Second

func (w *weighing) run(ctx context.Context, f *pflag.FlagSet, recipe string) error {
	level, err := parseLevel(w.level)
	if err != nil {
		return err
	}
	every, err := liveEvery(w.live, w.json)
	if err != nil {
		return err
	}
	configs, err := w.scales.parse(false)
	if err != nil {
		return err
	}
	if len(configs) == 0 {
		return usagef("cli.a-scale-is-missing-give-2")
	}
	if recipe == "-" {
		return usagef("cli.recipe-standard-input-is-where")
	}
	w.configs = configs
	text, err := recipeText(recipe, w.data, w.in)
	if err != nil {
		return err
	}
	wish, err := w.batch.request(text, onSheet(configs))
	if err != nil {
		return err
	}
	if _, err := session.CheckConfirm(w.confirm); err != nil {
		return wrongValue(f.Lookup("confirm"), err)
	}
	if _, err := sheet.ReadRule(w.accept); err != nil {
		return wrongValue(f.Lookup("accept"), err)
	}
	if err := checkSign(&w.sign); err != nil {
		return wrongValue(f.Lookup("sign"), err)
	}
	wish.Confirm, wish.Accept, wish.Although = w.confirm, w.accept, w.although
	wish.By = w.by
	if err := early(wish, onSheet(configs)); err != nil {
		return err
	}
	w.events = newEvents()
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	if w.json {
		w.teller = &jsonTeller{w: w.out, every: every}
	} else {
		f, ok := w.out.(*os.File)
		t := &wordTeller{w: w.out, terminal: ok && isatty.IsTerminal(f.Fd())}
		if t.console = newConsole(w.in, w.out, cancel); t.console != nil {
			defer t.console.restore()
			t.w, w.errs = t.console, t.console
		}
		w.teller, w.console = t, t.console
	}
	log := newLog(w.errs, level)
	live, err := newLiveBench(liveBenchConfig{dir: w.data, witness: witnessFile(w.data), scales: configs, shelf: glaze.Shelf{Table: wish.Materials}, sign: w.sign, log: log, onFacts: w.events.facts, onView: w.events.view, listen: listenPorts(w.data, log)})
	if err != nil {
		return err
	}
	w.bench = live.bench
	return errors.Join(w.beside(ctx, live, wish), live.Close())
}

// beside runs the bench and talks beside them.
func (w *weighing) beside(ctx context.Context, live *liveBench, wish plan.Request) error {
	ctx, cancel := context.WithCancel(ctx)
	done := make(chan error, 1)
	go func() { done <- live.Run(ctx) }()
	err := w.talk(ctx, wish)
	cancel()
	if e := <-done; err == nil {
		err = e
	}
	// What was written while the bench came to its end is told too.
	return errors.Join(err, w.tellAll())
}

func (w *weighing) talk(ctx context.Context, wish plan.Request) error {
	words := make(chan string)
	if w.console != nil {
		go w.console.words(ctx, words)
	} else {
		go readWords(ctx, w.in, words)
	}
	if err := w.begin(ctx, wish, words); err != nil {
		return err
	}
	for {
		if err := w.tellAll(); err != nil {
			return err
		}
		if w.ended {
			return errors.Join(w.keepLeft(ctx), w.outcome())
		}
		if !w.view.Recording.OK && w.view.Seq > 0 {
			return errors.New(language.Say(w.view.Recording.Why)) // whoever waits for the end would wait for ever
		}
		if w.noWords && w.stuck() {
			return failf("cli.input-ended-before-the-question", language.Say(w.view.Asked.Says))
		}
		select {
		case <-ctx.Done():
			return failf("cli.interrupted-the-batch-is-kept")
		case <-w.events.C:
		case line, ok := <-words:
			if !ok {
				w.noWords, words = true, nil
				continue
			}
			if err := w.do(ctx, line); err != nil {
				return err
			}
		}
	}
}

// begin takes up the batch that was left, or opens a new one.
func (w *weighing) begin(ctx context.Context, wish plan.Request, words <-chan string) error {
	mark, begun, open, err := w.bench.Open(ctx)
	if err != nil {
		return err
	}
	if !open && mark != "" {
		if err := w.tellAll(); err != nil {
			return err
		}
		if w.ended && w.same(begun, wish) == nil {
			return w.teller.remark(says("cli.batch-lacked-nothing-but-its", mark))
		}
	}
	if open {
		if err := w.same(begun, wish); err != nil {
			return failf("cli.batch-of-base-is-unfinished",
				mark, begun.Title, begun.Base, err)
		}
		return w.teller.remark(says("cli.batch-is-taken-up-where", mark))
	}
	if err := w.steps(ctx); err != nil {
		return err
	}
	sh, err := w.bench.Plan(ctx, wish)
	if err != nil {
		return err
	}
	if err := w.teller.read(sh.Read); err != nil {
		return err
	}
	for _, name := range plan.Unknown(sh) {
		if err := w.whatIs(ctx, name, &wish, words); err != nil {
			return err
		}
	}
	if sh, err = w.bench.Plan(ctx, wish); err != nil { // what was answered may have changed it
		return err
	}
	if err := w.teller.sheet(sh); err != nil {
		return err
	}
	_, err = w.bench.Start(ctx, wish)
	return err
}

// maxLive is how often a second the weight can be told: no scale sends so many lines.
const maxLive = 1000

// liveEvery is how long passes at least between two weights that move; 0: none is told.
func liveEvery(rate float64, json bool) (time.Duration, error) {
	switch {
	case rate == 0:
		return 0, nil
	case !json:
		return 0, usagef("cli.of-flag", "live", text.Refuse("weigh.live-json"))
	case !(rate > 0 && rate <= maxLive):
		return 0, usagef("cli.of-flag", "live", text.Refuse("weigh.live", text.Name("value", strconv.FormatFloat(rate, 'g', -1, 64)), text.Count("most", maxLive)))
	}
	return time.Duration(float64(time.Second) / rate), nil
}

// early finds what is wrong with the wish before any scale is listened to, as far as that
// can be known then.
func early(wish plan.Request, scales []sheet.Scale) error {
	if slices.ContainsFunc(scales, func(s sheet.Scale) bool { return s.Step <= 0 }) {
		return nil
	}
	sh, err := wish.Sheet(scales)
	if err == nil {
		_, err = plan.Hidden(sh, wish.Although)
	}
	if blamed(err, "order", "aliquot", "although", "allow", "role", "swap", "vary", "blend", "cup", "spare", "most") {
		return err
	}
	return nil
}

// whatIs asks what a line of the recipe is that no table has. Nothing is weighed before
// that is answered.
func (w *weighing) whatIs(ctx context.Context, name string, wish *plan.Request, words <-chan string) error {
	var answers []string
	for _, r := range sheet.Roles {
		answers = append(answers, string(r))
	}
	answers = append(answers, "stop")
	if err := w.teller.ask("material", language.Say(text.New("plan.what-is", text.Name("material", name))), answers); err != nil {
		return err
	}
	for {
		select {
		case <-ctx.Done():
			return failf("cli.interrupted-nothing-was-weighed")
		case word, ok := <-words:
			switch word = strings.ToLower(strings.TrimSpace(word)); {
			case !ok:
				return failf("cli.input-ended-before-it-was", name, name+"=base")
			case word == "stop":
				return failf("cli.stopped-nothing-was-weighed")
			case slices.Contains(answers, word):
				if wish.Roles == nil {
					wish.Roles = map[string]string{}
				}
				wish.Roles[name] = word
				return nil
			}
			if err := w.teller.refused("say " + strings.Join(answers, ", ")); err != nil {
				return err
			}
		}
	}
}

// same tells why a plan is not that of the wish.
func (w *weighing) same(begun fact.Planned, wish plan.Request) error {
	for _, l := range begun.Lines {
		if !slices.ContainsFunc(w.configs, func(c scale.Config) bool { return c.Name == l.Scale }) {
			return failf("cli.it-needs-the-scale-which", l.Scale)
		}
	}
	sum := sha256.Sum256([]byte(wish.Recipe))
	if begun.RecipeHash != hex.EncodeToString(sum[:]) {
		return failf("cli.it-is-of-another-recipe")
	}
	var scales []sheet.Scale
	for _, s := range begun.Scales {
		scales = append(scales, batch.OnSheet(s))
	}
	if err := sameBags(begun, wish); err != nil {
		return err
	}
	if wish.FromStock {
		wish.FromStock, wish.Base = false, begun.Base.Grams(0)+"g" // what is left by now is no size
	}
	wish.Lots = nil
	s, err := wish.Sheet(scales)
	if err != nil {
		return err
	}
	if s.Base != begun.Base || len(s.Cups) != len(begun.Series.Plans) {
		return failf("cli.it-is-of-another-size")
	}
	if was := begun.Series.Swap; s.Swap != nil || was.Out != "" {
		if s.Swap == nil || s.Swap.Out != was.Out || s.Swap.In != was.In {
			return failf("cli.it-is-a-series-in")
		}
	}
	return sameDilutions(begun, s)
}

// sameDilutions tells which material goes in diluted in one of them only.
func sameDilutions(begun fact.Planned, s sheet.Sheet) error {
	for _, l := range s.Lines {
		diluted := slices.ContainsFunc(begun.Mixes, func(m fact.Mix) bool { return m.From == "" && m.Parts[0].Material == l.Material })
		switch {
		case diluted && l.Aliquot == nil:
			return failf("cli.goes-in-diluted-there-and", l.Material)
		case !diluted && l.Aliquot != nil:
			return failf("cli.is-weighed-as-it-is", l.Material)
		}
	}
	return nil
}

// sameBags tells where a wish takes materials from other lots than a plan does, or
// takes them for more or less moist.
func sameBags(begun fact.Planned, wish plan.Request) error {
	of := func(material string) fact.LotUsed {
		if i := slices.IndexFunc(begun.Lots, func(u fact.LotUsed) bool { return strings.EqualFold(u.Material, material) }); i >= 0 {
			return begun.Lots[i]
		}
		return fact.LotUsed{}
	}
	number := func(s string) string {
		d, err := protocol.ParseHumanDecimal(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(s), "%")))
		if err != nil {
			return s
		}
		return strings.TrimSuffix(strings.TrimRight(d.String()+".", "0"), ".")
	}
	for material, lot := range wish.Lots {
		if was := of(material).Lot; !strings.EqualFold(was, lot) {
			return failf("cli.comes-from-lot-there-not", material, was, lot)
		}
	}
	for material, moisture := range wish.Moist {
		if was := of(material).Moisture; number(was) != number(moisture) && (was != "" || number(moisture) != "0") {
			return failf("cli.counts-with-a-moisture-of", material, was, moisture)
		}
	}
	return nil
}

// steps waits until every scale has told its step, where the user did not.
func (w *weighing) steps(ctx context.Context) error {
	late := time.NewTimer(heardWithin)
	defer late.Stop()
	said := map[string]string{}
	for {
		for _, e := range w.events.take() {
			if e.line == nil {
				w.view = e.view
			}
		}
		missing := ""
		for _, s := range w.view.Scales {
			step, err := protocol.ParseDecimal(s.Step)
			if err == nil && step.Coef > 0 {
				continue
			}
			missing = says("cli.step-unknown", s.Name)
			why := says("cli.nothing-heard")
			if s.Why != "" {
				why = s.Why
			}
			missing += ": " + why
			if said[s.Name] != why {
				said[s.Name] = why
				if err := w.teller.remark(says("cli.waiting", s.Name, s.Port, why)); err != nil {
					return err
				}
			}
		}
		if missing == "" && len(w.view.Scales) > 0 {
			return nil
		}
		select {
		case <-ctx.Done():
			return failf("cli.interrupted-nothing-was-weighed")
		case <-late.C:
			return failf("cli.give-it-as-step-g", missing)
		case <-w.events.C:
		}
	}
}

// tellAll tells what has happened, in order.
func (w *weighing) tellAll() error {
	for _, e := range w.events.take() {
		if e.line == nil {
			w.view = e.view
		} else {
			w.note(e.line)
		}
		if err := w.teller.tell(e); err != nil {
			return failf("cli.write-to-standard-output", err)
		}
	}
	return nil
}

// note looks whether a line closes the batch, or opens the next one of a series.
func (w *weighing) note(line []byte) {
	var head struct {
		Kind      string `json:"kind"`
		Abandoned bool   `json:"abandoned"`
		Again     string `json:"again"`
	}
	if json.Unmarshal(line, &head) == nil && head.Kind == (fact.Finished{}).Kind() {
		w.ended, w.left = true, w.left || head.Abandoned
	}
	if head.Kind == (fact.Planned{}).Kind() {
		w.ended = false
		w.left = w.left && head.Again == "" // what was closed is begun once more
	}
}

// keepLeft keeps what is left over of mixtures and solutions, where that is wanted.
func (w *weighing) keepLeft(ctx context.Context) error {
	if !w.remnants || w.left {
		return nil
	}
	mark, begun, _, err := w.bench.Open(ctx)
	if err != nil {
		return err
	}
	for _, m := range begun.Mixes {
		if m.Made() {
			continue
		}
		what := m.Parts[0].Material
		got, err := w.bench.Keep(ctx, session.KeepRequest{By: w.view.Batch.By, Left: &session.LeftRequest{Batch: mark, Material: what}})
		if err != nil {
			return failf("cli.what-is-left-of-is", what, err)
		}
		if err := w.teller.remark(says("cli.what-is-left-of-is-2", what, got.Lot, got.Lot)); err != nil {
			return err
		}
	}
	return nil
}

func (w *weighing) outcome() error {
	if w.left {
		return failf("cli.the-batch-was-closed-unfinished")
	}
	return nil
}

// stuck tells whether the bench waits for a word that nothing else can answer.
func (w *weighing) stuck() bool {
	if w.view.Asked == nil {
		return false
	}
	q := question.Called(w.view.Asked.Question)
	return q != nil && q.When != nil // else the pan can still prove it
}

// do carries out one line of standard input.
func (w *weighing) do(ctx context.Context, line string) error {
	c := session.ParseCommand(line)
	switch {
	case c.Word == "" && (w.view.Asked == nil || len(w.view.Asked.Answers) == 0):
		return nil
	case c.Word == "": // Enter alone, as many pedals send it, is the first answer
		first := w.view.Asked.Answers[0]
		if c.Word = first.Word; first.Needs != "" {
			if c.Rest = w.by; c.Rest == "" || first.Needs != "name" {
				return w.teller.refused(language.Say(text.New("weigh.needs", text.Name("word", first.Word), text.Name("needs", first.Needs))))
			}
		}
	case c.Word == "help":
		if w.view.Asked != nil {
			if err := w.teller.remark(askedWords(w.view.Asked)); err != nil {
				return err
			}
		}
		return w.teller.remark(language.Say(text.New("weigh.words")))
	}
	c.By = w.by
	err := w.bench.Do(ctx, c)
	if errors.Is(err, session.ErrRefused) {
		return w.teller.refused(err.Error())
	}
	return err
}
