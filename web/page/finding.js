// A list that the server draws anew while somebody types what to find in it, or orders it.
import { redraw } from "./common.js";
import { $, show } from "./dom.js";

/** Has the part of that id drawn as the fields ask for; then is called after it. */
export function finding(part, then) {
  let typing = 0;
  const find = async () => {
    const asked = ++typing;
    const q = new URLSearchParams();
    if ($("find").value.trim()) q.set("find", $("find").value);
    if ($("sort").selectedIndex) q.set("sort", $("sort").value);
    await new Promise((on) => setTimeout(on, 150));
    if (asked !== typing) return;
    history.replaceState(null, "", location.pathname + (q.size ? "?" + q : ""));
    await redraw(part).catch(() => {});
    if (asked === typing) then();
  };
  show($("go"), false);
  $("find").addEventListener("input", find);
  $("sort").addEventListener("change", find);
}
