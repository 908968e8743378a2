package web

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/book"
	"tared/session/recipebook"
	"tared/session/stock"
)

// manyBook is a record of so many batches; it counts the rows that it made.
type manyBook struct {
	fakeBook
	count int
	rows  *int
	asked *[]string
}

func (b manyBook) Batches(_ context.Context, find string, order book.Order, first, most int) (rows []book.Row, all int, err error) {
	*b.asked = append(*b.asked, fmt.Sprint(find, " ", order, " ", first, " ", most))
	all = b.count
	if find != "" {
		all /= 10
	}
	for i := first; i < min(first+most, all); i++ {
		r := rowB()
		r.Mark = fmt.Sprintf("b%05d", b.count-i)
		r.Started = r.Started.Add(-time.Duration(i) * 5 * time.Hour)
		rows = append(rows, r)
	}
	*b.rows += len(rows)
	return rows, all, nil
}

func (b manyBook) Batch(_ context.Context, mark string) (book.Made, error) {
	return book.Made{Row: book.Row{Mark: mark, Title: "Tidewrack"}, Recipe: tidewrack}, nil
}

func newManyBook(count int) manyBook {
	return manyBook{count: count, rows: new(int), asked: new([]string)}
}

// manyLots is a bench with so many lots in stock, of which every tenth is empty.
type manyLots struct {
	*fakeBench
	count int
}

func (b manyLots) LotsAndRecipes(context.Context) (lots []stock.Lot, kept []recipebook.Recipe, err error) {
	names := []string{"Quartz", "Nepheline syenite", "Whiting", "Ball clay", "Copper carbonate"}
	for i := range b.count {
		l := stock.Lot{Mark: fmt.Sprintf("L%d", i+1), Material: names[i%len(names)], Supplier: fmt.Sprintf("delivery %d", i/7), Came: 25_000 * protocol.Gram, Left: protocol.Mass(i%10) * 1234 * protocol.Gram}
		l.Entries = []stock.Entry{{Seq: uint64(i), By: "Mara", Field: "amount", Old: "25000", New: "24999", Reason: "counted"}}
		lots = append(lots, l)
	}
	return lots, nil, nil
}

// However long the record is, the page of the book gets the rows that it shows and no more,
// in each order; what lies further on is a touch away, and what was chosen to compare stays.
func TestTheBookIsReadInLeaves(t *testing.T) {
	ctx := tab(t)
	for _, count := range []int{50, 2000} {
		many := newManyBook(count)
		address, _ := served(t, func(c *Config) { c.Book = many })
		for _, sz := range sizes {
			resize(t, ctx, sz)
			visit(t, ctx, address+"/book")
			until(t, ctx, ready)
			assert.Equal(t, 50, eval[int](t, ctx, `document.querySelectorAll("#rows tr").length`))
			shot(t, ctx, fmt.Sprintf("book-%d-%s", count, sz), false)
			assert.Equal(t, count > 50, eval[bool](t, ctx, `document.querySelector(".leaves") !== null`))
			assert.Empty(t, eval[[]string](t, ctx, layout), sz)
		}
	}
	many := newManyBook(2000)
	address, _ := served(t, func(c *Config) { c.Book = many })
	visit(t, ctx, address+"/book")
	*many.rows, *many.asked = 0, nil
	choose := func(value string) {
		eval[bool](t, ctx, `(() => { const s = document.getElementById("sort"); s.value = "`+value+`"; return s.dispatchEvent(new Event("input", { bubbles: true })); })()`)
		until(t, ctx, `location.search.includes("sort=`+value+`")`)
	}
	press(t, ctx, `document.querySelector("#rows input")`)
	choose("off")
	until(t, ctx, `document.querySelector(".leaves [rel=next]").href.includes("sort=off")`)
	assert.Equal(t, []string{" off 0 50"}, *many.asked)
	for leaf := 2; leaf <= 4; leaf++ {
		press(t, ctx, `document.querySelector(".leaves [rel=next]")`)
		until(t, ctx, fmt.Sprintf(`document.querySelector(".leaves").textContent.includes("%d to %d of 2000")`, leaf*50-49, leaf*50))
	}
	press(t, ctx, `document.querySelector("#rows input")`)
	require.Equal(t, []string{"b02000", "b01850"}, eval[[]string](t, ctx, `[...document.querySelectorAll("#tray button")].map((b) => b.textContent.slice(0, 6))`))
	// The tray is in sight, wherever on the page somebody is.
	for _, sz := range sizes {
		resize(t, ctx, sz)
		eval[bool](t, ctx, `scrollTo(0, 0), true`)
		settle(t, ctx)
		assert.True(t, eval[bool](t, ctx, `(() => { const r = document.getElementById("compare").getBoundingClientRect(); return r.top > 0 && r.bottom <= innerHeight; })()`), sz)
		shot(t, ctx, "book-tray-"+sz.String(), false)
	}
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#find"), "quartz")))
	until(t, ctx, `document.querySelector(".leaves").textContent.includes("1 to 50 of 200")`)
	assert.LessOrEqual(t, *many.rows, 6*50, "what is drawn is what is made")
	press(t, ctx, `document.getElementById("compare")`)
	until(t, ctx, `location.pathname === "/compare"`)
	assert.Equal(t, []string{"b02000", "b01850"}, eval[[]string](t, ctx, `new URLSearchParams(location.search).getAll("mark")`))
}

