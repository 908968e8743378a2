// A series of tests as a grid of photographs by what was varied.
import "./common.js";
import { $, make, say, show } from "./dom.js";
import { get } from "./api.js";

const mark = decodeURIComponent(location.pathname.split("/").pop());

get("/api/series/" + encodeURIComponent(mark)).then(drawSeries, (err) => {
  say($("title"), `Series ${mark}`);
  say($("trouble"), err.message);
  show($("trouble"), true);
});

const states = { open: "in work", abandoned: "closed before everything was in" };

function drawSeries(s) {
  document.title = `${s.mark} · tared`;
  say($("title"), `${s.title || "Series"} · ${s.mark}`);
  const [across, down, deep] = s.axes;
  say($("lead"), [across && `across: ${across}`, down && `down: ${down}`, deep && `from grid to grid: ${deep}`].filter(Boolean).join(" · ") + ", in percent of the base" + (s.swap ? `. ${s.swap}.` : ""));
  if (s.lost.length) $("words").replaceChildren(make("li", null, `${s.lost.length === 1 ? "A photograph is" : s.lost.length + " photographs are"} named in the record and not on the disk: ${s.lost.map((n) => n.slice(0, 8)).join(", ")}. Take them from a backup.`));
  $("grids").replaceChildren(...s.grids.map((g) => {
    const name = deep ? `${deep} ${g.level} %` : "Photographs of the tiles that were judged last";
    return make("div.grid-box", { tabindex: "0", role: "region", "aria-label": name }, make("table.grid", null,
      make("caption", null, name),
      make("thead", null, make("tr", null, down ? make("td", null) : null, ...g.cols.map((c) => make("th", { scope: "col" }, `${across ?? ""} ${c} %`)))),
      make("tbody", null, ...g.rows.map((r, i) => make("tr", null, down ? make("th", { scope: "row" }, `${down} ${r} %`) : null, ...g.cells[i].map((c, k) => make("td", null, spot(c, s, g.cols[k], r))))))));
  }));
}

function spot(c, s, col, row) {
  if (!c.cup && !c.label) return make("div.spot", null, make("span.none", null, "no such cup"));
  const levels = `${s.axes[0] ?? ""} ${col} %${s.axes[1] ? `, ${s.axes[1]} ${row} %` : ""}`;
  const picture = c.photos.length
    ? make("a", { href: "/photo/" + c.photos[0] }, make("img", { src: "/photo/small/" + c.photos[0], loading: "lazy", alt: `Tile ${c.tile} with ${levels}` }))
    : make("span.none", null, c.cup ? "no photograph yet" : "not weighed yet");
  const made = (c.made ?? []).filter(Boolean);
  return make("div.spot", null, make("p.levels", null, `${s.axes[0] ?? ""} ${col} %`), picture,
    c.cup ? make("a.cup", { href: "/book/" + encodeURIComponent(c.cup) }, c.cup) : null,
    states[c.state] ? make("p.soft", null, states[c.state]) : null,
    made.length ? make("p.soft", null, `made ${made.join("\u00a0% and ")}\u00a0%`) : null,
    c.off ? make("p", null, "a material is outside its band") : null,
    c.words ? make("p", null, c.tile ? `${c.tile}: ${c.words}` : c.words) : null);
}

$("print").addEventListener("click", () => window.print());
