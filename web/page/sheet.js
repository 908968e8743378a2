// The weigh sheet: a recipe goes in, the plan comes back, a batch is started.
import "./common.js";
import { $, attr, draw, each, make, say, show } from "./dom.js";
import { get, post } from "./api.js";
import { day, shapes, roleWords } from "./logic.js";

const verdicts = {
  good: { shape: "in", word: "good" },
  coarse: { shape: "ask", word: "coarse" },
  blind: { shape: "lost", word: "blind" },
  full: { shape: "over", word: "too heavy" },
};

/** A verdict in word, shape and colour. */
function chip(verdict) {
  const v = verdicts[verdict] ?? { shape: "ask", word: verdict };
  return make("span.chip", { "data-tone": verdict }, draw("svg", { viewBox: "0 0 64 64", "aria-hidden": "true" }, draw("path", { d: shapes[v.shape] })), v.word);
}

const roles = {}; // material to role, where the person knows better
const chosenLots = {}; // material to the lot that it is to come from
const diluted = new Set(); // materials that go in by way of a mixture
let order = null; // materials in the order wished for; null: the sheet's own

// --- the form

let stock = []; // the lots, as far as a stock is kept
let texts = []; // what stands behind each choice of a recipe
let kept = []; // and which version that is, for those that are kept

/** Fills the choice of recipes: those that are kept, newest version first, then the samples. */
function choices(samples, recipes) {
  texts = [];
  kept = [];
  const option = (words, text) => make("option", { value: String(texts.push(text)) }, words);
  const ours = recipes.flatMap((k) => [...k.versions].reverse().map((v, i) => {
    kept.push(v);
    return option(i === 0 ? `${k.name}, version ${v.version}` : `${k.name}, version ${v.version} (older)`, v.text);
  }));
  const groups = [];
  if (ours.length) groups.push(make("optgroup", { label: "Kept" }, ...ours));
  if (samples.length) groups.push(make("optgroup", { label: "Samples, invented" }, ...samples.map((s) => option(s.name, s.text))));
  $("sample").replaceChildren(make("option", { value: "" }, "none, my own below"), ...groups);
  show($("sample-row"), texts.length > 0);
  if (!texts.length) return;
  const at = texts.indexOf($("recipe").value);
  if ($("recipe").value) $("sample").value = at < 0 ? "" : String(at + 1);
  else {
    $("sample").value = "1";
    $("recipe").value = texts[0];
  }
  tellVersion();
}

/** The choice may be too narrow for the end of a long name, where the version stands. */
function tellVersion() {
  const v = kept[Number($("sample").value) - 1];
  show($("sample-hint"), v);
  if (v) say($("sample-hint"), `Version ${v.version}, kept by ${v.by} on ${day(v.at)}${v.words ? `: ${v.words}` : ""}`);
}

let samples = [];
const shelf = async () => {
  const s = await get("/api/shelf").catch(() => ({ lots: [], recipes: [] }));
  stock = s.lots;
  show($("from-stock"), stock.length > 0);
  choices(samples, s.recipes);
};
get("/api/samples").then((s) => { samples = s; }, () => {}).finally(shelf);
$("sample").addEventListener("change", () => {
  const text = texts[Number($("sample").value) - 1];
  if (text) $("recipe").value = text;
  tellVersion();
});

$("keep").addEventListener("click", async () => {
  show($("trouble"), false);
  show($("keep-done"), false);
  const by = $("by").value.trim() || prompt("Who keeps it? The record needs a name.")?.trim();
  if (!by) return;
  $("by").value = by;
  try {
    const got = await post("/api/keep", { by, recipe: { name: "", text: $("recipe").value } });
    say($("keep-done"), `Kept as ${got.name}, version ${got.version}.`);
    show($("keep-done"), true);
    await shelf();
  } catch (err) {
    complain($("trouble"), err);
  }
});

const sizeKind = () => document.querySelector("input[name=size]:checked").value;

for (const radio of document.querySelectorAll("input[name=size]")) {
  radio.addEventListener("change", () => {
    const wet = sizeKind() === "wet", series = sizeKind() === "series";
    show($("one-box"), !series && sizeKind() !== "stock");
    show($("series-box"), series);
    show($("gravity-box"), wet);
    say($("amount-label"), wet ? "Volume" : "Weight");
    show($("bucket-hint"), wet);
    const a = $("amount");
    if (wet && /g$/.test(a.value.trim())) a.value = "2 l";
    if (!wet && /(l|bucket)$/.test(a.value.trim())) a.value = "750 g";
  });
}

