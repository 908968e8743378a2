// Two batches side by side.
import "./common.js";
import { $, draw, make, say, show } from "./dom.js";
import { get } from "./api.js";
import { shapes } from "./logic.js";

const query = new URLSearchParams(location.search);
const path = "/api/compare?" + new URLSearchParams({ a: query.get("a") ?? "", b: query.get("b") ?? "" });

get(path).then(drawBoth, (err) => {
  say($("trouble"), err.message);
  show($("trouble"), true);
});

function drawBoth(c) {
  show($("both"), true);
  say($("name-a"), c.a.mark);
  say($("name-b"), c.b.mark);
  $("words").replaceChildren(...(c.words ?? []).map((w) => make("li", null, w)));
  const cell = (label, text, more) => make("td.number" + (more ?? ""), { "data-label": label }, text || "–");
  $("rows").replaceChildren(...(c.lines ?? []).map((l) =>
    make("tr", { "data-differs": String(l.differs) },
      make("th", { scope: "row" }, l.material),
      cell(c.a.mark, l.a), cell(c.b.mark, l.b), cell("difference", l.difference, ".diff"), cell("joint U", l.u && `± ${l.u}`),
      make("td", null, verdict(l)))));
}

/** Whether the two differ, in word and shape: a material that one has none of is no comparison of weights. */
function verdict(l) {
  const [tone, d, words] = l.differs
    ? ["ask", "M6 20h52v9H6zM6 37h52v9H6zM42 4h9L22 60h-9z", l.a && l.b ? "yes" : "only in one"]
    : l.a && l.b
      ? ["", "M6 20h52v9H6zM6 37h52v9H6z", "not beyond U"]
      : ["", "M6 27h52v10H6z", "nothing to compare"];
  return make("span.chip", { "data-tone": tone }, draw("svg", { viewBox: "0 0 64 64", "aria-hidden": "true" }, draw("path", { d })), words);
}
