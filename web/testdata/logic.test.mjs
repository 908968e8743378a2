// The pure part of the pages, without a browser: node --test web/testdata
import assert from "node:assert/strict";
import test from "node:test";
import { fitted, keyGroups, keyName, wall, withUnit, wordFor } from "../page/logic.js";

test("a mass as typed gets the unit of its field, and keeps its own", () => {
  assert.equal(withUnit(" 84,6 ", "g"), "84,6g");
  assert.equal(withUnit("0.1 kg", "g"), "0.1 kg");
  assert.equal(withUnit("3", "oz"), "3oz");
});

test("keys are gathered by what they do, the shortest first", () => {
  const groups = keyGroups([{ word: "done", key: "PageDown" }, { word: "done", key: "d" }, { word: "undo", key: "" }]);
  assert.deepEqual(groups.map((g) => [g.word, g.keys]), [["done", ["d", "PageDown"]], ["undo", []]]);
  assert.deepEqual(keyGroups(undefined), []);
});

test("a letter is found in either case, a named key by its name", () => {
  const keys = [{ word: "done", key: "d" }, { word: "yes", key: "Enter" }];
  assert.equal(wordFor(keys, "D").word, "done");
  assert.equal(wordFor(keys, "Enter").word, "yes");
  assert.equal(wordFor(keys, "enter"), undefined);
  assert.equal(keyName(" "), "Space");
  assert.equal(keyName("q"), "Q");
});

test("a moment is told by the clock of the bench, wherever the browser is", () => {
  for (const zone of ["Z", "+01:00", "-03:30"]) assert.equal(wall("2026-12-01T09:30:00" + zone).getHours(), 9);
  assert.equal(wall(new Date(2026, 11, 1, 7)).getHours(), 7);
});

test("words are set large: on more lines, pressed together, and a word is broken only where it alone is too wide", () => {
  const wide = (s) => s.length * 10;
  const set = (words, room, lines = 3) => fitted(words, room, lines, wide);
  assert.deepEqual(set("Whiting", 100), { words: "Whiting", lines: 1, squeeze: 1, shrink: 1 });
  assert.equal(set("Nepheline syenite", 120).lines, 1);
  assert.equal(set("Nepheline syenite", 100).lines, 2);
  assert.deepEqual(set("Kupferkarbonat", 80), { words: "Kupfer\u00adkarbonat", lines: 2, squeeze: 80 / (80 * 1.02), shrink: 1 });
  assert.equal(set("Zirkoniumsilikat", 80).words, "Zirkonium\u00adsilikat");
  assert.equal(set("Nephelinsyenit", 80).words, "Nephelin\u00adsyenit");
  assert.equal(set("Kupferkarbonat", 80, 1).words, "Kupferkarbonat", "there is one line only");
  assert.ok(set("xxxxxxxxxxxxxxxx", 80).shrink < 1, "there is no syllable");
});
