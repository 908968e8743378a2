// What is seldom wanted, behind one key: words of the bench, the course of the batch, and
// the keys of this browser.
import { $, attr, draw, each, make, say, show } from "./dom.js";
import { button, fill, keys, page, press, trouble } from "./deeds.js";
import { keyOf, saying, setKey, settable } from "./keys.js";
import { clock, keyGroups, keyName } from "./logic.js";
import { words } from "./words.js";
import { shapes } from "./shapes.js";

/** Opens or closes it. */
export function openSeldom(open = $("seldom").hidden) {
  if (open === !$("seldom").hidden) return;
  show($("seldom"), open);
  attr($("more"), "aria-expanded", open);
  setFor("");
  if (open) $("seldom-close").focus();
  else if ($("seldom").contains(document.activeElement)) $("more").focus();
}
$("more").addEventListener("click", () => openSeldom());
$("seldom-close").addEventListener("click", () => openSeldom(false));

/** Draws the keys that are no answers: few at the foot, the others in the drawer. */
export function updateKeys(view) {
  const answers = new Set((view.asked?.answers ?? []).map((a) => a.word));
  const groups = keyGroups(keys()).filter((g) => !answers.has(g.word));
  for (const [list, seldom] of [["keys", false], ["seldom-keys", true]]) {
    each($(list), groups.filter((g) => g.seldom === seldom), () => button("key"), fill);
  }
  // What is held must still be there.
  if (page.held && (page.lost || !keys().some((k) => k.word === page.held))) press.drop();
}

const stepBuild = () =>
  make("li.step", null, draw("svg", { viewBox: "0 0 64 64", role: "img" }, draw("path", {})), make("span.name"), make("span.amount.digits"), make("span.where"));

/** Draws the batch: its steps, and what was said of late. */
export function updateCourse({ batch, said }) {
  const steps = batch?.steps ?? [];
  each($("steps"), steps, stepBuild, (el, step) => {
    attr(el, "data-state", step.state);
    attr(el, "data-verdict", step.state === "done" ? step.verdict || "in" : "");
    attr(el, "aria-current", step.state === "now" ? "step" : null);
    const [svg, name, amount, where] = el.children;
    attr(svg.firstElementChild, "d", shapes[step.shape] ?? "");
    attr(svg, "aria-label", step.mark.words);
    say(name, step.as || step.material);
    say(amount, step.verdict === "not-known" ? "–" : words("bench.grams", { amount: step.state === "done" ? step.delivered : step.target, unit: step.unit || "g" }));
    say(where, step.notes.map((m) => m.words).join(" · "));
  });
  say($("steps-title"), batch ? words("bench.steps-done", { done: batch.done, of: steps.length }) : words("bench.steps"));
  say($("batch-title"), batch?.title ? batch.title + " · " : "");
  say($("batch-rest"), batch ? words("bench.batch", { batch: batch.mark, amount: batch.base, person: batch.by }) : "");
  const all = said ?? [];
  each($("said"), all.slice(0, 3), () => make("li", null, make("time"), make("span")), (el, s) => {
    say(el.children[0], clock(s.at));
    say(el.children[1], saying(s.says));
  });
  say($("newest"), all.length ? saying(all[0].says) : "");
  show($("steps-box"), steps.length > 0);
  show($("said-box"), all.length > 0);
}

// --- the keys of this browser

let setting = ""; // the word whose new key is waited for
const rows = [...document.querySelectorAll("#own-keys li")];

/** The page's own words, whose keys stand on their buttons. */
const owns = ["sound", "speech", "scheme", "more"];

/** The page's own word of a key, where there is one. */
export const ownWord = (key) => owns.find((word) => keyOf(word, rows.find((row) => row.dataset.word === word).dataset.key) === key.toLowerCase());

export function setFor(word) {
  setting = word;
  drawOwn();
}

/** What a key does while a new one is waited for; null: none is. */
export const settingKey = (key) => (setting ? () => take(key) : null);

/** Takes a key for the word that waits for one. */
function take(key) {
  const taken = rows.find((row) => row.dataset.word !== setting && keyOf(row.dataset.word, row.dataset.key) === key.toLowerCase());
  if (!settable(key)) trouble(words("bench.key-stays"));
  else if (taken) trouble(words("bench.key-taken", { key: keyName(key), what: taken.dataset.label }));
  else {
    trouble("");
    setKey(setting, key.toLowerCase());
    setFor("");
  }
}

function drawOwn() {
  for (const row of rows) {
    const { word, key } = row.dataset;
    const own = keyOf(word, key);
    const [set, off] = row.querySelectorAll("button");
    say(set.querySelector("kbd"), setting === word ? "?" : own ? keyName(own) : "–");
    say(set.querySelector(".label"), setting === word ? words("bench.press-key") : row.dataset.label);
    attr(set, "aria-pressed", setting === word);
    say(off, own ? words("bench.key-off") : words("bench.key-on"));
    if (!owns.includes(word)) continue;
    say($(word).querySelector("kbd"), own && keyName(own));
    show($(word).querySelector("kbd"), own !== "");
  }
  page.soon();
}
for (const row of rows) {
  const { word, key } = row.dataset;
  const [set, off] = row.querySelectorAll("button");
  set.addEventListener("click", () => setFor(setting === word ? "" : word));
  off.addEventListener("click", () => {
    setKey(word, keyOf(word, key) ? "" : null);
    setFor("");
  });
}
drawOwn();
