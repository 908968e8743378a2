// Single questions: the server answers, this page asks and shows.
import "./common.js";
import { attr, make, show } from "./dom.js";
import { get, Refused } from "./api.js";
import { words } from "./words.js";

const sections = [...document.querySelectorAll(".topic")];

/** Shows the question that the address names, else the first. */
function choose(focus) {
  const name = location.hash.slice(1);
  const chosen = sections.find((s) => s.dataset.topic === name) ?? sections[0];
  for (const s of sections) show(s, s === chosen);
  for (const a of document.querySelectorAll(".topics a")) attr(a, "aria-current", a.hash === "#" + chosen.dataset.topic ? "true" : null);
  if (chosen.dataset.topic === name) chosen.scrollIntoView();
  if (focus) chosen.querySelector("h2").focus();
}
addEventListener("hashchange", () => choose(true));
choose(false);

for (const form of document.querySelectorAll(".question")) {
  const trouble = form.querySelector(".trouble");
  const answer = form.querySelector(".answer");
  const inputs = [...form.querySelectorAll("input")];
  let asked = 0; // of several answers on their way, the last question's counts

  const clear = () => {
    asked++;
    show(trouble, false);
    trouble.replaceChildren();
    answer.replaceChildren();
    for (const i of inputs) attr(i, "aria-invalid", null);
  };
  // An answer to other figures than those in the fields must not stand there.
  form.addEventListener("input", clear);

  form.addEventListener("submit", async (e) => {
    e.preventDefault();
    clear();
    const mine = asked;
    const q = new URLSearchParams();
    for (const i of inputs) if (i.value.trim() || !i.dataset.optional) q.append(i.name, i.value.trim());
    try {
      const a = await get(`/api/calc/${form.dataset.topic}?${q}`);
      if (mine === asked) answer.replaceChildren(...parts(a));
    } catch (err) {
      if (!(err instanceof Refused)) throw err;
      if (mine !== asked) return;
      trouble.textContent = err.message;
      show(trouble, true);
      const at = inputs.find((i) => i.name === err.key);
      if (at) {
        attr(at, "aria-invalid", true);
        at.focus();
      }
    }
  });
}

/** An answer as elements: the sentence first. */
function parts(a) {
  const out = [make("p.words", null, a.words)];
  if (a.facts) out.push(make("dl.facts", null, ...a.facts.flatMap((f) => [make("dt", null, f.name), make("dd", null, f.value)])));
  if (a.steps) out.push(make("ol", null, ...a.steps.map((s) => make("li", null, s))));
  if (a.table) {
    out.push(make("div.wide", { tabindex: "0", role: "region", "aria-label": words("calc.list") },
      make("table", null,
        make("thead", null, make("tr", null, ...a.table.heads.map((h) => make("th.number", { scope: "col" }, h)))),
        make("tbody", null, ...a.table.rows.map((r) => make("tr", null, ...r.map((c) => make("td.number.digits", null, c))))))));
  }
  if (a.notes) out.push(make("ul.notes", null, ...a.notes.map((n) => make("li", null, n))));
  return out;
}
