// The bench page: draws the newest view, once for each frame of the screen, and
// carries keys and presses back.
import "./common.js";
import { $, attr, each, make, draw, say, show } from "./dom.js";
import { get, post } from "./api.js";
import { watch } from "./live.js";
import { cues, speaker, voice } from "./sound.js";
import { stayAwake } from "./awake.js";
import { presses } from "./press.js";
import { keyOf, mine, saying, setKey, settable } from "./keys.js";
import * as logic from "./logic.js";
import { words } from "./words.js";
import { shapes } from "./shapes.js";

const page = {
  view: null,
  lost: true,
  since: null, // when the last message came
  due: false,
  fine: false, // the bar is stretched
  pouring: "", // what the bar is of: another pour begins with the whole bar
  begun: "", // the batch and the words that were said last
  held: "", // the word whose key or button is held
  touched: "", // the word that the finger or the mouse went down on
};

/** What the keys do now, as they are set here. */
const keys = () => mine(page.view?.keys);

// --- drawing

function soon() {
  if (page.due) return;
  page.due = true;
  requestAnimationFrame(() => {
    page.due = false;
    update();
  });
}

function update() {
  const { view, lost } = page;
  attr($("bench"), "data-lost", lost || view?.now.show.tone === "lost");
  say($("live-words"), lost ? (page.since ? words("bench.no-word") : words("bench.connecting")) : words("bench.live"));
  attr($("live"), "data-on", !lost);
  if (!view) {
    if (lost && page.since === null) say($("headline"), words("bench.looking"));
    return;
  }
  const now = view.now;
  updateSign(now, lost);
  updateWhat(view);
  updateFigures(now, lost);
  updateBar(now, lost);
  updateAsk(view, lost);
  updateBatch(view);
  updateKeys(view, lost);
  updateRecording(view.recording);
  show($("sim"), view.simulated);
}

function updateSign(now, lost) {
  const sign = lost ? { tone: "lost", shape: "lost", word: { words: words("bench.no-word") } } : now.show;
  attr($("bench"), "data-state", now.state);
  attr($("bench"), "data-tone", sign.tone);
  attr($("shape"), "d", shapes[sign.shape]);
  say($("word"), sign.word.words);
  say($("headline"), lost ? words("bench.no-word-since", { time: logic.clock(page.since) }) : now.headline.words);
  attr($("headline"), "data-long", $("headline").textContent.length > 26);
  say($("detail"), lost ? words("bench.no-word-more") : (now.detail ?? []).map(saying).join(" "));
}

/** Puts a name into a sentence, so that it stands out. */
function emphasised(code, name) {
  const [before, after] = words(code).split("{scale}");
  return [before, make("b", null, name), after];
}

function updateWhat({ batch, now }) {
  let name = now.as || now.material;
  if (!name) name = now.state === "finished" && batch ? batch.title || batch.mark : words("bench.no-batch");
  say($("material"), name);
  // A long name wraps in some of the headlines: the sign keeps room for it in all
  // states, so that what is below does not move.
  attr($("bench"), "data-long", name.length > 17);
  attr($("material"), "data-long", name.length > 26 ? "longer" : name.length > 17 ? "long" : null);
  say($("kind"), now.show.about.map((m) => m.words).join(" · "));
  each($("on"), now.scale && now.material ? [now.scale] : [], () => make("span"), (el, scale) => {
    if (el.dataset.scale === scale + now.eye) return;
    el.dataset.scale = scale + now.eye;
    el.replaceChildren(...emphasised(now.eye ? "bench.on-eye" : "bench.on", scale));
  });
}

