// The bench page: draws a view as it comes, and of those of one frame of the screen then only
// the newest, and carries keys and presses back. Its parts: face.js (the deed, its figure, the material), bar.js,
// ask.js (questions), begin.js (an idle bench), drawer.js (what is seldom wanted), hands.js
// (a demonstration's), deeds.js (what a press does), sound.js.
import "./common.js";
import { $, attr, say, show } from "./dom.js";
import { watch } from "./live.js";
import { stayAwake } from "./awake.js";
import { cues, speaker, voice } from "./sound.js";
import { chosen, nextScheme } from "./scheme.js";
import { keys, page, press, wordPress } from "./deeds.js";
import { leaveField, updateAsk } from "./ask.js";
import { openSeldom, ownWord, setFor, settingKey, updateCourse, updateKeys } from "./drawer.js";
import { updateFace, updateFigure } from "./face.js";
import { updateBar, updateNeedle } from "./bar.js";
import { updateBegin } from "./begin.js";
import { handKey, handsFollow } from "./hands.js";
import { saying } from "./keys.js";
import * as logic from "./logic.js";
import { words } from "./words.js";

// --- drawing

/** The places that a line of the scale changes while powder runs: the figure and the bar. */
const poured = /^(seq|at|scales\..*|now\.(in|missing|fill|show\.(digits|bar\.(needle|fill|off|says|closeness).*)))$/;

let due = false; // a frame is asked for
let newer = true; // something is not drawn yet
let whole = true; // and it is more than a line changes
page.soon = (places) => {
  newer = true;
  whole ||= !places?.every((place) => poured.test(place));
  if (due) return;
  due = true;
  requestAnimationFrame(() => {
    due = false;
    if (newer) update();
  });
};

function update() {
  const { view, lost } = page;
  newer = false;
  if (whole) updateLine(view, lost);
  if (!view) return;
  if (whole) {
    updateAsk(view);
    updateFace(view, lost, page.since);
    updateBar(view.now);
    updateCourse(view);
    updateKeys(view);
    updateRecording(view.recording);
    show($("sim"), view.simulated);
    stayAwake(!!view.batch && view.now.state !== "finished");
  }
  whole = false;
  updateFigure(view.now, lost);
  updateNeedle(view.now, lost);
  updateBegin(view);
}

function updateLine(view, lost) {
  attr($("bench"), "data-lost", lost || view?.now.show.tone === "lost");
  say($("live-words"), lost ? (page.since ? words("bench.no-word") : words("bench.connecting")) : words("bench.live"));
  attr($("live"), "data-on", !lost);
  if (!view && lost && page.since === null) say($("headline"), words("bench.looking"));
}

function updateRecording(r) {
  show($("broken"), !r.ok);
  say($("broken-words"), saying(r.why));
  attr($("rec"), "data-on", r.ok);
  say($("rec-words"), r.ok ? words("bench.recording") : words("bench.not-recording"));
}

// --- keys

const own = { sound: () => sounds.toggle(), speech: () => switchSpeech(), scheme: () => switchScheme(), more: () => openSeldom() };

/** What a key means now; null: nothing here. */
function meaning(e, target) {
  const set = settingKey(e.key);
  if (set) return { act: set };
  // Someone who walks the page by Tab presses the button that has the focus; a
  // button that only was clicked must not catch the pedal.
  if ((e.key === "Enter" || e.key === " ") && target.matches("a:focus-visible, button:focus-visible, summary:focus-visible")) {
    return target.dataset.word ? wordPress(target.dataset.word) : { act: () => target.click() };
  }
  const k = logic.wordFor(keys(), e.key);
  if (k) return wordPress(k.word);
  const mine = ownWord(e.key);
  if (mine) return { act: own[mine] };
  const hand = handKey(e.key.toLowerCase());
  return hand && { act: hand };
}

