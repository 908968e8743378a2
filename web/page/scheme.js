// Bright or dark: as the system has it, or as somebody chose for this browser.

const place = "tared.scheme";
const schemes = ["system", "light", "dark"];

let scheme = "system";
try {
  const kept = localStorage.getItem(place);
  if (schemes.includes(kept)) scheme = kept;
} catch {
  // nothing is kept in this browser
}

function apply() {
  const root = document.documentElement;
  if (scheme === "system") delete root.dataset.scheme;
  else root.dataset.scheme = scheme;
  root.style.colorScheme = scheme === "system" ? "" : scheme;
}
apply();

/** The scheme that was chosen: system, light or dark. */
export const chosen = () => scheme;

/** Goes to the next scheme. */
export function nextScheme() {
  scheme = schemes[(schemes.indexOf(scheme) + 1) % schemes.length];
  try {
    localStorage.setItem(place, scheme);
  } catch {
    // it holds until the page is left
  }
  apply();
}
