// The list of batches. The server draws it anew while somebody types what to find; what was
// selected to compare stays, whether it is listed or not.
import "./common.js";
import { $, attr, make, show } from "./dom.js";
import { redraw } from "./common.js";
import { words } from "./words.js";

const selected = new Set();

function tray() {
  const few = selected.size < 2, many = selected.size > $("compare").dataset.most;
  attr($("compare"), "disabled", few || many ? "" : null);
  for (const hint of $("compare-hint").children) show(hint, hint.dataset.when === (few ? "few" : many ? "many" : ""));
  attr($("list"), "data-none", selected.size ? null : "");
  const listed = new Set();
  for (const box of document.querySelectorAll("#rows input[name=mark]")) {
    box.checked = selected.has(box.value);
    listed.add(box.value);
  }
  $("tray").replaceChildren(...[...selected].map((mark) => make("li", null,
    listed.has(mark) ? null : make("input", { type: "hidden", name: "mark", value: mark }),
    make("button.press.tray-one", { type: "button", "aria-label": words("book.take-out", { batch: mark }), onclick: () => { selected.delete(mark); tray(); } }, mark + " ×"))));
}

let typing = 0;

/** Has the list drawn as the fields ask for. */
async function find() {
  const asked = ++typing;
  const q = new URLSearchParams();
  if ($("find").value.trim()) q.set("find", $("find").value);
  if ($("sort").selectedIndex) q.set("sort", $("sort").value);
  const to = "/book" + (q.size ? "?" + q : "");
  await new Promise((on) => setTimeout(on, 150));
  if (asked !== typing) return;
  history.replaceState(null, "", to);
  await redraw("found").catch(() => {});
  if (asked === typing) tray();
}

if ($("list")) {
  for (const box of document.querySelectorAll("#rows input:checked")) selected.add(box.value); // gone back to
  document.addEventListener("change", (e) => {
    if (e.target.name !== "mark") return;
    if (e.target.checked) selected.add(e.target.value);
    else selected.delete(e.target.value);
    tray();
  });
  tray();
  show($("go"), false);
  $("find").addEventListener("input", find);
  $("sort").addEventListener("change", find);
}
