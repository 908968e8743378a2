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

document.addEventListener("change", (e) => {
  if (e.target.id === "c-what") say($("c-value-h"), e.target.selectedOptions[0].dataset.hint);
});

/** Spaces between a number and its unit are for people. */
const close = (amount) => amount.replace(/\s+/g, "");

async function keep(request, form, code) {
  for (const f of form.elements) attr(f, "aria-invalid", null);
  try {
    const got = await post("/api/keep", request);
    const by = form.elements.by.value;
    for (const f of form.querySelectorAll("input")) f.value = "";
    await redraw("lots", "c-lot", "history");
    form.elements.by.value = by;
    show($("mend"), $("c-lot").length > 0);
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

/** A touch on the mark of a lot corrects that one. */
document.addEventListener("click", (e) => {
  const lot = e.target instanceof Element ? e.target.closest("[data-lot]") : null;
  if (!(lot instanceof HTMLElement)) return;
  e.preventDefault();
  $("c-lot").value = lot.dataset.lot;
  $("mend").open = true;
  $("mend").scrollIntoView();
  $("c-value").focus({ preventScroll: true });
});

if ($("search")) finding(["lots", "c-lot", "history"], () => {});
