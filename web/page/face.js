// The face: the deed, its figure, the material, and how far the batch has come.
import { $, attr, each, make, say, show } from "./dom.js";
import { clock, dashes, fitted } from "./logic.js";
import { saying } from "./keys.js";
import { words } from "./words.js";
import { shapes } from "./shapes.js";

const canvas = document.createElement("canvas").getContext("2d");

/** Sets the words of a box as tall as they can stand in its width; only where something changed. */
function fit(box, lines) {
  const style = getComputedStyle(box), text = box.firstElementChild.textContent, room = box.clientWidth;
  const size = style.fontSize, key = [text, room, size, lines].join("|");
  if (box.dataset.fit === key || !room) return;
  box.dataset.fit = key;
  canvas.font = `${style.fontWeight} ${size} ${style.fontFamily}`;
  const spacing = parseFloat(style.letterSpacing) || 0;
  const is = fitted(text, room, lines, (t) => canvas.measureText(t).width + spacing * t.length + 2);
  attr(box, "data-lines", is.lines);
  if (box.id === "what") attr($("bench"), "data-lines", is.lines);
  box.style.setProperty("--squeeze", is.squeeze.toFixed(4));
  box.style.setProperty("--shrink", is.shrink.toFixed(4));
}

/** Fits what is on the face anew: its words, or its room, are others. */
export function fitFace() {
  const upright = innerHeight > innerWidth;
  fit($("sign-box"), 1);
  fit($("what"), innerHeight < 560 ? 1 : upright ? 3 : 2);
}
addEventListener("resize", fitFace);

/** Draws what is to be done; since is when the bench was heard last, where it is not heard. */
export function updateFace(view, lost, since) {
  const { now, batch } = view;
  const sign = lost ? { tone: "lost", shape: "lost", word: { words: words("bench.stop") } } : now.show;
  for (const el of [$("bench"), document.documentElement]) attr(el, "data-tone", sign.tone);
  attr($("bench"), "data-state", now.state);
  attr($("bench"), "data-eye", now.eye && view.asked ? true : null);
  attr($("shape"), "d", shapes[sign.shape]);
  say($("word"), sign.word.words);
  say($("headline"), lost ? words("bench.no-word-since", { time: clock(since) }) : now.headline.words);
  say($("detail"), lost ? words("bench.no-word-more") : (now.detail ?? []).map(saying).join(" "));
  updateFigure(now, lost);
  updateRail(now, batch);
  say($("material"), now.as || now.material || (now.state === "finished" && batch ? batch.title || batch.mark : words("bench.no-batch")));
  fitFace();
}

function updateFigure(now, lost) {
  const unknown = lost || now.show.digits === "", digits = unknown ? dashes : now.show.digits;
  say($("big-label"), lost ? words("bench.not-known") : now.show.label.words);
  say($("digits"), digits);
  show($("unit"), !unknown);
  for (const el of document.querySelectorAll(".measure")) say(el, now.unit || "g");
  // Set by the longest that this target can show, so that no digit jumps while powder
  // runs; a point is half as wide as a digit.
  const wide = (s) => [...s].reduce((sum, c) => sum + (c === "." || c === "," || c === " " ? 0.52 : 1), 0);
  $("big").style.setProperty("--digits", String(Math.max(wide(now.target || ""), wide(digits), 3).toFixed(2)));
  show($("side-target"), now.target !== "" && !unknown && digits !== now.target);
  say($("side-target"), words("bench.of", { target: now.target, unit: now.unit || "g" }));
}

function updateRail(now, batch) {
  each($("rail"), now.state === "idle" ? [] : (batch?.steps ?? []), () => make("li"), (el, step) => attr(el, "data-state", step.state));
  say($("kind"), now.show.about.map((m) => m.words).join(" · "));
  say($("on"), now.scale && now.material ? words(now.eye ? "bench.on-eye" : "bench.on", { scale: now.scale }) : "");
  show($("next-box"), !!now.next);
  if (!now.next) return;
  say($("next-name"), now.next.material);
  say($("next-amount"), words("bench.next", { amount: now.next.target, unit: now.next.unit || "g", scale: now.next.scale }));
}