const swap = () => ({ out: $("swap-out").value.trim(), in: $("swap-in").value.trim() });

function drawSteps() {
  const kind = $("blend").value, swapped = swap().out || swap().in;
  show($("steps-box"), kind !== "grid" || swapped);
  say($("steps-label"), kind === "line" ? "Cups" : kind === "triangle" ? "Steps a side" : "Steps of the swap");
}
$("blend").addEventListener("change", drawSteps);
for (const id of ["swap-out", "swap-in"]) $(id).addEventListener("input", drawSteps);

/** What the form asks for as a series. */
function series() {
  const text = (id) => $(id).value.trim();
  const vary = [1, 2, 3].map((i) => ({ material: text("vary-" + i), levels: text("levels-" + i) })).filter((v) => v.material || v.levels);
  return { cup: text("cup").replace(/\s+/g, ""), spare: "", blend: $("blend").value, steps: parseInt(text("steps"), 10) || 0, vary, swap: swap() };
}

/** What the form asks for. */
function request() {
  const text = (id) => $(id).value.trim();
  const r = { recipe: $("recipe").value, base: "", dry: "", wet: "", allow: {}, roles: { ...roles }, container: text("container"), most: text("most"), water: text("water"), order, aliquot: [...diluted], by: text("by"), series: null, lots: { ...chosenLots }, from_stock: false, short: false };
  const kind = sizeKind();
  // Spaces between number and unit are for people.
  const amount = text("amount").replace(/\s+/g, "").replace(/bucket$/, " bucket");
  if (kind === "series") r.series = series();
  else if (kind === "stock") r.from_stock = true;
  else r[kind] = kind === "wet" ? `${amount} at ${text("gravity")}` : amount;
  for (const role of ["base", "addition", "strong"]) if (text("allow-" + role)) r.allow[role] = text("allow-" + role);
  return r;
}

let planned = null; // the request that the sheet on the page answers

$("form").addEventListener("submit", (e) => {
  e.preventDefault();
  // What was chosen on a sheet belongs to its recipe.
  if (planned && (planned.recipe !== $("recipe").value || sizeKind() === "series")) { order = null; diluted.clear(); }
  if (planned && planned.recipe !== $("recipe").value) for (const k of Object.keys(chosenLots)) delete chosenLots[k];
  plan().then(() => {
    // On a narrow screen the sheet comes below the form, out of sight.
    if ($("sheet").hidden || $("result").getBoundingClientRect().top < innerHeight / 2) return;
    $("result").scrollIntoView();
  });
});

let asked = 0; // how often a sheet was asked for

async function plan() {
  const r = request(), mine = ++asked;
  show($("trouble"), false);
  attr($("recipe"), "aria-invalid", null);
  attr($("result"), "aria-busy", "true");
  try {
    const sheet = await post("/api/plan", r);
    if (mine !== asked) return; // another was asked for meanwhile
    planned = r;
    drawSheet(sheet);
  } catch (err) {
    if (mine !== asked) return;
    complain($("trouble"), err);
    if (err.lines?.length) attr($("recipe"), "aria-invalid", "true");
    // A sheet that does not answer the form must not be started.
    planned = null;
    show($("sheet"), false);
    show($("empty"), true);
  }
  attr($("result"), "aria-busy", "false");
}

/** Shows what is wrong, with the lines of the recipe where it lies. */
function complain(el, err) {
  const lines = err.lines ?? [];
  el.replaceChildren(
    make("p", null, lines.length ? (lines.length === 1 ? "One line of the recipe cannot be used:" : `${lines.length} lines of the recipe cannot be used:`) : err.message),
  );
  if (lines.length) {
    const text = $("recipe").value.split("\n");
    el.append(make("ul", null, ...lines.map((l) => make("li", null, make("b", null, `Line ${l.line}`), ` “${(text[l.line - 1] ?? "").trim()}”: ${l.words}`))));
    const jump = make("button.press", { type: "button", onclick: () => toLine(lines[0].line) }, `Go to line ${lines[0].line}`);
    el.append(jump);
  }
  show(el, true);
}

