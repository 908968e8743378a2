// The line to the bench: views as they come, and whether anything comes at all.

/** Without a message for so long (ms) the number must not be believed. */
export const silence = 2000;

/**
 * Watches the bench for as long as the page lives. onView gets each view as it
 * arrives; onLink gets true when messages come and false, with the time of the
 * last one, when none came for too long.
 */
export function watch(onView, onLink) {
  let socket = null;
  let heard = performance.now();
  let heardAt = null;
  let up = null;
  let wait = 250;
  let ahead = 0; // the server's clock minus ours, ms

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
      heardAt = new Date();
      wait = 250;
      if (message.beat) ahead = Date.parse(message.beat) - Date.now();
      link(true);
      if (!message.beat) onView(message);
    };
    s.onclose = () => {
      if (s !== socket) return;
      socket = null;
      setTimeout(open, wait * (0.7 + 0.6 * Math.random()));
      wait = Math.min(wait * 2, 2000);
    };
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
  return { serverNow: () => Date.now() + ahead };
}
