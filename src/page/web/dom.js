// Elements from plain data. Text is always text: nothing that comes from outside becomes markup.
const SVG = 'http://www.w3.org/2000/svg';

function fill(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes || {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith('on')) element.addEventListener(name.slice(2), value);
    else if (name === 'text') element.textContent = value;
    else if (name === 'value') element.value = value;
    else element.setAttribute(name, value === true ? '' : value);
  }
  for (const child of children.flat()) {
    if (child === null || child === undefined || child === false) continue;
    element.append(child instanceof Node ? child : String(child));
  }
  return element;
}

export const h = (tag, attributes, ...children) => fill(document.createElement(tag), attributes, children);
export const s = (tag, attributes, ...children) => fill(document.createElementNS(SVG, tag), attributes, children);

/** Sets text only where it changed, so that a screen reader and the eye are left in peace. */
export function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}
export function show(element, on) {
  if (element.hidden === on) element.hidden = !on;
}

/** An option of the command line stays in one piece. */
export const in_pieces = (text) => text.split(/(--[a-z][a-z-]*)/).map((part, i) => (i % 2 ? h('span', { class: 'together', text: part }) : part));

export const byId = (id) => document.getElementById(id);

/** A picture that this server drew: parsed as XML, so that nothing in it runs. */
export async function picture(url) {
  const answer = await fetch(url);
  if (!answer.ok) throw new Error(await answer.text());
  const parsed = new DOMParser().parseFromString(await answer.text(), 'image/svg+xml');
  return document.importNode(parsed.documentElement, true);
}

export async function fetched(url) {
  const answer = await fetch(url);
  if (!answer.ok) throw new Error((await answer.text()).trim() || `${answer.status}`);
  return answer.json();
}

/** The marks of our reports: never colour alone. */
export function mark(outcome, size = 20) {
  const shapes = {
    pass: ['M4 11l4 4.500 8-10', ''],
    fail: ['M5 5l10 10M15 5L5 15', ''],
    undecided: ['M5 10h10', '3 3'],
  };
  const [d, dash] = shapes[outcome] || shapes.undecided;
  return s('svg', { viewBox: '0 0 20 20', width: size, height: size, class: `mark ${outcome}`, 'aria-hidden': 'true' },
    s('path', { d, fill: 'none', stroke: 'currentColor', 'stroke-width': 2.6, 'stroke-linecap': 'round', 'stroke-dasharray': dash || null }));
}

/** Asks for one line of text in a dialog; null when it was closed. */
export function ask(question, { hint = '', yes = 'Done', required = false } = {}) {
  return new Promise((resolve) => {
    const field = h('input', { id: 'asked', type: 'text', maxlength: 300, autocomplete: 'off', required });
    const dialog = h('dialog', { 'aria-labelledby': 'asked-label' },
      h('form', { method: 'dialog', onsubmit: (e) => { e.preventDefault(); end(field.value.trim()); } },
        h('label', { id: 'asked-label', for: 'asked', text: question }),
        hint ? h('p', { class: 'muted', text: hint }) : null,
        field,
        h('div', { class: 'row end' },
          h('button', { type: 'button', onclick: () => end(null), text: 'Back' }),
          h('button', { type: 'submit', class: 'primary', text: yes }))));
    const end = (value) => { dialog.close(); dialog.remove(); resolve(value); };
    dialog.addEventListener('cancel', (e) => { e.preventDefault(); end(null); });
    document.body.append(dialog);
    dialog.showModal();
    field.focus();
  });
}

/** One question with two answers. */
export function sure(question, yes) {
  return new Promise((resolve) => {
    const dialog = h('dialog', { 'aria-labelledby': 'sure-label' },
      h('p', { id: 'sure-label', class: 'strong', text: question }),
      h('div', { class: 'row end' },
        h('button', { type: 'button', onclick: () => end(false), text: 'Back' }),
        h('button', { type: 'button', class: 'primary', onclick: () => end(true), text: yes })));
    const end = (value) => { dialog.close(); dialog.remove(); resolve(value); };
    dialog.addEventListener('cancel', (e) => { e.preventDefault(); end(false); });
    document.body.append(dialog);
    dialog.showModal();
  });
}
