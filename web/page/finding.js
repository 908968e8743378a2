// A list that the server draws anew while somebody types what to find in it, orders it, or
// turns to another part of it.
import { redraw } from "./common.js";
import { $, show } from "./dom.js";

/** Has the parts of those ids drawn as the fields of the search ask for; then is called after it. */
export function finding(parts, then) {
  let asked = 0;
  const draw = async (address) => {
    const mine = ++asked;
    await new Promise((on) => setTimeout(on, 150));
    if (mine !== asked) return;
    history.replaceState(null, "", address);
    await redraw(...parts).catch(() => {});
    if (mine === asked) then();
  };
  const find = () => {
    const q = new URLSearchParams();
    for (const [name, value] of new FormData($("search"))) if (String(value).trim()) q.set(name, String(value));
    draw(location.pathname + (q.size ? "?" + q : ""));
  };
  show($("go"), false);
  $("search").addEventListener("input", find);
  document.addEventListener("click", async (e) => {
    const link = e.target instanceof Element ? e.target.closest("a[data-leaf]") : null;
    if (!(link instanceof HTMLAnchorElement) || e.ctrlKey || e.metaKey || e.shiftKey) return;
    e.preventDefault();
    await draw(link.href);
    $(parts[0]).scrollIntoView();
  });
}
