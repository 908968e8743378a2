// Simulated hands, on a demonstration's bench only.
import { $, attr, each, make, say, show } from "./dom.js";
import { get, post } from "./api.js";
import { page, trouble } from "./deeds.js";
import { handKeys, keyName, nextScaleKey } from "./logic.js";
import { words } from "./words.js";

let hands = []; // each scale with what the hands can do there
let handScale = ""; // where they are
let handWork = ""; // the scale that the bench weighs on

function drawHands(list) {
  hands = list;
  show($("hands"), list.length > 0);
  if (!list.length) return;
  if (!list.some((h) => h.scale === handScale)) handScale = list[0].scale;
  each($("hands-pick"), list.length > 1 ? list : [], () => make("button.press", { type: "button", onclick: (e) => handsTo(e.currentTarget.dataset.scale) }, make("span"), make("kbd")), (el, h) => {
    el.dataset.scale = h.scale;
    say(el.children[0], h.scale);
    say(el.children[1], keyName(nextScaleKey));
    show(el.children[1], h.scale !== handScale);
    attr(el, "aria-pressed", h.scale === handScale);
  });
  const mine = list.find((h) => h.scale === handScale);
  each($("hands-moves"), mine.moves, () => make("button.press", { type: "button", onclick: (e) => move(e.currentTarget.dataset.do) }, make("kbd"), make("span")), (el, m) => {
    el.dataset.do = m.do;
    const key = handKeys[m.do];
    show(el.children[0], !!key);
    say(el.children[0], key ? keyName(key) : "");
    attr(el, "aria-keyshortcuts", key ?? null);
    say(el.children[1], m.label);
  });
  page.soon();
}

function handsTo(scale) {
  handScale = scale;
  drawHands(hands);
}

/** The hands go where the bench weighs next; whoever sends them elsewhere keeps them there till then. */
export function handsFollow(scale) {
  if (!scale || scale === handWork) return;
  handWork = scale;
  if (hands.some((h) => h.scale === scale)) handsTo(scale);
}

/** What a key means for the hands; null for nothing. */
export function handKey(key) {
  const at = hands.findIndex((h) => h.scale === handScale);
  if (at < 0) return null;
  if (key === nextScaleKey && hands.length > 1) return () => handsTo(hands[(at + 1) % hands.length].scale);
  const m = hands[at].moves.find((x) => handKeys[x.do] === key);
  return m ? () => move(m.do) : null;
}

async function move(what) {
  try {
    drawHands(await post("/api/hands", { scale: handScale, do: what }));
  } catch (err) {
    trouble(err.message);
  }
}
$("hands-more").addEventListener("click", () => {
  const all = $("hands").classList.toggle("all");
  attr($("hands-more"), "aria-expanded", all);
  say($("hands-more"), all ? words("bench.less") : words("bench.more"));
});
if ($("hands").dataset.there !== undefined) get("/api/hands").then((list) => {
  handScale = page.view?.now.scale ?? "";
  drawHands(list);
}, () => {});
