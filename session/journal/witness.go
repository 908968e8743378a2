package journal

import (
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// Witness is what is known of a journal outside its own directory: how many lines
// it had, and the hash of the last. The chain alone cannot tell a whole journal from
// one that was shortened at the end, from an older copy, or from none at all.
type Witness struct {
	Journal string    `json:"journal"`
	Lines   uint64    `json:"lines"`
	Head    Hash      `json:"head"`
	At      time.Time `json:"at"` // when it was written
}

// witnessBlock is what the file of a witness is filled up to, so that a shorter
// note leaves nothing of a longer one behind and one write takes one block.
const witnessBlock = 512

// readWitness reads what stands in a witness file. What cannot be read is no
// witness: the file is not synced, and a power cut may have torn it.
func readWitness(path string) (w Witness, ok bool) {
	b, err := os.ReadFile(path)
	return w, err == nil && json.Unmarshal(b, &w) == nil && w.Lines > 0
}

// Witnessed lists what the witness files of a directory say, of journals that are still
// at their place.
func Witnessed(dir string) (all []Witness) {
	files, _ := filepath.Glob(filepath.Join(dir, "*.json"))
	for _, f := range files {
		if w, ok := readWitness(f); ok {
			if _, err := os.Stat(w.Journal); err == nil {
				all = append(all, w)
			}
		}
	}
	return all
}

// InUse reports whether somebody writes the journal of dir just now.
func InUse(dir string) bool {
	f, err := os.Open(filepath.Join(dir, lockName))
	if err != nil {
		return false
	}
	free, err := tryLock(f)
	return errors.Join(err, f.Close()) == nil && !free
}

// write puts the note in its place. It does not wait for the disk: a note that is a
// few lines behind still stands for the lines that it names.
func (w Witness) write(path string) error {
	b, err := json.Marshal(w)
	if err != nil {
		return err
	}
	for len(b)%witnessBlock != witnessBlock-1 {
		b = append(b, ' ')
	}
	b = append(b, '\n')
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE, 0o600)
	if errors.Is(err, fs.ErrNotExist) {
		if err = os.MkdirAll(filepath.Dir(path), 0o700); err == nil {
			f, err = os.OpenFile(path, os.O_WRONLY|os.O_CREATE, 0o600)
		}
	}
	if err != nil {
		return err
	}
	_, err = f.WriteAt(b, 0)
	return errors.Join(err, f.Close())
}

// hearing is a witness against a journal while its lines go by.
type hearing struct {
	Witness
	found bool
}

func (h *hearing) line(r Record) {
	if r.Seq == h.Lines {
		h.found = r.Hash == h.Head
	}
}
