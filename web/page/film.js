// Where the address is plain http a browser has no lock for its screen. A silent film behind
// the bench keeps it on: one dark picture, drawn here, again and again.

const picture = document.createElement("canvas");
const film = document.createElement("video");

/** Draws the next picture, and plays the film or lets it rest. */
function turn() {
  const brush = picture.getContext("2d");
  brush.fillStyle = brush.fillStyle === "#000000" ? "#010101" : "#000000"; // a picture that changes is a film
  brush.fillRect(0, 0, picture.width, picture.height);
  if (document.body.dataset.awake !== "true") film.pause();
  else if (film.paused) film.play().catch(() => {}); // not before a touch, says the browser: it is tried again
}

if (!navigator.wakeLock && picture.captureStream) {
  picture.width = picture.height = 16;
  turn();
  Object.assign(film, { muted: true, playsInline: true, srcObject: picture.captureStream(2), className: "film" });
  film.setAttribute("aria-hidden", "true");
  // Over the whole page, for a browser counts only what it shows; seen by nobody.
  Object.assign(film.style, { position: "fixed", inset: "0", width: "100%", height: "100%", opacity: "0.01", zIndex: "-1", pointerEvents: "none" });
  document.body.append(film);
  setInterval(turn, 500);
}
