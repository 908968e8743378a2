// What every page does: the menu on small screens, the print button, and shapes beside
// words.
import { $ } from "./dom.js";
import { again } from "./api.js";
import { chips } from "./shapes.js";

const menu = $("menu");
menu.addEventListener("click", () => {
  const open = $("nav").classList.toggle("open");
  menu.setAttribute("aria-expanded", String(open));
});

document.addEventListener("click", (e) => {
  if (e.target instanceof Element && e.target.closest("[data-print]")) window.print();
});

chips();

/** Has the server draw this page anew, and takes the parts of those ids from it. */
export async function redraw(...ids) {
  const fresh = await again(location.href);
  for (const id of ids) {
    const was = $(id), is = fresh.getElementById(id);
    if (was && is) was.replaceWith(document.importNode(is, true));
  }
  chips();
}
