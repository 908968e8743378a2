// The list of batches. The server draws it; this adds the shapes, and tells how
// many are ticked.
import "./common.js";
import { $, attr, say } from "./dom.js";
import { chips } from "./record.js";

const most = 40; // batches side by side
const chosen = () => document.querySelectorAll("input[name=mark]:checked").length;

function ticked() {
  const n = chosen();
  attr($("compare"), "disabled", n >= 2 && n <= most ? null : "");
  say($("compare-hint"), n > most ? `No more than ${most} at a time: untick some.` : n >= 2 ? `${n} are ticked.` : n === 1 ? "Tick one more." : "Tick two batches or more.");
}

chips();
if ($("list")) {
  $("list").addEventListener("change", ticked);
  ticked();
}
