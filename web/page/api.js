// Requests to the server. Each gives the answer, or throws a Refused with the
// server's own words.

/** An answer that says no; lines are faults of a recipe, with their line; key is the field at fault, where there is one. */
export class Refused extends Error {
  constructor(words, status, lines, key) {
    super(words);
    this.status = status;
    this.lines = lines ?? [];
    this.key = key ?? "";
  }
}

async function ask(path, init) {
  let answer;
  try {
    answer = await fetch(path, init);
  } catch {
    throw new Refused("The bench cannot be reached. Is tared running, and is this device on its network?", 0);
  }
  let body = null;
  try {
    body = await answer.json();
  } catch {
    if (answer.ok) throw new Refused("The answer of the bench cannot be read.", answer.status);
  }
  if (!answer.ok) throw new Refused(body?.error ?? `The bench answered ${answer.status}.`, answer.status, body?.lines, body?.key);
  return body;
}

/** Reads. */
export const get = (path) => ask(path, { cache: "no-store" });

/** Commands. */
export const post = (path, body) =>
  ask(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });

/** Sends a photograph as it is, and gives its name. */
export async function sendPhoto(file) {
  const types = ["image/jpeg", "image/png"];
  if (!types.includes(file.type)) throw new Refused(`${file.name} is no JPEG and no PNG.`, 0);
  // A server that refuses early hangs up, and then its words would be lost.
  if (file.size > 20 * 1024 * 1024) throw new Refused(`${file.name} has ${Math.ceil(file.size / 1048576)} MB: 20 MB at most.`, 0);
  const sent = await ask("/api/photo", { method: "POST", headers: { "Content-Type": file.type }, body: file });
  return sent.name;
}
