// The list of batches.
import "./common.js";
import { $, attr, draw, make, say, show } from "./dom.js";
import { get } from "./api.js";
import { day } from "./logic.js";
import { went } from "./record.js";

get("/api/book").then(drawList, (err) => {
  say($("trouble"), err.message);
  show($("trouble"), true);
});

function drawList(rows) {
  show($("empty"), rows.length === 0);
  show($("list"), rows.length > 0);
  $("rows").replaceChildren(...rows.map((b) =>
    make("tr", null,
      make("td", null, make("label.tick", null, make("input", { type: "checkbox", name: "mark", value: b.mark, "aria-label": `compare batch ${b.mark}`, onchange: ticked }))),
      make("th", { scope: "row" }, make("a.batch", { href: "/book/" + encodeURIComponent(b.mark) }, b.mark)),
      make("td", null, b.title || "no title", b.simulated ? make("div.soft", null, "simulated scales") : null),
      make("td", null, day(b.started)),
      make("td", null, b.by),
      make("td.number.base", null, b.base),
      make("td", null, went(b)))));
  ticked();
}

const chosen = () => [...document.querySelectorAll("input[name=mark]:checked")];

function ticked() {
  const n = chosen().length;
  attr($("compare"), "disabled", n === 2 ? null : "");
  say($("compare-hint"), n === 2 ? "" : n > 2 ? "Two at a time: untick some." : n === 1 ? "Tick one more." : "Tick two batches.");
}

$("list").addEventListener("submit", (e) => {
  e.preventDefault();
  const [a, b] = chosen();
  if (a && b) location.href = `/compare?a=${encodeURIComponent(a.value)}&b=${encodeURIComponent(b.value)}`;
});
