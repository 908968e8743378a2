// How records are told, on the pages of the book.
import { draw, make } from "./dom.js";
import { shapes } from "./logic.js";

const words = { in: "in band", under: "under", over: "over", skipped: "left out" };

/** The verdict on a material, in word, shape and colour. */
export function verdictChip(verdict) {
  if (!verdict) return make("span.soft", null, "not yet");
  return make("span.chip", { "data-tone": verdict },
    draw("svg", { viewBox: "0 0 64 64", "aria-hidden": "true" }, draw("path", { d: shapes[verdict === "skipped" ? "skip" : verdict] ?? shapes.ask })), words[verdict] ?? verdict);
}

/** How a batch went, for a list. */
export function went(b) {
  const [tone, shape, text] = !b.ended
    ? ["", "now", `open, ${b.done} of ${b.of} in`]
    : b.off > 0
      ? ["over", "over", `${b.off} of ${b.of} out of band`]
      : b.done < b.of
        ? ["", "skip", `closed, ${b.done} of ${b.of} in`]
        : ["in", "in", "all in band"];
  return make("span.chip", { "data-tone": tone }, draw("svg", { viewBox: "0 0 64 64", "aria-hidden": "true" }, draw("path", { d: shapes[shape] })), text);
}
