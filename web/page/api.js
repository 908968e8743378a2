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
