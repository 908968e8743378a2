package book

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/json"
	"io"
	"math/big"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/journal"
)

// indexOf reads a journal into an index.
func indexOf(t testing.TB, lines []byte) *Index {
	t.Helper()
	x := NewIndex(bytes.NewReader(lines))
	_, err := journal.Scan(bytes.NewReader(lines), func(r journal.Record) error { x.Add(r); return nil })
	require.NoError(t, err)
	return x
}

func asJSON(t require.TestingT, v any) string {
	j, err := json.Marshal(v)
	require.NoError(t, err)
	return string(j)
}

// same holds all that an index tells against a book that was given every line.
func same(t require.TestingT, want *Book, x *Index) {
	require.Equal(t, len(want.batches), x.Len())
	rows, all, err := x.Search(Query{}, 0, x.Len())
	require.NoError(t, err)
	require.Equal(t, x.Len(), all)
	for i, n := range want.batches {
		require.Equal(t, asJSON(t, n.Row()), asJSON(t, rows[x.Len()-1-i]), n.Mark)
	}
	i := 0
	for n, err := range x.All() {
		require.NoError(t, err)
		require.Equal(t, asJSON(t, want.batches[i].Made()), asJSON(t, n.Made()), n.Mark)
		require.Equal(t, asJSON(t, want.batches[i].After(morning, nil)), asJSON(t, n.After(morning, nil)), n.Mark)
		i++
	}
	for _, n := range want.batches {
		found, err := x.Find(strings.ToUpper(n.Mark))
		require.NoError(t, err)
		require.Equal(t, asJSON(t, want.Find(n.Mark).Made()), asJSON(t, found.Made()))
		require.Equal(t, slices.Index(want.batches, want.Find(n.Mark))+1, x.Number(n.Mark), "on its label")
		ws, wok := want.Series(n.Mark)
		gs, gok, err := x.Series(n.Mark)
		require.NoError(t, err)
		require.Equal(t, wok, gok)
		require.Equal(t, asJSON(t, ws), asJSON(t, gs))
	}
}

func TestIndexTellsWhatAFullReadingTells(t *testing.T) {
	for _, pattern := range []string{"../../testdata/kept/*.jsonl", "../../testdata/journals/whole.jsonl", "../../cmd/tared/testdata/journal-*.jsonl"} {
		files, err := filepath.Glob(pattern)
		require.NoError(t, err)
		require.NotEmpty(t, files)
		for _, file := range files {
			t.Run(filepath.Base(file), func(t *testing.T) {
				b, err := os.ReadFile(file)
				require.NoError(t, err)
				same(t, bookOf(t, file), indexOf(t, b))
			})
		}
	}
}

// growing is a journal that grows, and the index that follows it.
type growing struct {
	lines []byte
	seq   uint64
	book  Book
	x     *Index
}

func (g *growing) ReadAt(b []byte, off int64) (int, error) {
	return bytes.NewReader(g.lines).ReadAt(b, off)
}

func (g *growing) put(t require.TestingT, batch, by string, body fact.Body) {
	g.seq++
	at := len(g.lines)
	g.lines = chained(g.lines, fact.Fact{Seq: g.seq, At: morning.Add(time.Duration(g.seq) * time.Minute), Batch: batch, By: by, Body: body})
	require.NoError(t, journal.Piece(g.lines[at:], func(r journal.Record) error {
		f, err := Fact(r)
		g.book.Add(f, r.Hash)
		g.x.Add(r)
		return err
	}))
}

