// The list of batches. The server draws it; this tells when enough are selected to
// compare.
import "./common.js";
import { $, attr, show } from "./dom.js";

function selected() {
  const n = document.querySelectorAll("input[name=mark]:checked").length;
  const few = n < 2, many = n > $("compare").dataset.most;
  attr($("compare"), "disabled", few || many ? "" : null);
  for (const hint of $("compare-hint").children) show(hint, hint.dataset.when === (few ? "few" : many ? "many" : ""));
}

if ($("list")) {
  $("list").addEventListener("change", selected);
  selected();
}
