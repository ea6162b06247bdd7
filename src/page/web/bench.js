// The guided work: one instruction at a time, in letters that are read from two metres.
import { h, s, say, show, mark, picture, ask, sure, in_pieces, byId } from './dom.js';
import { send } from './link.js';
import { settings, tone, speak } from './senses.js';
import { knob } from './knob.js';

const measures = (step) => step && !['acknowledge', 'inspect'].includes(step.kind);
const kept_kind = (step) => ['measure', 'voltage'].includes(step.kind) || step.kind.startsWith('drop');
const pictures = new Map();

/** The schematic at a position, drawn once and then kept. */
function schematic(profile, position) {
  const url = `/api/schematic?profile=${encodeURIComponent(profile)}&position=${encodeURIComponent(position)}`;
  if (!pictures.has(url)) pictures.set(url, picture(url));
  return pictures.get(url).then((svg) => svg.cloneNode(true));
}

/** Rings around the two terminals to touch. */
function point_at(svg, pair) {
  for (const name of pair) {
    const spot = [...svg.querySelectorAll('[data-terminal]')].find((e) => e.dataset.terminal === name);
    if (spot) {
      const at = { cx: spot.getAttribute('cx'), cy: spot.getAttribute('cy') };
      svg.append(s('circle', { ...at, r: 20, class: 'halo-soft' }), s('circle', { ...at, r: 12, class: 'halo' }));
    } else {
      svg.querySelector('[data-metal]')?.classList.add('metal-touch');
    }
  }
}

export class BenchView {
  constructor(state) {
    this.state = state;
    this.shown = null;
    this.drawn = '';
    this.lifted = false;
    this.head = h('div', { class: 'bench-head' });
    this.bar = h('i');
    this.progress = h('div', { class: 'progress', role: 'progressbar', 'aria-label': 'Steps done', 'aria-valuemin': 0 }, this.bar);
    this.live = h('div', { class: 'live-banner', role: 'alert', hidden: true, text: 'LIVE: the supply is on. Touch nothing but the probe grips.' });
    this.letters = h('h1', { class: 'letters' });
    this.where = h('p', { class: 'where' });
    this.instruction = h('p', { class: 'instruction' });
    this.figure = h('div', { class: 'figure' });
    this.lamp = h('div', { class: 'state' });
    this.outlook = h('p', { class: 'outlook' });
    this.reading = h('section', { class: 'reading', 'aria-label': 'Reading' }, this.lamp, this.figure, this.outlook);
    this.question = h('p', { class: 'ask', role: 'status' });
    this.form = h('div', {});
    this.actions = h('div', { class: 'actions', role: 'group', 'aria-label': 'What you can do' });
    this.sketch = h('figure', { 'aria-label': 'Where to touch' });
    this.knob = h('figure', { class: 'knob-figure' });
    this.board = h('details', {}, h('summary', { text: 'What is kept so far' }));
    this.board_table = h('div', { class: 'board', tabindex: 0, role: 'region', 'aria-label': 'Readings kept so far' });
    this.board.append(this.board_table);
    this.work_area = h('div', { class: 'bench' }, h('div', { class: 'bench-head-box' }, this.head, this.progress), this.live,
      h('div', { class: 'stage' },
        h('div', {}, this.letters, this.where, this.instruction, this.form, this.reading, this.question, this.actions),
        h('div', { class: 'sight' }, this.knob, this.sketch)), this.board);
    this.verdict_area = h('div', { hidden: true });
    this.element = h('div', { class: 'bench-frame' }, this.work_area, this.verdict_area);
  }

  get work() { return this.state.work; }

  update() {
    const work = this.work;
    if (!work) return;
    const over = work.state === 'over' && (work.verdict || work.stopped);
    show(this.work_area, !over);
    show(this.verdict_area, Boolean(over));
    if (over) return this.update_verdict();
    const step = work.step;
    this.head.replaceChildren(...[
      h('span', {}, step ? h('b', { text: `Step ${step.step}` }) : 'Opening the meter', step ? ` of ${step.of}${step.attempt > 1 ? `, attempt ${step.attempt}` : ''}` : ''),
      work.lot ? h('span', { text: `unit ${work.lot.unit} of lot ${work.lot.lot_number}` }) : null,
      h('span', { text: `${work.part_name || 'part'} ${work.serial}` }), h('span', { text: work.part.title }), h('span', { text: `meter ${work.meter}` })].filter(Boolean));
    if (step) {
      this.progress.setAttribute('aria-valuemax', step.of);
      this.progress.setAttribute('aria-valuenow', step.step - 1);
      this.bar.style.transform = `scaleX(${(step.step - 1) / Math.max(1, step.of)})`;
    }
    show(this.live, work.live);
    if (!step) {
      say(this.letters, 'One moment');
      say(this.instruction, 'The meter is asked who it is.');
      return;
    }
    const key = `${work.record} ${work.question}`;
    if (key !== this.shown) this.new_step(key, step);
    this.update_reading(step);
    this.update_actions(step);
    this.update_board(step);
  }

