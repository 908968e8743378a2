// The ports that nobody has set up: what comes there, and the press that sets a scale up.
import { $, attr, each, sending, say, show } from "./dom.js";
import { get, post } from "./api.js";
import { words } from "./words.js";

const section = $("ports");
let seen = null;

function build() {
  const item = document.importNode($("port").content, true).firstElementChild;
  const form = item.querySelector(".port-form"), trial = item.querySelector(".try-form");
  const trouble = item.querySelector(".trouble"), done = item.querySelector(".port-done");
  const carry = (work, of = form) => sending(of, async () => {
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
  trial.addEventListener("submit", (event) => {
    event.preventDefault();
    carry(async (port) => {
      await post("/api/ports/try", { port, weight: trial.weight.value, unit: trial.querySelector(".try-unit").hidden ? "" : trial.unit.value });
      await ask();
      return "";
    }, trial);
  });
  item.querySelector("[data-what=keep]").addEventListener("click", () => carry(async (port) => words("ports.kept", await post("/api/ports/capture", { port }))));
  return item;
}

function update(item, p) {
  attr(item, "data-port", p.port);
  say(item.querySelector("h3"), p.product || p.port);
  say(item.querySelector(".port-at"), p.usb ? `${p.port} · USB ${p.usb}` : p.port);
  say(item.querySelector(".shows span"), p.shows);
  say(item.querySelector(".shows small"), p.format);
  show(item.querySelector(".shows"), p.shows !== "");
  say(item.querySelector(".rawline"), p.raw.replace(/\\r\\n|\\r|\\n/g, "$&\n").trimEnd());
  show(item.querySelector(".rawline"), p.raw !== "");
  const why = p.unclear.words || (p.proposal ? "" : p.why);
  say(item.querySelector(".port-why"), why);
  show(item.querySelector(".port-why"), why !== "");
  strange(item, p);
}

/** How what comes in no known format could be read, and how its trial goes. */
function strange(item, p) {
  const q = p.proposal, [section] = item.getElementsByClassName("strange");
  show(section, !!q);
  // Nothing that was not tried is set up.
  show(item.querySelector(".port-form"), q ? q.trial === "passed" : !p.unclear.words);
  if (!q) return;
  const line = () => document.createElement("li"), words = (el, m) => say(el, m.words);
  say(section.querySelector(".strange-reads b"), q.reads);
  each(section.querySelector(".strange-sure"), q.sure, line, words);
  each(section.querySelector(".strange-guessed"), q.guessed, line, words);
  show(section.querySelector(".strange-guess"), q.guessed.length > 0);
  show(section.querySelector(".try-form"), q.trial !== "passed");
  show(section.querySelector(".try-unit"), q.noUnit);
  const says = section.querySelector(".strange-says");
  say(says, q.says.words);
  attr(says, "data-trial", q.trial);
  show(says, q.says.words !== "");
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
