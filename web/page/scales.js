// Each scale as it is heard.
import "./common.js";
import { $, attr, draw, each, make, say, show } from "./dom.js";
import { buildGauge, updateGauge } from "./gauge.js";
import { post } from "./api.js";
import { watch } from "./live.js";
import { clock, dashes, shapes } from "./logic.js";

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
  up: { tone: "up", shape: "in", word: "heard" },
  waiting: { tone: "ask", shape: "wait", word: "waiting" },
  lost: { tone: "gone", shape: "lost", word: "lost" },
};

const facts = ["On the pan", "Format", "Port", "Line", "USB", "Step", "Capacity", "Display lags by", "Understood", "Damaged", "Not its format", "Last line at"];

/** Has the bench forget what it learnt of a scale or a person. */
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
  }
  button.disabled = false;
}

function build() {
  return make("article.card.scale", null,
    make("div.scale-head", null, make("h2"), make("span.chip", null, draw("svg", { viewBox: "0 0 64 64", "aria-hidden": "true" }, draw("path", {})), make("span"))),
    make("p.shows.digits", null, make("span"), make("small")),
    make("div.why", null, make("p"), make("p")),
    make("dl.about", null, ...facts.flatMap((f) => [make("dt", null, f), make("dd")])),
    make("p.relearn", null, make("button.press", { type: "button", onclick: relearn }, "Learn the lag anew")),
    make("code.rawline.mono"),
    buildGauge());
}

function update() {
  say($("lead"), lost
    ? since ? `No word from the bench since ${clock(since)}. What stood here is not to be trusted.` : "Connecting to the bench."
    : view?.scales?.length ? `${view.scales.length === 1 ? "One scale" : view.scales.length + " scales"}, live.${view.simulated ? " Simulated." : ""}` : "No scale is set up. Run “tared scales” to find what is plugged in.");
  each($("cards"), view?.scales ?? [], build, (el, s) => {
    const [head, shows, why, about, learn, raw, gauge] = el.children;
    const gone = lost || s.link === "lost";
    attr(el, "data-gone", gone);
    say(head.children[0], s.name);
    const link = lost ? { tone: "gone", shape: "lost", word: "no word" } : s.eye ? { tone: "", shape: "eye", word: "read by eye" } : links[s.link] ?? links.waiting;
    attr(head.children[1], "data-tone", link.tone);
    attr(head.children[1].firstElementChild.firstElementChild, "d", shapes[link.shape]);
    say(head.children[1].lastElementChild, link.word);
    const number = !gone && s.shows !== "" ? s.shows : dashes;
    show(shows, !s.eye);
    say(shows.children[0], number);
    const state = s.status && s.status !== "ok" ? s.status : s.settled ? "settled" : "moving";
    say(shows.children[1], number === dashes ? "" : `${s.unit} · ${s.print ? "as printed at " + clock(s.at) : state}`);
    const silent = !lost && !s.eye && s.link !== "up";
    show(why, silent || !lost && !!s.why);
    say(why.children[0], s.why);
    show(why.children[1], silent);
    say(why.children[1], s.link === "lost" ? "Leave the container as it is. Check the cable and the scale's own switch; tared keeps looking and goes on by itself, and asks if the tare is in doubt." : "Nothing has been heard yet. Is the scale on, and set to send by itself?");
    const values = [s.pan.words, s.format, s.port, s.line, s.usb, s.step && `${s.step} g`, s.max && `${s.max} g`, s.lag, s.eye ? "" : `${s.frames} lines`, s.eye ? "" : String(s.damaged), s.eye ? "" : String(s.foreign), s.frames ? clock(s.at) : ""];
    values.forEach((v, i) => {
      show(about.children[2 * i], !!v);
      show(about.children[2 * i + 1], !!v);
      say(about.children[2 * i + 1], v);
    });
    show(learn, !lost && !!s.lag);
    learn.firstElementChild.dataset.of = s.name;
    attr(learn.firstElementChild, "aria-label", `Learn the lag anew: ${s.name} scale`);
    show(raw, !s.eye && s.raw !== "");
    say(raw, s.raw);
    updateGauge(gauge, s, lost);
  });
  const learnt = (!lost && view?.learnt) || [];
  show($("learnt"), learnt.length > 0 || !$("learnt-trouble").hidden);
  each($("learnt-list"), learnt, () => make("li", null, make("span"), make("b.digits"), make("button.press", { type: "button", onclick: relearn }, "Learn anew")), (el, l) => {
    say(el.children[0], l.by);
    say(el.children[1], l.reaction);
    el.children[2].dataset.of = l.by;
    attr(el.children[2], "aria-label", `Learn anew: the reaction of ${l.by}`);
  });
}

watch((v) => { view = v; since = new Date(); soon(); }, (up, at) => { lost = !up; since = at; soon(); });
