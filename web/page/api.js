// Requests to the server. Each gives the answer, or throws a Refused with the
// server's own words.
import { words } from "./words.js";

/** An answer that says no; lines are faults of a recipe, with their line; among are the recipes of a table that was given for one; key is the field at fault, where there is one. */
export class Refused extends Error {
  constructor(says, status, lines, key, among) {
    super(says);
    this.status = status;
    this.lines = lines ?? [];
    this.among = among ?? [];
    this.key = key ?? "";
  }
}

async function ask(path, init, read = (answer) => answer.json()) {
  let answer;
  try {
    answer = await fetch(path, init);
  } catch {
    throw new Refused(words("script.unreachable"), 0);
  }
  let body = null;
  try {
    body = await (answer.ok ? read(answer) : answer.json());
  } catch {
    if (answer.ok) throw new Refused(words("script.unreadable"), answer.status);
  }
  if (!answer.ok) throw new Refused(body?.error ?? words("script.answered", { status: answer.status }), answer.status, body?.lines, body?.key, body?.among);
  return body;
}

/** Reads. */
export const get = (path) => ask(path, { cache: "no-store" });

const asJSON = (body) => ({ method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });

/** Commands. */
export const post = (path, body) => ask(path, asJSON(body));

/** Has a longer work done; says is given how far it is, in words. The answer is one value, or lines of which the last is what came of it. */
export async function long(path, says) {
  let end = null;
  const lines = async (answer) => {
    const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
    for (let rest = "", part = await reader.read(); !part.done; part = await reader.read()) {
      const whole = (rest + part.value).split("\n");
      rest = whole.pop();
      for (const line of whole) {
        end = JSON.parse(line);
        if (end.step) says(end.step);
      }
      if (rest) end = null; // cut off
    }
    return end;
  };
  end = await ask(path, asJSON({}), (answer) => (answer.headers.get("Content-Type").startsWith("application/json") ? answer.json() : lines(answer)));
  if (!end || end.step) throw new Refused(words("script.unreadable"), 0);
  if (end.error) throw new Refused(end.error, 0);
  return end;
}

/** Sends a copy of a record as it is, to have a record made of it. */
export function sendCopy(file) {
  return ask("/api/restore", { method: "POST", headers: { "Content-Type": "application/octet-stream" }, body: file ?? new Blob() });
}

/** Parts of a page that the server draws, as a document in which no script runs. */
const drawn = async (answer) => new DOMParser().parseFromString(await answer.text(), "text/html");

/** Asks for a part of a page. */
export const fragment = (path, body) => ask(path, asJSON(body), drawn);

/** Asks for a page as it would be drawn now. */
export const again = (path) => ask(path, { cache: "no-store" }, drawn);

/** Sends a photograph as it is, and gives its name. */
export async function sendPhoto(file) {
  const types = ["image/jpeg", "image/png"];
  if (!types.includes(file.type)) throw new Refused(words("photo.wrong-type", { file: file.name }), 0);
  // A server that refuses early hangs up, and then its words would be lost.
  if (file.size > 20 * 1024 * 1024) throw new Refused(words("photo.too-large-file", { file: file.name }), 0);
  const sent = await ask("/api/photo", { method: "POST", headers: { "Content-Type": file.type }, body: file });
  return sent.name;
}
