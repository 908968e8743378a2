package session

import "sync"

// Views holds the newest view, encoded once for all who watch. The zero value shows
// nothing yet.
type Views struct {
	mu       sync.Mutex
	watchers map[*Watcher]struct{}
	latest   []byte
}

// Watcher is one slot with the newest view.
type Watcher struct {
	// C gets a token when a newer view is there; it never blocks the bench.
	C     <-chan struct{}
	c     chan struct{}
	views *Views
}

// Show makes an encoded view the newest one. It waits for no watcher. Nobody may
// change the bytes afterwards.
func (v *Views) Show(view []byte) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.latest = view
	for w := range v.watchers {
		select {
		case w.c <- struct{}{}:
		default: // it has a token already, and will find this view
		}
	}
}

// Watch gives a new watcher; Close it.
func (v *Views) Watch() *Watcher {
	c := make(chan struct{}, 1)
	c <- struct{}{} // the newest view is there at once
	w := &Watcher{C: c, c: c, views: v}
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.watchers == nil {
		v.watchers = map[*Watcher]struct{}{}
	}
	v.watchers[w] = struct{}{}
	return w
}

// Watching tells how many watch.
func (v *Views) Watching() int {
	v.mu.Lock()
	defer v.mu.Unlock()
	return len(v.watchers)
}

// Latest gives the newest view as JSON, nil when there is none yet. The same view is
// the same slice for every watcher, and not to be changed.
func (w *Watcher) Latest() []byte {
	w.views.mu.Lock()
	defer w.views.mu.Unlock()
	return w.views.latest
}

// Close ends the watching.
func (w *Watcher) Close() {
	w.views.mu.Lock()
	defer w.views.mu.Unlock()
	delete(w.views.watchers, w)
}
