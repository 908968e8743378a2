// One batch as made, beside the batch as planned.
import "./common.js";
import { $, draw, make, say, show } from "./dom.js";
import { get } from "./api.js";
import { clock, day, roleWords } from "./logic.js";
import { verdictChip } from "./record.js";
import { after } from "./after.js";

const mark = decodeURIComponent(location.pathname.split("/").pop());

get("/api/book/" + encodeURIComponent(mark)).then(drawBatch, (err) => {
  say($("title"), `Batch ${mark}`);
  say($("trouble"), err.message);
  show($("trouble"), true);
});

function drawBatch(b) {
  show($("made"), true);
  document.title = `${b.mark} · tared`;
  say($("title"), `${b.title || "Batch"} · ${b.mark}`);
  const parts = [`Weighed by ${b.by}`, day(b.started) + (b.ended ? ` to ${clock(b.ended)}` : ", not finished"), `${b.base} g of base planned`];
  if (b.simulated) parts.push("on simulated scales");
  say($("lead"), parts.join(" · "));
  $("words").replaceChildren(...(b.words ?? []).map((w) => make("li", null, w)));
  const cell = (label, text, more) => make("td.number" + (more ?? ""), { "data-label": label }, text || "–");
  $("rows").replaceChildren(...(b.lines ?? []).map((l) =>
    make("tr", null,
      make("th", { scope: "row" }, l.as ? `${l.as}, instead of ${l.material}` : l.material, make("div.soft", null, roleWords(l.role))),
      cell("target", l.target), cell("went in", l.delivered, ".got"), cell("off by", l.deviation), cell("U", l.u && `± ${l.u}`),
      cell("planned", l.planned && `${l.planned} %`), cell("made", l.share && `${l.share} %`),
      make("td", { "data-label": "scale" }, l.scale), make("td", null, verdictChip(l.verdict)))));
  if (b.water) {
    const l = b.water, dry = (share) => share && make("span", null, `${share} %`, make("div.soft", null, "of all dry"));
    $("rows").append(make("tr.water", null, make("th", { scope: "row" }, l.as || l.material, make("div.soft", null, roleWords(l.role))),
      cell("target", l.target), cell("went in", l.delivered, ".got"), cell("off by", l.deviation), cell("U", l.u && `± ${l.u}`),
      cell("planned", dry(l.planned)), cell("made", dry(l.share)), make("td", { "data-label": "scale" }, l.scale), make("td", null, verdictChip(l.verdict))));
  }
  const width = () => $("picture").clientWidth;
  let drawn = width();
  $("picture").replaceChildren(picture(b.lines ?? []));
  // A tablet that is turned has other room.
  addEventListener("resize", () => {
    if (width() === 0 || width() === drawn) return;
    drawn = width();
    $("picture").replaceChildren(picture(b.lines ?? []));
  });
  $("facts").replaceChildren(...(b.facts ?? []).map((f) =>
    make("li", { "data-kind": f.kind }, make("time", { datetime: f.at }, clock(f.at)), make("span.kind", null, f.kind), make("span.what", null, f.words, f.by && f.by !== b.by ? make("span.by", null, ` (${f.by})`) : null))));
  say($("recipe"), b.recipe);
  say($("hash"), b.hash || "none yet: the batch is open");
  after(b);
  $("label").href = `/label/${encodeURIComponent(b.mark)}`;
  show($("label"), b.ended);
  $("series").href = `/series/${encodeURIComponent(b.series)}`;
  show($("series"), b.series);
  $("verify").replaceChildren(...(b.verify ?? []).map((v) => make("li", null, v)));
}

/** Deviations on a common scale: the band is from -1 to 1 for every material. */
function picture(lines) {
  // Drawn for the room there is; where that is little, the name stands above.
  const width = Math.min(Math.max($("picture").clientWidth, 320), 900), slim = width < 600;
  const left = slim ? 12 : 240, right = slim ? 84 : 110, row = slim ? 54 : 38, top = 26;
  const shown = lines.filter((l) => l.delivered && l.verdict !== "skipped");
  const most = 3; // bands on either side; what lies beyond is drawn at the edge, with its number
  const x = (bands) => left + ((Math.max(-most, Math.min(most, bands)) + most) / (2 * most)) * (width - left - right);
  const height = top + shown.length * row + 6;
  const svg = draw("svg", { viewBox: `0 0 ${width} ${height}`, role: "img", "aria-labelledby": "dev-t dev-d" },
    draw("title", { id: "dev-t" }, "How far each material is off, in units of its band"),
    draw("desc", { id: "dev-d" }, shown.map((l) => `${l.material} ${l.deviation} g, ${(l.bands / 1000).toFixed(1)} of the half band`).join("; ")),
    draw("rect", { x: x(-1), y: top - 6, width: x(1) - x(-1), height: height - top, class: "band" }),
    draw("line", { x1: x(-1), x2: x(-1), y1: top - 6, y2: height - 6, class: "edge" }),
    draw("line", { x1: x(1), x2: x(1), y1: top - 6, y2: height - 6, class: "edge" }),
    draw("line", { x1: x(0), x2: x(0), y1: top - 6, y2: height - 6, class: "mid" }),
    draw("text", { x: x(-1), y: 13, class: "word", "text-anchor": "middle" }, "low"),
    draw("text", { x: x(0), y: 13, class: "word", "text-anchor": "middle" }, "target"),
    draw("text", { x: x(1), y: 13, class: "word", "text-anchor": "middle" }, "high"));
  shown.forEach((l, i) => {
    const y = top + i * row + row / 2 + (slim ? 10 : 0);
    const at = x(l.bands / 1000);
    const name = l.as || l.material;
    svg.append(
      draw("text", { x: 0, y: slim ? y - 18 : y + 5, class: "name" }, name.length > 28 ? name.slice(0, 27) + "…" : name),
      draw("line", { x1: x(0), x2: at, y1: y, y2: y, class: "stem" }),
      draw("path", { d: pin(l.verdict, at, y), class: "pin" }),
      draw("text", { x: width, y: y + 5, class: "name", "text-anchor": "end" }, `${l.deviation} g`));
  });
  return svg;
}

/** The verdict's shape at a place: a disc inside the band, arrowheads outside. */
function pin(verdict, x, y) {
  if (verdict === "over") return `M${x + 12} ${y}l-16 -11v22z`;
  if (verdict === "under") return `M${x - 12} ${y}l16 -11v22z`;
  return `M${x - 8} ${y}a8 8 0 1 0 16 0a8 8 0 1 0 -16 0z`;
}

$("print").addEventListener("click", () => window.print());
