// What every page does: the menu on small screens, the print button, shapes beside
// words, and telling whether this browser may command.
import { $, show } from "./dom.js";
import { again, get } from "./api.js";
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

get("/api/pair").then(
  (p) => show($("pairbar"), p.needed && !p.may),
  () => {}, // the page itself shows that the bench cannot be reached
);

/** Has the server draw this page anew, and takes the parts of those ids from it. */
export async function redraw(...ids) {
  const fresh = await again(location.href);
  for (const id of ids) {
    const was = $(id), is = fresh.getElementById(id);
    if (was && is) was.replaceWith(document.importNode(is, true));
  }
  chips();
}
