package fact

import (
	"encoding/json"
	"fmt"
)

// A Reader is a fold that makes something of facts.
type Reader string

// The folds. A fact that no fold reads stands in the record alone.
const (
	Batch      Reader = "batch"   // what went into a batch, and what became of it
	Stock      Reader = "stock"   // what is left of each lot
	Recipes    Reader = "recipes" // the versions of each recipe
	Roles      Reader = "roles"   // what a person said a material is
	Vessels    Reader = "vessels" // vessels of known volume
	Gauges     Reader = "gauges"  // how well each scale weighs
	Due        Reader = "due"     // batches that wait for somebody
	Devices    Reader = "devices" // browsers and programs that may command
	Epochs     Reader = "epochs"  // how often the journal began anew
	RecordOnly Reader = "record"  // a sentence, and nothing more
)

// A Kind is one row of the table of all kinds.
type Kind struct {
	Name    string   // the word in the journal
	Says    string   // what happened, for the docs
	Readers []Reader // which folds read it
	Zero    Body
	decode  func(data []byte) (Body, error)
}

// Kinds are all kinds that this program knows. Each has its sentence in package book.
var Kinds = []Kind{
	kind[Began]("this journal began, or began anew at another place", Epochs),
	kind[Planned]("a batch was opened: what is to be weighed, on what", Batch, Stock),
	kind[Reminded]("mask and ventilation were asked for and answered", Batch),
	kind[Tared]("a container stands on the pan and is tared", Batch),
	kind[Portion]("one weighing: what left the container", Batch, Stock, Due),
	kind[Lifted]("a container left the pan with material in it", Batch),
	kind[Returned]("it came back with nothing tipped", Batch),
	kind[Overpoured]("more went in than the band allows", RecordOnly),
	kind[Decided]("a person answered a question", Batch),
	kind[Enlarged]("the batch was scaled up after an overpour", Batch),
	kind[Moved]("a material is weighed on another scale than planned", Batch),
	kind[Finished]("the batch was closed", Batch, Due),
	kind[Signed]("the bench signed the line that closed the batch", Batch),
	kind[Witnessed]("so far the lines of another bench were taken; or it showed another history", RecordOnly),
	kind[Amended]("an earlier fact was corrected or struck out", Batch, Stock, Due),
	kind[Lost]("a scale was lost while a batch was open", Batch),
	kind[Found]("it came back", RecordOnly),
	kind[Noticed]("the bench saw something that a reader may want to know", Batch),
	kind[Noted]("a person wrote a note", Batch),
	kind[Paused]("a break began", Batch),
	kind[Resumed]("a break, or a restart, ended", Batch),
	kind[Watered]("water was added to a closed batch, or its slip was measured", Batch, Due),
	kind[Fired]("tiles of the batch were fired", Batch, Due),
	kind[Judged]("a tile was looked at", Batch, Due),
	kind[Role]("a person said what a material is", Roles),
	kind[Checked]("a scale was checked with a known weight", Gauges, Batch),
	kind[Repeatability]("the repeatability of a scale was measured", Gauges),
	kind[Vessel]("the volume of a vessel was measured", Vessels),
	kind[Stocked]("a lot of a material came into stock", Stock),
	kind[Corrected]("something about a lot was corrected", Stock),
	kind[Recipe]("a recipe was kept, or a new version of it", Recipes),
	kind[Paired]("a device may command from now on, or got another name", Devices),
	kind[Revoked]("a device may command no longer", Devices),
}

func kind[B Body](says string, readers ...Reader) Kind {
	var zero B
	return Kind{Name: zero.Kind(), Says: says, Readers: readers, Zero: zero, decode: into[B]}
}

// byName finds a kind in a journal of a hundred thousand lines.
var byName = func() map[string]Kind {
	all := make(map[string]Kind, len(Kinds))
	for _, k := range Kinds {
		if _, twice := all[k.Name]; twice {
			panic(fmt.Sprintf("two kinds of fact are called %q", k.Name))
		}
		all[k.Name] = k
	}
	return all
}()

// Lookup finds a kind by its name.
func Lookup(name string) (Kind, bool) {
	k, ok := byName[name]
	return k, ok
}

func into[B Body](data []byte) (Body, error) {
	var b B
	if err := json.Unmarshal(data, &b); err != nil {
		return nil, fmt.Errorf("%s: %w: %w", b.Kind(), ErrFact, err)
	}
	return b, nil
}