// A leaf behind the last one is the last; one that is no number is the first. An order that
// there is not is the usual one.
func TestALeafThatIsNotThere(t *testing.T) {
	many := newManyBook(120)
	s, _ := newServer(t, func(c *Config) { c.Book = many })
	for path, says := range map[string]string{"/book?leaf=99": "101 to 120 of 120", "/book?leaf=x": "1 to 50 of 120", "/book?leaf=-3&sort=colour": "1 to 50 of 120", "/book?leaf=2&find=&sort=off": "51 to 100 of 120"} {
		page := do(s, request("GET", path, "")).Body.String()
		assert.Contains(t, page, says, path)
	}
	assert.Contains(t, *many.asked, "  0 50")
	assert.NotContains(t, strings.Join(*many.asked, "\n"), "colour")
}

// Two hundred lots: bringing one in stands on top, the list is found in by typing, ordered,
// and a touch on a lot corrects that one.
func TestAFullStock(t *testing.T) {
	ctx, check := axeTab(t)
	address, _ := served(t, func(c *Config) { c.Bench = manyLots{c.Bench.(*fakeBench), 200} })
	rows := func() int { return eval[int](t, ctx, `document.querySelectorAll("#rows tr").length`) }
	for _, sz := range sizes {
		resize(t, ctx, sz)
		visit(t, ctx, address+"/stock")
		until(t, ctx, ready)
		assert.Equal(t, 50, rows())
		assert.True(t, eval[bool](t, ctx, `document.querySelector("#bring > summary").getBoundingClientRect().bottom < innerHeight`), sz)
		assert.Empty(t, eval[[]string](t, ctx, layout), sz)
		shot(t, ctx, "stock-200-"+sz.String(), false)
	}
	check("a full stock")
	assert.Contains(t, eval[string](t, ctx, `document.querySelector(".leaves").textContent`), "1 to 50 of 180")
	press(t, ctx, `document.getElementById("all")`)
	until(t, ctx, `document.querySelector(".leaves").textContent.includes("1 to 50 of 200")`)
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#find"), "copper")))
	until(t, ctx, `document.querySelectorAll("#rows tr").length === 40`)
	assert.Equal(t, 40, eval[int](t, ctx, `document.getElementById("c-lot").options.length`))
	press(t, ctx, `document.querySelector("#rows tr:nth-child(3) [data-lot]")`)
	until(t, ctx, `document.activeElement.id === "c-value"`)
	assert.Equal(t, "L15", eval[string](t, ctx, `document.getElementById("c-lot").value`))
	// The same without a script: the address names the lot.
	s, _ := newServer(t, func(c *Config) { c.Bench = manyLots{newFakeBench(), 200} })
	assert.Contains(t, do(s, request("GET", "/stock?lot=L191", "")).Body.String(), `<option value="L191" selected>`)
}

// The bench page reads the batches of the record once, and again when there is another or
// one stands otherwise.
func TestWhatWasWeighedIsReadOnce(t *testing.T) {
	many := newManyBook(500)
	s, _ := newServer(t, func(c *Config) { c.Book = &many })
	draw := func() { require.Equal(t, 200, do(s, request("GET", "/", "")).Code) }
	draw()
	require.Equal(t, 1+lookBack, *many.rows)
	for range 10 {
		draw()
	}
	assert.Equal(t, 11+lookBack, *many.rows)
	many.count++
	draw()
	assert.Equal(t, 12+2*lookBack, *many.rows)
}
