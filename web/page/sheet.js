// The weigh sheet: a recipe goes in, the server draws the plan, a batch is started.
import { $, attr, focusOn, make, say, show } from "./dom.js";
import { redraw } from "./common.js";
import { fragment, post } from "./api.js";
import { chips } from "./shapes.js";
import { words } from "./words.js";

// What a person chose on the sheet.
const roles = {}; // material to role, where the person knows better
const chosenLots = {}; // material to the lot that it is to come from
const diluted = new Set(); // materials that go in by way of a mixture
let order = null; // materials in the order wished for; null: the sheet's own

// --- the form

/** Takes the recipe that is chosen, and says which version it is. */
function chosen() {
  const option = $("sample")?.selectedOptions[0];
  if (option?.dataset.text) $("recipe").value = option.dataset.text;
  if ($("sample")) {
    show($("sample-hint"), option?.dataset.hint);
    say($("sample-hint"), option?.dataset.hint);
  }
}

/** Chooses what stands in the field already, else the first recipe there is. */
function begin() {
  const options = [...($("sample")?.options ?? [])];
  const text = $("recipe").value;
  const at = options.find((o) => o.dataset.text && (text === "" || o.dataset.text === text));
  if (at) at.selected = true;
  chosen();
}
begin();
document.addEventListener("change", (e) => {
  if (e.target.id === "sample") chosen();
});

$("keep").addEventListener("click", async () => {
  show($("trouble"), false);
  show($("keep-done"), false);
  const by = $("by").value.trim() || prompt(words("sheet.who-keeps"))?.trim();
  if (!by) return;
  $("by").value = by;
  try {
    const got = await post("/api/keep", { by, recipe: { name: "", text: $("recipe").value } });
    say($("keep-done"), words("sheet.saved-as", got));
    show($("keep-done"), true);
    await redraw("sample-row");
    begin();
  } catch (err) {
    complain($("trouble"), err);
  }
});

const sizeKind = () => document.querySelector("input[name=size]:checked").value;

document.addEventListener("change", (e) => {
  if (e.target.name !== "size") return;
  const wet = sizeKind() === "wet", series = sizeKind() === "series", a = $("amount");
  show($("one-box"), !series && sizeKind() !== "stock");
  show($("series-box"), series);
  show($("gravity-box"), wet);
  show($("weight-label"), !wet);
  show($("volume-label"), wet);
  show($("bucket-hint"), wet);
  // A weight is no volume: each keeps what was typed for it.
  if (wet !== (a.dataset.of === "wet")) {
    const other = a.dataset.other ?? "2";
    a.dataset.other = a.value;
    a.dataset.of = wet ? "wet" : "";
    a.value = other;
  }
});

const field = (id) => $(id).value.trim();
const swap = () => ({ out: field("swap-out"), in: field("swap-in") });

function drawSteps() {
  const kind = $("blend").value;
  show($("steps-box"), kind !== "grid" || swap().out || swap().in);
  for (const label of $("steps-label").children) show(label, label.dataset.blend === kind);
}
$("blend").addEventListener("change", drawSteps);
for (const id of ["swap-out", "swap-in"]) $(id).addEventListener("input", drawSteps);

/** Spaces between a number and its unit are for people. */
const close = (amount) => amount.replace(/\s+/g, "");

/** What the form asks for as a series. */
function series() {
  const vary = [1, 2, 3].map((i) => ({ material: field("vary-" + i), levels: field("levels-" + i) })).filter((v) => v.material || v.levels);
  return { cup: close(field("cup")), spare: "", blend: $("blend").value, steps: $("steps").valueAsNumber || 0, vary, swap: swap() };
}

