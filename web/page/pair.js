// Pairing: the code comes by hand, or behind the # of an address, where it is
// not sent to any server.
import "./common.js";
import { $, say, show } from "./dom.js";
import { get, post } from "./api.js";

async function pair(code) {
  show($("trouble"), false);
  try {
    await post("/api/pair", { code });
    location.href = "/";
  } catch (err) {
    say($("trouble"), err.message);
    show($("trouble"), true);
    $("code").focus();
  }
}

$("form").addEventListener("submit", (e) => {
  e.preventDefault();
  pair($("code").value);
});

const code = decodeURIComponent(location.hash.slice(1));
get("/api/pair").then((p) => {
  if (p.may) {
    say($("lead"), p.needed ? "This browser is paired: it may command the bench." : "No pairing is needed here: tared listens to this machine only.");
    show($("form"), false);
  } else if (code) {
    history.replaceState(null, "", location.pathname);
    $("code").value = code;
    pair(code);
  }
}, (err) => {
  say($("trouble"), err.message);
  show($("trouble"), true);
});
