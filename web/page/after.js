// What came after a batch was closed: water, firings, tiles; and the forms that
// note more of it.
import { $, make, say, show } from "./dom.js";
import { get, post, sendPhoto } from "./api.js";
import { moment } from "./logic.js";

let mark = "";
let again = async () => {};
const here = new Map(); // form to what was read off a scale for it

/** Shows the section for a batch that is closed; redraw shows the batch anew. */
export function after(b, redraw) {
  if (!b.ended) return;
  mark = b.mark;
  again = redraw;
  listPortions(b);
  show($("after"), true);
  for (const b of $("after").querySelectorAll("button.first")) b.dataset.word = b.textContent;
  for (const f of $("after").querySelectorAll("form")) f.addEventListener("submit", (e) => send(e, f));
  refresh();
  listVessels();
  get("/api/view").then((v) => {
    const scales = (v.scales ?? []).filter((s) => !s.eye).map((s) => s.name);
    if (scales.length) for (const box of $("after").querySelectorAll("[data-here]")) weighHere(box, scales);
  }, () => {}); // without a bench everything can be typed
}

/** The portions that a person may correct. */
function listPortions(b) {
  const entry = $("c-entry");
  const was = entry.value;
  entry.replaceChildren(...(b.pours ?? []).filter((p) => !p.void).map((p) => make("option", { value: p.seq }, `entry ${p.seq}: ${p.corrected || p.delivered} g of ${p.material}`)));
  if (was) entry.value = was;
  show($("correcting"), entry.options.length > 0);
}

async function listVessels() {
  try {
    const all = await get("/api/vessels");
    const was = $("w-vessel").value;
    $("w-vessel").replaceChildren(make("option", { value: "" }, all.length ? "none of these" : "none was measured yet"), ...all.map((v) => make("option", { value: v.name }, `${v.name}, ${v.volume} ml`)));
    $("w-vessel").value = was;
  } catch {
    // The volume can be typed.
  }
}

/** Weighs on a scale of the bench: the vessel empty, then filled. The bench keeps the readings; the page only names them. */
function weighHere(box, scales) {
  const form = box.closest("form");
  const kinds = box.dataset.here.split(";").map((k) => k.split("="));
  const id = form.dataset.kind;
  const what = make("select", { id: id + "-what" }, ...kinds.map(([v, words]) => make("option", { value: v }, words)));
  const scale = make("select", { id: id + "-scale" }, ...scales.map((s) => make("option", { value: s }, s)));
  const told = make("p.told", { role: "status" });
  const clear = () => { here.delete(form); say(told, ""); };
  const read = async (which) => {
    try {
      const r = await post("/api/reading", { scale: scale.value });
      const h = which === "before" ? {} : { ...here.get(form) };
      h[which] = r;
      here.set(form, h);
      say(told, [h.before && `empty ${h.before.shows} g`, h.after && `filled ${h.after.shows} g`].filter(Boolean).join(", ") + (h.after ? "." : ": now fill it, and put it on again."));
    } catch (err) {
      say(told, err.message);
    }
  };
  what.addEventListener("change", clear);
  scale.addEventListener("change", clear);
  form.addEventListener("reset", clear);
  box.append(
    make("p.hint", null, "Weigh it on the bench: put the vessel on empty and read it, then filled. Leave the scale’s own tare key alone."),
    make("p", null, make("label", { for: what.id }, "What"), what),
    make("p", null, make("label", { for: scale.id }, "Scale"), scale),
    make("p.reads", null, make("button.press", { type: "button", onclick: () => read("before") }, "Read it empty"), make("button.press", { type: "button", onclick: () => read("after") }, "Read it filled")),
    told);
  show(box, true);
}

/** Adds what was read off a scale to what the form asks for. */
function addRead(form, asked) {
  const h = here.get(form);
  if (!h?.after) return;
  asked[form.querySelector("select[id$=-what]").value] = { before: h.before?.id ?? 0, after: h.after.id };
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
      make("time", { datetime: e.at }, moment(e.at)),
      make("span.what", null, e.void ? make("s", null, e.words) : e.words, make("span.by", null, ` (${e.by}, entry ${e.seq}${e.void ? ", struck out" : ""})`)),
      ...(e.notes ?? []).map((n) => make("span.what", null, n)),
      e.photos?.length ? make("span.photos", null, ...e.photos.map((p) => make("a", { href: "/photo/" + p }, make("img", { src: "/photo/small/" + p, loading: "lazy", alt: e.tile ? `Photograph of tile ${e.tile}` : "Photograph of the firing" })))) : null,
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
  if ("entry" in asked) asked.entry = Number(asked.entry);
  const button = form.querySelector("button.first");
  button.disabled = true;
  try {
    const files = [...(form.querySelector("input[type=file]")?.files ?? [])];
    for (const [i, file] of files.entries()) {
      say(button, `Sending photograph ${i + 1} of ${files.length}`);
      (asked.photos ??= []).push(await sendPhoto(file));
    }
    addRead(form, asked);
    if (kind === "vessel") {
      await post("/api/vessel", { celsius: "", name: "", ...asked, by: form.elements.by.value });
      await listVessels();
    } else await post("/api/after", { batch: mark, by: form.elements.by.value, [kind]: asked });
    const who = form.elements.by.value;
    form.reset();
    for (const f of document.querySelectorAll("#after [name=by]")) f.value = who;
    form.closest("details").open = false;
    if (kind === "correct" || kind === "strike") listPortions(await again());
    await refresh();
    $("after-title").focus();
  } catch (err) {
    complain(err);
    $("after-trouble").scrollIntoView({ block: "center" });
  }
  say(button, button.dataset.word);
  button.disabled = false;
}