function updateFigures(now, lost) {
  const unknown = lost || now.show.digits === "", digits = unknown ? logic.dashes : now.show.digits;
  say($("big-label"), lost ? words("bench.not-known") : now.show.label.words);
  say($("digits"), digits);
  // Sized by the longest that this target can show, so that the digits do not
  // jump while pouring.
  const chars = Math.max(now.target.length + 1, digits.length);
  // As wide as the target's own digits; a point is half as wide as one.
  $("figures").style.setProperty("--digits", String([...now.target].reduce((wide, c) => wide + (c === "." || c === "," ? 0.52 : 0.96), 0)));
  attr($("big"), "data-chars", unknown ? 6 : chars < 6 ? 5 : chars > 8 ? "long" : chars);
  const known = !lost && now.in !== "";
  // While a question stands there is nothing to read here, unless something has to
  // be weighed by eye; what the question is about stands in its own words.
  const quiet = now.state === "reminder" || now.state === "decide";
  show($("figures"), !!now.target && !quiet && (!page.view.asked || now.eye || now.in !== ""));
  show($("side-in"), !now.eye && !(now.state === "lifted" && now.lifted));
  // Once is enough: where the large figure is the target, it need not stand beside
  // it; but an empty container is the start of a pour, and nothing moves in a pour.
  show($("side-target"), now.in !== "" || digits !== now.target);
  say($("in"), known ? now.in : "–");
  say($("target"), now.target || "–");
  for (const el of document.querySelectorAll(".measure")) say(el, now.unit || "g");
  say($("band"), now.low ? `${now.low} – ${now.high}` : "–");
}

/** A place on the bar, which comes in ten-thousandths of its width. */
const at = (place) => String(place / 100);

function updateBar(now, lost) {
  const el = $("bar"), bar = now.show.bar, drawn = bar && !page.view.asked;
  show(el, drawn);
  show($("bar-say"), drawn || $("caption").textContent !== "");
  if (!drawn) {
    show($("take"), false);
    show($("scale-words"), false);
    return;
  }
  const pouring = [page.view.batch?.mark, now.material, now.as, now.scale, now.target, now.portion].join("|");
  const afresh = pouring !== page.pouring || now.state === "container" || now.state === "lifted";
  page.pouring = pouring;
  page.fine = bar.near === 2 || (bar.near === 1 && page.fine && !afresh);
  attr(el, "data-fine", page.fine);
  const marks = page.fine ? bar.fine : bar.whole;
  let lines = "";
  if (page.fine) for (let i = -bar.lines; i <= bar.lines; i++) lines += `M${at(bar.fine.mark + i * bar.gap)} 10V5.5`;
  attr($("bar-lines"), "d", lines);
  const unknown = lost || marks.fill === -1;
  const take = lost ? [] : now.show.take;
  show($("take"), take.length > 0);
  show($("scale-words"), take.length === 0 && !unknown);
  say($("scale-words"), page.fine ? bar.line.words : words("bench.whole"));
  each($("take"), take, () => make("li", null, draw("svg", { viewBox: "0 0 64 64", "aria-hidden": "true" }, draw("path", {})), make("span")), (li, step) => {
    attr(li, "data-state", step.state);
    attr(li, "aria-current", step.state === "now" ? "step" : null);
    attr(li.children[0].firstElementChild, "d", shapes[step.shape]);
    say(li.children[1], step.says.words);
  });
  attr(el, "data-lost", unknown);
  const set = (name, place) => el.style.setProperty(name, at(place));
  set("--fill", unknown ? 0 : marks.fill);
  set("--low", marks.low);
  set("--mark", marks.mark);
  set("--high", marks.high);
  set("--break", page.fine ? 0 : bar.break);
  say($("bar-low"), now.low);
  say($("bar-target"), now.target);
  say($("bar-high"), now.high);
  attr(el, "aria-label", [bar.says.words, page.fine && bar.line.words + ".", bar.band.words].filter(Boolean).join(" "));
}

const stepBuild = () =>
  make("li.step", null, draw("svg", { viewBox: "0 0 64 64", role: "img" }, draw("path", {})), make("span.name"), make("span.amount.digits"), make("span.where"));

