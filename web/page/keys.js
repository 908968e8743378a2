// The keys of this browser: those of the bench and of the page, as somebody set them anew
// here. What answers a question, and the pedal, stay as they are.
import { words } from "./words.js";
import { keyName } from "./logic.js";

const place = "tared.keys";

/** What was set here: a word and its key, "" where it is off. */
let set = {};
try {
  const kept = JSON.parse(localStorage.getItem(place));
  if (kept && typeof kept === "object") set = kept;
} catch {
  // nothing is kept in this browser
}

/** The key of a word, here; "" where it is off. */
export const keyOf = (word, key) => (typeof set[word] === "string" ? set[word] : key);

/** Sets a key; null gives back the one that the bench has. */
export function setKey(word, key) {
  if (key === null) delete set[word];
  else set[word] = key;
  try {
    localStorage.setItem(place, JSON.stringify(set));
  } catch {
    // it holds until the page is left
  }
}

/** Whether a key can be set: digits answer questions, and what is no sign has its own use. */
export const settable = (key) => key.length === 1 && !/[\d\s]/.test(key);

/** The keys of a view, as they are here. */
export const mine = (keys) => (keys ?? []).map((k) => (settable(k.key) ? { ...k, key: keyOf(k.word, k.key) } : k));

/** The words of a message, with the keys that they name as they are here. */
export function saying(message) {
  let says = message.words;
  for (const [word, value] of Object.entries(message.values ?? {})) {
    if (!value?.key) continue;
    const own = keyOf(word, value.key);
    if (own !== value.key) says = says.replace(new RegExp(`\\b${value.key}\\b`), () => (own ? keyName(own) : words("bench.its-button")));
  }
  return says;
}
