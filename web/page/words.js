// The sentences that a script shows. The server writes them into the page, in the
// reader's language; a script only puts values in.

const all = Object.assign({}, ...[...document.querySelectorAll("script.words")].map((el) => JSON.parse(el.textContent)));

/** The sentence of a code, with its values. */
export const words = (code, values = {}) => (all["page." + code] ?? `[${code}]`).replace(/\{([\w-]+)\}/g, (whole, name) => values[name] ?? whole);
