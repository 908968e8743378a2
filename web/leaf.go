package web

import (
	"net/http"
	"net/url"
	"strconv"
)

// onLeaf is how many rows of a list a page shows. What a browser draws does not grow with
// the record; the rest is on further leaves.
const onLeaf = 50

// leaf is the part of a list that a page shows.
type leaf struct {
	Nth, Leaves  int    // from 1
	All          int    // rows there are
	First, Last  int    // of those on it, from 1
	Newer, Older string // addresses of the leaves beside it; empty: there is none
}

// turn opens the list at the leaf that is asked for; one behind the last is the last. List
// gives how many rows there are, and keeps those that it is asked for.
func (l *leaf) turn(r *http.Request, list func(first, most int) (all int, err error)) (err error) {
	l.Nth, _ = strconv.Atoi(r.FormValue("leaf"))
	l.Nth = max(1, l.Nth)
	if l.All, err = list((l.Nth-1)*onLeaf, onLeaf); err != nil {
		return err
	}
	l.Leaves = max(1, (l.All+onLeaf-1)/onLeaf)
	if l.Nth > l.Leaves {
		l.Nth = l.Leaves
		if l.All, err = list((l.Nth-1)*onLeaf, onLeaf); err != nil {
			return err
		}
	}
	l.First, l.Last = min((l.Nth-1)*onLeaf+1, l.All), min(l.Nth*onLeaf, l.All)
	q := r.URL.Query()
	if l.Nth > 1 {
		l.Newer = address(r.URL.Path, q, l.Nth-1)
	}
	if l.Nth < l.Leaves {
		l.Older = address(r.URL.Path, q, l.Nth+1)
	}
	return nil
}

func address(path string, q url.Values, nth int) string {
	q.Del("leaf")
	if nth > 1 {
		q.Set("leaf", strconv.Itoa(nth))
	}
	if len(q) == 0 {
		return path
	}
	return path + "?" + q.Encode()
}