function updateBatch({ batch, now }) {
  const next = now.next;
  show($("next-box"), !!next);
  if (next) {
    say($("next-name"), next.material);
    say($("next-amount"), words("bench.next", { amount: next.target, unit: next.unit, scale: next.scale }));
  }
  const steps = batch?.steps ?? [];
  const list = $("steps");
  each(list, steps, stepBuild, (el, step) => {
    const was = el.dataset.state;
    attr(el, "data-state", step.state);
    attr(el, "data-verdict", step.state === "done" ? step.verdict || "in" : "");
    attr(el, "aria-current", step.state === "now" ? "step" : null);
    const [svg, name, amount, where] = el.children;
    attr(svg.firstElementChild, "d", shapes[step.shape] ?? "");
    attr(svg, "aria-label", step.mark.words);
    say(name, step.as || step.material);
    say(amount, step.verdict === "not-known" ? "–" : words("bench.grams", { amount: step.state === "done" ? step.delivered : step.target, unit: step.unit }));
    say(where, step.notes.map((m) => m.words).join(" · "));
    if (step.state === "now" && was !== "now" && list.scrollHeight > list.clientHeight) {
      list.scrollTop = Math.max(0, el.offsetTop - list.offsetTop - list.clientHeight / 3);
    }
  });
  say($("steps-title"), batch ? words("bench.steps-done", { done: batch.done, of: steps.length }) : words("bench.steps"));
  say($("batch-title"), batch?.title ? batch.title + " · " : "");
  say($("batch-rest"), batch ? words("bench.batch", { batch: batch.mark, amount: batch.base, person: batch.by }) : "");
  each($("said"), page.view.said?.slice(0, 3) ?? [], () => make("li", null, make("time"), make("span")), (el, s) => {
    say(el.children[0], logic.clock(s.at));
    say(el.children[1], saying(s.says));
  });
  show($("steps-box"), steps.length > 0);
  show($("said-box"), (page.view.said ?? []).length > 0);
  const over = now.state === "finished" && !!batch;
  show($("onward"), now.state === "idle" || over);
  say($("onward-main"), over ? words("bench.see") : words("bench.make"));
  attr($("onward-main"), "href", over ? "/book/" + encodeURIComponent(batch.mark) : "/sheet");
  say($("onward-book"), over ? words("bench.another") : words("bench.open-book"));
  attr($("onward-book"), "href", over ? "/sheet" : "/book");
  // Not while powder runs: it can wait for the end of the batch.
  const due = now.state === "idle" || over ? page.view.due ?? [] : [];
  const said = due.map((d) => d.says.words).join("\n");
  if ($("due").dataset.words !== said) {
    $("due").dataset.words = said;
    $("due").replaceChildren(...due.map((d) => make("li", null, make("a", { href: `/book/${encodeURIComponent(d.batch)}#after` }, d.says.words))));
  }
  show($("due"), due.length > 0);
  stayAwake(!!batch && now.state !== "finished");
}

function updateRecording(r) {
  show($("broken"), !r.ok);
  say($("broken-words"), saying(r.why));
  attr($("rec"), "data-on", r.ok);
  say($("rec-words"), r.ok ? words("bench.recording") : words("bench.not-recording"));
}

// --- asking and answering

let field = { word: "", kind: "" }; // what the field is for
let askedNow = "";

const fieldLabels = { name: words("your-name"), mass: words("bench.amount"), text: words("bench.text"), reason: words("bench.reason"), material: words("bench.material") };

function updateAsk(view, lost) {
  const asked = view.asked;
  const key = asked ? asked.question + "|" + asked.says.words : "";
  const fresh = key !== askedNow;
  if (fresh) {
    askedNow = key;
    const need = asked?.answers.find((a) => a.needs);
    setField(need ? need.word : "", need ? need.needs : "");
  }
  // An answer's own button sends the field; what nobody asked for has none.
  const unasked = field.word !== "" && !asked?.answers.some((a) => a.word === field.word);
  show($("ask"), !!asked || unasked);
  show($("ask-send"), unasked);
  attr($("bench"), "data-asked", !!asked || unasked);
  const about = keys().find((k) => k.word === field.word)?.label.words ?? field.word;
  say($("ask-label"), asked && unasked ? about : (fieldLabels[field.kind] ?? ""));
  if (!asked) {
    if (unasked) {
      say($("ask-words"), about);
      $("ask-words").classList.remove("unseen");
      each($("ask-lines"), [], () => make("li"), say);
      each($("ask-answers"), [], () => make("button"), say);
      showMore();
    }
    return;
  }
  say($("ask-words"), asked.says.words);
  // The sign above asks the same; the room is better spent on the hazards.
  $("ask-words").classList.toggle("unseen", view.now.state === "reminder");
  each($("ask-lines"), asked.lines ?? [], () => make("li"), (el, l) => say(el, l.words));
  show($("ask-lines"), (asked.lines ?? []).length > 0);
  if (fresh) $("ask-lines").scrollTop = 0;
  const groups = logic.keyGroups(keys());
  $("ask-answers").style.setProperty("--n", asked.answers.length);
  attr($("ask-answers"), "data-many", asked.answers.length > 4);
  each($("ask-answers"), asked.answers, () => button("answer"), (el, a) => {
    attr(el, "disabled", lost ? "" : null);
    fill(el, groups.find((g) => g.word === a.word) ?? { ...a, keys: [] });
  });
  showMore();
}

