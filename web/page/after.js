// What came after a batch was closed: water, firings, tiles; and the forms that
// note more of it.
import { $, make, say, show } from "./dom.js";
import { get, post, sendPhoto } from "./api.js";
import { clock, day } from "./logic.js";

let mark = "";

/** Shows the section for a batch that is closed. */
export function after(b) {
  if (!b.ended) return;
  mark = b.mark;
  show($("after"), true);
  for (const b of $("after").querySelectorAll("button.first")) b.dataset.word = b.textContent;
  for (const f of $("after").querySelectorAll("form")) f.addEventListener("submit", (e) => send(e, f));
  refresh();
}

const url = () => {
  const wanted = $("wanted").value.trim();
  return `/api/book/${encodeURIComponent(mark)}/after` + (wanted ? `?wanted=${encodeURIComponent(wanted)}` : "");
};

async function refresh() {
  try {
    drawAfter(await get(url()));
    say($("after-trouble"), "");
    show($("after-trouble"), false);
  } catch (err) {
    complain(err);
  }
}

function complain(err) {
  say($("after-trouble"), err.message);
  show($("after-trouble"), true);
}

function drawAfter(a) {
  say($("due"), a.due);
  show($("due"), a.due);
  $("water-words").replaceChildren(...a.water.words.map((w) => make("li", null, w)));
  $("water-words").toggleAttribute("data-disagree", !!a.water.disagree);
  $("entries").replaceChildren(...a.entries.map((e) =>
    make("li" + (e.void ? ".struck" : ""), { "data-kind": e.kind },
      make("time", { datetime: e.at }, `${day(e.at)}, ${clock(e.at)}`),
      make("span.what", null, e.void ? make("s", null, e.words) : e.words, make("span.by", null, ` (${e.by}, entry ${e.seq}${e.void ? ", struck out" : ""})`)),
      ...(e.notes ?? []).map((n) => make("span.what", null, n)),
      e.photos?.length ? make("span.photos", null, ...e.photos.map((p) => make("a", { href: "/photo/" + p }, make("img", { src: "/photo/" + p, loading: "lazy", alt: e.tile ? `Photograph of tile ${e.tile}` : "Photograph of the firing" })))) : null,
      e.curve ? make("img.curve", { src: `/api/book/${encodeURIComponent(mark)}/curve/${e.seq}.svg`, alt: "The curve of the firing: " + e.words }) : null)));
  show($("no-entries"), a.entries.length === 0);
}

/** The named fields of a form that were filled in. */
function filled(form) {
  const out = {};
  for (const f of form.elements) {
    if (!f.name || f.type === "file" || f.name === "by" || f.value.trim() === "") continue;
    const list = f.dataset.list !== undefined;
    out[f.name] = list ? f.value.split(",").map((s) => s.trim()).filter(Boolean) : f.value;
  }
  return out;
}

async function send(e, form) {
  e.preventDefault();
  const kind = form.dataset.kind;
  if (kind === "wanted") return refresh();
  const asked = filled(form);
  if (kind === "strike") asked.entry = Number(asked.entry);
  const button = form.querySelector("button.first");
  button.disabled = true;
  try {
    const files = [...(form.querySelector("input[type=file]")?.files ?? [])];
    for (const [i, file] of files.entries()) {
      say(button, `Sending photograph ${i + 1} of ${files.length}`);
      (asked.photos ??= []).push(await sendPhoto(file));
    }
    await post("/api/after", { batch: mark, by: form.elements.by.value, [kind]: asked });
    const who = form.elements.by.value;
    form.reset();
    for (const f of document.querySelectorAll("#after [name=by]")) f.value = who;
    form.closest("details").open = false;
    await refresh();
    $("after-title").focus();
  } catch (err) {
    complain(err);
    $("after-trouble").scrollIntoView({ block: "center" });
  }
  say(button, button.dataset.word);
  button.disabled = false;
}
