// The server draws this page; this has a label printed.
import "./common.js";
import { $, say, sending, show } from "./dom.js";
import { post } from "./api.js";
import { words } from "./words.js";

$("to-printer")?.addEventListener("submit", (e) => {
  e.preventDefault();
  const form = /** @type {HTMLFormElement} */ (e.currentTarget), count = $("copies").valueAsNumber;
  sending(form, async () => {
    show($("trouble"), false);
    say($("done"), words("label.printing"));
    try {
      await post("/api/print", { batch: form.dataset.batch, count });
      say($("done"), words("label.printed"));
    } catch (err) {
      say($("done"), "");
      say($("trouble"), err.message);
      show($("trouble"), true);
    }
  });
});
