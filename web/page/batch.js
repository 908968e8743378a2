// One batch as made, beside the batch as planned. The server draws it; this sends what
// is noted of it, and has it drawn anew.
import { $, focusOn, say, sending, show } from "./dom.js";
import { redraw } from "./common.js";
import { post, sendPhoto } from "./api.js";
import { words } from "./words.js";

const parts = ["rows", "words", "pours", "facts", "water-words", "noted", "tile", "due-box", "c-entry", "w-vessel"];
const mark = decodeURIComponent(location.pathname.split("/").pop());

/** A photograph that was just taken is of a tile: the rest is asked for beside it. */
document.addEventListener("change", (e) => {
  if (e.target.id !== "shoot" || !e.target.files.length) return;
  $("j-photos").files = e.target.files;
  $("verdict").open = true;
  $("verdict").scrollIntoView({ block: "nearest" });
  $("j-verdict").focus();
});

const weighed = new Map(); // form to what was read off a scale for it

function complain(err) {
  say($("after-trouble"), err?.message);
  show($("after-trouble"), !!err);
  if (err) $("after-trouble").scrollIntoView({ block: "center" });
}

/** Weighs a vessel on a scale of the bench, empty and then full. The bench keeps the readings; the page only names them. */
for (const box of document.querySelectorAll(".here")) {
  const form = box.closest("form"), scale = box.querySelector("[data-scale]"), shown = box.querySelector(".readings");
  const clear = () => { weighed.delete(form); say(shown, ""); };
  for (const el of box.querySelectorAll("select")) el.addEventListener("change", clear);
  form.addEventListener("reset", clear);
  for (const button of box.querySelectorAll("[data-read]")) button.addEventListener("click", async () => {
    try {
      const reading = await post("/api/reading", { scale: scale.value });
      const h = button.dataset.read === "before" ? {} : { ...weighed.get(form) };
      h[button.dataset.read] = reading;
      weighed.set(form, h);
      const values = { empty: h.before?.shows ?? "–", full: h.after?.shows };
      say(shown, h.after ? words("batch.read-both", values) : words("batch.read-empty", values));
    } catch (err) {
      say(shown, err.message);
    }
  });
}

/** The named fields of a form that were filled in. */
function filled(form) {
  const out = {};
  for (const f of form.elements) {
    if (!f.name || f.type === "file" || f.name === "by" || f.value.trim() === "") continue;
    if (f.dataset.list !== undefined) out[f.name] = f.value.split(",").map((s) => s.trim()).filter(Boolean);
    else out[f.name] = f.dataset.number !== undefined ? Number(f.value) : f.value; // the number of an entry
  }
  const h = weighed.get(form);
  if (h?.after) out[form.querySelector("[data-what]").value] = { before: h.before?.id ?? 0, after: h.after.id };
  return out;
}

async function send(form, button) {
  const kind = form.dataset.kind, by = form.elements.by.value, asked = filled(form);
  const files = [...(form.querySelector("input[type=file]")?.files ?? [])];
  for (const [i, file] of files.entries()) {
    say(button, words("photo.sending", { nth: i + 1, all: files.length }));
    (asked.photos ??= []).push(await sendPhoto(file));
  }
  if (kind === "vessel") await post("/api/vessel", { celsius: "", name: "", ...asked, by });
  else await post("/api/after", { batch: mark, by, [kind]: asked });
  form.reset();
  for (const f of document.querySelectorAll("#after [name=by]")) f.value = by;
  form.closest("details").open = false;
  await redraw(...parts);
  complain(null);
  focusOn($("after-title"));
}

for (const form of document.querySelectorAll("form[data-kind]")) {
  const button = form.querySelector("button.first"), word = button.textContent;
  form.addEventListener("submit", async (e) => {
    e.preventDefault();
    await sending(form, () => send(form, button).catch(complain));
    say(button, word);
  });
}