/** What the form asks for. */
function request() {
  const r = { recipe: $("recipe").value, base: "", dry: "", wet: "", allow: {}, roles: { ...roles }, container: field("container"), most: field("most"), water: field("water"), order, aliquot: [...diluted], by: field("by"), series: null, lots: { ...chosenLots }, from_stock: false, short: false };
  const kind = sizeKind();
  const amount = close(field("amount")).replace(/bucket$/, " bucket");
  if (kind === "series") r.series = series();
  else if (kind === "stock") r.from_stock = true;
  else r[kind] = kind === "wet" ? `${amount} at ${field("gravity")}` : amount;
  for (const role of ["base", "addition", "strong", "opacifier", "suspender"]) if (field("allow-" + role)) r.allow[role] = field("allow-" + role);
  return r;
}

/** What was chosen on a sheet belongs to its recipe, and to what is varied. */
const about = (r) => JSON.stringify([r.recipe, r.series?.vary, r.series?.swap]);

function forget() {
  order = null;
  diluted.clear();
  for (const k of Object.keys(chosenLots)) delete chosenLots[k];
}

let planned = null; // the request that the sheet on the page answers

$("form").addEventListener("submit", async (e) => {
  e.preventDefault();
  if (planned && about(planned) !== about(request())) forget();
  await plan();
  // On a narrow screen the sheet comes below the form, out of sight.
  if (!$("sheet").hidden && $("result").getBoundingClientRect().top > innerHeight / 2) $("result").scrollIntoView();
});

let asked = 0; // how often a sheet was asked for

async function plan() {
  const r = request(), mine = ++asked;
  show($("trouble"), false);
  attr($("recipe"), "aria-invalid", null);
  busy(true);
  try {
    const sheet = await fragment("/sheet", r);
    if (mine !== asked) return; // another was asked for meanwhile
    planned = r;
    drawSheet(sheet);
  } catch (err) {
    if (mine !== asked) return;
    complain($("trouble"), err);
    if (err.lines?.length) attr($("recipe"), "aria-invalid", "true");
    // A sheet that does not answer the form must not be started.
    planned = null;
    if (err.status) forget(); // nor does a choice hold that cannot be planned
    show($("sheet"), false);
    show($("empty"), true);
  }
  busy(false);
}

/** While a sheet is made the one before still stands there, which is not what would be started. */
function busy(is) {
  attr($("result"), "aria-busy", is);
  $("start-go").disabled = is;
}

/** Shows what is wrong, with the lines of the recipe where it lies. */
function complain(el, err) {
  const lines = err.lines ?? [], text = $("recipe").value.split("\n");
  el.replaceChildren(make("p", null, lines.length ? words("sheet.faults") : err.message));
  if (lines.length) {
    el.append(make("ul", null, ...lines.map((l) => make("li", null, words("sheet.fault", { line: l.line, text: (text[l.line - 1] ?? "").trim(), why: l.words })))));
    el.append(make("button.press", { type: "button", onclick: () => toLine(lines[0].line) }, words("sheet.go-to", { line: lines[0].line })));
  }
  for (const one of err.among ?? []) {
    el.append(make("button.press", { type: "button", onclick: () => takeOne(one) }, one.name));
  }
  show(el, true);
}

/** One recipe of a table takes its place in the field. */
function takeOne(one) {
  $("recipe").value = one.text;
  $("recipe").focus();
  $("form").requestSubmit();
}

function toLine(n) {
  const box = $("recipe");
  const lines = box.value.split("\n");
  const start = lines.slice(0, n - 1).reduce((sum, l) => sum + l.length + 1, 0);
  box.focus();
  box.setSelectionRange(start, start + (lines[n - 1] ?? "").length);
}

// --- the sheet

const title = $("title").textContent;

/** The materials that their scale cannot show. */
function hidden() {
  return [...document.querySelectorAll("[data-hidden]")].map((p) => p.dataset.hidden);
}

