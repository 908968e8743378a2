// Presses: tells one press from a held one, and both from a scanner, which types.
// Nothing is done before it is known which of them it is.

/** Keys that come within so long (ms) of each other were pressed by no hand at a bench. */
const together = 80;

/** So long (ms) a press is held that must not happen by accident. */
const held = 1000;

/** Where a hand types it may be quick: there it takes so many keys, each within so long (ms). */
const typed = { keys: 5, together: 50 };

/**
 * A press has word, label, hold, and act, which is done once. onHold is told the word that
 * is held, "" when none is; onShort of a press that was let go too early; onScan of keys
 * that were thrown away.
 */
export function presses({ onHold, onShort, onScan }) {
  let run = []; // the keys that came together
  let last = -Infinity; // when the last of them came
  let timer = 0;
  let holding = null; // the press, by what, and its timer

  const drop = () => {
    if (!holding) return;
    clearTimeout(holding.timer);
    holding = null;
    onHold("");
  };
  const begin = (press, by) => {
    drop();
    if (!press.hold) {
      press.act();
      return;
    }
    const end = () => {
      drop();
      press.act();
    };
    holding = { press, by, timer: setTimeout(end, held) };
    onHold(press.word);
  };
  const up = (by) => {
    for (const k of run) if (k.by === by) k.up = true;
    if (holding?.by !== by) return;
    const { press } = holding;
    drop();
    onShort(press);
  };
  const judge = () => {
    const [first, ...more] = run;
    run = [];
    if (!more.length) {
      if (first.press?.hold && first.up) onShort(first.press);
      else if (first.press) begin(first.press, first.by);
      return;
    }
    const ended = more.some((k) => k.by === "Enter");
    const meant = first.field ? ended : [first, ...more].some((k) => k.press);
    const signs = [first, ...more].filter((k) => k.by !== "Tab").length;
    if (!meant && signs < typed.keys) return; // two letters of a quick hand
    if (first.field) first.field.value = first.was;
    onScan();
  };
  const wait = (again) => {
    const due = performance.now() + together;
    // On a busy machine the next key may be waiting behind this.
    timer = setTimeout(() => (again && performance.now() - due > together ? wait(false) : judge()), together);
  };

  return {
    /** A key went down: press is what it means, null for nothing; field is where it types. */
    down(e, press, field) {
      if (press) e.preventDefault();
      if (e.repeat || e.isComposing || ["Shift", "CapsLock", "AltGraph", "Unidentified", "Process", "Dead"].includes(e.key)) return;
      const alone = e.timeStamp - last > (field ? typed.together : together);
      last = e.timeStamp;
      if (alone && run.length) judge();
      drop();
      if (!alone && e.key === "Enter") e.preventDefault();
      run.push({ by: e.key === "Enter" ? "Enter" : e.code || e.key, press, field, was: field?.value, up: false });
      clearTimeout(timer);
      wait(true);
    },
    /** A key went up. */
    up(e) {
      up(e.key === "Enter" ? "Enter" : e.code || e.key);
    },
    begin,
    end: up,
    drop,
  };
}