  new_step(key, step) {
    this.shown = key;
    this.lifted = false;
    const work = this.work;
    const position = step.position ? work.part.positions.find((p) => p.id === step.position) : null;
    this.letters.classList.toggle('words', !step.pair);
    this.work_area.classList.toggle('ack-step', step.kind === 'acknowledge');
    Object.assign(this.work_area.dataset, { question: work.question, kind: step.kind });
    if (step.power && step.kind !== 'voltage' && step.kind !== 'placed-dead') this.letters.replaceChildren(step.power === 'on' ? 'Supply ON' : 'Supply OFF');
    else if (step.pair) this.letters.replaceChildren(h('span', { text: step.pair[0] }), h('span', { class: 'to', text: ' to ' }), h('span', { text: step.pair[1] }));
    else if (step.probes === 'shorted') this.letters.replaceChildren('Tips together');
    else if (step.probes === 'known-source') this.letters.replaceChildren('Known live source');
    else if (step.kind === 'leads-apart') this.letters.replaceChildren('Tips apart');
    else if (step.kind === 'inspect') this.letters.replaceChildren('Look');
    else if (step.acknowledges === 'energised') this.letters.replaceChildren('Before power');
    else this.letters.replaceChildren('Before you touch');
    say(this.where, position && step.pair ? (position.turned ? `${work.part.knob} at ${position.label}` : position.label) : '');
    show(this.where, Boolean(this.where.textContent));
    say(this.instruction, step.kind === 'inspect' ? (step.question || step.instruction) : step.instruction);
    this.form.replaceChildren(...this.form_of(step));
    speak(this.instruction.textContent);
    say(byId('announce'), this.instruction.textContent);
    performance.clearMarks('shown');
    performance.mark('shown');
    this.draw_sight(step, position);
  }

  form_of(step) {
    if (step.kind !== 'acknowledge') return [];
    const name = h('input', { id: 'who', type: 'text', autocomplete: 'name', maxlength: 120, required: true });
    const warnings = this.work.opened?.warnings || [];
    return [h('form', { class: 'ack', onsubmit: (e) => { e.preventDefault(); this.answer({ do: 'acknowledge', who: name.value.trim() }); } },
      warnings.length && step.acknowledges === 'de-energised' ? h('ul', {}, warnings.map((w) => h('li', { text: w }))) : null,
      h('label', { for: 'who', text: 'Your name, to acknowledge that this is so' }), name,
      h('div', { class: 'row' }, h('button', { class: 'primary main-action', text: 'I acknowledge' })))];
  }

  draw_sight(step, position) {
    const work = this.work;
    const sketch_key = `${step.position || ''} ${step.pair || ''} ${step.probes}`;
    const turns = work.part.positions.some((p) => p.turned);
    show(this.knob, Boolean(position));
    if (position) this.knob.replaceChildren(...(turns ? [knob(work.part.positions, position.id)] : []), h('p', { text: position.turned ? `${work.part.knob}: ${position.label}` : position.label }));
    if (sketch_key === this.drawn) return;
    this.drawn = sketch_key;
    const at = step.position || work.part.positions[0].id;
    schematic(work.part.profile, at).then((svg) => {
      if (this.drawn !== sketch_key) return;
      if (step.pair) point_at(svg, step.pair);
      this.sketch.replaceChildren(svg);
    }).catch(() => this.sketch.replaceChildren());
  }

  update_reading(step) {
    const { reading, settled, link, note } = this.work;
    const lost = link && !link.remark && !['open', 'alive'].includes(link.state);
    show(this.reading, measures(step));
    let state = 'waiting';
    if (measures(step)) {
      if (lost) state = 'trouble';
      else if (settled) state = 'settled';
      else if (reading?.refused) state = 'trouble';
      else if (reading) state = 'moving';
      say(this.figure, lost ? link.detail : reading?.refused && !settled ? reading.refused : settled ? settled.words : reading ? reading.words : step.on_another_display || this.work.typed ? 'type what the display shows' : 'waiting for the meter');
      this.reading.dataset.state = state;
      const outcome = state === 'settled' ? settled.outcome || '' : '';
      const lamp = `${state} ${outcome}`;
      if (this.reading.dataset.lamp !== lamp) {
        this.reading.dataset.lamp = lamp;
        this.reading.dataset.outcome = outcome;
        const words = { waiting: 'waiting', moving: 'not settled yet', trouble: 'cannot be used', settled: outcome === 'fail' ? 'settled: deviates' : outcome === 'undecided' ? 'settled: undecided' : outcome === 'pass' ? 'settled: as it should be' : 'settled' };
        this.lamp.replaceChildren(...(outcome ? [mark(outcome)] : []), words[state]);
      }
      say(this.outlook, settled ? [settled.difference ? `(${settled.difference})` : '', settled.outlook].filter(Boolean).join(' ') : '');
    }
    const question = note ? note.text : settled?.ask || '';
    say(this.question, question);
    show(this.question, Boolean(question));
  }

