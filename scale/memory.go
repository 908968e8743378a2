package scale

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"

	"tared/protocol"
)

// Remembered is the setting with which a device was last understood.
type Remembered struct {
	Line   protocol.Line `json:"-"`
	Format string        `json:"format"`
	At     time.Time     `json:"at"`
}

type rememberedJSON struct {
	Baud    int       `json:"baud"`
	Framing string    `json:"framing"`
	Format  string    `json:"format"`
	At      time.Time `json:"at"`
}

// MarshalJSON writes the setting as people do, with framing "8N1".
func (r Remembered) MarshalJSON() ([]byte, error) {
	return json.Marshal(rememberedJSON{r.Line.Baud, frameText(r.Line), r.Format, r.At})
}

// UnmarshalJSON reads what MarshalJSON writes.
func (r *Remembered) UnmarshalJSON(b []byte) error {
	var j rememberedJSON
	if err := json.Unmarshal(b, &j); err != nil {
		return err
	}
	l, err := ParseFraming(j.Framing)
	if err != nil {
		return err
	}
	if l.Baud = j.Baud; l.Baud <= 0 {
		return fmt.Errorf("baud %d is not a speed", l.Baud)
	}
	l.Source = "remembered"
	*r = Remembered{l, j.Format, j.At}
	return nil
}

// Memory keeps the settings with which devices were last understood, in a small
// JSON file, so that the hunt begins with the right one. It is a convenience: a
// file that cannot be read or written costs some seconds of listening, and
// nothing that was weighed. Any goroutine may use it.
type Memory struct {
	path string
	mu   sync.Mutex
	by   map[string]Remembered
}

// OpenMemory reads the file at path. A file that is not there is an empty memory.
// One that cannot be read gives an empty memory together with the error.
func OpenMemory(path string) (*Memory, error) {
	m := &Memory{path: path, by: map[string]Remembered{}}
	b, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return m, nil
	}
	if err == nil {
		err = json.Unmarshal(b, &m.by)
	}
	if err != nil || m.by == nil {
		m.by = map[string]Remembered{}
	}
	if err != nil {
		err = fmt.Errorf("remembered line settings in %q: %w: they are found anew by listening; delete the file", path, err)
	}
	return m, err
}

// Recall gives the setting of a device; see Found.Key. A nil Memory knows none.
func (m *Memory) Recall(key string) (Remembered, bool) {
	if m == nil {
		return Remembered{}, false
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	r, ok := m.by[key]
	return r, ok
}

// Store remembers the setting of a device and writes the file when that is news.
// A nil Memory forgets it.
func (m *Memory) Store(key string, r Remembered) error {
	if m == nil {
		return nil
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if old, ok := m.by[key]; ok && sameLine(old.Line, r.Line) && old.Format == r.Format {
		return nil
	}
	m.by[key] = r
	b, err := json.MarshalIndent(m.by, "", "  ")
	if err != nil {
		return err
	}
	// A new file under a new name, so that a cut of power leaves the old one whole.
	f, err := os.CreateTemp(filepath.Dir(m.path), filepath.Base(m.path)+".*")
	if err != nil {
		return fmt.Errorf("remember line settings: %w", err)
	}
	_, err = f.Write(append(b, '\n'))
	err = errors.Join(err, f.Chmod(0o640), f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), m.path)
	}
	if err != nil {
		os.Remove(f.Name())
		return fmt.Errorf("remember line settings: %w", err)
	}
	return nil
}
