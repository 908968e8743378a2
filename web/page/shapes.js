// The shapes that stand beside a word, in a square of 64; each state has its own, so
// that colour is never alone.
import { draw } from "./dom.js";

export const shapes = {
  under: "M32 60 6 30h16V4h20v26h16z",
  in: "M6 34 16 24l11 11L50 9l9 9-32 37z",
  over: "M32 4 58 34H42v26H22V34H6z",
  stop: "M21 4h22l17 17v22L43 60H21L4 43V21z",
  ask: "M20 22c0-9 5-15 13-15s14 5 14 13c0 6-3 9-7 12-3 2-4 4-4 8h-8c0-7 2-10 6-13 3-2 5-4 5-7s-2-5-6-5-5 3-5 7zM27 46h10v11H27z",
  mask: "M14 18h36l7 12c0 15-11 26-25 26S7 45 7 30zM2 12l11 5-5 9zM62 12l-11 5 5 9zM22 30v5h20v-5zM24 41v5h16v-5z",
  wait: "M12 4h40v8c0 10-9 14-14 20 5 6 14 10 14 20v8H12v-8c0-10 9-14 14-20-5-6-14-10-14-20z",
  lost: "M32 4 62 58H2zM28 24v18h8V24zM28 46v7h8v-7z",
  place: "M10 8h44v8h-4l-4 42H18l-4-42h-4z",
  tip: "M8 20 34 6l20 34-26 14zM4 40h10v20H4z",
  idle: "M32 6a26 26 0 1 0 .1 0zm0 10a16 16 0 1 1-.1 0z",
  pause: "M14 8h12v48H14zM38 8h12v48H38z",
  skip: "M6 26h52v12H6z",
  now: "M14 6 54 32 14 58z",
  lift: "M32 4 54 26H40v22H24V26H10zM8 52h48v8H8z",
  back: "M8 52h48v8H8zM32 46 10 24h14V4h16v20h14z",
  eye: "M2 32C14 12 50 12 62 32 50 52 14 52 2 32zm30-12a12 12 0 1 0 .1 0z",
  differs: "M6 20h52v9H6zM6 37h52v9H6zM42 4h9L22 60h-9z",
  same: "M6 20h52v9H6zM6 37h52v9H6z",
};

/** Puts its shape before each word that the server drew with one. */
export function chips(within = document) {
  for (const el of within.querySelectorAll("[data-shape]")) {
    const d = shapes[el.dataset.shape];
    if (d && !el.querySelector("svg")) el.prepend(draw("svg", { viewBox: "0 0 64 64", "aria-hidden": "true" }, draw("path", { d })));
  }
}