function toLine(n) {
  const box = $("recipe");
  const lines = box.value.split("\n");
  const start = lines.slice(0, n - 1).reduce((sum, l) => sum + l.length + 1, 0);
  box.focus();
  box.setSelectionRange(start, start + (lines[n - 1] ?? "").length);
}

// --- the sheet

const g = (mass) => mass?.g ?? "";
const places = (text) => (text.includes(".") ? text.length - text.indexOf(".") - 1 : 0);

/** A mass written with as many places as a step has, for showing. */
function asStep(mass, step) {
  const text = g(mass);
  const want = places(g(step));
  if (places(text) > want) return Number(text).toFixed(want);
  if (places(text) === want) return text;
  return (text.includes(".") ? text : text + ".") + "0".repeat(want - places(text));
}

function drawSheet(sheet) {
  show($("empty"), false);
  show($("sheet"), true);
  say($("title"), sheet.title || "Weigh sheet");
  $("sums").replaceChildren(
    ...[["base", sheet.base], ["all dry", sheet.dry]].map(([name, m]) => make("div", null, make("dt", null, name), make("dd.digits", null, `${Number(g(m)).toFixed(1)} g`))),
    make("div", null, make("dt", null, "materials"), make("dd", null, String(sheet.lines.length))),
    ...(sheet.water ? [make("div", null, make("dt", null, "then water"), make("dd.digits", null, `${Number(g(sheet.water.target)).toFixed(places(g(sheet.water.step)))} g`))] : []),
  );
  each($("words"), sheet.words ?? [], () => make("li"), say);
  $("rows").replaceChildren(...sheet.lines.map((l, i) => row(l, i, sheet)));
  drawLots(sheet);
  drawPicture(sheet);
  drawCups(sheet);
  drawOuts(sheet);
  show($("own-order"), !!order);
  say($("start-go"), sheet.cups?.length ? "Start this series" : "Start this batch");
  const risky = [];
  for (const l of [...sheet.lines, ...(sheet.cups ?? []).flatMap((c) => c.lines ?? [])]) {
    if (l.hazards?.length && !risky.some((o) => o.material === l.material)) risky.push(l);
  }
  show($("hazard-box"), risky.length > 0);
  $("hazards").replaceChildren(...risky.map((l) => make("p.hazards-one", null, make("b", null, l.material + ": "), l.hazards.join("; ").replace(/[.;]*$/, "."))));
}

/** The choice of what a material is. */
function pickRole(l) {
  return make("select.role", { "aria-label": `role of ${l.material}`, onchange: (e) => { roles[l.material] = e.currentTarget.value; plan(); } },
    ...["base", "addition", "strong"].map((r) => make("option", { value: r, selected: r === l.role ? "" : null }, roleWords(r))));
}

/** Asks what a material is that no table knows, in the first cup that gets it. */
function askRole(l, asked) {
  if (!l.unknown || asked.has(l.material)) return [];
  asked.add(l.material);
  return [make("br"), pickRole(l), make("span.unknown.noprint", null, "not in the table: what is it?")];
}