  update_actions(step) {
    const work = this.work;
    const contact = Boolean(work.settled?.needs_contact_statement);
    const key = `${this.shown} ${contact} ${Boolean(work.settled)} ${work.by_itself}`;
    if (key === this.offered_key) return;
    this.offered_key = key;
    const focused = this.actions.contains(document.activeElement) ? document.activeElement.dataset.key : null;
    this.offered = new Map();
    const buttons = [];
    const offer = (k, text, does, main = false, on = true) => {
      this.offered.set(k.toLowerCase(), does);
      buttons.push(h('button', { type: 'button', class: main ? 'primary main-action' : '', 'data-key': k, disabled: !on, 'aria-keyshortcuts': k, onclick: does }, text, h('kbd', { text: k })));
    };
    if (work.by_itself) {
      offer('q', 'Stop and keep', () => this.stop());
    } else if (step.kind === 'acknowledge') {
      if (step.acknowledges !== 'de-energised' && step.acknowledges !== 'energised') offer('s', 'Skip', () => this.skip());
      offer('q', 'Stop', () => this.stop());
    } else {
      if (step.kind === 'inspect') {
        offer('y', 'Yes, all well', () => this.answer({ do: 'answer', yes: true }), true);
        offer('n', 'No', async () => { const note = await ask('What is wrong with it?', { yes: 'This is wrong' }); if (note !== null) this.answer({ do: 'answer', yes: false, note }); }, true);
      } else if (contact) {
        offer('c', step.kind.startsWith('drop') ? 'The supply shows the current' : 'Both probes touch bare metal', () => this.answer({ do: 'contact' }), true);
        offer('p', 'Place the probes again', () => this.answer({ do: 'reseat' }));
      } else {
        if (step.on_another_display || work.typed) offer('t', 'Type what it shows', async () => { const text = await ask('What does the display show?', { hint: step.on_another_display ? 'With its unit, like 1.02 A' : 'With its unit, like 47.2 ohm; OL for over-range', required: true }); if (text) this.answer({ do: 'type', text }); }, !work.settled);
        offer('Enter', kept_kind(step) ? 'Keep' : 'Go on', () => this.answer({ do: 'confirm' }), true, Boolean(work.settled));
        offer('r', 'Read again', () => this.answer({ do: 'again' }));
        if (kept_kind(step)) offer('p', 'Probe slipped', () => this.answer({ do: 'reseat' }));
      }
      if (!contact) offer('b', 'Back', () => this.answer({ do: 'back' }));
      if (kept_kind(step) || step.kind === 'inspect') offer('s', 'Skip', () => this.skip());
      offer('q', 'Stop and keep', () => this.stop());
    }
    this.actions.replaceChildren(...buttons);
    if (focused) this.actions.querySelector(`[data-key="${focused}"]`)?.focus();
  }

  /** Pairs by positions, with the place where we are. */
  update_board(step) {
    const { board, part } = this.work;
    const key = `${board.length} ${this.shown}`;
    if (key === this.board_key) return;
    this.board_key = key;
    show(this.board, board.length > 0);
    for (const quantity of ['ohm', 'V']) {
      const rows = board.filter((r) => r.quantity === quantity);
      const old = this.board_table.querySelector(`table[data-q="${quantity}"]`);
      if (!rows.length) { old?.remove(); continue; }
      const pairs = [...new Set(rows.map((r) => r.pair.join(' to ')))];
      const table = h('table', { 'data-q': quantity },
        h('thead', {}, h('tr', {}, h('th', { scope: 'col', text: quantity === 'ohm' ? 'Without power' : 'Under power' }), part.positions.map((p) => h('th', { scope: 'col', text: p.label })))),
        h('tbody', {}, pairs.map((pair) => h('tr', {}, h('th', { scope: 'row', text: pair }), part.positions.map((p) => {
          const row = rows.find((r) => r.position === p.id && r.pair.join(' to ') === pair);
          const here = step.pair && step.pair.join(' to ') === pair && step.position === p.id ? 'here' : '';
          return row ? h('td', { class: `${row.outcome} ${here}`, title: row.sentence }, mark(row.outcome, 16), row.words) : h('td', { class: here, text: '' });
        })))));
      if (old) old.replaceWith(table); else this.board_table.append(table);
    }
  }

