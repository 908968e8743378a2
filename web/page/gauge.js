// The scale itself, on its card: the check with a known weight, ten placings for
// its repeatability, and zero or tare when a person says so.
import { post } from "./api.js";
import { attr, draw, make, say, show } from "./dom.js";
import { moment, shapes } from "./logic.js";

const states = {
  never: { tone: "ask", shape: "wait", word: "not checked yet" },
  overdue: { tone: "ask", shape: "wait", word: "check is due" },
  passed: { tone: "in", shape: "in", word: "check passed" },
  failed: { tone: "over", shape: "over", word: "check failed" },
};

let serial = 0;

/** Builds the section; update fills it. */
export function buildGauge() {
  const id = `gauge${++serial}`;
  const field = (name, label, hint) => make("div", null, make("label", { for: `${id}-${name}` }, label),
    make("input", { type: "text", id: `${id}-${name}`, name, autocomplete: "off", placeholder: hint }));
  const button = (what, label, first) => make(`button.press${first ? ".first" : ""}`, { type: "button", "data-what": what, onclick: press }, label);
  return make("section.gauge", { "aria-labelledby": `${id}-title` },
    make("div.gauge-head", null, make("h3", { id: `${id}-title` }, "The scale itself"),
      make("span.chip", null, draw("svg", { viewBox: "0 0 64 64", "aria-hidden": "true" }, draw("path", {})), make("span"))),
    make("p.gauge-words"),
    make("p.gauge-spread"),
    make("p.gauge-doing", { role: "status" }),
    make("p.gauge-seen.mono"),
    make("form.gauge-form", { onsubmit: (e) => e.preventDefault() },
      field("mass", "Check weight", "500 g"), field("shown", "What it shows", "500.0 g"), field("by", "Your name", "")),
    make("div.gauge-press", null, button("mass", "Check", true), button("repeat", "Ten placings"), button("edges", "Four edges"),
      button("stop", "Stop", true), make("span.gauge-tell", { "data-what": "tell" }, "Tell the scale to"), button("zero", "Zero"), button("tare", "Tare")),
    make("p.trouble", { role: "alert", hidden: "" }));
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

/** Shows how things stand with a scale; lost says that the bench is not heard. */
export function updateGauge(el, s, lost) {
  const c = s.check;
  show(el, !!c);
  if (!c) return;
  const [head, words, spread, doing, seen, form, row] = el.children;
  attr(el, "data-scale", s.name);
  attr(el, "data-weight", c.weight);
  const state = states[c.state];
  const chip = head.lastElementChild;
  show(chip, !!state && !lost);
  if (state) {
    attr(chip, "data-tone", state.tone);
    attr(chip.firstElementChild.firstElementChild, "d", shapes[state.shape]);
    say(chip.lastElementChild, state.word);
  }
  const when = c.at ? `${moment(c.at)}${c.by ? `, ${c.by}` : ""}: ` : "";
  say(words, c.said || (c.words ? when + c.words + "." : `Put a known weight on it once a day. It is judged by ${c.limits}.`));
  show(spread, c.spread !== "");
  say(spread, `${c.spread}.${c.used ? " The weigh sheet uses it." : " The weigh sheet does not use it: the device, its step or your own setting is another."}`);
  const running = c.doing !== "";
  show(doing, running && !lost);
  say(doing, c.doing);
  show(seen, running && !lost && c.want > 1);
  say(seen, `${c.seen?.length ?? 0} of ${c.want}${c.seen ? ": " + c.seen.join("  ") : ""}`);
  show(form, !running && !lost);
  attr(form.querySelector("input[name=mass]"), "placeholder", c.weight || "500 g");
  show(form.children[1], s.eye);
  show(row, !lost);
  for (const b of row.children) {
    const what = b.dataset.what;
    show(b, running ? what === "stop" : what !== "stop" && (!s.eye || what === "mass"));
  }
}
