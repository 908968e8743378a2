// The bar: where the pour stands. All places come from the bench.
import { $, attr, say, show, tick } from "./dom.js";

/** A place on the bar, which comes in ten-thousandths of its width. */
const at = (place) => String(place / 100);

/** Draws the scale of the bar; it stands there empty where nothing is known. */
export function updateBar(now) {
  const el = $("bar"), bar = now.show.bar;
  el.style.visibility = bar ? "" : "hidden";
  if (!bar) return;
  el.style.setProperty("--low", at(bar.low));
  el.style.setProperty("--high", at(bar.high));
  let lines = "";
  for (let i = -bar.lines; i <= bar.lines; i++) lines += `M${at(bar.mark + i * bar.gap)} 10V${i % 5 ? 5 : 1}`;
  attr($("bar-lines"), "d", lines);
  say($("bar-low"), now.low);
  say($("bar-high"), now.high);
  say($("bar-line"), bar.line.words);
  show($("bar-line"), bar.gap > 0);
}

let places = []; // of late: when (ms), where the needle was, and how much was in
let rest = 0;

/** Brings the needle to its place, and what is in. What trails behind the needle reaches back to where it was. */
function glide(needle, fill) {
  const now = performance.now(), [then, was, had] = places.at(-1) ?? [0, needle, -1];
  if (needle === was && fill === had) return;
  const trail = (length) => ($("trail").style.scale = `${length} 1`);
  // What glides has a browser draw at the beat of the screen, for which all else waits. Lines
  // that come so quickly need no glide.
  attr($("bar"), "data-quick", now - then < 75);
  places = [...places, [now, needle, fill]].filter(([when]) => when > now - 900);
  $("at").style.translate = at(needle) + "%";
  $("fill").style.scale = `${fill / 10000} 1`;
  trail(Math.max(0, needle - places[0][1]) / 10000);
  clearTimeout(rest);
  rest = setTimeout(trail, 900, 0);
}

/** Draws where the pour stands. */
export function updateNeedle(now, lost) {
  const el = $("bar"), bar = now.show.bar, known = !lost && now.in !== "";
  $("in").parentElement.style.visibility = known ? "" : "hidden";
  tick($("in"), known ? now.in : "–");
  if (!bar) return;
  const unknown = lost || bar.needle === -1;
  attr(el, "data-lost", unknown);
  attr(el, "data-off", !unknown && bar.off ? bar.off : null);
  if (unknown) places = [];
  else glide(bar.needle, bar.fill);
  attr(el, "aria-label", [bar.says.words, bar.line.words + ".", bar.band.words].filter(Boolean).join(" "));
}