/** Says whether the list of what to know first goes on below what is seen of it. */
function showMore() {
  const list = $("ask-lines");
  show($("ask-more"), !list.hidden && list.scrollHeight > list.clientHeight + 2);
  attr($("ask-more"), "data-end", list.scrollTop + list.clientHeight >= list.scrollHeight - 2);
}
$("ask-lines").addEventListener("scroll", showMore);
addEventListener("resize", soon);

/** A pressable thing with its keys and its words. */
function button(kind) {
  const b = make("button.press." + kind, { type: "button" }, make("span.caps", null, make("span.caps-keys"), make("span.held")), make("span.label"));
  b.addEventListener("pointerdown", (e) => {
    page.touched = b.dataset.word;
    const meant = wordPress(b.dataset.word);
    if (meant.hold && e.button === 0) press.begin(meant, "pointer");
  });
  b.addEventListener("pointerleave", () => press.end("pointer"));
  b.addEventListener("contextmenu", (e) => e.preventDefault());
  b.addEventListener("click", (e) => {
    const meant = wordPress(b.dataset.word);
    // Under a finger the button may have become another one since.
    if (e.detail > 0 && page.touched !== meant.word) return;
    if (!meant.hold) meant.act();
    else if (e.detail === 0) tooShort(meant);
  });
  return b;
}

function fill(el, { word, keys, label, hold }) {
  el.dataset.word = word;
  attr(el, "data-hold", hold ? "" : null);
  attr(el, "data-holding", hold && word === page.held ? "" : null);
  const [caps, held] = el.children[0].children;
  each(caps, keys, () => make("kbd"), (k, key) => say(k, logic.keyName(key)));
  show(held, hold);
  say(held, words("bench.hold"));
  say(el.children[1], label.words);
}

function setField(word, kind) {
  field = { word, kind };
  show($("ask-field"), word !== "");
  if (!word) return;
  show($("ask-unit"), kind === "mass");
  attr($("ask-input"), "inputmode", kind === "mass" ? "decimal" : "text");
  attr($("ask-input"), "autocapitalize", kind === "name" ? "words" : "off");
  attr($("ask-input"), "list", kind === "material" ? "materials" : null);
  $("ask-input").value = kind === "name" && word !== "by" ? (page.view?.batch?.by ?? "") : "";
}

function updateKeys(view, lost) {
  const answers = new Set((view.asked?.answers ?? []).map((a) => a.word));
  const groups = logic.keyGroups(keys()).filter((g) => !answers.has(g.word));
  for (const [list, seldom] of [["keys", false], ["seldom-keys", true]]) {
    each($(list), groups.filter((g) => g.seldom === seldom), () => button("key"), (el, g) => {
      attr(el, "disabled", lost ? "" : null);
      fill(el, g);
    });
  }
  // What is held must still be there.
  if (page.held && (lost || !keys().some((k) => k.word === page.held))) press.drop();
}

/** What a press of a word's key or button is, as the page stands now. */
function wordPress(word) {
  const key = keys().find((k) => k.word === word);
  const seen = page.view?.seq;
  return { word, label: key?.label.words, hold: !!key?.hold && !page.lost, act: () => act(word, seen) };
}

function tooShort({ label }) {
  trouble(words("bench.hold-to", { what: label }));
}

