// How records are told, on the pages of the book.
import { draw, make } from "./dom.js";
import { shapes } from "./logic.js";

const words = { in: "in band", under: "under", over: "over", skipped: "left out", none: "nothing in" };

/** The verdict on a material, in word, shape and colour. */
export function verdictChip(verdict) {
  if (!verdict) return make("span.soft", null, "not yet");
  return make("span.chip", { "data-tone": verdict },
    draw("svg", { viewBox: "0 0 64 64", "aria-hidden": "true" }, draw("path", { d: shapes[verdict === "skipped" || verdict === "none" ? "skip" : verdict] ?? shapes.ask })), words[verdict] ?? verdict);
}

const comparing = {
  differs: "M6 20h52v9H6zM6 37h52v9H6zM42 4h9L22 60h-9z",
  same: "M6 20h52v9H6zM6 37h52v9H6z",
};

/** Puts its shape before every word that the server drew with one. */
export function chips() {
  for (const el of document.querySelectorAll("[data-shape]")) {
    const d = comparing[el.dataset.shape] ?? shapes[el.dataset.shape];
    if (d) el.prepend(draw("svg", { viewBox: "0 0 64 64", "aria-hidden": "true" }, draw("path", { d })));
  }
}
