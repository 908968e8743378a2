// Pairing: the code comes by hand, or behind the # of an address, where it is
// not sent to any server.
import "./common.js";
import { $, say, show } from "./dom.js";
import { get, post } from "./api.js";

/** Where the browser was going when it was turned away: a page of ours, or the first. */
function onward() {
  try {
    const to = new URL(new URLSearchParams(location.search).get("to") ?? "/", location.origin);
    if (to.origin === location.origin) return to.href;
  } catch {
    // an address that cannot be read leads nowhere
  }
  return "/";
}

async function pair(code) {
  show($("trouble"), false);
  try {
    await post("/api/pair", { code });
    location.replace(onward());
  } catch (err) {
    say($("trouble"), err.message);
    show($("trouble"), true);
    $("code").focus();
  }
}

if ($("form")) {
  $("form").addEventListener("submit", (e) => {
    e.preventDefault();
    pair($("code").value);
  });
  const code = decodeURIComponent(location.hash.slice(1));
  if (code) {
    history.replaceState(null, "", location.pathname + location.search);
    $("code").value = code;
    pair(code);
  } else {
    // Who comes by a link from elsewhere sent no proof along, though he may have one.
    get("/api/pair").then((may) => {
      if (may.may) location.replace(onward());
    }, () => {});
  }
}