// anyLine puts a line that a bench could write, or that it never would.
func (g *growing) anyLine(t *rapid.T) {
	pick := func(from ...string) string { return rapid.SampledFrom(from).Draw(t, "text") }
	mass := func() protocol.Mass { return protocol.Mass(rapid.Int64Range(0, int64(gramsOf("60"))).Draw(t, "mass")) }
	batch, by, material := pick("a", "A", "b", "a-1", "a-2", "b-1", ""), pick("Mara", "Ilse", "scale"), pick("Quartz", "quartz", "Whiting", "Chromium oxide")
	of := uint64(rapid.Uint64Range(1, g.seq+1).Draw(t, "of"))
	switch pick("planned", "cup", "portion", "portion", "portion", "amended", "finished", "checked", "decided", "noted", "judged", "watered", "enlarged", "other") {
	case "planned":
		p := fact.Planned{Title: pick("Tidewrack", "Grotto"), Recipe: pick("Quartz 40", "Whiting 60"), Base: gramsOf("100"), Dry: gramsOf("102"), Scales: []fact.Scale{{Name: pick("bench", "fine"), Step: gramsOf("0.1")}}, Again: pick("", "a")}
		for _, l := range []string{"Quartz", "Whiting"} {
			p.Lines = append(p.Lines, fact.Line{Material: l, Role: "base", Share: "50", Target: gramsOf("50"), Low: gramsOf("49.5"), High: gramsOf("50.5"), Scale: "bench"})
		}
		p.Lines = append(p.Lines, fact.Line{Material: "Chromium oxide", Role: "strong", Share: "2", Target: gramsOf("2"), Low: gramsOf("1.9"), High: gramsOf("2.1"), Scale: "bench"})
		p.Series.Cups = rapid.Uint64Range(0, 2).Draw(t, "cups")
		if p.Series.Cups > 0 {
			p.Series.Plans = []fact.CupPlan{{Label: "one", Lines: p.Lines[2:]}, {Label: "two", Lines: p.Lines[2:]}}
		}
		g.put(t, batch, by, p)
	case "cup":
		tub := pick("a", "B", "nowhere")
		cup := rapid.Uint64Range(1, 2).Draw(t, "cup")
		lines := []fact.Line{{Material: "Quartz", Role: "base", Share: "50", Target: gramsOf("10"), Low: gramsOf("9"), High: gramsOf("11")}, {Material: "Whiting", Role: "base", Share: "50", Target: gramsOf("10"), Low: gramsOf("9"), High: gramsOf("11")}}
		g.put(t, batch, by, fact.Planned{Title: "cup", Lines: lines, Scales: []fact.Scale{{Name: "bench"}}, Series: fact.Series{Of: tub, Cup: cup, Cups: 2},
			Mixes: []fact.Mix{{From: tub, Take: fact.Line{Material: "common", Target: gramsOf("20"), Low: gramsOf("19"), High: gramsOf("21")}, Parts: []fact.MixPart{{Material: "Quartz", Mass: gramsOf("50")}, {Material: "Whiting", Mass: gramsOf("50")}}}}})
	case "portion":
		g.put(t, batch, by, fact.Portion{Material: pick(material, "common"), As: pick("", "", "Potash feldspar"), Delivered: mass(), U: gramsOf("0.1"), Step: gramsOf("0.1"), How: "tipped", Words: pick("", "damp")})
	case "amended":
		g.put(t, batch, by, fact.Amended{Of: of, Material: material, Is: mass(), Void: rapid.Bool().Draw(t, "void"), Reason: pick("swapped", "misread")})
	case "finished":
		g.put(t, batch, by, fact.Finished{Abandoned: rapid.Bool().Draw(t, "early")})
	case "checked":
		g.put(t, pick("", batch), by, fact.Checked{Scale: pick("bench", "fine"), Pass: rapid.Bool().Draw(t, "pass")})
	case "decided":
		g.put(t, batch, by, fact.Decided{Question: pick("material", "operator", "confirm"), Answer: pick("skip", "Jonas"), Material: material, With: pick("", "Petra")})
	case "noted":
		g.put(t, batch, by, fact.Noted{Text: pick("the whiting was damp", "pinholes")})
	case "judged":
		g.put(t, batch, by, fact.Judged{Tile: pick("KD-A", "KD-B"), Tags: []string{pick("matt", "Gloss")}})
	case "watered":
		g.put(t, batch, by, fact.Watered{Words: pick("thick", "thin")})
	case "enlarged":
		g.put(t, batch, by, fact.Enlarged{Because: "Quartz", Factor: "11/10", Base: gramsOf("110"), Dry: gramsOf("112"), Lines: []fact.Line{{Material: "Quartz", Role: "base", Share: "50", Target: gramsOf("55"), Low: gramsOf("54"), High: gramsOf("56")}}})
	default:
		g.put(t, batch, by, rapid.SampledFrom([]fact.Body{fact.Reminded{Answer: "yes"}, fact.Tared{Scale: "bench"}, fact.Lifted{Material: "Quartz"}, fact.Lost{Scale: "bench"}, fact.Paused{}, fact.Resumed{}, fact.Stocked{Lot: "L1"}}).Draw(t, "other"))
	}
}

func gramsOf(s string) protocol.Mass { return g(s) }

