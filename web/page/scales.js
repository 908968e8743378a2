// Each scale as it is heard.
import "./common.js";
import "./ports.js";
import { $, attr, each, make, say, show } from "./dom.js";
import { buildGauge, updateGauge } from "./gauge.js";
import { get, post } from "./api.js";
import { watch } from "./live.js";
import { clock, dashes } from "./logic.js";
import { shapes } from "./shapes.js";
import { words } from "./words.js";

let view = null;
let lost = true;
let since = null;
let due = false;

const soon = () => {
  if (due) return;
  due = true;
  requestAnimationFrame(() => {
    due = false;
    update();
  });
};

const links = {
  up: { tone: "up", shape: "in", word: words("scales.up") },
  waiting: { tone: "ask", shape: "wait", word: words("scales.waiting") },
  lost: { tone: "gone", shape: "lost", word: words("scales.lost") },
  eye: { tone: "", shape: "eye", word: words("scales.eye") },
  dead: { tone: "gone", shape: "lost", word: words("scales.dead") },
};

/** Has the bench forget what it learnt of a scale, a person or a material. */
async function relearn(event) {
  const button = event.currentTarget;
  const trouble = $("learnt-trouble");
  button.disabled = true;
  show(trouble, false);
  try {
    await post("/api/do", { word: "relearn", rest: button.dataset.of, by: "" });
  } catch (e) {
    say(trouble, e.message);
    show(trouble, true);
    show($("learnt"), true);
    $("learnt").firstElementChild.open = true;
  }
  button.disabled = false;
}

function build() {
  const card = document.importNode($("card").content, true).firstElementChild;
  card.querySelector(".relearn button").addEventListener("click", relearn);
  buildGauge(card.querySelector(".gauge"));
  return card;
}

function lead() {
  if (lost) return since ? words("scales.no-word", { time: clock(since) }) : words("script.connecting");
  const count = view?.scales?.length;
  if (!count) return words("scales.none");
  return view.simulated ? words("scales.simulated", { count }) : words("scales.live", { count });
}

/** What a scale shows, beside its number. */
function beside(s) {
  if (s.print) return words("scales.printed", { time: clock(s.at) });
  if (s.status && s.status !== "ok") return s.status;
  return s.settled ? words("scales.steady") : words("scales.moving");
}

function updateCard(el, s) {
  const [head, shows, pan, why, gauge, more] = el.children;
  const [, about, raw, learn] = more.children;
  const gone = lost || s.link === "lost";
  attr(el, "data-gone", gone);
  say(head.children[0], s.name);
  const link = links[lost ? "dead" : s.eye ? "eye" : s.link] ?? links.waiting;
  attr(head.children[1], "data-tone", link.tone);
  attr(head.children[1].querySelector("path"), "d", shapes[link.shape]);
  say(head.children[1].lastElementChild, link.word);
  const known = !gone && s.shows !== "";
  show(shows, !s.eye);
  say(shows.children[0], known ? s.shows : dashes);
  say(shows.children[1], known ? `${s.unit} · ${beside(s)}` : "");
  show(pan, !gone && !!s.pan.words);
  say(pan, s.pan.words);
  const silent = !lost && !s.eye && s.link !== "up";
  show(why, silent || (!lost && !!s.why));
  say(why.children[0], s.why);
  show(why.children[1], silent);
  say(why.children[1], s.link === "lost" ? words("scales.lost-help") : words("scales.waiting-help"));
  const of = { ...s, at: s.frames ? clock(s.at) : "" };
  for (const dd of about.querySelectorAll("dd")) {
    const value = of[dd.dataset.of], counts = typeof value === "number"; // zero damaged lines are worth telling
    const there = counts ? !s.eye : !!value;
    show(dd, there);
    show(dd.previousElementSibling, there);
    say(dd, there ? String(value) : "");
  }
  show(learn, !lost && !!s.lag);
  learn.firstElementChild.dataset.of = s.name;
  attr(learn.firstElementChild, "aria-label", words("scales.relearn-scale", { scale: s.name }));
  show(raw, !s.eye && s.raw !== "");
  say(raw, s.raw);
  updateGauge(gauge, s, lost);
}

function update() {
  say($("lead"), lead());
  attr($("cards"), "aria-busy", view ? null : "true");
  each($("cards"), view?.scales ?? [], build, updateCard);
  const learnt = (!lost && view?.learnt) || [];
  show($("learnt"), learnt.length > 0 || !$("learnt-trouble").hidden);
  each($("learnt-list"), learnt, () => make("li", null, make("span"), make("b.digits"), make("button.press", { type: "button", onclick: relearn }, words("scales.relearn"))), (el, l) => {
    say(el.children[0], l.of);
    say(el.children[1], l.says.words);
    el.children[2].dataset.of = l.of;
    attr(el.children[2], "aria-label", words("scales.relearn-of", { name: l.of }));
  });
}

// A scale that says the same again and again is no news: its counts are asked for.
setInterval(() => {
  if (!lost && !document.hidden) get("/api/view").then((v) => { if (v.seq === view?.seq) { view = v; soon(); } }, () => {});
}, 1000);

watch((v) => { view = v; since = v.at; soon(); }, (up, at) => { lost = !up; since = at; soon(); });