function row(l, i, sheet) {
  const pick = pickRole(l);
  // The scale that it goes to first, then what the others could do.
  const all = l.fits?.length ? l.fits : [{ scale: l.scale, verdict: l.verdict }];
  const fits = [...all.filter((f) => f.scale === l.scale), ...all.filter((f) => f.scale !== l.scale)].map((f) => {
    const mine = f.scale === l.scale;
    // How well a scale would weigh what it cannot hold is no news.
    const full = f.room === false && !(mine && l.portions > 1);
    const more = mine && l.portions > 1 ? `, in ${l.portions} portions` : "";
    if (mine && l.aliquot) return make("span.fit.mine", null, chip(l.verdict), make("span", null, f.scale));
    return make(mine ? "span.fit.mine" : "span.fit.noprint", null, chip(full ? "full" : f.verdict), make("span", null, f.scale + more));
  });
  const last = sheet.lines.length - 1;
  const arrow = (by, word, sign) => make("button.move", { type: "button", "aria-label": `${l.material} ${word}`, disabled: i + by < 0 || i + by > last ? "" : null, onclick: () => move(sheet, i, i + by, word) }, sign);
  return make("tr", {
    ondragover: (e) => { if (dragged !== null) { e.preventDefault(); attr(e.currentTarget, "data-over", true); } },
    ondragleave: (e) => attr(e.currentTarget, "data-over", null),
    ondrop: (e) => { e.preventDefault(); if (dragged !== null) move(sheet, dragged, i); },
  },
    make("td.number.c-no", { draggable: true, ondragstart: (e) => { dragged = i; e.dataTransfer.effectAllowed = "move"; e.dataTransfer.setData("text/plain", l.material); }, ondragend: () => { dragged = null; } },
      String(i + 1), make("span.moves.noprint", null, arrow(-1, "earlier", "↑"), arrow(1, "later", "↓"))),
    make("th.c-name", { scope: "row" }, l.material, make("br"), pick, l.unknown ? make("span.unknown.noprint", null, "not in the table: what is it?") : null),
    make("td.number.c-share", null, `${l.addition ? "+ " : ""}${l.share} %`),
    make("td.number.target.c-target", null, own(l.target, l), mixed(l)),
    make("td.number.c-band", null, band(l)),
    make("td.c-fits", null, make("div.fits", null, ...fits)),
    make("td.number.c-u", null, `± ${round2(g(l.u))}`, l.assumed ? make("div.soft", null, "assumed") : null),
    make("td.onlyprint"));
}

let dragged = null; // index of the row that is being dragged

/** Weighs a material earlier or later. The key that did it keeps the focus. */
async function move(sheet, from, to, word) {
  const names = sheet.lines.map((l) => l.material);
  const [name] = names.splice(from, 1);
  names.splice(to, 0, name);
  order = names;
  dragged = null;
  await plan();
  if (word) document.querySelector(`#rows button[aria-label="${CSS.escape(`${name} ${word}`)}"]:not(:disabled)`)?.focus();
}

$("own-order").addEventListener("click", () => { order = null; plan(); });

/** What of a mass is weighed by itself: the rest comes with mixtures that the material carries. */
function own(mass, l) {
  if (!l.less) return asStep(mass, l.step);
  return (Number(g(mass)) - Number(g(l.less))).toFixed(places(g(l.step)));
}

/** The band as the scale can show it: the lowest and the highest readings in it. */
function band(l) {
  const less = l.less ? Number(g(l.less)) : 0;
  const step = Number(g(l.step));
  const low = Number(g(l.low)) - less, high = Number(g(l.high)) - less;
  let up = Math.ceil(low / step - 1e-6) * step, down = Math.floor(high / step + 1e-6) * step;
  if (up > down + step / 2) [up, down] = [low, high]; // no reading lies in it
  return `${up.toFixed(places(g(l.step)))} – ${down.toFixed(places(g(l.step)))}`;
}

function mixed(l) {
  if (l.moisture) return make("div.soft", null, `${Number(g(l.dry)).toFixed(places(g(l.step)))} of it dry`);
  if (l.less) return make("div.soft", null, `and ${Number(g(l.less)).toFixed(places(g(l.step)))} in the mixture`);
  if (l.aliquot) return make("div.soft", null, `in ${g(l.aliquot.take)} of a mixture`);
  return null;
}

/** Where the materials come from, and what there is too little of. */
function drawLots(sheet) {
  const lots = (sheet.lots ?? []).filter((l) => l.lot);
  const short = lots.filter((l) => l.short);
  show($("lots-box"), lots.length > 0);
  $("lots").replaceChildren(...lots.map((l) => make("tr", null,
    make("th", { scope: "row" }, l.material),
    make("td", null, pickLot(l)),
    make("td.number", null, Number(g(l.need)).toFixed(1)),
    make("td.number", null, Number(g(l.has)).toFixed(1), l.short ? make("div.unknown", null, "too little") : null),
    make("td.number", null, l.moisture ? `${l.moisture} %` : ""))));
  show($("short"), short.length > 0);
  const offer = sheet.instead;
  $("short").replaceChildren(...short.map((l) => make("p", null, l.words)));
  if (offer) $("short").append(make("p", null, offer.words));
  if (offer?.base) $("short").append(make("button.press.noprint", { type: "button", onclick: () => larger(offer) }, `Make ${g(offer.base)} g`));
  if (offer?.cup) $("short").append(make("button.press.noprint", { type: "button", onclick: () => { $("cup").value = `${g(offer.cup)} g`; plan(); } }, `${g(offer.cup)} g in each cup`));
  show($("although-box"), short.length > 0);
  $("although").checked = false;
}

