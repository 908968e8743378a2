// What the ear hears. Each cue differs from the others in rhythm and in pitch;
// every pitch lies between 300 and 3000 Hz and has overtones, so that it carries
// in a workshop and is not lost to an ear that hears one region badly. No cue is
// a steady tone. How far it is to the mark is told by how soon a cue returns.

/**
 * Each cue: [pitch in Hz, start in ms, length in ms]…, and how often
 * it returns (ms, 0: once; two numbers: from far away to the mark). An alarm
 * sounds in quiet mode too.
 */
export const cues = {
  near: { tones: [[440, 0, 90]], again: [900, 180] },
  ease: { tones: [[587, 0, 80], [587, 160, 80]], again: [900, 450] },
  stop: { tones: [[988, 0, 70], [988, 110, 70], [988, 220, 70], [988, 330, 70]], again: 700 },
  in: { tones: [[659, 0, 140], [988, 160, 320]], again: 0 },
  over: { tones: [[784, 0, 160], [554, 180, 160], [392, 360, 300]], again: [1400, 3200], alarm: true },
  lost: { tones: [[349, 0, 220], [1397, 260, 90], [349, 380, 220]], again: 4000, alarm: true },
  ask: { tones: [[523, 0, 120], [523, 200, 120], [784, 400, 260]], again: 15000 },
  taken: { tones: [[1319, 0, 70], [1760, 90, 140]], again: 0 },
};

/** How long (ms) a cue that has just sounded is held back when it comes again. */
const holdBack = 1000;

/** How near the band is, from 0 (a tenth of the target away, or more) to 1 (at its edge). */
export const nearness = (now) => (now?.show?.bar?.closeness ?? 0) / 1000;

/** After how long (ms) a cue returns while it lasts; 0: it sounds once. */
export function every(name, now) {
  const again = cues[name]?.again ?? 0;
  if (typeof again === "number") return again;
  return Math.round(again[0] + (again[1] - again[0]) * nearness(now));
}

/** The choices that a browser keeps; where it keeps nothing they last as long as the page. */
function recall(name) {
  try {
    return window.localStorage?.getItem("tared." + name) ?? "";
  } catch {
    return ""; // not allowed to keep anything
  }
}
function keep(name, value) {
  try {
    window.localStorage?.setItem("tared." + name, value);
  } catch {
    // the choice holds until the page is closed
  }
}

/** What the sound button goes through, with how loud it is. Quiet lets the alarms through, and nothing else. */
const levels = { on: 0.28, soft: 0.09, quiet: 0.28, off: 0 };
const modes = Object.keys(levels);

/** Makes the page's voice. It stays dumb until unlock is called from a key or touch. */
export function voice(onChange) {
  const Context = window.AudioContext ?? window.webkitAudioContext;
  let context = null;
  let mode = modes.includes(recall("sound")) ? recall("sound") : "on";
  let current = "";
  let place = null; // where the pour stands
  let timer = 0;
  const heard = {}; // when each cue last began (ms)

  const awake = () => !!context && context.state === "running";
  const changed = () => onChange({ possible: !!Context, awake: awake(), mode });

  const knock = (hz, from, length) => {
    const t = context.currentTime + from / 1000;
    const end = t + length / 1000;
    const gain = context.createGain();
    gain.gain.setValueAtTime(0, t);
    gain.gain.linearRampToValueAtTime(levels[mode], t + 0.008);
    gain.gain.setValueAtTime(levels[mode], Math.max(end - 0.03, t + 0.01));
    gain.gain.linearRampToValueAtTime(0, end);
    gain.connect(context.destination);
    // A triangle has the odd overtones; one octave above adds the even ones.
    for (const [times, share] of [[1, 1], [2, 0.35]]) {
      const osc = context.createOscillator();
      const part = context.createGain();
      osc.type = "triangle";
      osc.frequency.value = hz * times;
      part.gain.value = share;
      osc.connect(part).connect(gain);
      osc.start(t);
      osc.stop(end + 0.02);
    }
  };
  const play = () => {
    const c = cues[current];
    heard[current] = performance.now();
    if (awake() && (mode === "on" || mode === "soft" || (mode === "quiet" && c.alarm))) for (const [hz, from, length] of c.tones) knock(hz, from, length);
    plan(every(current, place));
  };
  const plan = (gap) => {
    clearTimeout(timer);
    if (gap) timer = setTimeout(play, Math.max(heard[current] + gap - performance.now(), 0));
  };
  const woken = () => {
    if (awake() && cues[current]) play();
    changed();
  };
  return {
    /** Wakes the sound; browsers allow it from a key or touch only. */
    async unlock() {
      if (!Context || awake()) return;
      try {
        if (!context) {
          context = new Context();
          context.onstatechange = woken;
        }
        await context.resume();
      } catch {
        context = null; // no sound here; words and shapes carry the meaning
      }
      changed();
    },
    /** Goes to the next mode; the first press on a page that sleeps only wakes it. */
    toggle() {
      if (awake() || !Context) mode = modes[(modes.indexOf(mode) + 1) % modes.length];
      else if (mode === "off") mode = "on";
      keep("sound", mode);
      this.unlock();
      changed();
    },
    /**
     * Sounds a cue when it is a new one, and again while it lasts, the sooner the
     * nearer. A cue that comes and goes with every view does not stutter: it waits
     * for its own time.
     */
    cue(name, now) {
      place = now;
      if (name === current) {
        const gap = every(name, now);
        if (gap) plan(gap);
        return;
      }
      current = name;
      clearTimeout(timer);
      if (!cues[name]) return;
      const hold = Math.min(every(name, now) || holdBack, holdBack);
      if (performance.now() - (heard[name] ?? -Infinity) >= hold) play();
      else plan(hold);
    },
    changed,
  };
}

/** Makes what speaks, where the browser has a voice for the language of the page. It is off until somebody switches it on. */
export function speaker(onChange) {
  const synth = window.speechSynthesis;
  let on = recall("speech") === "on";

  const voices = () => {
    const all = (window.SpeechSynthesisUtterance && synth?.getVoices?.()) || [];
    const tag = document.documentElement.lang.toLowerCase();
    const speaks = (of) => all.filter((v) => v.lang.replace("_", "-").toLowerCase().split("-", of.split("-").length).join("-") === of);
    return [...new Set([...speaks(tag), ...speaks(tag.split("-")[0])])]; // those of the country first
  };
  const changed = () => onChange({ possible: voices().length > 0, on });
  synth?.addEventListener?.("voiceschanged", changed); // some browsers find their voices late
  return {
    toggle() {
      on = !on;
      keep("speech", on ? "on" : "off");
      if (!on) synth?.cancel?.();
      changed();
      return on;
    },
    /** Says words now, instead of what was being said; nothing when it is off. */
    say(words) {
      const own = voices();
      if (!on || !words || !own.length) return;
      const u = new SpeechSynthesisUtterance(words);
      u.lang = document.documentElement.lang;
      // A voice of this machine speaks without a network.
      u.voice = own.find((v) => v.localService) ?? own[0];
      synth.cancel();
      synth.speak(u);
    },
    /** Stops what is being said. */
    hush() {
      synth?.cancel?.();
    },
    changed,
  };
}
