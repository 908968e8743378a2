// What every page does: the menu on small screens, the print button, shapes beside words,
// names that are remembered, and folds that open for an address and for paper.
import { $, show } from "./dom.js";
import { again } from "./api.js";
import { chips } from "./shapes.js";
import "./scheme.js";

const menu = $("menu");
menu.addEventListener("click", () => {
  const open = $("nav").classList.toggle("open");
  menu.setAttribute("aria-expanded", String(open));
});

document.addEventListener("click", (e) => {
  if (e.target instanceof Element && e.target.closest("[data-print]")) window.print();
});

chips();

if ($("insecure")) show($("insecure"), !isSecureContext);

/** Opens what an address names, with all that it lies in, and goes there. */
function land() {
  let at = null;
  try {
    at = $(decodeURIComponent(location.hash.slice(1)));
  } catch {
    // an address that cannot be read names nothing
  }
  if (!at) return;
  for (let el = at; el; el = el.parentElement) if (el instanceof HTMLDetailsElement) el.open = true;
  at.scrollIntoView();
}
addEventListener("hashchange", land);
land();

const closed = []; // folds that are open for paper only
addEventListener("beforeprint", () => {
  for (const fold of document.querySelectorAll("details[data-paper]:not([open])")) {
    fold.open = true;
    closed.push(fold);
  }
});
addEventListener("afterprint", () => { for (const fold of closed.splice(0)) fold.open = false; });

const place = "tared.by", names = "input[name=by], #by";

/** Who uses this browser, as far as it was told. */
export function person() {
  try {
    return localStorage.getItem(place) ?? "";
  } catch {
    return ""; // nothing is kept in this browser
  }
}

/** Keeps who uses this browser. */
export function keepPerson(name) {
  try {
    localStorage.setItem(place, name);
  } catch {
    // it is asked for again
  }
}

/** Puts the name of who uses this browser where a name is asked for. */
function known() {
  const name = person();
  if (name) for (const field of document.querySelectorAll(names)) field.value ||= name;
}
known();
document.addEventListener("change", (e) => {
  if (e.target instanceof HTMLInputElement && e.target.matches(names) && e.target.value.trim()) keepPerson(e.target.value.trim());
});

/** Has the server draw this page anew, and takes the parts of those ids from it. */
export async function redraw(...ids) {
  const fresh = await again(location.href);
  for (const id of ids) {
    const was = $(id), is = fresh.getElementById(id);
    if (was && is) was.replaceWith(document.importNode(is, true));
  }
  chips();
  known();
}
