// The ports that nobody has set up: what comes there, and the press that sets a scale up.
import { $, attr, each, sending, say, show } from "./dom.js";
import { get, post } from "./api.js";
import { words } from "./words.js";

const section = $("ports");
let seen = null;

function build() {
  const item = document.importNode($("port").content, true).firstElementChild;
  const [form] = item.getElementsByTagName("form");
  const trouble = item.querySelector(".trouble"), done = item.querySelector(".port-done");
  const carry = (work) => sending(form, async () => {
    show(trouble, false);
    try {
      say(done, await work(item.dataset.port));
    } catch (e) {
      say(trouble, e.message);
      show(trouble, true);
    }
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    carry(async (port) => words("ports.taken", await post("/api/ports/take", { port, name: form.name.value, step: form.step.value, max: form.max.value })));
  });
  form.querySelector("[data-what=keep]").addEventListener("click", () => carry(async (port) => words("ports.kept", await post("/api/ports/capture", { port }))));
  return item;
}

function update(item, p) {
  attr(item, "data-port", p.port);
  say(item.querySelector("h3"), p.product || p.port);
  say(item.querySelector(".port-at"), p.usb ? `${p.port} · USB ${p.usb}` : p.port);
  say(item.querySelector(".shows span"), p.shows);
  say(item.querySelector(".shows small"), p.format);
  show(item.querySelector(".shows"), p.shows !== "");
  say(item.querySelector(".rawline"), p.raw);
  show(item.querySelector(".rawline"), p.raw !== "");
  say(item.querySelector(".port-why"), p.why);
  show(item.querySelector(".port-why"), p.why !== "");
}

function draw() {
  each($("ports-list"), seen.ports, build, update);
  each($("ports-faults"), seen.faults, () => document.createElement("li"), say);
  show($("ports-faults"), seen.faults.length > 0);
  say($("ports-lead"), words(!seen.looking ? "ports.off" : seen.ports.length ? "ports.on" : "ports.nothing"));
  show($("ports-look"), !seen.looking);
  show(section, seen.here);
}

async function ask() {
  try {
    seen = await get("/api/ports");
    draw();
  } catch {
    // the page says already that the bench cannot be reached
  }
}

$("ports-look").addEventListener("click", async (event) => {
  event.currentTarget.disabled = true;
  try {
    await post("/api/ports/look", {});
    await ask();
  } catch (e) {
    say($("ports-lead"), e.message);
  }
  $("ports-look").disabled = false;
});

setInterval(() => {
  if (seen?.looking && !document.hidden) ask();
}, 1000);
ask();
