// What a view looks like: pure functions from what the bench says to what the
// page shows. Nothing here touches the page, and nothing here judges a weight:
// the bench has done that.

/** The digits that stand where nothing is known. */
export const dashes = "– – –";

/** A mass as typed gets the unit that stands beside the field if it has none. */
export function withUnit(text, unit) {
  const t = text.trim();
  return /[a-zµ]$/i.test(t) ? t : t + (unit || "g");
}

const keyNames = { " ": "Space", PageDown: "PgDn", PageUp: "PgUp", ArrowLeft: "←", ArrowRight: "→", ArrowUp: "↑", ArrowDown: "↓", Escape: "Esc" };

/** A key as it is called on the page. */
export const keyName = (key) => keyNames[key] ?? (key.length === 1 ? key.toUpperCase() : key);

/** The keys of a view, gathered by what they do, in order. */
export function keyGroups(keys) {
  const groups = [];
  for (const k of keys ?? []) {
    const same = groups.find((g) => g.word === k.word);
    if (same) same.keys.push(...(k.key ? [k.key] : []));
    else groups.push({ ...k, keys: k.key ? [k.key] : [] });
  }
  for (const g of groups) g.keys.sort((a, b) => a.length - b.length);
  return groups;
}

/** Finds what a pressed key does. */
export const wordFor = (keys, pressed) =>
  (keys ?? []).find((k) => k.key === pressed || (k.key.length === 1 && k.key.toLowerCase() === pressed.toLowerCase()));

/** What the keys do with a demonstration's hands; the rest is reached by Tab. */
export const handKeys = { put: "o", pour: "f", pinch: "i", stop: "x", "spoon-out": "e", "tip-and-return": "t", lift: "l" };

/** The key that takes the hands to the next scale. */
export const nextScaleKey = "h";

/** A moment by the clock on the wall of the bench: one that the bench tells has its zone, which is left off, wherever the browser is. */
export const wall = (at) => new Date(typeof at === "string" ? at.replace(/(?:Z|[+-]\d\d:\d\d)$/, "") : at);

/** A clock time for people. */
export function clock(at) {
  const d = wall(at);
  return Number.isNaN(d.getTime()) ? "" : d.toLocaleTimeString(document.documentElement.lang, { hour: "2-digit", minute: "2-digit", second: "2-digit", hourCycle: "h23" });
}

/** A day for people, written out: 3/4 is another day on each side of the sea. */
export function day(at, language = document.documentElement.lang) {
  const d = wall(at);
  return Number.isNaN(d.getTime()) ? "" : d.toLocaleDateString(language, { year: "numeric", month: "long", day: "numeric" });
}

/** A day and a time for people. */
export function moment(at) {
  return day(at) && `${day(at)}, ${clock(at)}`;
}

/**
 * How words are set so that they can be read from afar: as tall as they are wanted, on as
 * few lines as do, pressed together sideways where they are too long, a word broken where
 * it alone is, and lower only where that does not help. wide gives the width of words as
 * they would stand on one line; the words that are given back say where they may break.
 */
export function fitted(words, room, lines, wide) {
  const least = 0.62; // narrower letters cannot be told apart from afar
  const set = (all) => {
    let on = 1, width = wide(words);
    while (width * least > room && on < Math.min(lines, all.length)) width = widest(all, ++on, wide) * 1.02;
    const squeeze = Math.min(1, Math.max(least, room / width));
    return { lines: on, squeeze, shrink: Math.min(1, room / (width * squeeze)) };
  };
  const all = words.split(" "), whole = set(all);
  if (whole.shrink === 1 || lines === 1) return { words, ...whole };
  const parts = all.map((word) => (wide(word) * least > room ? broken(word) : [word]));
  const other = set(parts.flatMap((p) => p.map((part, i) => (i < p.length - 1 ? part + "-" : part))));
  return other.shrink > whole.shrink ? { words: parts.map((p) => p.join("\u00ad")).join(" "), ...other } : { words, ...whole };
}

/** A word in two, broken before a syllable as near to its middle as there is. */
function broken(word) {
  const places = [...word.matchAll(/(?:[bcdfgpt][rl]|sch|[cspt]h|[b-df-hj-np-tv-xzßñç])(?=[aeiouyäöüáéíóúàèêâôœ])/gi)].map((m) => m.index);
  const middle = word.length / 2;
  const at = places.filter((i) => i > 2 && i < word.length - 2).sort((a, b) => Math.abs(a - middle) - Math.abs(b - middle))[0];
  return at ? [word.slice(0, at), word.slice(at)] : [word];
}

/** How wide words are on so many lines, broken where that is least. */
function widest(words, lines, wide) {
  if (lines === 1) return wide(words.join(" "));
  let least = Infinity;
  for (let i = 1; i <= words.length - lines + 1; i++) {
    least = Math.min(least, Math.max(wide(words.slice(0, i).join(" ")), widest(words.slice(i), lines - 1, wide)));
  }
  return least;
}
