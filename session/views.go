package session

import (
	"slices"
	"sync"
	"time"

	"tared/session/text"
)

// Views holds the newest view for all who watch. The zero value shows nothing yet.
type Views struct {
	mu       sync.Mutex
	watchers []*Watcher // never changed, but made anew
	latest   *shownView
}

// shownView is a view that was shown. It is encoded where somebody wants it, and once for all
// who have the same one before it.
type shownView struct {
	*View
	news time.Time // when it was shown
	mu   sync.Mutex
	told []toldView
}

// toldView is a view in a language: what is not as in the one before it, or all of it.
type toldView struct {
	was  *View
	l    *text.Language
	json []byte
}

func (s *shownView) since(was *View, l *text.Language) []byte {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i := range s.told {
		if t := &s.told[i]; t.was == was && t.l == l {
			return t.json
		}
	}
	t := toldView{was: was, l: l}
	if was == nil {
		t.json = whole(s.View, l)
	} else {
		t.json = changes(was, s.View, l)
	}
	s.told = append(s.told, t)
	return t.json
}

// Watcher is one slot with the newest view.
type Watcher struct {
	news  func()
	views *Views
	l     *text.Language
	told  *View // by Next
}

// Show makes a view the newest one, and tells all who watch that it is there. Nobody may
// change anything in it afterwards.
func (v *Views) Show(view *View) {
	v.mu.Lock()
	v.set(view, time.Now())
	watchers := v.watchers
	v.mu.Unlock()
	for _, w := range watchers {
		if w.news != nil {
			w.news()
		}
	}
}

// Keep makes a view the newest one that is no news: who asks gets it, and nobody is woken.
func (v *Views) Keep(view *View) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.latest != nil {
		v.set(view, v.latest.news)
	}
}

func (v *Views) set(view *View, news time.Time) { v.latest = &shownView{View: view, news: news} }

// Watch gives a new watcher, who reads English; Close it. Whoever shows a view calls news behind it, unless
// it is nil; so it must not wait for anything. It may come once more after Close.
func (v *Views) Watch(news func()) *Watcher {
	w := &Watcher{news: news, views: v, l: text.English}
	v.mu.Lock()
	defer v.mu.Unlock()
	v.watchers = append(slices.Clip(v.watchers), w)
	return w
}

// In has the watcher read a language, before it is told anything.
func (w *Watcher) In(l *text.Language) *Watcher {
	w.l = l
	return w
}

// Watching tells how many watch.
func (v *Views) Watching() int {
	v.mu.Lock()
	defer v.mu.Unlock()
	return len(v.watchers)
}

func (v *Views) newest() *shownView {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.latest
}

// View gives the newest view; the zero View when there is none yet.
func (w *Watcher) View() View {
	if s := w.views.newest(); s != nil {
		return *s.View
	}
	return View{}
}

// Latest gives the newest view as JSON, nil when there is none yet. Nobody may change it.
func (w *Watcher) Latest() []byte {
	if s := w.views.newest(); s != nil {
		return s.since(nil, w.l)
	}
	return nil
}

// Next gives the newest view as JSON at first, and from then on what in the newest view is
// not as in the one that it gave before: {"set":{"now.in":"42.9",...}}. It is the same slice
// for all to whom the same is told in one language, and not to be changed. News is when the
// view was shown. With nothing new it gives nil. One goroutine at a time may call it.
func (w *Watcher) Next() (json []byte, news time.Time) {
	s := w.views.newest()
	if s == nil || s.View == w.told {
		return nil, time.Time{}
	}
	json = s.since(w.told, w.l)
	w.told = s.View
	return json, s.news
}

// Close ends the watching.
func (w *Watcher) Close() {
	w.views.mu.Lock()
	defer w.views.mu.Unlock()
	if i := slices.Index(w.views.watchers, w); i >= 0 {
		w.views.watchers = slices.Concat(w.views.watchers[:i], w.views.watchers[i+1:])
	}
}

// weights is what tells most views apart.
func (v *View) weights() (w [2]string) {
	for i := range min(len(w), len(v.Scales)) {
		w[i] = v.Scales[i].Shows
	}
	return w
}

// like reports whether two views are the same but for what changes with every line of a
// scale at rest.
func (v *View) like(o *View) bool {
	a, b := v.still(), o.still()
	return len(changes(&a, &b, nil)) == len(nothingSet)
}

func (v View) still() View {
	v.At, v.Seq, v.Scales = time.Time{}, 0, slices.Clone(v.Scales)
	for i := range v.Scales {
		v.Scales[i].At, v.Scales[i].Frames = time.Time{}, 0
	}
	return v
}
