// The stock: lots of materials, and the forms that bring one in or correct one.
import "./common.js";
import { $, attr, make, say, show } from "./dom.js";
import { get, post } from "./api.js";
import { moment } from "./logic.js";

let lots = [];

const hints = { amount: "as counted, with its unit: 11.4kg, 0g", moisture: "water in percent of the whole: 3.5%", price: "of a kilogram: 0.84 EUR", opened: "2026-11-25", supplier: "as it stands on the bag" };
$("c-what").addEventListener("change", () => say($("c-value-h"), hints[$("c-what").value]));

const g = (mass) => Number(mass?.g ?? 0);

/** Grams to a tenth, thousands set apart. */
const grams = (mass) => g(mass).toLocaleString("en", { minimumFractionDigits: 1, maximumFractionDigits: 1 }).replaceAll(",", "\u202f");

async function refresh() {
  try {
    lots = (await get("/api/shelf")).lots;
  } catch (err) {
    complain(err);
    return;
  }
  drawLots();
}

function complain(err) {
  say($("trouble"), err?.message ?? "");
  show($("trouble"), !!err);
  if (err) show($("done"), false);
}

function drawLots() {
  const all = $("all").checked;
  const shown = lots.filter((l) => all || g(l.left) !== 0);
  show($("empty"), lots.length === 0);
  show($("list"), lots.length > 0);
  show($("correct"), lots.length > 0);
  $("rows").replaceChildren(...shown.map((l) => make("tr", null,
    make("td.lot", null, l.lot),
    make("th.name", { scope: "row" }, l.material, l.words ? make("div.soft", null, l.words) : null),
    make("td.number.left", null, grams(l.left), l.trouble ? make("span.short", null, l.trouble) : null),
    make("td.number", { "data-label": "came with" }, grams(l.came)),
    make("td.number", { "data-label": "moisture" }, l.moisture_percent ? `${l.moisture_percent} %` : ""),
    make("td.number", { "data-label": "a kilogram" }, [l.price_per_kg, l.currency].filter(Boolean).join(" ")),
    make("td", { "data-label": "opened" }, l.opened ?? ""),
    make("td", { "data-label": "supplier’s mark" }, l.supplier ?? ""))));
  const was = $("c-lot").value;
  $("c-lot").replaceChildren(...lots.map((l) => make("option", { value: l.lot }, `${l.lot}, ${l.material}`)));
  if (lots.some((l) => l.lot === was)) $("c-lot").value = was;
  const entries = lots.flatMap((l) => (l.entries ?? []).map((e) => ({ ...e, lot: l }))).sort((a, b) => b.seq - a.seq);
  show($("history"), entries.length > 0);
  $("entries").replaceChildren(...entries.map((e) => make("li", null, make("time", { datetime: e.at }, moment(e.at)),
    `${e.lot.lot}, ${e.lot.material}: ${e.field} ${side(e, e.old)} → ${side(e, e.new)}. ${e.by}: ${e.reason}`)));
}

/** One side of a correction. */
const side = (e, value) => (!value ? "nothing" : e.field === "moisture" ? `${value} %` : value);

$("all").addEventListener("change", drawLots);

async function keep(r, form, words) {
  for (const f of form.elements) attr(f, "aria-invalid", null);
  try {
    const got = await post("/api/keep", r);
    complain(null);
    say($("done"), words(got));
    show($("done"), true);
    for (const f of form.querySelectorAll("input")) if (f.name !== "by") f.value = "";
    await refresh();
  } catch (err) {
    complain(err);
    $("trouble").scrollIntoView({ block: "nearest" });
  }
}

$("add").addEventListener("submit", (e) => {
  e.preventDefault();
  const lot = {};
  for (const f of e.target.elements) if (f.name && f.name !== "by" && f.value.trim()) lot[f.name] = f.value.trim();
  // Spaces between number and unit are for people.
  keep({ by: $("a-by").value.trim(), lot: { material: "", amount: "", ...lot, amount: (lot.amount ?? "").replace(/\s+/g, "") } }, e.target, (got) => `Lot ${got.lot} is in stock: write ${got.lot} on it.`);
});

$("correct").addEventListener("submit", (e) => {
  e.preventDefault();
  const what = $("c-what").value, value = $("c-value").value.trim();
  const correct = { lot: $("c-lot").value, reason: $("c-reason").value.trim(), [what]: what === "amount" ? value.replace(/\s+/g, "") : value };
  keep({ by: $("c-by").value.trim(), correct }, e.target, (got) => `Lot ${got.lot} is corrected.`);
});

refresh();
