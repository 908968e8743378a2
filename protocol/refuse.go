package protocol

// refusal is the reason why a frame became no reading. It stands on ErrForeign
// or ErrDamaged, so that a caller can tell them apart with errors.Is.
type refusal struct {
	kind error
	why  string
}

func (r *refusal) Error() string { return r.kind.Error() + ": " + r.why }
func (r *refusal) Unwrap() error { return r.kind }

// damaged refuses a frame that is this format's but cut, corrupted or
// impossible. It allocates, which is fine: only refused frames pay for it.
func damaged(why string) error { return &refusal{ErrDamaged, why} }

// foreign refuses a frame that is not this format's, and says what was missed.
func foreign(why string) error { return &refusal{ErrForeign, why} }
