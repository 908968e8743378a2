// Questions and their answers, and the one field in which something is typed.
import { $, attr, each, make, say, show } from "./dom.js";
import { post } from "./api.js";
import { button, fill, keys, page, trouble } from "./deeds.js";
import { openSeldom } from "./drawer.js";
import { keyGroups, withUnit } from "./logic.js";
import { words } from "./words.js";

let field = { word: "", kind: "" }; // what the field is for
let askedNow = "";

const fieldLabels = { name: words("your-name"), mass: words("bench.amount"), text: words("bench.text"), reason: words("bench.reason"), material: words("bench.material") };

/** Draws the question that stands, or the field that somebody asked for. */
export function updateAsk(view) {
  const asked = view.asked;
  const key = asked ? asked.question + "|" + asked.says.words : "";
  if (key !== askedNow) {
    askedNow = key;
    const need = asked?.answers.find((a) => a.needs);
    setField(need ? need.word : "", need ? need.needs : "");
    $("ask-know").open = (asked?.lines ?? []).length > 0 && asked.question !== "reminder";
  }
  // An answer's own button sends the field; what nobody asked for has none.
  const unasked = field.word !== "" && !asked?.answers.some((a) => a.word === field.word);
  show($("ask"), !!asked || unasked);
  show($("ask-send"), unasked);
  attr($("bench"), "data-asked", !!asked || unasked);
  const about = keys().find((k) => k.word === field.word)?.label.words ?? field.word;
  say($("ask-label"), asked && unasked ? about : (fieldLabels[field.kind] ?? ""));
  say($("ask-words"), asked ? asked.says.words : about);
  // What the sign says need not be said twice.
  $("ask-words").classList.toggle("unseen", asked?.question === "reminder" || view.now.eye);
  const lines = asked?.lines ?? [];
  each($("ask-lines"), lines, () => make("li"), (el, l) => say(el, l.words));
  show($("ask-know"), lines.length > 0);
  say($("ask-title"), words(asked?.question === "reminder" ? "bench.what-is-in-it" : "bench.more-about"));
  const groups = keyGroups(keys()), answers = asked?.answers ?? [];
  attr($("ask-answers"), "data-many", answers.length > 2);
  each($("ask-answers"), answers, () => button("answer"), (el, a) => fill(el, groups.find((g) => g.word === a.word) ?? { ...a, keys: [] }));
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

/** Leaves the field; a question that stands begins anew. */
export function leaveField() {
  $("ask-input").blur();
  askedNow = "";
  setField("", "");
  page.soon();
}

/** Carries out a word of the view that was seen, or asks first for what it needs behind it. */
page.act = (word, seen) => {
  if (!word || !page.view) return;
  if (page.lost) {
    trouble(words("bench.not-sent"));
    return;
  }
  const kind = keys().find((k) => k.word === word)?.needs;
  openSeldom(false);
  if (!kind) {
    command(word, "", seen);
    return;
  }
  const input = $("ask-input");
  if (field.word !== word) {
    setField(word, kind);
    updateAsk(page.view);
  }
  if (input.value.trim() === "") {
    input.focus();
    return;
  }
  send(seen);
};

function send(seen = page.view.seq) {
  const input = $("ask-input");
  const text = input.value.trim();
  if (!field.word || !text) {
    input.focus();
    return;
  }
  command(field.word, field.kind === "mass" ? withUnit(text, page.view.now.unit) : text, seen);
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
    page.soon();
  } catch (err) {
    trouble(err.message);
  }
}

$("ask-field").addEventListener("submit", (e) => {
  e.preventDefault();
  if (page.lost) trouble(words("bench.not-sent"));
  else send();
});
