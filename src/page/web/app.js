// The page as a whole: what the server says goes into one state, and one view draws it.
import { h, say, show, byId } from './dom.js';
import { connect, enter, listen, show_token } from './link.js';
import { settings, set, on_settings, apply_theme, keep_awake, can_speak } from './senses.js';
import { BenchView } from './bench.js';
import { StartView } from './start.js';
import { TraceView } from './trace.js';
import { RecordsView, MetersView } from './looking.js';
import { PracticeView } from './practice.js';
import { LotsView } from './lots.js';
import { Panel } from './panel.js';

export const state = { hello: null, work: null, connected: false, draft: {} };
let view = null;
let key = '';
let panel = null;
const guided = new Set(['qualify', 'qualify-powered', 'powered', 'drop']);
const main = byId('main');
const slot = h('div', { class: 'slot' });
const frame = h('div', {}, slot);
const pages = [['bench', 'Bench'], ['lots', 'Lots'], ['records', 'Records'], ['meters', 'Meters'], ['practice', 'Practice']];

function page() {
  const wanted = location.hash.slice(1);
  return pages.some(([id]) => id === wanted) ? wanted : 'bench';
}

/** Which view belongs to the state; the key says when it is another one. */
function wanted_view() {
  const at = page();
  const work = state.work;
  if (at === 'records') return ['records', () => new RecordsView(state)];
  if (at === 'lots') return ['lots', () => new LotsView(state)];
  if (at === 'practice') return ['practice', () => new PracticeView(state)];
  if (at === 'meters') return ['meters', () => new MetersView(state)];
  if (work && guided.has(work.work)) return [`guided ${work.record}`, () => new BenchView(state)];
  if (work && work.work === 'trace') return [`trace ${work.record}`, () => new TraceView(state)];
  return ['start', () => new StartView(state)];
}

function draw() {
  if (!state.hello) return;
  const [now, make] = wanted_view();
  const with_panel = Boolean(state.hello.demo) && page() === 'bench';
  if (with_panel !== Boolean(panel) || !frame.isConnected) {
    panel = with_panel ? new Panel(state) : null;
    frame.className = panel ? 'with-panel' : '';
    frame.replaceChildren(slot, ...(panel ? [panel.element] : []));
    main.replaceChildren(frame);
  }
  // The panel stays while the view beside it changes: somebody's hand may be on it.
  if (now !== key) {
    key = now;
    view?.end?.();
    view = make();
    slot.replaceChildren(view.element);
  }
  view.update?.();
  panel?.update();
  for (const link of byId('nav').children) link.setAttribute('aria-current', link.hash === `#${page()}` ? 'page' : 'false');
  show(byId('simulated'), Boolean(state.hello.demo || state.work?.work === 'practice'));
  const busy = state.work && state.work.state !== 'over' && (guided.has(state.work.work) || state.work.work === 'trace');
  keep_awake(Boolean(busy));
  const name = state.work?.verdict ? state.work.verdict.letters.join(' ') : state.work?.step?.instruction;
  document.title = `${name && page() === 'bench' ? `${name.slice(0, 60)} · ` : ''}switchwright`;
}

let toast_timer = 0;
export function toast(text) {
  const box = byId('toast');
  say(box, text);
  show(box, true);
  clearTimeout(toast_timer);
  toast_timer = setTimeout(() => show(box, false), 6000);
}

listen((message) => {
  const work = state.work;
  switch (message.type) {
    case 'hello':
      state.hello = message;
      state.work = message.work;
      break;
    case 'connected':
      state.connected = true;
      show(byId('offline'), false);
      return;
    case 'gone':
      state.connected = false;
      say(byId('offline'), 'The line to the program is gone; it is being looked for. The measurement goes on without this page.');
      show(byId('offline'), true);
      return;
    case 'locked':
      state.hello = null;
      ask_for_token();
      return;
    case 'renewed':
      say(byId('offline'), 'The program was renewed: this page is of an older version and loads again.');
      show(byId('offline'), true);
      return;
    case 'refused':
      toast(message.text);
      view?.refused?.(message);
      return;
    case 'work':
      if (message.work && work && work.record === message.work.record && work.work === message.work.work) Object.assign(work, message.work);
      else state.work = message.work;
      break;
    case 'panel':
      if (state.hello?.demo) state.hello.demo.panel = message.panel;
      panel?.update();
      return;
    case 'event':
      if (work) take(work, message);
      break;
    default:
      view?.take?.(message);
      if (message.type === 'sample' || message.type === 'figures') return;
  }
  // Readings come as fast as the meter speaks; of those between two frames only the newest is drawn.
  if (message.type === 'event' && message.event.type === 'reading') draw_soon(); else draw();
  if (message.type === 'event') view?.heard?.(message);
});

let drawn_soon = 0;
function draw_soon() {
  if (drawn_soon) return;
  drawn_soon = requestAnimationFrame(() => { drawn_soon = 0; draw(); });
}

