// An idle bench begins: a touch for the recipe, a touch for the name.
import { $, attr, each, make, say, show } from "./dom.js";
import { post } from "./api.js";
import { keepPerson, person, redraw } from "./common.js";
import { page, trouble } from "./deeds.js";
import { words } from "./words.js";

let wish = null; // the recipe that was touched
let drawn = ""; // the batch after which the choice was drawn; it has to know of it

/** Draws what is on each scale, and what can be begun. */
export function updateBegin({ now, batch, scales, due }) {
  const over = now.state === "finished" && !!batch;
  show($("begin"), now.state === "idle" || over);
  if (now.state !== "idle" && !over) {
    wish = null;
    return;
  }
  const after = over ? batch.mark : "";
  if (after !== drawn) {
    drawn = after;
    wish = null;
    redraw("begin").then(() => page.soon(), () => {});
  }
  each($("pans"), over ? [] : (scales ?? []), () => make("li", null, make("span"), " ", make("b"), " ", make("span")), (el, s) => {
    say(el.children[0], s.name);
    say(el.children[1], s.shows ? `${s.shows} ${s.unit}` : "–");
    say(el.children[2], s.why || s.pan.words);
  });
  for (const b of $("begin-what").querySelectorAll("button")) attr(b, "aria-pressed", b === wish);
  for (const b of $("begin-who").querySelectorAll("button")) b.disabled = !wish;
  const name = person();
  if ($("begin-name").value === "" && name && !$("begin-names").querySelector(`[data-by="${CSS.escape(name)}"]`) && document.activeElement !== $("begin-name")) $("begin-name").value = name;
  show($("onward"), over);
  if (over) attr($("onward-main"), "href", "/book/" + encodeURIComponent(batch.mark));
  show($("onward-left"), over && batch.left);
  if (over) attr($("onward-left"), "href", `/stock?left=${encodeURIComponent(batch.mark)}#rest`);
  // Not while powder runs: it can wait for the end of the batch.
  const said = (due ?? []).map((d) => d.says.words).join("\n");
  if (($("due").dataset.words ?? "") !== said) {
    $("due").dataset.words = said;
    $("due").replaceChildren(...due.map((d) => make("li", null, make("a", { href: `/book/${encodeURIComponent(d.batch)}#after` }, d.says.words))));
  }
  show($("due"), (due ?? []).length > 0);
}

async function start(by) {
  if (!wish || !by) return;
  keepPerson(by);
  try {
    await post("/api/start", { recipe: wish.dataset.recipe, base: wish.dataset.base, by });
    wish = null;
    page.soon();
  } catch (err) {
    trouble(words("bench.begin-refused", { why: [err.message, ...(err.lines ?? []).map((l) => l.words ?? l)].join(" ") }));
  }
}

$("begin").parentElement.addEventListener("click", (e) => {
  const b = e.target instanceof Element ? e.target.closest("#begin button") : null;
  if (!b) return;
  if (b.dataset.recipe !== undefined) {
    wish = b === wish ? null : b;
    page.soon();
  } else if (b.dataset.by) start(b.dataset.by);
});
document.addEventListener("submit", (e) => {
  if (e.target.id !== "begin-who") return;
  e.preventDefault();
  start($("begin-name").value.trim());
});