const press = presses({
  onHold(word) {
    page.held = word;
    if (word) trouble("");
    soon();
  },
  onShort: tooShort,
  onScan: () => trouble(words("bench.scanner")),
});

/** Carries out a word of the view that was seen, or asks first for what it needs behind it. */
function act(word, seen) {
  if (!word || !page.view) return;
  if (page.lost) {
    trouble(words("bench.not-sent"));
    return;
  }
  const kind = keys().find((k) => k.word === word)?.needs;
  if (!kind) {
    command(word, "", seen);
    return;
  }
  const input = $("ask-input");
  if (field.word !== word) {
    setField(word, kind);
    openSeldom(false);
    update();
  }
  if (input.value.trim() === "") {
    input.focus();
    return;
  }
  send(seen);
}

function send(seen = page.view.seq) {
  const input = $("ask-input");
  const text = input.value.trim();
  if (!field.word || !text) {
    input.focus();
    return;
  }
  command(field.word, field.kind === "mass" ? logic.withUnit(text, page.view.now.unit) : text, seen);
}

async function command(word, rest, seen) {
  trouble("");
  try {
    const was = askedNow;
    await post("/api/do", { word, rest, by: "", seen });
    if (askedNow === was) { // else the field is for the next question already
      const asked = page.view?.asked;
      if (!asked || !asked.answers.some((a) => a.needs)) setField("", "");
      else $("ask-input").value = "";
      $("ask-input").blur();
    }
    soon();
  } catch (err) {
    trouble(err.message);
  }
}

let troubleTimer = 0;
function trouble(why) {
  clearTimeout(troubleTimer);
  say($("trouble"), why);
  show($("trouble"), why !== "");
  if (why) troubleTimer = setTimeout(() => trouble(""), 12000);
}

$("ask-field").addEventListener("submit", (e) => {
  e.preventDefault();
  if (page.lost) trouble(words("bench.not-sent"));
  else send();
});

/** What a key means now; null: nothing here. */
function meaning(e, target) {
  if (setting) return { act: () => take(e.key) };
  // Someone who walks the page by Tab presses the button that has the focus; a
  // button that only was clicked must not catch the pedal.
  if ((e.key === "Enter" || e.key === " ") && target.matches("a:focus-visible, button:focus-visible")) {
    return target.dataset.word ? wordPress(target.dataset.word) : { act: () => target.click() };
  }
  const k = logic.wordFor(keys(), e.key);
  if (k) return wordPress(k.word);
  const own = Object.keys(ownKeys).find((word) => keyOf(word, ownKeys[word].key) === e.key.toLowerCase());
  if (own) return { act: ownKeys[own].act };
  const hand = handKey(e.key.toLowerCase());
  return hand && { act: hand };
}

document.addEventListener("keydown", (e) => {
  const target = e.target instanceof Element ? e.target : document.body;
  const chord = e.ctrlKey || e.altKey || e.metaKey;
  // The key of the sound wakes it by itself.
  if (chord || keyOf("sound", ownKeys.sound.key) !== e.key.toLowerCase()) sounds.unlock();
  if (chord) return;
  if (e.key === "Escape" && setting) {
    setFor("");
  } else if (target.matches("input, textarea, select")) {
    // A pedal answers also while the field is in focus; letters and digits type.
    if (e.key === "PageDown" || e.key === "PageUp") press.down(e, meaning(e, target));
    else if (e.key !== "Escape") press.down(e, null, target);
    else {
      target.blur();
      askedNow = "";
      setField("", "");
      soon();
    }
  } else if (e.key === "Escape" && !$("seldom").hidden) {
    openSeldom(false);
  } else if ((e.key === "ArrowDown" || e.key === "ArrowUp") && !$("ask-more").hidden && !target.matches(".steps-list, .ask-lines")) {
    e.preventDefault();
    $("ask-lines").scrollBy({ top: ($("ask-lines").clientHeight - 24) * (e.key === "ArrowDown" ? 1 : -1) });
  } else {
    press.down(e, meaning(e, target));
  }
});
document.addEventListener("keyup", (e) => {
  // A space that was meant for the page must not press the button, too.
  if (e.key === " " && e.target instanceof Element && e.target.matches("button:focus-visible")) e.preventDefault();
  press.up(e);
});
for (const end of ["pointerup", "pointercancel"]) addEventListener(end, () => press.end("pointer"));
addEventListener("blur", () => press.drop());