document.addEventListener("keydown", (e) => {
  const target = e.target instanceof Element ? e.target : document.body;
  const chord = e.ctrlKey || e.altKey || e.metaKey;
  // The key of the sound wakes it by itself.
  if (chord || ownWord(e.key) !== "sound") sounds.unlock();
  if (chord) return;
  if (e.key === "Escape" && settingKey(e.key)) {
    setFor("");
  } else if (target.matches("input, textarea, select")) {
    // A pedal answers also while the field is in focus; letters and digits type.
    if (e.key === "PageDown" || e.key === "PageUp") press.down(e, meaning(e, target));
    else if (e.key !== "Escape") press.down(e, null, target);
    else leaveField();
  } else if (e.key === "Escape" && !$("seldom").hidden) {
    openSeldom(false);
  } else {
    press.down(e, meaning(e, target));
  }
});
document.addEventListener("keyup", (e) => {
  // A space that was meant for the page must not press the button, too.
  if (e.key === " " && e.target instanceof Element && e.target.matches("button:focus-visible")) e.preventDefault();
  press.up(e);
});

// --- bright or dark

function switchScheme() {
  nextScheme();
  say($("scheme-words"), words("bench.scheme-" + chosen()));
}
say($("scheme-words"), words("bench.scheme-" + chosen()));
$("scheme").addEventListener("click", switchScheme);

// --- sound

let level = "on";
let begun = ""; // the batch and the words that were said last
let spokenNow = ""; // the words of the material in work
const speech = speaker(({ possible, on }) => {
  attr($("speech"), "aria-pressed", possible && on);
  attr($("speech"), "disabled", possible ? null : "");
  say($("speech-words"), words(!possible ? "bench.no-voice" : !on ? "bench.speech-off" : level === "on" || level === "soft" ? "bench.speech-on" : "bench.speech-muted"));
});
const speaks = () => level === "on" || level === "soft";
const sounds = voice(({ possible, awake, mode }) => {
  level = mode;
  const heard = awake ? mode : "off";
  attr($("sound"), "aria-pressed", { on: "true", soft: "true", quiet: "mixed", off: "false" }[heard]);
  attr($("sound"), "data-level", heard);
  say($("sound-words"), words("bench.sound-" + heard));
  attr($("sound"), "title", !possible ? words("bench.no-sound") : mode === "off" ? words("bench.muted") : awake ? "" : words("bench.wake"));
  if (!speaks()) speech.hush();
  speech.changed();
});

/** Says what begins, once, where somebody wants to hear it; it stands on the page in any case. */
function announce(view) {
  const spoken = view.now.show.spoken.words;
  if (!spoken) {
    // What was to be poured last is no news on a bench with nothing in work.
    if (view.now.state === "finished" || view.now.state === "idle") say($("spoken"), (spokenNow = begun = ""));
    return;
  }
  const now = (view.batch?.mark ?? "") + "|" + spoken;
  if (now === begun) return;
  begun = now;
  spokenNow = spoken;
  say($("spoken"), spoken);
  if (speaks()) speech.say(spoken);
}

function switchSpeech() {
  if (speech.toggle() && speaks()) speech.say(spokenNow);
}
$("speech").addEventListener("click", switchSpeech);
$("sound").addEventListener("click", () => sounds.toggle());
document.addEventListener("pointerdown", (e) => {
  if (!(e.target instanceof Element) || !e.target.closest("#sound")) sounds.unlock();
});
sounds.changed();

/** Puts what a cue sounds like on the page, heard or not. */
function caption(cue) {
  say($("caption"), cues[cue] ? "♪ " + words("cue." + cue) : "");
}

// --- the line

addEventListener("resize", () => page.soon());
watch(
  (view, places) => {
    page.view = view;
    page.since = view.at;
    handsFollow(view.now.scale);
    // The ear must not wait for the screen, nor for a page behind another.
    sounds.cue(view.now.cue, view.now);
    announce(view);
    caption(view.now.cue);
    const first = !due;
    page.soon(places);
    if (first) update(); // what stands before the frame begins is in it
  },
  (up, since) => {
    page.lost = !up;
    page.since = since;
    const cue = up ? (page.view?.now.cue ?? "") : "lost";
    sounds.cue(cue, page.view?.now);
    caption(cue);
    page.soon();
  },
);