// found is what a search is: every word somewhere in what the batch says of itself.
func found(b *Book, q Query) (marks []string) {
	has := func(s, part string) bool { return strings.Contains(strings.ToLower(s), strings.ToLower(part)) }
	for _, n := range slices.Backward(b.batches) {
		ok := has(n.Mark, q.Mark) && has(n.Title, q.Title) && has(n.By, q.By) && strings.HasPrefix(n.Started.Format("2006-01-02"), q.Date)
		ok = ok && (q.Tag == "" || slices.Contains(n.tags, q.Tag))
		for _, w := range q.Text {
			ok = ok && (has(n.Mark, w) || slices.ContainsFunc(n.texts, func(s string) bool { return has(s, w) }))
		}
		base, onBase := protocol.Mass(0), batch.Bases(n.Lines)
		for i, m := range n.Materials() {
			if onBase[i] && n.Finished {
				base += m.In.Dry()
			}
		}
		named := func(m batch.Material, part string) bool { return has(m.Line.Material, part) || has(m.In.As, part) }
		if q.Material != "" {
			ok = ok && slices.ContainsFunc(n.Materials(), func(m batch.Material) bool { return named(m, q.Material) })
		}
		for _, w := range q.Amounts {
			ok = ok && slices.ContainsFunc(n.Materials(), func(m batch.Material) bool {
				if m.Portions == 0 || !named(m, w.Material) || w.Share != nil && base <= 0 {
					return false
				}
				c := cmp.Compare(m.In.Delivered, w.Mass)
				if w.Share != nil {
					share := big.NewRat(int64(m.In.Dry()), int64(base))
					c = share.Mul(share, big.NewRat(100, 1)).Cmp(w.Share)
				}
				return c > 0 && strings.HasPrefix(w.Is, ">") || c < 0 && strings.HasPrefix(w.Is, "<") || c == 0 && strings.HasSuffix(w.Is, "=")
			})
		}
		if ok {
			marks = append(marks, n.Mark)
		}
	}
	return marks
}

// Whatever lines come, in whatever order, and whenever somebody looks, writes the index
// down and reads it again: it tells what a book tells that was given every line.
func TestIndexOfAnyJournal(t *testing.T) {
	queries := []string{"", "damp", "mara quartz", "by:ilse", "tag:matt", "title:grotto date:2026-11", "mark:a", "material:feldspar", "quartz > 20g", "chromium > 1.5%", "quartz <= 45%", "whiting = 0g", "jonas", "swapped pinholes"}
	rapid.Check(t, func(t *rapid.T) {
		g := &growing{}
		g.x = NewIndex(g)
		for range rapid.IntRange(1, 60).Draw(t, "lines") {
			g.anyLine(t)
			switch rapid.IntRange(0, 12).Draw(t, "look") {
			case 0:
				q, err := ParseQuery(rapid.SampledFrom(queries).Draw(t, "query"))
				require.NoError(t, err)
				rows, all, err := g.x.Search(q, 0, 1000)
				require.NoError(t, err)
				var marks []string
				for _, r := range rows {
					marks = append(marks, r.Mark)
				}
				require.Equal(t, found(&g.book, q), marks, "%+v", q)
				first := rapid.IntRange(0, all).Draw(t, "first")
				page, again, err := g.x.Search(q, first, 2)
				require.NoError(t, err)
				require.Equal(t, all, again)
				require.Equal(t, asJSON(t, append([]Row{}, rows[first:min(first+2, all)]...)), asJSON(t, append([]Row{}, page...)))
				q.Order = rapid.SampledFrom([]Order{Oldest, ByRecipe, ByPerson, MostOff}).Draw(t, "order")
				switch q.Order {
				case Oldest:
					slices.Reverse(rows)
				case ByRecipe:
					slices.SortStableFunc(rows, func(a, b Row) int { return strings.Compare(strings.ToLower(a.Title), strings.ToLower(b.Title)) })
				case ByPerson:
					slices.SortStableFunc(rows, func(a, b Row) int { return strings.Compare(strings.ToLower(a.By), strings.ToLower(b.By)) })
				case MostOff:
					slices.SortStableFunc(rows, func(a, b Row) int { return b.Off + b.Cannot - a.Off - a.Cannot })
				}
				page, again, err = g.x.Search(q, first, 2)
				require.NoError(t, err)
				require.Equal(t, all, again)
				require.Equal(t, asJSON(t, append([]Row{}, rows[first:min(first+2, all)]...)), asJSON(t, append([]Row{}, page...)), "%s", q.Order)
			case 1:
				x, with := unsealed(g, "this", sealed(t, g.x, []byte("with")))
				require.NotNil(t, x)
				require.Equal(t, "with", string(with))
				require.Equal(t, g.x.Place(), x.Place())
				g.x = x
			case 2:
				g.x.Digest(3)
			}
		}
		same(t, &g.book, g.x)
	})
}

