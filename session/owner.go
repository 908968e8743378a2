package session

import (
	"crypto/sha256"
	"path/filepath"

	"tared/session/fact"
	"tared/session/journal"
	"tared/session/signer"
	"tared/session/text"
)

// Owner is who keeps a journal.
type Owner struct {
	Dir     string // of the key
	Sign    string // that a person chose, as signer.ReadSign gives it; empty: it stays, or is ours
	Version string // of the program
	Warn    func(error)
}

// Own has a bench keep the journal that was opened: what its first line must say of the
// bench is added to Begin. Warn is told why nothing is signed, or why a sign is not taken;
// the bench goes on all the same.
func (p *Past) Own(o Owner) {
	if err := p.own(o); err != nil {
		o.Warn(err)
	}
}

func (p *Past) own(o Owner) error {
	k, err := signer.Open(o.Dir)
	if err != nil {
		return err
	}
	e, id := &p.epochs, k.ID()
	if p.Begin == nil && e.bench != "" && e.bench != id && !k.New {
		return text.Fault("signer.foreign", text.Name("file", filepath.Join(o.Dir, signer.Name)), text.Name("is", signer.Short(id)), text.Name("was", signer.Short(e.bench)))
	}
	p.Key = k
	sign := e.sign
	if e.bench != id {
		sign = signer.Own(id, func(sign string) bool { return e.taken(sign, id) })
	}
	if o.Sign != "" && e.taken(o.Sign, id) {
		err = text.Refuse("signer.taken", text.Name("sign", o.Sign), text.Name("bench", signer.Short(e.signs[o.Sign])), text.Name("now", sign))
	} else if o.Sign != "" {
		sign = o.Sign
	}
	if p.Begin == nil {
		why := ""
		switch {
		case e.bench == "":
			why = fact.BeganNamed
		case e.bench != id:
			why = fact.BeganKey
		case e.sign != sign:
			why = fact.BeganSign
		default:
			return err
		}
		p.Begin = e.next(why, p.Book.Place())
	}
	p.Begin.Bench, p.Begin.Key, p.Begin.Sign, p.Begin.Version = id, k.Public(), sign, o.Version
	return err
}

// signature is what a bench records of the line that closed a batch.
func signature(k *signer.Key, line []byte) (mark string, body fact.Signed, err error) {
	f, _, err := fact.Decode(line)
	hash := journal.Hash(sha256.Sum256(line))
	return f.Batch, fact.Signed{Of: f.Seq, Hash: hash.String(), Key: k.Public(), Signature: k.Sign(line)}, err
}

// sign records the signature of the line that closed a batch, a line of its own: one of
// those that were written just now, or one that was left. Should that fail, recording has
// stopped, and the next start signs.
func (b *Bench) sign(facts []fact.Fact, lines [][]byte) {
	for i, f := range facts {
		if _, closes := f.Body.(fact.Finished); closes {
			b.closed = lines[i]
		}
	}
	if b.key == nil || b.closed == nil || b.begins != nil {
		return
	}
	mark, body, err := signature(b.key, b.closed)
	if b.closed = nil; err == nil { // we wrote it, or understood it at the start
		t := change{s: b.s, at: b.cfg.Now()}
		t.put(mark, "tared", body)
		_ = b.write(t.s, t.facts)
	}
}
