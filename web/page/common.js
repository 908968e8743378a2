// What every page does: the menu on small screens, and telling whether this
// browser may command.
import { $, show } from "./dom.js";
import { get } from "./api.js";

const menu = $("menu");
menu.addEventListener("click", () => {
  const open = $("nav").classList.toggle("open");
  menu.setAttribute("aria-expanded", String(open));
});

get("/api/pair").then(
  (p) => show($("pairbar"), p.needed && !p.may),
  () => {}, // the page itself shows that the bench cannot be reached
);
