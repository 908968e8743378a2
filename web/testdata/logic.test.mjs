// The pure part of the pages, without a browser: node --test web/testdata
import assert from "node:assert/strict";
import test from "node:test";
import { keyGroups, keyName, wall, withUnit, wordFor } from "../page/logic.js";

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
