// Package web is the page at the bench: it serves the pages, pushes every view
// of the session to whoever watches, and carries a person's words back. It
// decides nothing about weighing; what a verdict is, session knows.
//
// The words: a view is the whole of what may be shown (session.View); a watch
// is one browser's slot, which always holds the newest view, and which is told at
// first the whole of it and then what changed; a beat is the
// small message that proves the line alive when no view is due; a code is the
// one-time word that pairs a browser, so that its commands are accepted.
//
// Where to start: bench.go has all that the pages need of the weighing and of the
// record, table.go every page, routes.go everything else that can be asked for;
// Config is in config.go and Server in server.go. The way of a view to the browser
// is live.go, the doors and their locks are guard.go and caller.go; who comes in is package device.
//
// A page is three files in page/, embedded, and its entry in table.go. The server
// draws it (page.go), in words of session/text, and sends it with its style in it and
// its scripts as one (bundle.go); a script only fills in what changes
// while it is open. page/live.js is the other end of live.go. No script works out an
// amount, and no sentence stands in one: page_test.go holds that.
package web
