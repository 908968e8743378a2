// One batch as made, beside the batch as planned.
import "./common.js";
import { $, make, say, show } from "./dom.js";
import { get } from "./api.js";
import { clock, day, moment, roleWords } from "./logic.js";
import { verdictChip } from "./record.js";
import { after } from "./after.js";

const mark = decodeURIComponent(location.pathname.split("/").pop());

const read = () => get("/api/book/" + encodeURIComponent(mark));
read().then((b) => {
  drawBatch(b);
  after(b, async () => {
    const now = await read();
    drawBatch(now);
    return now;
  });
}, (err) => {
  say($("title"), `Batch ${mark}`);
  say($("trouble"), err.message);
  show($("trouble"), true);
});

// Drawn for the room there is; a tablet that is turned has other room.
const narrow = matchMedia("(max-width: 599px)");
let redraw = () => {};
narrow.addEventListener("change", () => redraw());

function drawBatch(b) {
  show($("made"), true);
  show($("tools"), true);
  document.title = `${b.mark} · tared`;
  say($("title"), `${b.title || "Batch"} · ${b.mark}`);
  const parts = [`Weighed by ${b.by}`, moment(b.started) + (b.ended ? ` to ${clock(b.ended)}` : ", not finished"), `${b.base} g of base planned`];
  if (b.simulated) parts.push("on simulated scales");
  say($("lead"), parts.join(" · "));
  $("words").replaceChildren(...(b.words ?? []).map((w) => make("li", null, w)));
  const now = (was, text) => was ? make("span", null, make("s", null, was), " ", text || "–") : text;
  const why = (l) => (l.corrected ?? []).map((w) => make("div.soft.why", null, `Corrected: ${w}`));
  const cell = (label, text, more) => make("td.number" + (more ?? ""), { "data-label": label }, text || "–");
  $("rows").replaceChildren(...(b.lines ?? []).map((l) =>
    make("tr", null,
      make("th", { scope: "row" }, l.as ? `${l.as}, instead of ${l.material}` : l.material, make("div.soft", null, roleWords(l.role)), l.bag ? make("div.soft", null, l.bag) : null, ...why(l)),
      cell("target", l.target), cell("went in", l.dry ? make("span", null, now(l.was, l.delivered), make("div.soft", null, `${l.dry} dry`)) : now(l.was, l.delivered), ".got"), cell("off by", l.deviation), cell("U", l.u && `± ${l.u}`),
      cell("planned", l.planned && `${l.planned} %`), cell("made", now(l.was_share, l.share && `${l.share} %`)),
      make("td", { "data-label": "scale" }, l.scale), make("td", null, verdictChip(l.verdict)))));
  if (b.water) {
    const l = b.water, dry = (share) => share && make("span", null, `${share} %`, make("div.soft", null, "of all dry"));
    $("rows").append(make("tr.water", null, make("th", { scope: "row" }, l.as || l.material, make("div.soft", null, roleWords(l.role)), ...why(l)),
      cell("target", l.target), cell("went in", now(l.was, l.delivered), ".got"), cell("off by", l.deviation), cell("U", l.u && `± ${l.u}`),
      cell("planned", dry(l.planned)), cell("made", now(l.was_share, dry(l.share))), make("td", { "data-label": "scale" }, l.scale), make("td", null, verdictChip(l.verdict))));
  }
  redraw = () => $("picture").replaceChildren(...svg(narrow.matches ? b.picture_slim : b.picture));
  redraw();
  for (const el of [$("picture"), $("picture-title")]) show(el, b.picture);
  show($("pours"), (b.pours ?? []).length > 0);
  $("pour-list").replaceChildren(...(b.pours ?? []).map(pour));
  $("facts").replaceChildren(...(b.facts ?? []).map((f) =>
    make("li", { "data-kind": f.kind }, make("time", { datetime: f.at }, clock(f.at)), make("span.kind", null, f.kind), make("span.what", null, day(f.at) === day(b.started) ? f.words : `${day(f.at)}: ${f.words}`, f.by && f.by !== b.by ? make("span.by", null, ` (${f.by})`) : null))));
  say($("recipe"), b.recipe);
  say($("hash"), b.hash || "none yet: the batch is open");
  $("label").href = `/label/${encodeURIComponent(b.mark)}`;
  show($("label"), b.ended);
  $("series").href = `/series/${encodeURIComponent(b.series)}`;
  show($("series"), b.series);
  $("verify").replaceChildren(...(b.verify ?? []).map((v) => make("li", null, v)));
}

/** The server's drawing as an element: read as XML, in which no script runs. */
function svg(text) {
  if (!text) return [];
  const el = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  return el.localName === "svg" ? [document.importNode(el, true)] : [];
}

/** One portion: what was weighed, what the scale said, and the pour as it showed it. */
function pour(p) {
  const counts = p.corrected && !p.void;
  const amount = p.void || counts ? make("s", null, `${p.delivered} g`) : `${p.delivered} g`;
  return make("li" + (p.void ? ".struck" : ""), null,
    make("div.says", null,
      make("h3", null, p.material),
      make("p", null, amount, counts ? ` ${p.corrected} g` : "", ` ± ${counts ? p.new_u : p.u} g`, p.void ? " (no longer counts)" : "", counts ? " (corrected)" : ""),
      p.why ? make("p.soft", null, `${p.void ? "Struck out" : "Corrected"}: ${p.why}`) : null,
      make("p.soft", null, p.typed ? `read by eye and typed in by ${p.typed}` : `from ${p.before} g to ${p.after} g on the pan`, p.confirmed ? `, confirmed by ${p.confirmed}` : "", `, entry ${p.seq}`),
      p.raw?.length ? make("p.soft", null, "The scale said: ", ...p.raw.flatMap((r, i) => [i ? " then " : "", make("code", null, r)])) : null),
    make("div", null, verdictChip(p.verdict)),
    make("div.pouring", null, ...svg(p.picture)));
}

$("print").addEventListener("click", () => window.print());
