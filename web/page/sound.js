// What the ear hears. Each cue differs from the others in rhythm and in pitch;
// every pitch lies between 300 and 3000 Hz and has overtones, so that it carries
// in a workshop and is not lost to an ear that hears one region badly. No cue is
// a steady tone.

/** Each cue: [pitch in Hz, start in ms, length in ms]…, its words, and how often it returns (ms, 0: once). */
export const cues = {
  near: { tones: [[440, 0, 90]], words: "one low knock: near", again: 0 },
  ease: { tones: [[587, 0, 80], [587, 160, 80]], words: "two even knocks: ease off", again: 900 },
  stop: { tones: [[988, 0, 70], [988, 110, 70], [988, 220, 70], [988, 330, 70]], words: "four quick high knocks: stop", again: 700 },
  in: { tones: [[659, 0, 140], [988, 160, 320]], words: "two rising notes: in the band", again: 0 },
  over: { tones: [[784, 0, 160], [554, 180, 160], [392, 360, 300]], words: "three falling notes: over", again: 2500 },
  lost: { tones: [[349, 0, 220], [1397, 260, 90], [349, 380, 220]], words: "low, high, low: lost", again: 4000 },
  ask: { tones: [[523, 0, 120], [523, 200, 120], [784, 400, 260]], words: "two even notes and a high one: a question", again: 15000 },
  taken: { tones: [[1319, 0, 70], [1760, 90, 140]], words: "two short bright notes: taken", again: 0 },
};

/** Makes the page's voice. It stays dumb until unlock is called from a key or touch. */
export function voice(onChange) {
  const Context = window.AudioContext ?? window.webkitAudioContext;
  let context = null;
  let muted = false;
  let current = "";
  let timer = 0;

  const on = () => !!context && context.state === "running" && !muted;
  const changed = () => onChange({ possible: !!Context, on: on(), muted });

  const knock = (hz, from, length) => {
    const t = context.currentTime + from / 1000;
    const end = t + length / 1000;
    const gain = context.createGain();
    gain.gain.setValueAtTime(0, t);
    gain.gain.linearRampToValueAtTime(0.28, t + 0.008);
    gain.gain.setValueAtTime(0.28, Math.max(end - 0.03, t + 0.01));
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
  const sound = () => {
    const c = cues[current];
    if (c && on()) for (const [hz, from, length] of c.tones) knock(hz, from, length);
  };
  return {
    /** Wakes the sound; browsers allow it from a key or touch only. */
    async unlock() {
      if (!Context || context?.state === "running") return;
      try {
        context ??= new Context();
        context.onstatechange = changed;
        await context.resume();
      } catch {
        context = null; // no sound here; words and shapes carry the meaning
      }
      changed();
    },
    toggle() {
      muted = on();
      if (!muted) this.unlock();
      changed();
    },
    /** Sounds a cue when it is a new one, and again while it lasts. */
    cue(name) {
      if (name === current) return;
      current = name;
      clearInterval(timer);
      sound();
      const again = cues[name]?.again;
      if (again) timer = setInterval(sound, again);
    },
    changed,
  };
}
