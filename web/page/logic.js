// What a view looks like: pure functions from what the bench says to what the
// page shows. Nothing here touches the page, and nothing here judges a weight:
// the bench has done that.

const signs = {
  idle: ["idle", "idle", "Idle"],
  reminder: ["ask", "ask", "Ready?"],
  container: ["idle", "place", "Container"],
  pour: ["under", "under", "Under"],
  settle: ["idle", "wait", "Settling"],
  in: ["in", "in", "In band"],
  over: ["over", "over", "Over"],
  lifted: ["idle", "tip", "Tip it in"],
  lost: ["lost", "lost", "Lost"],
  decide: ["ask", "ask", "Decide"],
  paused: ["idle", "pause", "Paused"],
  finished: ["in", "in", "Finished"],
};

/** The state in a word, a shape and a tone. */
export function sign(now, batch) {
  if (now.state === "finished" && batch?.early) return { tone: "idle", shape: "skip", word: "Closed" };
  const [tone, shape, word] = signs[now.state] ?? signs.idle;
  if (now.state === "pour" && now.eye) return { tone: "idle", shape: "eye", word: "By eye" };
  if ((now.state === "pour" || now.state === "settle") && now.cue === "stop") return { tone: "stop", shape: "stop", word: "Stop" };
  if (now.state === "pour" && now.cue === "ease") return { tone: "under", shape: "under", word: "Ease off" };
  if ((now.state === "pour" || now.state === "container") && now.cue === "ask") return { tone: "ask", shape: "ask", word: "Look" };
  if (now.state === "lifted" && now.cue === "ask") return { tone: "ask", shape: "ask", word: "Too early" };
  return { tone, shape, word };
}

/** What the page shows when the line to the bench is dead. */
export const noWord = { tone: "lost", shape: "lost", word: "No word" };

/** The digits that stand where nothing is known. */
export const dashes = "– – –";

const minus = /^[-−]/;

/** The main figure, with what it means. */
export function figure(now, lost) {
  if (lost || now.state === "lost") return { label: "not known: do not pour", digits: dashes };
  if (now.state === "lifted" && now.lifted) return { label: now.cue === "over" ? "in it" : "goes in when tipped", digits: now.lifted };
  if (now.in === "" || now.missing === "") {
    return { label: now.eye ? "to weigh by eye" : now.state === "lifted" ? "target" : "to weigh", digits: now.target || dashes };
  }
  if (/^[-−]?0*\.?0*$/.test(now.missing)) return { label: "on the mark", digits: now.missing.replace(minus, "") };
  if (minus.test(now.missing)) {
    return { label: now.state === "over" ? "too much" : "over the mark", digits: "+" + now.missing.replace(minus, "") };
  }
  return { label: now.state === "in" ? "short of the mark" : "still to pour", digits: now.missing };
}

/**
 * Where things stand on the bar, in hundredths of its width. The part up to
 * some bands before the mark takes two fifths; the rest is stretched, so that
 * the band can be seen from afar.
 */
export function bar(now) {
  const half = Math.max(now.high_fill - 1000, 1000 - now.low_fill, 1);
  const from = Math.max(1000 - 5 * half, 0);
  const to = 1000 + 4 * half;
  const kink = from > 0 ? 40 : 0;
  const at = (fill) => {
    const p = fill <= from && from > 0 ? (fill / from) * kink : kink + ((fill - from) / (to - from)) * (100 - kink);
    return Math.min(Math.max(p, 0), 100);
  };
  return { fill: at(now.fill), low: at(now.low_fill), mark: at(1000), high: at(now.high_fill), kink };
}

// --- the fine phase: a stretched scale near the mark. It is drawn from the digits
// and not from fill: a thousandth of a large target is many steps of the scale.

const amount = (digits) => Number(digits.replace(minus, "-"));

/** The half of the stretched scale, and of all that is drawn in the fine phase, in thousandths of the target. */
function reach(now) {
  const target = amount(now.target);
  const half = (Math.max(amount(now.high) - target, target - amount(now.low), amount(now.step)) / target) * 1000;
  const even = 2.5 * half;
  return { even, all: Math.max(100, 1.5 * even) };
}

/** Where the pour stands, in thousandths of the target. */
const stands = (now) => (now.missing === "" ? now.fill : 1000 - (amount(now.missing) / amount(now.target)) * 1000);

/**
 * Whether the pour is near enough for the stretched scale: within a tenth of the
 * target, or more where the band is wide. was is what it has been: what has come
 * near stays near for a little, so that noise does not change the scale.
 */
export function isFine(now, was) {
  if (!(amount(now.target) > 0)) return false;
  if (now.fill < 0) return was;
  const { all } = reach(now);
  return stands(now) >= 1000 - all * (was ? 1.25 : 1);
}

/** The most lines on the stretched scale; more would run together at two metres. */
const mostLines = 40;

/**
 * The stretched scale, in hundredths of its width: the target in the middle, the
 * band around it, a line for each step of the scale or for each few. Between the
 * two ends it is even; in the ends what is farther off is pressed together.
 */
