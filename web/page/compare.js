// The server draws this page; this lays two tiles on each other, under one slider.
import "./common.js";
import { $, attr, make } from "./dom.js";

const slider = $("wipe"), tiles = $("tiles");
if (slider) {
  attr(tiles, "data-wiped", "");
  const ends = make("p.ends", null);
  for (const caption of tiles.querySelectorAll("figcaption")) ends.append(make("span", null, ...caption.cloneNode(true).childNodes));
  tiles.after(ends);
  slider.addEventListener("input", () => tiles.style.setProperty("--at", slider.value + "%"));
}
