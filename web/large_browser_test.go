package web

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A recipe of 25 materials and a series of 12 cups stay easy: after the key that makes the
// sheet, the start is in sight at each size, and nothing is cut.
func TestLargeSheetsKeepTheStartInSight(t *testing.T) {
	ctx := tab(t)
	bench := realBench(t)
	address, _ := served(t, func(c *Config) { c.Bench = bench })
	var many strings.Builder
	many.WriteString("# Everything on the shelf (invented)\n")
	for _, name := range []string{"Potash feldspar", "Soda feldspar", "Nepheline syenite", "Quartz", "Whiting", "Ball clay", "Kaolin", "Zinc oxide", "Talc", "Dolomite", "Wollastonite", "Bentonite", "Bone ash", "Strontium carbonate", "Magnesium carbonate", "Lithium carbonate", "Barium carbonate"} {
		fmt.Fprintf(&many, "%s 5\n", name)
	}
	for _, name := range []string{"Tin oxide", "Rutile", "Red iron oxide", "Copper carbonate", "Cobalt carbonate", "Manganese dioxide", "Chromium oxide", "Titanium dioxide"} {
		fmt.Fprintf(&many, "+ %s 1\n", name)
	}
	for _, sz := range append(sizes, size{844, 390}, size{1180, 820}) {
		resize(t, ctx, sz)
		for _, series := range []bool{false, true} {
			visit(t, ctx, address+"/sheet")
			until(t, ctx, ready)
			if series {
				eval[bool](t, ctx, `document.querySelector("input[value=series]").click(), recipe.value = "# Blue (invented)\nPotash feldspar 50\nQuartz 30\nWhiting 20\n", document.getElementById("vary-1").value = "Cobalt carbonate", document.getElementById("levels-1").value = "0.25 0.5 0.75 1", document.getElementById("vary-2").value = "Rutile", document.getElementById("levels-2").value = "0 2 4", true`)
			} else {
				eval[bool](t, ctx, fmt.Sprintf(`recipe.value = %q, true`, many.String()))
			}
			press(t, ctx, `document.querySelector("#form button[type=submit]")`)
			if series {
				until(t, ctx, `document.querySelectorAll("#cups tr.cup").length === 12`)
			} else {
				until(t, ctx, `document.querySelectorAll("#rows tr").length === 25`)
			}
			settle(t, ctx)
			shot(t, ctx, fmt.Sprintf("large-%v-%s", series, sz), false)
			assert.True(t, eval[bool](t, ctx, `(() => { const r = document.getElementById("start-go").getBoundingClientRect(); return r.top >= 0 && r.bottom <= innerHeight + 1; })()`), "%s series %v", sz, series)
			assert.Empty(t, eval[[]string](t, ctx, layout), "%s series %v", sz, series)
		}
	}
}
