// Package web is the page at the bench: it serves the pages, pushes every view
// of the session to whoever watches, and carries a person's words back. It
// decides nothing about weighing; what a verdict is, session knows.
//
// The words: a view is the whole of what may be shown (session.View); a watch
// is one browser's slot, which always holds the newest view; a beat is the
// small message that proves the line alive when no view is due; a code is the
// one-time word that pairs a browser, so that its commands are accepted.
//
// Where to start: Config and Server in server.go; the way of a view to the
// browser in live.go; the doors and their locks in guard.go and pair.go; the
// requests in api.go. The pages are plain files in page/, embedded; page/live.js
// is the other end of live.go, page/logic.js decides what a view looks like.
package web