// --- what is seldom wanted, and the keys of this browser

function openSeldom(open = $("seldom").hidden) {
  show($("seldom"), open);
  attr($("more"), "aria-expanded", open);
  setFor("");
  if (open) $("seldom-close").focus();
  else if ($("seldom").contains(document.activeElement)) $("more").focus();
}
$("more").addEventListener("click", () => openSeldom());
$("seldom-close").addEventListener("click", () => openSeldom(false));

/** The page's own keys, where the bench does not want them. */
const ownKeys = { sound: { key: "m", act: () => sounds.toggle() }, speech: { key: "v", act: () => switchSpeech() }, more: { key: ".", act: () => openSeldom() } };

let setting = ""; // the word whose new key is waited for
const rows = [...document.querySelectorAll("#own-keys li")];

function setFor(word) {
  setting = word;
  drawOwn();
}

/** Takes a key for the word that waits for one. */
function take(key) {
  const taken = rows.find((row) => row.dataset.word !== setting && keyOf(row.dataset.word, row.dataset.key) === key.toLowerCase());
  if (!settable(key)) trouble(words("bench.key-stays"));
  else if (taken) trouble(words("bench.key-taken", { key: logic.keyName(key), what: taken.dataset.label }));
  else {
    trouble("");
    setKey(setting, key.toLowerCase());
    setFor("");
  }
}

function drawOwn() {
  for (const row of rows) {
    const { word, key } = row.dataset;
    const own = keyOf(word, key);
    const [set, off] = row.querySelectorAll("button");
    say(set.querySelector("kbd"), setting === word ? "?" : own ? logic.keyName(own) : "–");
    say(set.querySelector(".label"), setting === word ? words("bench.press-key") : row.dataset.label);
    attr(set, "aria-pressed", setting === word);
    say(off, own ? words("bench.key-off") : words("bench.key-on"));
  }
  for (const word of Object.keys(ownKeys)) {
    const own = keyOf(word, ownKeys[word].key);
    say($(word).querySelector("kbd"), own && logic.keyName(own));
    show($(word).querySelector("kbd"), own !== "");
  }
  soon();
}
for (const row of rows) {
  const { word, key } = row.dataset;
  const [set, off] = row.querySelectorAll("button");
  set.addEventListener("click", () => setFor(setting === word ? "" : word));
  off.addEventListener("click", () => {
    setKey(word, keyOf(word, key) ? "" : null);
    setFor("");
  });
}
drawOwn();

// --- sound

let soundMode = "on";
let spokenNow = ""; // the words of the material in work
const speech = speaker(({ possible, on }) => {
  attr($("speech"), "aria-pressed", possible && on);
  attr($("speech"), "disabled", possible ? null : "");
  say($("speech-words"), words(!possible ? "bench.no-voice" : !on ? "bench.speech-off" : soundMode === "on" ? "bench.speech-on" : "bench.speech-muted"));
});
const sounds = voice(({ possible, awake, mode }) => {
  soundMode = mode;
  const heard = awake ? mode : "off";
  attr($("sound"), "aria-pressed", { on: "true", quiet: "mixed", off: "false" }[heard]);
  say($("sound-words"), words({ on: "bench.sound-on", quiet: "bench.sound-quiet", off: "bench.sound-off" }[heard]));
  attr($("sound"), "title", !possible ? words("bench.no-sound") : mode === "off" ? words("bench.muted") : awake ? "" : words("bench.wake"));
  if (mode !== "on") speech.hush();
  speech.changed();
});

