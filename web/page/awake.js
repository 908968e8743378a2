// Keeps the screen on while a batch is in work, where the browser can.

let lock = null;
let wanted = false;

async function take() {
  if (!wanted || lock || document.visibilityState !== "visible" || !navigator.wakeLock) return;
  try {
    lock = await navigator.wakeLock.request("screen");
    lock.addEventListener("release", () => {
      lock = null;
    });
  } catch {
    lock = null; // battery saving, or not allowed: the screen's own setting rules
  }
}

document.addEventListener("visibilitychange", take);

/** Says whether the screen should stay on. */
export function stayAwake(yes) {
  wanted = yes;
  document.body.dataset.awake = yes; // for film.js
  if (yes) take();
  else lock?.release();
}
