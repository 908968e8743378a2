// The stock: the server draws it; this sends what is added or corrected, and has it
// drawn anew.
import { finding } from "./finding.js";
import { $, attr, say, sending, show } from "./dom.js";
import { redraw } from "./common.js";
import { post } from "./api.js";
import { words } from "./words.js";

function complain(err) {
  say($("trouble"), err?.message);
  show($("trouble"), !!err);
  if (!err) return;
  show($("done"), false);
  $("trouble").scrollIntoView({ block: "nearest" });
}

function empties() {
  for (const row of document.querySelectorAll("[data-empty]")) show(row, $("all").checked);
}

document.addEventListener("change", (e) => {
  if (e.target.id === "all") empties();
  if (e.target.id === "c-what") say($("c-value-h"), e.target.selectedOptions[0].dataset.hint);
});

/** Spaces between a number and its unit are for people. */
const close = (amount) => amount.replace(/\s+/g, "");

async function keep(request, form, code) {
  for (const f of form.elements) attr(f, "aria-invalid", null);
  try {
    const got = await post("/api/keep", request);
    const all = $("all")?.checked, by = form.elements.by.value;
    for (const f of form.querySelectorAll("input")) f.value = "";
    await redraw("lots", "c-lot", "history");
    form.elements.by.value = by;
    show($("mend"), $("c-lot").length > 0);
    if ($("all")) $("all").checked = all;
    empties();
    complain(null);
    say($("done"), words(code, got));
    show($("done"), true);
  } catch (err) {
    complain(err);
  }
}

document.addEventListener("submit", (e) => {
  if (e.target.id === "search") return;
  e.preventDefault();
  const form = /** @type {any} */ (e.target), by = form.elements.by.value.trim();
  const send = (request, code) => sending(form, () => keep(request, form, code));
  if (form.id !== "correct") {
    const kept = {};
    for (const f of form.elements) if (f.name && f.name !== "by") kept[f.name] = f.dataset.mass ? close(f.value) : f.value.trim();
    send({ by, [form.dataset.as]: kept }, "stock.added");
  } else {
    const what = $("c-what").value, value = $("c-value").value.trim();
    send({ by, correct: { lot: $("c-lot").value, reason: $("c-reason").value.trim(), [what]: what === "amount" ? close(value) : value } }, "stock.corrected");
  }
});

if ($("find")) finding("lots", empties);
