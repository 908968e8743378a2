// What is seldom wanted. The server draws it; this has the record verified.
import "./common.js";
import { $, make } from "./dom.js";
import { post } from "./api.js";
import { words } from "./words.js";

$("verify")?.addEventListener("click", async () => {
  const tell = (all) => $("verified").replaceChildren(...all.map((one) => make("li", null, one)));
  $("verify").disabled = true;
  tell([words("shop.walking")]);
  try {
    tell((await post("/api/verify", {})).words);
  } catch (err) {
    tell([err.message]);
  }
  $("verify").disabled = false;
});