/** The choice between the lots of a material; one that stands alone is only named. */
function pickLot(l) {
  const same = stock.filter((s) => s.lot === l.lot || l.others?.includes(s.lot));
  const name = (s) => s.lot + (s.supplier ? `, ${s.supplier}` : "");
  if (same.length < 2) return name({ lot: l.lot, supplier: l.supplier });
  return make("select.role", { "aria-label": `lot of ${l.material}`, onchange: (e) => { chosenLots[l.material] = e.currentTarget.value; plan(); } },
    ...same.map((s) => make("option", { value: s.lot, selected: s.lot === l.lot ? "" : null }, `${name(s)}: ${Number(g(s.left)).toFixed(0)} g`)));
}

/** The cups of a series. */
function drawCups(sheet) {
  const cups = sheet.cups ?? [], asked = new Set();
  show($("cups-box"), cups.length > 0);
  $("cups").replaceChildren(...cups.flatMap((c, i) => [c.take, ...(c.lines ?? []), ...(c.water ? [c.water] : [])].map((l, k) => make(k ? "tr" : "tr.cup", null,
    make("td.number.c-no", null, k ? "" : String(i + 1)),
    make("th.c-name", { scope: "row" }, k && l !== c.water ? `${l.material}, ${l.share} %` : l.material, ...askRole(l, asked)),
    make("td.number.target.c-target", null, asStep(l.target, l.step)),
    make("td.number.c-band", null, band(l)),
    make("td.c-fits", null, make("span.fit", null, chip(l.verdict), make("span", null, l.scale)))))));
}

/** Two figures that count are enough for an uncertainty shown to a person. */
function round2(text) {
  const n = Number(text);
  return n > 0 ? n.toFixed(Math.max(0, 1 - Math.floor(Math.log10(n)))) : text;
}

function drawOuts(sheet) {
  const stuck = sheet.lines.filter((l) => l.outs?.length);
  show($("outs-box"), stuck.length > 0);
  $("outs").replaceChildren(...stuck.map((l) => l.aliquot ? dilution(l) :
    make("div.outs-one", null,
      make("h3", null, `${l.material}, ${asStep(l.target, l.step)} g `, chip(l.verdict)),
      make("ul", null, ...l.outs.map((o) => make("li", null, chip(o.good ? "good" : "coarse"), make("span", null, o.words), make("span.soft", null, `U ± ${round2(g(o.u))} g`), take(l, o, sheet)))))));
}

/** The button that takes a way out. */
function take(l, o, sheet) {
  if (sheet.cups?.length) return null; // the cups decide the size, and share one mix
  if (o.kind === "aliquot") return make("button.press.choose.noprint", { type: "button", onclick: () => { diluted.add(l.material); plan(); } }, "Weigh it this way");
  if (o.kind === "larger") return make("button.press.choose.noprint", { type: "button", onclick: () => larger(o) }, `Make ${g(o.base)} g`);
  return null;
}

function larger(o) {
  const base = document.querySelector("input[name=size][value=base]");
  base.checked = true;
  base.dispatchEvent(new Event("change"));
  $("amount").value = `${g(o.base)} g`;
  plan();
}

/** The way by which a diluted material goes in. */
function dilution(l) {
  return make("div.outs-one", null,
    make("h3", null, `${l.material} goes in diluted `, chip(l.verdict)),
    make("ol.dilution", null, ...(l.aliquot.steps ?? []).map((words) => make("li", null, words))),
    make("p.soft", null, `U ± ${round2(g(l.u))} g of ${l.material}, if the mixture is even.`),
    make("button.press.choose.noprint", { type: "button", onclick: () => { diluted.delete(l.material); plan(); } }, "Not diluted after all"));
}

let pictured = null; // the sheet that the picture shows
let pictureWidth = 0;

function drawPicture(sheet) {
  pictured = sheet;
  pictureWidth = $("picture").clientWidth;
  $("picture").replaceChildren(...(sheet.scales?.length ? [picture(sheet)] : []));
}

// A tablet that is turned has other room.
addEventListener("resize", () => {
  if (pictured && $("picture").clientWidth > 0 && $("picture").clientWidth !== pictureWidth) drawPicture(pictured);
});

