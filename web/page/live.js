// The line to the bench: views as they come, and whether anything comes at all.
import { wall } from "./logic.js";

/** Without a message for so long (ms) the number must not be believed. */
export const silence = 2000;

/** How often (ms) a bench that is away is looked for. */
const look = 350;

/** Sets in a view what has changed: values by their place, as "scales.0.shows". */
function change(view, set) {
  for (const [place, value] of Object.entries(set)) {
    const names = place.split("."), last = names.pop();
    names.reduce((part, name) => part[name], view)[last] = value;
  }
}

/**
 * Watches the bench for as long as the page lives. onView gets each view as it
 * arrives, with the places that have changed, where it is not all of it; onLink gets true when messages come and false, with the time of the
 * last one, as soon as the line is closed or none came for too long.
 */
export function watch(onView, onLink) {
  let socket = null;
  let heard = performance.now();
  let heardAt = null;
  let told = "", ahead = 0; // what the bench said that its clock shows, and by how much that is ahead of ours
  let up = null;
  let view = null; // whole when a line opens, and kept so by what comes after
  let wait = look; // before the next try, where the server answers and the line does not open

  const link = (is) => {
    if (is === up) return;
    up = is;
    onLink(is, heardAt);
  };
  const open = () => {
    const scheme = location.protocol === "https:" ? "wss:" : "ws:";
    const s = new WebSocket(`${scheme}//${location.host}/live`);
    socket = s;
    s.onmessage = (event) => {
      if (s !== socket) return;
      let message;
      try {
        message = JSON.parse(event.data);
      } catch {
        return; // what cannot be read proves nothing
      }
      heard = performance.now();
      if (!message.beat) {
        if (message.set) change(view, message.set);
        else view = message;
        if (view.at && view.at !== told) ahead = wall((told = view.at)).getTime() - Date.now();
      }
      heardAt = new Date(Date.now() + ahead);
      wait = look;
      link(true);
      if (message.beat) return;
      onView(view, message.set && Object.keys(message.set));
    };
    s.onclose = (event) => {
      if (s !== socket) return;
      if (event.code === 1008) location.reload(); // this device was sent away; what it may still see is drawn anew
      socket = null;
      link(false);
      setTimeout(seek, wait);
      wait = Math.min(wait * 2, 4000);
    };
  };
  // Browsers hold back a page that opens many sockets to nowhere, for seconds
  // and more with every failure. So a plain request asks whether there is a
  // server, and only then is the line opened.
  const seek = async () => {
    let there = false;
    try {
      await fetch("/api/pair", { method: "HEAD", cache: "no-store", signal: AbortSignal.timeout?.(silence) });
      there = true; // whatever it answered
    } catch {
      // nobody is there yet
    }
    if (there) open();
    else setTimeout(seek, look * (0.8 + 0.4 * Math.random()));
  };
  setInterval(() => {
    const quiet = performance.now() - heard;
    if (quiet > silence) link(false);
    // A line that is open and mute may never close by itself.
    if (quiet > 3 * silence && socket?.readyState === WebSocket.OPEN) {
      heard = performance.now() - silence - 1;
      const mute = socket;
      socket = null;
      mute.close();
      open();
    }
  }, 100);
  open();
}
