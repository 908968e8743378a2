// Pairing: the code comes by hand, or behind the # of an address, where it is
// not sent to any server.
import "./common.js";
import { $, say, show } from "./dom.js";
import { post } from "./api.js";

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

if ($("form")) {
  $("form").addEventListener("submit", (e) => {
    e.preventDefault();
    pair($("code").value);
  });
  const code = decodeURIComponent(location.hash.slice(1));
  if (code) {
    history.replaceState(null, "", location.pathname);
    $("code").value = code;
    pair(code);
  }
}