function drawSheet(sheet) {
  show($("empty"), false);
  show($("sheet"), true);
  const tuned = [...document.querySelectorAll("#rows .tune[open]")].map((el) => el.closest("tr").dataset.material);
  for (const id of ["plan-top", "plan-rest"]) $(id).replaceWith(document.importNode(sheet.getElementById(id), true));
  for (const row of $("rows").children) if (tuned.includes(row.dataset.material)) row.querySelector(".tune").open = true;
  const top = $("plan-top").dataset;
  chips($("sheet"));
  say($("title"), top.title || title);
  show($("start-batch"), top.series === undefined);
  show($("start-series"), top.series !== undefined);
  show($("although-box"), top.short !== undefined);
  show($("hidden-box"), hidden().length > 0);
  $("although").checked = $("although-hidden").checked = false;
}

/** A new size, as the sheet offers it. */
function larger(amount) {
  const base = document.querySelector("input[name=size][value=base]");
  base.checked = true;
  base.dispatchEvent(new Event("change", { bubbles: true }));
  $("amount").value = amount;
}

$("sheet").addEventListener("change", (e) => {
  const { role, lot } = e.target.dataset;
  if (role) roles[role] = e.target.value;
  if (lot) chosenLots[lot] = e.target.value;
  if (role || lot) plan();
});

$("sheet").addEventListener("click", (e) => {
  const button = e.target.closest("button");
  const { base, cup, dilute, undilute, move: way } = button?.dataset ?? {};
  if (way) return move(button.closest("tr"), way === "1", button.getAttribute("aria-label"));
  if (planned?.series && (dilute || undilute)) order = null; // a carrier leaves the tub, or is back in it
  if (base) larger(base);
  else if (cup) $("cup").value = cup;
  else if (dilute) {
    diluted.add(dilute);
    if (button.dataset.from) chosenLots[dilute] = button.dataset.from;
  } else if (undilute) {
    diluted.delete(undilute);
    delete chosenLots[undilute];
  }
  else if (button?.id === "own-order") order = null;
  else return;
  plan();
});

const materials = () => [...$("rows").children].map((row) => row.dataset.material);

/** Weighs a material one place earlier or later. The key that did it keeps the focus. */
async function move(row, later, label) {
  if (later) row.nextElementSibling.after(row);
  else row.previousElementSibling.before(row);
  order = materials();
  await plan();
  focusOn(document.querySelector(`#rows button[aria-label="${CSS.escape(label)}"]:not(:disabled)`));
}

let dragged = null; // the row that is being dragged

$("sheet").addEventListener("dragstart", (e) => {
  dragged = e.target.closest("#rows tr");
  if (!dragged) return;
  e.dataTransfer.effectAllowed = "move";
  e.dataTransfer.setData("text/plain", dragged.dataset.material);
});
$("sheet").addEventListener("dragend", () => { dragged = null; });
$("sheet").addEventListener("dragover", (e) => {
  const over = dragged && e.target.closest("#rows tr");
  for (const row of document.querySelectorAll("#rows tr")) attr(row, "data-over", row === over ? true : null);
  if (over) e.preventDefault();
});
$("sheet").addEventListener("drop", (e) => {
  const onto = dragged && e.target.closest("#rows tr");
  if (!onto) return;
  e.preventDefault();
  if (dragged.compareDocumentPosition(onto) & Node.DOCUMENT_POSITION_FOLLOWING) onto.after(dragged);
  else onto.before(dragged);
  dragged = null;
  order = materials();
  plan();
});

// --- start

$("start").addEventListener("submit", async (e) => {
  e.preventDefault();
  const by = $("by").value.trim();
  show($("start-trouble"), false);
  if (!by) {
    complain($("start-trouble"), { message: words("sheet.nobody") });
    $("by").focus();
    return;
  }
  if (!planned) {
    complain($("start-trouble"), { message: words("sheet.first") });
    return;
  }
  try {
    await post("/api/start", { ...planned, by, short: $("although").checked, although: $("although-hidden").checked ? hidden() : [] });
    location.href = "/";
  } catch (err) {
    complain($("start-trouble"), err);
  }
});
