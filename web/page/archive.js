// The record as a whole: checked, saved, brought back. The server says what came of it.
import { redraw } from "./common.js";
import { $, make, sending, show } from "./dom.js";
import { long, sendCopy } from "./api.js";

const tell = (list, all) => list.replaceChildren(...all.map((one) => make("li", null, one)));

async function carry(list, first, work) {
  tell(list, [first]);
  try {
    const done = await work((step) => tell(list, [step]));
    tell(list, done.words);
    return done;
  } catch (err) {
    tell(list, [err.message]);
    return null;
  }
}

for (const key of document.querySelectorAll("[data-long]")) {
  key.addEventListener("click", async () => {
    const { long: path, first, says, anew } = key.dataset;
    key.disabled = true;
    const done = await carry($(says), first, (step) => long(path, step));
    key.disabled = false;
    key.focus();
    if (anew) await redraw(anew);
    if (!done?.file) return;
    $("fetch").href = done.file;
    show($("fetch"), true);
    $("fetch").click();
  });
}

$("restoring")?.addEventListener("submit", (event) => {
  event.preventDefault();
  sending($("restoring"), () => carry($("restored"), $("restoring").dataset.first, () => sendCopy($("file").files[0])));
});