/** The same bookkeeping as the server's own, so that a page that stayed and one that came back show the same. */
function take(work, message) {
  const event = message.event;
  Object.assign(work, { question: message.question, seen: message.seen, live: message.live });
  switch (event.type) {
    case 'session': work.opened = event; break;
    case 'step': work.step = event; work.settled = work.reading = work.note = null; break;
    case 'reading': work.reading = event; break;
    case 'settled': work.settled = event; work.note = null; break;
    case 'unsettled': work.settled = null; break;
    case 'note': work.note = event; break;
    case 'link': work.link = event; break;
    case 'verdict': work.verdict = event; break;
    case 'stopped': work.stopped = event; break;
    default: break;
  }
  if (event.row) {
    const same = (row) => row.quantity === event.row.quantity && row.position === event.row.position && row.pair.join() === event.row.pair.join();
    work.board = work.board.filter((row) => !same(row));
    work.board.push(event.row);
  }
}

function draw_tools() {
  const toggle = (name, text, does) => h('button', { type: 'button', 'aria-pressed': String(settings[name]), title: does, onclick: () => set(name, !settings[name]), text });
  byId('tools').replaceChildren(h('div', { class: 'row' },
    toggle('tones', settings.tones ? 'Tones on' : 'Tones off', 'A tone when a reading settles, deviates, and at the verdict'),
    can_speak() ? toggle('speech', settings.speech ? 'Voice on' : 'Voice off', 'The instruction is read aloud') : null,
    h('button', { type: 'button', onclick: open_settings, text: 'Settings' })));
}

function open_settings() {
  const check = (name, text, more) => h('div', {}, h('label', { class: 'check' },
    h('input', { type: 'checkbox', checked: settings[name], onchange: (e) => set(name, e.target.checked) }), text), more ? h('p', { class: 'muted', text: more }) : null);
  const theme = h('select', { id: 'theme', onchange: (e) => set('theme', e.target.value) },
    [['system', 'As this device is set'], ['light', 'Light'], ['dark', 'Dark'], ['contrast', 'High contrast']].map(([value, text]) =>
      h('option', { value, selected: settings.theme === value, text })));
  const dialog = h('dialog', { 'aria-labelledby': 'settings-title' },
    h('p', { class: 'strong', id: 'settings-title', text: 'Settings of this device' }),
    h('div', { class: 'field' }, h('label', { for: 'theme', text: 'Look' }), theme),
    check('tones', 'Tones', 'Settled, deviating, pass and fail sound different.'),
    can_speak() ? check('speech', 'Read the instructions aloud') : null,
    check('pedal', 'Any key keeps the reading', 'For a foot pedal or a presenter: every key that has no meaning of its own works like Enter.'),
    check('itself', 'Keep by itself where that is safe', 'Only a closed reading, and only after the probes were seen to leave the metal and touch again. Everything else waits for you.'),
    h('div', { class: 'row end' }, h('button', { type: 'button', class: 'primary', onclick: () => dialog.close(), text: 'Done' })));
  dialog.addEventListener('close', () => { dialog.remove(); draw_tools(); });
  document.body.append(dialog);
  dialog.showModal();
}

/** A key that is meant for the work, not for a field, a button or the browser. */
addEventListener('keydown', (event) => {
  if (event.defaultPrevented || event.ctrlKey || event.altKey || event.metaKey || event.repeat) return;
  if (document.querySelector('dialog[open]')) return;
  const at = event.target;
  if (at instanceof Element && at.closest('input, select, textarea, [contenteditable]')) return;
  const on_button = at instanceof Element && at.closest('button, a, summary, [role=slider]');
  if (on_button && (event.key === 'Enter' || event.key === ' ')) return;
  if (event.key === 'Tab' || event.key === 'Shift' || event.key === 'Escape' || (on_button && event.key.startsWith('Arrow'))) return;
  if (view?.key?.(event.key)) event.preventDefault();
});

addEventListener('hashchange', () => { draw(); if (location.hash !== '#main') byId('main').focus({ preventScroll: true }); });
on_settings(() => { draw_tools(); draw(); });

async function begin() {
  apply_theme();
  byId('nav').replaceChildren(...pages.map(([id, text]) => h('a', { href: `#${id}`, text })));
  draw_tools();
  await enter();
  connect();
}

function ask_for_token() {
  show(byId('offline'), false);
  key = 'locked';
  const field = h('input', { id: 'token', type: 'password', autocomplete: 'current-password', required: true });
  main.replaceChildren(h('form', { class: 'start', onsubmit: async (e) => {
    e.preventDefault();
    if (await show_token(field.value.trim())) location.reload();
    else toast('That is not the token. It stands in the address that the program printed, and in its token file.');
  } }, h('h1', { text: 'This page is locked' }), h('div', { class: 'field' }, h('label', { for: 'token', text: 'Token' }), field),
  h('div', { class: 'row end' }, h('button', { class: 'primary', text: 'Open' }))));
}
begin();
