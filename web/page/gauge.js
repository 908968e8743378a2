// The scale itself, on its card: the check with a known weight, ten placings for
// its repeatability, and zero or tare when a person says so.
import { post } from "./api.js";
import { attr, say, show } from "./dom.js";
import { moment } from "./logic.js";
import { shapes } from "./shapes.js";
import { words } from "./words.js";

const states = {
  never: { tone: "ask", shape: "wait", word: words("scales.check-never") },
  overdue: { tone: "ask", shape: "wait", word: words("scales.check-overdue") },
  passed: { tone: "in", shape: "in", word: words("scales.check-passed") },
  failed: { tone: "over", shape: "over", word: words("scales.check-failed") },
};

let serial = 0;

/** Ties the labels of a section to their fields, and its buttons to what they do. */
export function buildGauge(section) {
  const id = `gauge${++serial}`;
  for (const field of section.querySelectorAll("input")) {
    field.id = `${id}-${field.name}`;
    field.previousElementSibling.htmlFor = field.id;
  }
  section.querySelector("form").addEventListener("submit", (e) => e.preventDefault());
  for (const button of section.querySelectorAll("button")) button.addEventListener("click", press);
}

async function press(event) {
  const button = event.currentTarget;
  const section = button.closest(".gauge");
  const trouble = section.lastElementChild;
  const what = button.dataset.what;
  const value = (name) => section.querySelector(`input[name=${name}]`).value.trim();
  const mass = value("mass") || section.dataset.weight;
  show(trouble, false);
  button.disabled = true;
  try {
    if (what === "zero" || what === "tare") await post("/api/order", { scale: section.dataset.scale, do: what, by: value("by") });
    else await post("/api/check", { scale: section.dataset.scale, what, mass, shown: value("shown"), by: value("by") });
  } catch (e) {
    say(trouble, e.message);
    show(trouble, true);
  }
  button.disabled = false;
}

/** What is to be said of the check. */
function checked(c) {
  if (c.said) return c.said;
  if (!c.words) return words("scales.check-how", { limits: c.limits });
  return words(c.by ? "scales.check-by" : "scales.check-at", { time: moment(c.at), person: c.by, what: c.words });
}

/** Shows how things stand with a scale; lost says that the bench is not heard. */
export function updateGauge(el, s, lost) {
  const c = s.check;
  show(el, !!c);
  if (!c) return;
  const at = (/** @type {string} */ what) => el.querySelector(what);
  const chip = at(".chip"), about = at(".gauge-words"), spread = at(".gauge-spread"), doing = at(".gauge-doing"), seen = at(".gauge-seen"), form = at("form");
  attr(el, "data-scale", s.name);
  attr(el, "data-weight", c.weight);
  const state = states[c.state];
  show(chip, !!state && !lost);
  if (state) {
    attr(chip, "data-tone", state.tone);
    attr(chip.querySelector("path"), "d", shapes[state.shape]);
    say(chip.lastElementChild, state.word);
  }
  say(about, checked(c));
  show(spread, c.spread !== "");
  say(spread, words(c.used ? "scales.spread-used" : "scales.spread-unused", { spread: c.spread }));
  const running = c.doing !== "";
  show(doing, running && !lost);
  say(doing, c.doing);
  show(seen, running && !lost && c.want > 1);
  say(seen, words("scales.seen", { count: c.seen?.length ?? 0, all: c.want, weights: (c.seen ?? []).join("  ") }));
  show(form, !running && !lost);
  attr(form.querySelector("input[name=mass]"), "placeholder", c.weight || "500");
  show(form.children[1], s.eye);
  for (const b of el.querySelectorAll("button")) {
    const what = b.dataset.what;
    show(b, !lost && (running ? what === "stop" : what !== "stop" && (!s.eye || what === "mass")));
  }
}