export function fineBar(now) {
  const target = amount(now.target);
  const { even, all } = reach(now);
  const at = (fill) => {
    const d = Math.min(Math.abs(fill - 1000), all);
    const p = d <= even ? (d / even) * 38 : 38 + ((d - even) / (all - even)) * 12;
    return 50 + (fill < 1000 ? -p : p);
  };
  const step = (amount(now.step) / target) * 1000;
  const few = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000].find((n) => (2 * even) / (n * step) <= mostLines) ?? 2000;
  const lines = [];
  const n = Math.floor(even / (few * step) + 1e-6);
  for (let i = -n; i <= n; i++) lines.push(at(1000 + i * few * step));
  const places = now.step.split(".")[1]?.length ?? 0;
  return {
    fill: at(stands(now)), low: at((amount(now.low) / target) * 1000), mark: 50, high: at((amount(now.high) / target) * 1000),
    ends: [12, 88], lines, line: (few * amount(now.step)).toFixed(places),
  };
}

/** The scale of the bar in words. */
export const scaleWords = (fine, line) => (fine ? `Near: each line is ${line} g` : "The whole pour");

/**
 * How a portion comes to be taken, and how far that has come: it is in, it rests,
 * it is lifted. There is no countdown: the lift takes it, and nothing else does.
 */
export function takeSteps(view) {
  const now = view.now;
  if (now.eye || (now.state !== "settle" && now.state !== "in")) return [];
  const rests = now.state === "in" && now.settled;
  const seconds = Math.floor((new Date(view.at) - new Date(now.since)) / 1000);
  return [
    { word: "enough in", state: "done" },
    { word: !rests ? "hands off" : seconds >= 1 && seconds < 100 ? `at rest ${seconds} s` : "at rest", state: rests ? "done" : "now" },
    { word: "lift it", state: rests ? "now" : "to come" },
  ];
}

/** What is said, and stands on the screen, when a material begins; "" where none does. */
export function spoken(now) {
  if (!now.material || !now.target || !["container", "pour", "settle", "in", "over"].includes(now.state)) return "";
  const part = now.portions > 1 ? `, portion ${now.portion} of ${now.portions}` : "";
  return `${now.as || now.material}, ${now.target} grams, on the ${now.scale} scale${part}`;
}

/** How a step of the batch is marked. */
export function stepMark(step) {
  if (step.state === "now") return { shape: "now", word: "now" };
  if (step.state === "skipped") return { shape: "skip", word: "left out" };
  if (step.state === "waiting") return { shape: "", word: "to come" };
  if (step.verdict === "under") return { shape: "under", word: "done, under the band" };
  if (step.verdict === "over") return { shape: "over", word: "done, over the band" };
  return { shape: "in", word: "done, in the band" };
}

/** What a command word must have behind it. */
export function needs(word, asked) {
  const answer = asked?.answers?.find((a) => a.word === word);
  if (answer) return answer.needs;
  return { note: "text", substitute: "text", abandon: "text", by: "name", typed: "mass" }[word] ?? "";
}

/** A mass as typed gets its unit if it has none. */
export function withUnit(text) {
  const t = text.trim();
  return /[a-zµ]$/i.test(t) ? t : t + "g";
}

const keyNames = { " ": "Space", PageDown: "PgDn", PageUp: "PgUp", ArrowLeft: "←", ArrowRight: "→", ArrowUp: "↑", ArrowDown: "↓", Escape: "Esc" };

/** A key as it is called on the page. */
export const keyName = (key) => keyNames[key] ?? (key.length === 1 ? key.toUpperCase() : key);

/** The keys of a view, gathered by what they do, in order. */
export function keyGroups(keys) {
  const groups = [];
  for (const k of keys ?? []) {
    const same = groups.find((g) => g.word === k.word);
    if (same) same.keys.push(k.key);
    else groups.push({ word: k.word, label: k.label, keys: [k.key] });
  }
  for (const g of groups) g.keys.sort((a, b) => a.length - b.length);
  return groups;
}

/** Finds what a pressed key does. */
export const wordFor = (keys, pressed) =>
  (keys ?? []).find((k) => k.key === pressed || (k.key.length === 1 && k.key.toLowerCase() === pressed.toLowerCase()));

/** What the keys do with a demonstration's hands; the rest is reached by Tab. */
export const handKeys = { put: "o", pour: "r", pinch: "i", stop: "x", "spoon-out": "e", "tip-and-return": "t", lift: "l" };

/** The key that takes the hands to the next scale. */
export const nextScaleKey = "h";

/** The keys of this page's own, where the bench does not want them. */
export const ownKeys = { sound: "m", speech: "v" };

/** The role of a material, in words. */
export const roleWords = (role) => ({ base: "base", addition: "addition", strong: "strong colourant", water: "first water" })[role] ?? role ?? "";

/** A clock time for people. */
export function clock(at) {
  const d = new Date(at);
  return Number.isNaN(d.getTime()) ? "" : d.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", second: "2-digit", hourCycle: "h23" });
}

/** A day for people, written out: 3/4 is another day on each side of the sea. */
export function day(at) {
  const d = new Date(at);
  return Number.isNaN(d.getTime()) ? "" : d.toLocaleDateString("en-GB", { year: "numeric", month: "long", day: "numeric" });
}

/** A day and a time for people. */
export function moment(at) {
  return day(at) && `${day(at)}, ${clock(at)}`;
}
