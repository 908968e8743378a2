// The bar: where the pour stands. All places come from the bench.
import { $, attr, say, show } from "./dom.js";

/** A place on the bar, which comes in ten-thousandths of its width. */
const at = (place) => String(place / 100);

/** Draws the bar; it stands there empty where nothing is known. */
export function updateBar(now, lost) {
  const el = $("bar"), bar = now.show.bar;
  el.style.visibility = bar ? "" : "hidden";
  $("in").parentElement.style.visibility = !lost && now.in !== "" ? "" : "hidden";
  say($("in"), !lost && now.in !== "" ? now.in : "–");
  if (!bar) return;
  const unknown = lost || bar.needle === -1;
  attr(el, "data-lost", unknown);
  attr(el, "data-off", !unknown && bar.off ? bar.off : null);
  const set = (name, place) => el.style.setProperty(name, at(place));
  set("--at", unknown ? 0 : bar.needle);
  set("--whole", unknown ? 0 : bar.fill);
  set("--low", bar.low);
  set("--high", bar.high);
  let lines = "";
  for (let i = -bar.lines; i <= bar.lines; i++) lines += `M${at(bar.mark + i * bar.gap)} 10V${i % 5 ? 5 : 1}`;
  attr($("bar-lines"), "d", lines);
  say($("bar-low"), now.low);
  say($("bar-high"), now.high);
  say($("bar-line"), bar.line.words);
  show($("bar-line"), bar.gap > 0);
  attr(el, "aria-label", [bar.says.words, bar.line.words + ".", bar.band.words].filter(Boolean).join(" "));
}