/** Says what begins, once, where somebody wants to hear it; it stands on the page in any case. */
function announce(view) {
  const spoken = view.now.show.spoken.words;
  if (!spoken) {
    // What was to be poured last is no news on a bench with nothing in work.
    if (view.now.state === "finished" || view.now.state === "idle") say($("spoken"), (spokenNow = page.begun = ""));
    return;
  }
  const begun = (view.batch?.mark ?? "") + "|" + spoken;
  if (begun === page.begun) return;
  page.begun = begun;
  spokenNow = spoken;
  say($("spoken"), spoken);
  if (soundMode === "on") speech.say(spoken);
}

function switchSpeech() {
  if (speech.toggle() && soundMode === "on") speech.say(spokenNow);
}
$("speech").addEventListener("click", switchSpeech);
$("sound").addEventListener("click", () => sounds.toggle());
document.addEventListener("pointerdown", (e) => {
  if (!(e.target instanceof Element) || !e.target.closest("#sound")) sounds.unlock();
});
sounds.changed();

// --- simulated hands, on a demonstration's bench only

let hands = []; // each scale with what the hands can do there
let handScale = ""; // where they are
let handWork = ""; // the scale that the bench weighs on

function drawHands(list) {
  hands = list;
  show($("hands"), list.length > 0);
  if (!list.length) return;
  if (!list.some((h) => h.scale === handScale)) handScale = list[0].scale;
  show($("hands-next"), list.length > 1);
  each($("hands-pick"), list.length > 1 ? list : [], () => make("button.press", { type: "button", onclick: (e) => handsTo(e.currentTarget.dataset.scale) }), (el, h) => {
    el.dataset.scale = h.scale;
    say(el, h.scale);
    attr(el, "aria-pressed", h.scale === handScale);
  });
  const mine = list.find((h) => h.scale === handScale);
  each($("hands-moves"), mine.moves, () => make("button.press", { type: "button", onclick: (e) => move(e.currentTarget.dataset.do) }, make("kbd"), make("span")), (el, m) => {
    el.dataset.do = m.do;
    const key = logic.handKeys[m.do];
    show(el.children[0], !!key);
    say(el.children[0], key ? logic.keyName(key) : "");
    attr(el, "aria-keyshortcuts", key ?? null);
    say(el.children[1], m.label);
  });
}

function handsTo(scale) {
  handScale = scale;
  drawHands(hands);
}

/** The hands go where the bench weighs next; whoever sends them elsewhere keeps them there till then. */
function handsFollow(scale) {
  if (!scale || scale === handWork) return;
  handWork = scale;
  if (hands.some((h) => h.scale === scale)) handsTo(scale);
}

/** What a key means for the hands; null for nothing. */
function handKey(key) {
  const at = hands.findIndex((h) => h.scale === handScale);
  if (at < 0) return null;
  if (key === logic.nextScaleKey && hands.length > 1) return () => handsTo(hands[(at + 1) % hands.length].scale);
  const m = hands[at].moves.find((x) => logic.handKeys[x.do] === key);
  return m ? () => move(m.do) : null;
}

async function move(what) {
  try {
    drawHands(await post("/api/hands", { scale: handScale, do: what }));
  } catch (err) {
    trouble(err.message);
  }
}
$("hands-more").addEventListener("click", () => {
  const all = $("hands").classList.toggle("all");
  attr($("hands-more"), "aria-expanded", all);
  say($("hands-more"), all ? words("bench.less") : words("bench.more"));
});
if ($("hands").dataset.there !== undefined) get("/api/hands").then((list) => {
  handScale = page.view?.now.scale ?? "";
  drawHands(list);
}, () => {});

// --- the line

/** Puts what a cue sounds like on the page, heard or not. */
function caption(cue) {
  say($("caption"), cues[cue] ? "♪ " + words("cue." + cue) : "");
}

watch(
  (view) => {
    page.view = view;
    page.since = new Date();
    handsFollow(view.now.scale);
    // The ear must not wait for the screen, nor for a page behind another.
    sounds.cue(view.now.cue, view.now);
    announce(view);
    caption(view.now.cue);
    soon();
  },
  (up, since) => {
    page.lost = !up;
    page.since = since;
    const cue = up ? (page.view?.now.cue ?? "") : "lost";
    sounds.cue(cue, page.view?.now);
    caption(cue);
    soon();
  },
);