/**
 * The picture: one strip for each scale; from left to right the allowed
 * deviation grows against what the scale can tell, on a logarithmic scale.
 */
function picture(sheet) {
  // Drawn for the room there is, so that its words are as large as the page's.
  const width = Math.min(Math.max($("picture").clientWidth, 320), 1000);
  const left = width < 600 ? 66 : 110, right = 4, gap = 16, rows = width < 600 ? 3 : 2, strip = 22 + rows * 26;
  const scales = sheet.scales.filter((s) => sheet.lines.some((l) => (l.fits ?? []).some((f) => f.scale === s.name)));
  const points = [];
  for (const s of scales) {
    sheet.lines.forEach((l, i) => {
      const fit = (l.fits ?? []).find((f) => f.scale === s.name);
      const u = Number(g(fit?.u)), step = Number(g(s.step));
      if (fit && u > 0 && step > 0) points.push({ scale: s.name, i, l, r: Number(g(l.allowed)) / u, coarse: step / u, mine: l.scale === s.name, verdict: fit.verdict });
    });
  }
  const lo = Math.log10(Math.min(0.1, ...points.map((p) => p.r)) * 0.7);
  const hi = Math.log10(Math.max(10, ...points.map((p) => p.r)) * 1.4);
  const x = (r) => left + ((Math.log10(r) - lo) / (hi - lo)) * (width - left - right);
  const svg = draw("svg", { viewBox: `0 0 ${width} ${scales.length * (strip + gap)}`, role: "img", "aria-labelledby": "picture-t picture-d" },
    draw("title", { id: "picture-t" }, "Each target on each scale, from blind to good"),
    draw("desc", { id: "picture-d" }, points.map((p) => `${p.l.material} on ${p.scale}: ${p.verdict}`).join("; ")));
  scales.forEach((s, k) => {
    const top = k * (strip + gap);
    const mine = points.filter((p) => p.scale === s.name);
    const edge = Math.min(mine[0]?.coarse ?? 0.775, 1);
    const zone = (a, b, kind, word) => {
      svg.append(draw("rect", { x: a, y: top, width: Math.max(b - a, 0), height: strip, class: "zone-" + kind }));
      if (word) svg.append(draw("text", { x: a + 6, y: top + 15, class: "zone-word" }, word));
    };
    zone(left, x(edge), "blind", "blind");
    zone(x(edge), x(1), "coarse", "");
    zone(x(1), width - right, "good", "good");
    for (const r of [edge, 1]) svg.append(draw("line", { x1: x(r), x2: x(r), y1: top, y2: top + strip, class: "edge" }));
    svg.append(draw("text", { x: 0, y: top + strip / 2, class: "name" }, s.name), draw("text", { x: 0, y: top + strip / 2 + 18, class: "zone-word" }, `${g(s.step)} g`));
    const taken = []; // right ends of the last dot in each row
    for (const p of mine.sort((a, b) => a.r - b.r)) {
      let row = taken.findIndex((end) => end < x(p.r) - 24);
      if (row < 0) row = taken.length < rows ? taken.length : taken.indexOf(Math.min(...taken));
      taken[row] = x(p.r);
      const y = top + 32 + row * 26;
      svg.append(
        draw("circle", { cx: x(p.r), cy: y, r: 12, class: p.mine ? "dot mine" : "dot" }, draw("title", null, `${p.l.material} on ${p.scale}: ${p.verdict}`)),
        draw("text", { x: x(p.r), y: y + 4.5, class: p.mine ? "dot-word mine" : "dot-word" }, String(p.i + 1)));
    }
  });
  return svg;
}

// --- start

$("print").addEventListener("click", () => window.print());

$("start").addEventListener("submit", async (e) => {
  e.preventDefault();
  const by = $("by").value.trim();
  show($("start-trouble"), false);
  if (!by) {
    complain($("start-trouble"), { message: "Who is weighing? The record needs a name." });
    $("by").focus();
    return;
  }
  if (!planned) {
    complain($("start-trouble"), { message: "Make the sheet first." });
    return;
  }
  try {
    await post("/api/start", { ...planned, by, short: $("although").checked });
    location.href = "/";
  } catch (err) {
    complain($("start-trouble"), err);
  }
});
