// The face: the deed, its figure, the material, and how far the batch has come.
import { $, attr, each, make, say, show, tick } from "./dom.js";
import { clock, dashes, fitted } from "./logic.js";
import { saying } from "./keys.js";
import { words } from "./words.js";
import { shapes } from "./shapes.js";

const canvas = document.createElement("canvas").getContext("2d");

/** Sets the words of a box as tall as they can stand in its width; only where something changed. */
function fit(box, lines) {
  const style = getComputedStyle(box), words = named(box), room = box.clientWidth;
  const size = style.fontSize, key = [words, room, size, lines].join("|");
  if (box.dataset.fit === key || !room) return;
  box.dataset.fit = key;
  canvas.font = `${style.fontWeight} ${size} ${style.fontFamily}`;
  const spacing = parseFloat(style.letterSpacing) || 0;
  const is = fitted(words, room, lines, (t) => canvas.measureText(t).width + spacing * t.length + 2);
  say(box.firstElementChild, is.words);
  attr(box, "data-lines", is.lines);
  if (box.id === "what") attr($("bench"), "data-lines", is.lines);
  box.style.setProperty("--squeeze", is.squeeze.toFixed(4));
  box.style.setProperty("--shrink", is.shrink.toFixed(4));
}

/** What a box says, without the places at which a long word is broken. */
const named = (box) => box.firstElementChild.textContent.replaceAll("\u00ad", "");

/** Says it in a box that is fitted. */
function name(box, words) {
  if (named(box) !== words) say(box.firstElementChild, words);
}

let fittedFor = ""; // the words that the face was fitted for

/** Fits what is on the face anew: its words, or its room, are others. */
function fitFace() {
  const upright = innerHeight > innerWidth;
  fit($("sign-box"), 1);
  fit($("what"), innerHeight < 560 ? 1 : upright ? 3 : 2);
  fitFigure();
}
addEventListener("resize", fitFace);
const rooms = new ResizeObserver(() => requestAnimationFrame(fitFace));
for (const id of ["sign-box", "what", "big"]) rooms.observe($(id));

/** Draws what is to be done; since is when the bench was heard last, where it is not heard. */
export function updateFace(view, lost, since) {
  const { now, batch } = view;
  const sign = lost ? { tone: "lost", shape: "lost", word: { words: words("bench.stop") } } : now.show;
  for (const el of [$("bench"), document.documentElement]) attr(el, "data-tone", sign.tone);
  attr($("bench"), "data-state", now.state);
  attr($("bench"), "data-eye", now.eye && view.asked ? true : null);
  attr($("shape"), "d", shapes[sign.shape]);
  name($("sign-box"), sign.word.words);
  say($("headline"), lost ? words("bench.no-word-since", { time: clock(since) }) : now.headline.words);
  $("headline").classList.toggle("unseen", !lost && now.show.same);
  say($("detail"), lost ? words("bench.no-word-more") : (now.detail ?? []).map(saying).join(" "));
  say($("big-label"), lost ? words("bench.not-known") : now.show.label.words);
  for (const el of measures) say(el, now.unit || "g");
  say($("side-target"), words("bench.of", { target: now.target, unit: now.unit || "g" }));
  updateRail(now, batch);
  name($("what"), now.as || now.material || (now.state === "finished" && batch ? batch.title || batch.mark : words("bench.no-batch")));
}

let longest = ""; // that the figure can be with this target, so that no digit jumps while powder runs

function fitFigure() {
  const box = $("big"), style = getComputedStyle(box), n = parseFloat(style.fontSize), h = parseFloat(getComputedStyle($("sign-box")).fontSize);
  if (!box.clientWidth) return;
  canvas.font = `${style.fontWeight} ${n}px ${style.fontFamily}`;
  const width = canvas.measureText(longest).width + (0.5 - 0.02 * longest.length) * n;
  // It may be as low as the deed; below that it is pressed together.
  const shrink = Math.min(1, Math.max(h / n, box.clientWidth / width));
  box.style.setProperty("--shrink", shrink.toFixed(4));
  box.style.setProperty("--squeeze", Math.min(1, box.clientWidth / (width * shrink)).toFixed(4));
}

const measures = document.querySelectorAll(".measure");

/** Draws the figure, and fits the face where one of its words is another. */
export function updateFigure(now, lost) {
  const digits = lost || now.show.digits === "" ? dashes : now.show.digits;
  tick($("digits"), digits);
  show($("unit"), digits !== dashes);
  show($("side-target"), now.target !== "" && digits !== dashes && digits !== now.target);
  const is = [named($("sign-box")), named($("what")), now.state, now.target, digits.length].join("|");
  if (is === fittedFor) return;
  fittedFor = is;
  longest = [now.target, digits, "000"].map((s) => s.replaceAll(/[0-9–]/g, "0")).sort((a, b) => b.length - a.length)[0];
  fitFace();
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
