package text

import "context"

type readerKey struct{}

// With is a context of something that is done for a reader of a language.
func With(ctx context.Context, l *Language) context.Context {
	return context.WithValue(ctx, readerKey{}, l)
}

// From gives the language of the reader for whom something is done; nil, which says all in
// plain English, where nobody is known to read.
func From(ctx context.Context) *Language {
	l, _ := ctx.Value(readerKey{}).(*Language)
	return l
}