func sealed(t require.TestingT, x *Index, with []byte) []byte {
	var b bytes.Buffer
	require.NoError(t, x.Seal(&b, "this", with))
	return b.Bytes()
}

func unsealed(file io.ReaderAt, by string, b []byte) (*Index, []byte) {
	return Unseal(file, by, io.NewSectionReader(bytes.NewReader(b), 0, int64(len(b))), len(b)%3 > 0)
}

// A sealed index that was cut or changed anywhere is no index.
func TestASealHoldsOrNothingDoes(t *testing.T) {
	b, err := os.ReadFile("../../testdata/kept/series-corrected.jsonl")
	require.NoError(t, err)
	x := indexOf(t, b)
	x.Digest(100)
	sealed := sealed(t, x, []byte("with"))
	for n := range sealed {
		cut, _ := unsealed(bytes.NewReader(b), "this", sealed[:n])
		require.Nil(t, cut, n)
		changed := bytes.Clone(sealed)
		changed[n] ^= 1 << (n % 8)
		cut, _ = unsealed(bytes.NewReader(b), "this", changed)
		require.Nil(t, cut, n)
	}
	other, _ := unsealed(bytes.NewReader(b), "another", sealed)
	require.Nil(t, other, "another program may tell a batch otherwise")
}

// Whatever stands behind a good seal, nothing worse comes of it than an error.
func TestWhateverIsSealed(t *testing.T) {
	b, err := os.ReadFile("../../testdata/kept/series-corrected.jsonl")
	require.NoError(t, err)
	x := indexOf(t, b)
	x.Digest(100)
	sealed := sealed(t, x, nil)
	inside, used := sealed[len(sealHead):len(sealed)-sha256.Size], 0
	for range 1000 {
		all := append([]byte(sealHead), inside...)
		for range 1 + rand.IntN(4) {
			k := len(sealHead) + rand.IntN(len(all)-len(sealHead))
			switch c := byte(rand.IntN(256)); rand.IntN(3) {
			case 0:
				all[k] = c
			case 1:
				all = slices.Delete(all, k, min(len(all), k+rand.IntN(20)))
			default:
				all = slices.Insert(all, k, c)
			}
		}
		sum := sha256.Sum256(all)
		x, _ := unsealed(bytes.NewReader(b), "this", append(all, sum[:]...))
		if x == nil {
			continue
		}
		used++
		rows, _, _ := x.Search(Query{Text: []string{"quartz"}}, 0, 10)
		_, _, _ = x.Search(Query{}, 0, 10)
		for _, r := range rows {
			_, _ = x.Find(r.Mark)
			_, _, _ = x.Series(r.Mark)
		}
	}
	require.NotZero(t, used)
}

// While one reads the journal, others look at the index and it grows: nobody waits for
// the disk of another, and a row that was made of fewer lines than there are by then is
// not kept.
func TestNobodyWaitsWhileTheJournalIsRead(t *testing.T) {
	b, err := os.ReadFile("../../testdata/kept/series.jsonl")
	require.NoError(t, err)
	lines := slices.Collect(bytes.Lines(b))
	x := indexOf(t, bytes.Join(lines[:len(lines)-1], nil))
	mark := x.Mark(x.Len())
	held, on := make(chan struct{}), make(chan struct{})
	var begun atomic.Bool
	x.file = waiting{bytes.NewReader(b), func() {
		if begun.CompareAndSwap(false, true) {
			close(held)
			<-on
		}
	}}
	first := make(chan error)
	go func() {
		_, _, err := x.Search(Query{}, 0, 1)
		first <- err
	}()
	<-held
	_, err = x.Find(mark) // the first reading alone is held up
	require.NoError(t, err)
	_, _, err = x.Series(mark)
	require.NoError(t, err)
	require.NoError(t, x.Seal(io.Discard, "this", nil))
	rows, _, err := x.SearchMade(Query{Text: []string{"quartz"}}, 0, 10)
	require.NoError(t, err)
	require.Empty(t, rows, "none is made yet")
	require.NoError(t, x.AddLines(lines[len(lines)-1:]))
	close(on)
	require.NoError(t, <-first)
	made, _ := x.Made()
	require.Zero(t, made, "it was made of fewer lines than there are")
	for x.Digest(1) {
	}
	made, all := x.Made()
	require.Equal(t, all, made)
	same(t, bookOf(t, "../../testdata/kept/series.jsonl"), x)
}

