// The list of batches. The server draws it anew while somebody types what to find; what was
// selected to compare stays, whether it is listed or not.
import "./common.js";
import { $, attr, make, show } from "./dom.js";
import { finding } from "./finding.js";
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

if ($("list")) {
  for (const box of document.querySelectorAll("#rows input:checked")) selected.add(box.value); // gone back to
  document.addEventListener("change", (e) => {
    if (e.target.name !== "mark") return;
    if (e.target.checked) selected.add(e.target.value);
    else selected.delete(e.target.value);
    tray();
  });
  tray();
  finding(["found"], tray);
}
