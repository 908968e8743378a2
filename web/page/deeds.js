// What a press does: the keys of the bench as they are in this browser, on buttons and on
// the keyboard, and what the page says where nothing can be done.
import { $, attr, each, make, say, show } from "./dom.js";
import { presses } from "./press.js";
import { mine } from "./keys.js";
import { keyName } from "./logic.js";
import { words } from "./words.js";

/** What all parts of the page stand on. */
export const page = {
  view: null,
  lost: true,
  since: null, // when the last message came
  held: "", // the word whose key or button is held
  touched: "", // the word that the finger or the mouse went down on
  soon(_places) {}, // draws the page with the next frame; where only these have changed, what shows them
  act(_word, _seen) {}, // carries out a word
};

/** What the keys do now, as they are set here. */
export const keys = () => mine(page.view?.keys);

let troubleTimer = 0;

/** Says what is wrong, for a while. */
export function trouble(why) {
  clearTimeout(troubleTimer);
  say($("trouble"), why);
  show($("trouble"), why !== "");
  if (why) troubleTimer = setTimeout(() => trouble(""), 12000);
}

/** What a press of a word's key or button is, as the page stands now. */
export function wordPress(word) {
  const key = keys().find((k) => k.word === word);
  const seen = page.view?.seq;
  return { word, label: key?.label.words, hold: !!key?.hold && !page.lost, act: () => page.act(word, seen) };
}

function tooShort({ label }) {
  trouble(words("bench.hold-to", { what: label }));
}

export const press = presses({
  onHold(word) {
    page.held = word;
    if (word) trouble("");
    page.soon();
  },
  onShort: tooShort,
  onScan: () => trouble(words("bench.scanner")),
});
for (const end of ["pointerup", "pointercancel"]) addEventListener(end, () => press.end("pointer"));
addEventListener("blur", () => press.drop());

/** A pressable thing with its keys and its words. */
export function button(kind) {
  const b = make("button.press." + kind, { type: "button" }, make("span.caps", null, make("span.caps-keys"), make("span.held")), make("span.label"));
  b.addEventListener("pointerdown", (e) => {
    page.touched = b.dataset.word;
    const meant = wordPress(b.dataset.word);
    if (meant.hold && e.button === 0) press.begin(meant, "pointer");
  });
  b.addEventListener("pointerleave", () => press.end("pointer"));
  b.addEventListener("contextmenu", (e) => e.preventDefault());
  b.addEventListener("click", (e) => {
    const meant = wordPress(b.dataset.word);
    // Under a finger the button may have become another one since.
    if (e.detail > 0 && page.touched !== meant.word) return;
    if (!meant.hold) meant.act();
    else if (e.detail === 0) tooShort(meant);
  });
  return b;
}

/** Puts a word on a button. */
export function fill(el, { word, keys, label, hold }) {
  el.dataset.word = word;
  attr(el, "disabled", page.lost ? "" : null);
  attr(el, "data-hold", hold ? "" : null);
  attr(el, "data-holding", hold && word === page.held ? "" : null);
  const [caps, held] = el.children[0].children;
  each(caps, keys, () => make("kbd"), (k, key) => say(k, keyName(key)));
  show(held, hold);
  say(held, words("bench.hold"));
  say(el.children[1], label.words);
}
