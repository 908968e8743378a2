// Devices that may command: the server draws them; this lets one in, names it, or sends it
// away.
import { person, redraw } from "./common.js";
import { $, make, say, show } from "./dom.js";
import { get, post } from "./api.js";
import { words } from "./words.js";

/** How often (ms) it is looked whether the device has come. */
const look = 1500;

/** How long (ms) a second press may take: by then the first was a mistake. */
const sure = 5000;

async function attempt(what) {
  show($("trouble"), false);
  try {
    await what();
  } catch (err) {
    say($("trouble"), err.message);
    show($("trouble"), true);
  }
}

const ids = (all) => all.devices.map((d) => d.id);
let waits = 0; // of the invitation that is shown

const draw = (id, svg) => $(id).replaceChildren(document.importNode(new DOMParser().parseFromString(svg, "image/svg+xml").documentElement, true));

/** What is shown of an address leaves out the code, which is typed. */
function lead(id, url) {
  $(id).href = url;
  say($(id), url.split("#")[0]);
}

async function invite() {
  const before = ids(await get("/api/devices"));
  const i = await post("/api/devices/invite", {});
  draw("qr", i.qr);
  lead("link", i.links[0]);
  show($("trust"), Boolean(i.trust));
  if (i.trust) {
    draw("trust-qr", i.trust_qr);
    lead("trust-link", i.trust);
  }
  say($("how"), words(i.trust ? "devices.how-then" : "devices.how"));
  show($("named"), Boolean(i.named));
  if (i.named) lead("named-link", i.named);
  say($("code"), `${i.code.slice(0, 5)} ${i.code.slice(5)}`);
  say($("came"), "");
  show($("invite"), true);
  const end = Date.now() + (Date.parse(i.until) - Date.parse(i.now));
  clearInterval(waits);
  const wait = async () => {
    const left = Math.ceil((end - Date.now()) / 60000);
    say($("left"), left > 0 ? words("devices.left", { minutes: left }) : words("devices.over"));
    if (left <= 0) {
      clearInterval(waits);
      return;
    }
    const now = await get("/api/devices").catch(() => null);
    const fresh = now?.devices.find((d) => !before.includes(d.id));
    if (!fresh) return;
    clearInterval(waits);
    show($("invite"), false);
    say($("came"), words("devices.came", { device: fresh.name }));
    await redraw("devices");
  };
  await wait();
  waits = setInterval(wait, look);
}

$("add")?.addEventListener("click", () => attempt(invite));

document.addEventListener("submit", (e) => {
  const form = e.target;
  if (!(form instanceof HTMLFormElement) || !form.matches(".rename")) return;
  e.preventDefault();
  attempt(async () => {
    await post("/api/devices", { device: form.closest("li").dataset.id, name: new FormData(form).get("name"), by: person() });
    await redraw("devices");
  });
});

document.addEventListener("click", (e) => {
  const button = e.target instanceof Element ? e.target.closest(".revoke") : null;
  if (!button) return;
  if (!button.dataset.sure) {
    const was = button.textContent;
    button.dataset.sure = "1";
    button.replaceChildren(make("span", null, words("devices.sure")));
    setTimeout(() => {
      delete button.dataset.sure;
      say(button, was);
    }, sure);
    return;
  }
  attempt(async () => {
    await post("/api/devices", { device: button.closest("li").dataset.id, name: "", by: person() });
    await redraw("devices");
  });
});
