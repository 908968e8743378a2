// Small helpers for the page's elements. Words that came from outside only ever
// go in as text.

/** The element of that id. @returns {any} */
export const $ = (id) => document.getElementById(id);

/** Sets an element's text, if it is not that already. */
export function say(el, words) {
  const text = words ?? "";
  if (el.textContent !== text) el.textContent = text;
}

/** Sets a figure that changes with each line. Its node stays, or all around it would be laid out. */
export function tick(el, figure) {
  if (el.firstChild.data !== figure) el.firstChild.data = figure;
}

/** Sets or, for null, takes away an attribute; true and false are written as words. */
export function attr(el, name, value) {
  if (value === null || value === undefined) {
    if (el.hasAttribute(name)) el.removeAttribute(name);
  } else if (el.getAttribute(name) !== String(value)) {
    el.setAttribute(name, String(value));
  }
}

/** Shows or hides an element. */
export function show(el, yes) {
  if (el.hidden === !!yes) el.hidden = !yes;
}

/** Makes an element: a tag with classes ("p.lead"), attributes, children. */
export function make(tag, attributes, ...children) {
  const [name, ...classes] = tag.split(".");
  const el = document.createElement(name);
  if (classes.length) el.className = classes.join(" ");
  for (const [k, v] of Object.entries(attributes ?? {})) {
    if (k.startsWith("on")) el.addEventListener(k.slice(2), v);
    else attr(el, k, v);
  }
  el.append(...children.filter((c) => c !== null && c !== undefined));
  return el;
}

const svgSpace = "http://www.w3.org/2000/svg";

/** Makes an SVG element. */
export function draw(tag, attributes, ...children) {
  const el = document.createElementNS(svgSpace, tag);
  for (const [k, v] of Object.entries(attributes ?? {})) attr(el, k, v);
  el.append(...children.filter((c) => c !== null && c !== undefined));
  return el;
}

/** Keeps a list of children in step with items: makes what is missing, drops what is too much, updates the rest. */
export function each(parent, items, build, update) {
  while (parent.children.length > items.length) parent.lastElementChild.remove();
  items.forEach((item, i) => {
    if (i >= parent.children.length) parent.append(build());
    update(parent.children[i], item, i);
  });
}

/** Gives an element the focus, unless somebody has put it elsewhere meanwhile. */
export function focusOn(el) {
  const at = document.activeElement;
  if (!at || at === document.body || !at.checkVisibility()) el?.focus();
}

/** Does something with what a form holds. Nothing can be typed into it until that is done: it would be lost. */
export async function sending(form, work) {
  const at = document.activeElement;
  form.inert = true;
  try {
    await work();
  } finally {
    form.inert = false;
    if (at?.isConnected) focusOn(at);
  }
}