  answer(command) { send({ ...command, question: this.work.question, seen: this.work.seen }); }
  async skip() {
    const reason = await ask('Why is it skipped?', { hint: 'The reason stands in the report.', yes: 'Skip', required: true });
    if (reason) this.answer({ do: 'skip', reason });
  }
  async stop() { if (await sure('Stop here? What is measured is kept.', 'Stop and keep')) send({ do: 'stop' }); }

  key(name) {
    const work = this.work;
    if (work.state === 'over') return this.key_at_end(name);
    const does = this.offered?.get(name === ' ' ? 'enter' : name.toLowerCase());
    if (does) { does(); return true; }
    if (!settings.pedal || !work.settled || !measures(work.step) || work.settled.needs_contact_statement) return false;
    this.answer({ do: 'confirm' });
    return true;
  }

  /** Tones, and keeping by itself: a closed reading after the probes were seen to leave the metal. An open one never: a probe in
      the air looks the same. */
  heard({ event }) {
    const work = this.work;
    if (event.type === 'reading' && event.over_range) this.lifted = true;
    if (event.type === 'settled') {
      tone(event.outcome === 'fail' ? 'deviates' : 'settled');
      if (event.outcome === 'fail') speak(event.outlook);
      const moved = work.step.pair && work.step.kind === 'measure' && this.lifted && !event.over_range && !event.needs_contact_statement;
      if (settings.itself && moved && !work.by_itself) {
        const { question, seen } = work;
        setTimeout(() => { if (this.work?.question === question && this.work.seen === seen) this.answer({ do: 'confirm' }); }, 500);
      }
    }
    if (event.type === 'link' && ['lost', 'silent'].includes(event.state)) tone('deviates');
    if (event.type === 'verdict') {
      tone(event.verdict);
      speak(`${event.letters.join(' ')}. ${event.headline}`);
    }
  }

  update_verdict() {
    const work = this.work;
    const key = `${work.record} ${work.verdict ? work.verdict.verdict : ''} ${work.stopped ? work.stopped.text : ''}`;
    if (key === this.verdict_key) return;
    this.verdict_key = key;
    this.verdict_area.replaceChildren(verdict_screen(work, work.verdict, { next: () => this.next(), done: () => this.leave() }));
    this.verdict_area.querySelector('h1')?.focus();
    scrollTo(0, 0);
  }
  /** From a unit of a lot back to the lot. */
  leave() {
    if (this.work.lot) location.hash = '#lots';
    send({ do: 'leave' });
  }
  next() {
    if (this.work.lot) return this.leave();
    this.state.draft = { ...this.state.draft, serial: '', focus: 'serial' };
    send({ do: 'leave' });
  }
  key_at_end(name) {
    if (name === 'n' || name === 'N') { this.next(); return true; }
    if (name === 'Enter') { this.leave(); return true; }
    return false;
  }
}

/** The end of any work, filling the screen. */
export function verdict_screen(work, verdict, { next, done }) {
  const outcome = verdict ? verdict.verdict : 'stopped';
  const [word, ...more] = verdict ? verdict.letters : ['Stopped'];
  const headline = verdict ? verdict.headline : work.stopped?.text;
  return h('section', { class: `verdict ${outcome}`, 'aria-label': 'Verdict' },
    h('p', { class: 'muted', text: [work.part_name, work.serial, work.part?.title, work.record ? `record ${work.record}` : ''].filter(Boolean).join('  ·  ') }),
    h('h1', { class: 'verdict-word', tabindex: -1 }, verdict ? mark(outcome, 80) : null, word),
    more.map((line) => h('p', { class: 'verdict-more', text: line })),
    h('p', { class: 'headline', text: headline || '' }),
    work.ended && work.ended !== headline ? h('p', { class: 'live-banner', text: work.ended }) : null,
    verdict && work.stopped && work.stopped.kind === 'trouble' ? h('p', { class: 'headline', text: work.stopped.text }) : null,
    verdict ? h('ul', {}, verdict.lines.map((line) => h('li', { 'data-level': line.level }, line.label ? h('span', { class: 'label', text: line.label }) : null, in_pieces(line.text)))) : null,
    h('div', { class: 'actions' },
      h('button', { type: 'button', class: 'primary main-action', onclick: next }, work.lot ? 'Next unit' : 'Next part', h('kbd', { text: 'n' })),
      work.record ? h('a', { class: 'button', href: `/records/${encodeURIComponent(work.record)}/report`, target: '_blank', rel: 'noopener', text: 'Report' }) : null,
      work.record ? h('a', { class: 'button', href: `/records/${encodeURIComponent(work.record)}/bag`, text: 'Evidence bag' }) : null,
      h('button', { type: 'button', onclick: done }, 'Done', h('kbd', { text: 'Enter' }))));
}