type waiting struct {
	io.ReaderAt
	before func()
}

func (w waiting) ReadAt(b []byte, off int64) (int, error) {
	w.before()
	return w.ReaderAt.ReadAt(b, off)
}

// What a list shows of batches that stand still is read once, and of a batch that is not
// there nothing is.
func TestReadingIsDoneOnce(t *testing.T) {
	b, err := os.ReadFile("../../testdata/kept/series.jsonl")
	require.NoError(t, err)
	x, n := indexOf(t, b), 0
	x.file = counting{x.file, &n}
	_, all, err := x.Search(Query{}, 0, 2)
	require.NoError(t, err)
	require.Greater(t, all, 2)
	first := n
	require.NotZero(t, first)
	_, _, err = x.Search(Query{}, 0, 2)
	require.NoError(t, err)
	_, err = x.Find("nobody")
	require.ErrorIs(t, err, ErrNoBatch)
	require.Equal(t, first, n)
}

type counting struct {
	io.ReaderAt
	n *int
}

func (c counting) ReadAt(b []byte, off int64) (int, error) {
	*c.n++
	return c.ReaderAt.ReadAt(b, off)
}

// To open a batch, or a few, costs the reading of their own lines, of their tubs and of the
// checks beside them, however long the journal is.
func TestABatchCostsItsOwnLines(t *testing.T) {
	for _, file := range []string{"../../testdata/kept/series.jsonl", "../../testdata/kept/series-corrected.jsonl", "../../testdata/journals/whole.jsonl"} {
		b, err := os.ReadFile(file)
		require.NoError(t, err)
		x, checks, of := indexOf(t, b), 0, map[string]int{}
		for line := range bytes.Lines(b) {
			f, _, err := fact.Decode(line)
			require.NoError(t, err)
			of[f.Batch] += len(line)
			if _, check := f.Body.(fact.Checked); check {
				checks += len(line)
			}
		}
		n := 0
		x.file = bytesRead{x.file, &n}
		cost := func(marks ...string) (most int) {
			for _, m := range marks {
				most += of[m] + checks
				if tub, cup := batch.TubMark(m); cup {
					most += of[tub] + checks
				}
			}
			return most
		}
		var all []string
		for mark := range x.Marks() {
			n = 0
			_, err := x.Find(mark)
			require.NoError(t, err)
			require.LessOrEqual(t, n, cost(mark), "%s of %s", mark, file)
			all = append(all, mark)
		}
		few := all[:min(2, len(all))]
		n = 0
		_, err = x.FindAll(few...)
		require.NoError(t, err)
		require.LessOrEqual(t, n, cost(few...))
		n = 0
		_, _, err = x.SearchMade(Query{Text: []string{"quartz"}}, 0, 10)
		require.NoError(t, err)
		require.Zero(t, n, "a search among what was made")
	}
}

type bytesRead struct {
	io.ReaderAt
	n *int
}

func (w bytesRead) ReadAt(b []byte, off int64) (int, error) {
	*w.n += len(b)
	return w.ReaderAt.ReadAt(b, off)
}

// A line that is not the one that was read is refused, wherever it stands.
func TestAChangedLineIsRefused(t *testing.T) {
	b, err := os.ReadFile("../../testdata/journals/whole.jsonl")
	require.NoError(t, err)
	for at := range b {
		if at%7 != 0 {
			continue
		}
		x := indexOf(t, b)
		changed := bytes.Clone(b)
		changed[at] ^= 1
		x.file = bytes.NewReader(changed)
		refused := 0
		for mark := range x.Marks() {
			if n, err := x.Find(mark); err != nil {
				require.ErrorIs(t, err, ErrChanged)
				refused++
			} else {
				require.NotNil(t, n)
			}
		}
		require.LessOrEqual(t, refused, x.Len())
		from := bytes.LastIndexByte(b[:at], '\n') + 1
		to := from + bytes.IndexByte(b[from:], '\n') + 1
		require.NoError(t, journal.Piece(b[from:to], func(r journal.Record) error {
			if x.Number(r.Batch) > 0 {
				require.NotZero(t, refused, at)
			}
			return nil
		}))
	}
}
