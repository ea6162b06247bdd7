// Records and meters: what is kept, and what is on the shelf.
import { h, say, show, mark, fetched } from './dom.js';
import { send } from './link.js';

export class RecordsView {
  constructor(state) {
    this.state = state;
    const changed = () => this.draw();
    this.text = h('input', { id: 'find', type: 'search', oninput: changed });
    this.outcome = h('select', { id: 'outcome', onchange: changed }, ['all', 'pass', 'fail', 'undecided', 'unfinished'].map((t) => h('option', { value: t === 'all' ? '' : t, text: t })));
    this.kind = h('select', { id: 'kind', onchange: changed }, h('option', { value: '', text: 'all' }));
    this.count = h('p', { class: 'muted', role: 'status' });
    this.body = h('tbody');
    this.element = h('section', {}, h('h1', { text: 'Records' }),
      h('div', { class: 'fields' }, h('div', { class: 'field' }, h('label', { for: 'find', text: 'Part, serial number, operator, profile or record' }), this.text),
        h('div', { class: 'field' }, h('label', { for: 'kind', text: 'Kind' }), this.kind),
        h('div', { class: 'field' }, h('label', { for: 'outcome', text: 'Outcome' }), this.outcome)), this.count,
      h('div', { class: 'board', tabindex: 0, role: 'region', 'aria-label': 'List of records' }, h('table', {}, h('thead', {}, h('tr', {}, ['Outcome', 'Started', 'Part', 'Kind', 'Operator', 'Documents'].map((t) => h('th', { scope: 'col', text: t })))), this.body)));
    this.load();
  }
  async load() {
    try {
      this.records = await fetched('/api/records');
      this.kind.append(...[...new Set(this.records.map((r) => r.kind))].sort().map((kind) => h('option', { value: kind, text: kind })));
      this.draw();
    } catch (error) { say(this.count, error.message); }
  }
  /** A qualification and a trace of one piece stand under one front page. */
  makes_claim(r) {
    const part_of = (one) => one.serial && one.outcome !== 'unfinished' && (one.kind === 'trace' || one.kind === 'powered' || one.kind.startsWith('qualify'));
    return part_of(r) && this.records.some((o) => o.serial === r.serial && o.simulated === r.simulated && part_of(o) && (o.kind === 'trace') !== (r.kind === 'trace'));
  }
  goes_on(r) { return r.outcome === 'unfinished' && r.kind.startsWith('qualify') && r.simulated === Boolean(this.state.hello.demo) && !(this.state.work && this.state.work.state !== 'over' && this.state.work.record === r.record); }
  draw() {
    if (!this.records) return;
    const words = this.text.value.toLowerCase().split(/\s+/).filter(Boolean);
    const all = this.records.filter((r) => (!this.outcome.value || r.outcome === this.outcome.value) && (!this.kind.value || r.kind === this.kind.value) &&
      words.every((w) => [r.part, r.serial, r.operator, r.profile, r.record, r.kind].join(' ').toLowerCase().includes(w)));
    say(this.count, this.records.length ? `${all.length} of ${this.records.length}${this.records.length >= 500 ? ', the newest' : ''}` : 'Nothing is kept yet.');
    this.body.replaceChildren(...all.slice(0, 200).map((r) => {
      const covers = r.scope ? Object.entries(r.scope).filter(([, item]) => item.outcome === 'pass').map(([name]) => name).join(', ') : '';
      const at = `/records/${encodeURIComponent(r.record)}`;
      const name = [r.part, r.serial].filter(Boolean).join(' ') || r.record;
      return h('tr', {},
        h('td', { class: r.outcome }, mark(r.outcome, 18), r.outcome, r.outcome === 'pass' ? h('div', { class: 'muted', text: covers ? `for ${covers}` : 'scope not kept' }) : null, r.fault ? h('div', { class: 'fail', text: `NOT WHOLE: ${r.fault}` }) : null),
        h('td', { text: new Date(r.started).toLocaleString(undefined, { dateStyle: 'medium', timeStyle: 'short' }) }),
        h('td', {}, name, h('div', { class: 'muted', text: r.profile })), h('td', { text: `${r.kind}${r.simulated ? ', simulated' : ''}` }), h('td', { text: r.operator }),
        h('td', {}, h('div', { class: 'row' }, h('a', { class: 'button', href: `${at}/report`, target: '_blank', rel: 'noopener', 'aria-label': `Report of ${name}, ${r.record}`, text: 'Report' }),
          h('a', { class: 'button', href: `${at}/report?format=pdf`, 'aria-label': `PDF of ${name}, ${r.record}`, text: 'PDF' }),
          h('a', { class: 'button', href: `${at}/report?format=csv`, 'aria-label': `CSV of ${name}, ${r.record}`, text: 'CSV' }),
          this.makes_claim(r) ? h('a', { class: 'button', href: `${at}/claim`, target: '_blank', rel: 'noopener', 'aria-label': `Claim of ${name}, ${r.record}`, text: 'Claim' }) : null,
          r.outcome === 'unfinished' ? null : h('a', { class: 'button', href: `${at}/label`, 'aria-label': `Label of ${name}, ${r.record}`, text: 'Label' }),
          h('a', { class: 'button', href: `${at}/bag`, 'aria-label': `Bag of ${name}, ${r.record}`, text: 'Bag' }),
          this.goes_on(r) ? h('button', { type: 'button', class: 'primary', 'aria-label': `Go on with ${name}, ${r.record}`, onclick: () => { send({ do: 'begin', work: r.kind, resume: r.record, port: this.state.hello.demo ? '' : this.state.hello.last.port || '' }); location.hash = '#bench'; }, text: 'Go on' }) : null)));
    }));
  }
}

export class MetersView {
  constructor(state) {
    this.state = state;
    this.meter = h('select', { id: 'lm' });
    this.port = h('input', { id: 'lp', list: 'lports', spellcheck: 'false', value: state.hello.last.port || '' });
    this.ports = h('datalist', { id: 'lports' });
    this.figure = h('div', { class: 'figure' });
    this.lamp = h('div', { class: 'state' });
    this.reading = h('section', { class: 'reading', 'aria-label': 'Live reading', hidden: true }, this.lamp, this.figure);
    this.go = h('button', { type: 'button', class: 'primary', onclick: () => this.listen() });
    this.found = h('div', { class: 'found', role: 'status' });
    this.own = h('tbody');
    this.kinds = h('tbody');
    const demo = state.hello.demo;
    this.element = h('section', {}, h('h1', { text: 'Meters' }),
      demo ? h('p', { text: `The simulated meter speaks ${demo.meter}.` }) : h('div', { class: 'fields' },
        h('div', { class: 'field' }, h('label', { for: 'lm', text: 'Kind of meter' }), this.meter), h('div', { class: 'field' }, h('label', { for: 'lp', text: 'Port' }), this.port, this.ports)),
      h('div', { class: 'row' }, this.go, h('button', { type: 'button', onclick: () => send({ do: 'begin', work: 'find' }), text: 'Find meters: listen at the ports' })), this.found, this.reading,
      h('h2', { text: 'The shop\u2019s own meters' }), h('div', { class: 'board', tabindex: 0, role: 'region', 'aria-label': 'Own meters' }, h('table', {}, h('thead', {}, h('tr', {}, ['Name', 'Kind', 'Serial number', 'Calibration'].map((t) => h('th', { scope: 'col', text: t })))), this.own)),
      h('h2', { text: 'Kinds of meters that are understood' }), h('div', { class: 'board', tabindex: 0, role: 'region', 'aria-label': 'Kinds of meters' }, h('table', {}, h('thead', {}, h('tr', {}, ['Definition', 'What it is', 'Where its figures are from'].map((t) => h('th', { scope: 'col', text: t })))), this.kinds)));
    this.load();
    this.update();
  }
  async load() {
    const [meters, own, ports] = await Promise.all(['/api/meters', '/api/own-meters', '/api/ports'].map((url) => fetched(url).catch(() => [])));
    this.meter.replaceChildren(...meters.map((m) => h('option', { value: m.meter, selected: m.meter === this.state.hello.last.meter, text: m.meter })));
    this.ports.replaceChildren(...ports.map((p) => h('option', { value: p.port, text: p.product || p.device })));
    this.kinds.replaceChildren(...meters.map((m) => h('tr', {}, h('th', { scope: 'row', text: m.meter }), h('td', { text: m.title || m.broken }), h('td', { text: m.provenance || '' }))));
    const marks = { valid: 'pass', overdue: 'fail', unknown: 'undecided' };
    this.own.replaceChildren(...own.map((o) => h('tr', {}, h('th', { scope: 'row', text: o.name }), h('td', { text: o.meter }), h('td', { text: o.serial || 'not stated' }),
      h('td', { class: marks[o.calibration] }, mark(marks[o.calibration], 18), o.calibration, h('div', { class: 'muted', text: o.words })))));
    if (!own.length) this.own.replaceChildren(h('tr', {}, h('td', { colspan: 4, class: 'muted', text: 'None is entered. In a terminal: switchwright meters own add' })));
  }
  listen() {
    const work = this.state.work;
    if (work?.work === 'listen' && work.state === 'running') send({ do: 'stop' });
    else send({ do: 'begin', work: 'listen', meter: this.meter.value, port: this.port.value.trim() });
  }
  update() {
    const work = this.state.work;
    const on = work?.work === 'listen' && work.state === 'running';
    say(this.go, on ? 'Stop listening' : 'Show what it reads');
    show(this.reading, on);
    if (on) this.show_reading(work.reading, work);
    this.found.replaceChildren(...(work?.work === 'find' ? [work.say ? h('p', { text: work.say }) : null,
      ...work.found.map((one) => h('button', { type: 'button', onclick: () => { this.meter.value = one.meter; this.port.value = one.port; this.listen(); }, text: `${one.meter} at ${one.port}${one.shows ? `, shows ${one.shows}` : ''}` })),
      ...work.notes.map((note) => h('p', { class: 'muted', text: note }))].filter(Boolean) : []));
  }
  show_reading(reading, work) {
    this.reading.dataset.state = work?.link ? 'trouble' : 'moving';
    say(this.figure, work?.link || reading?.words || 'waiting for the meter');
    say(this.lamp, reading ? [reading.quantity, reading.hold ? 'HOLD is on' : '', reading.low_battery ? 'its battery is low' : ''].filter(Boolean).join(', ') : '');
  }
  take(message) { if (message.type === 'listened') { if (this.state.work) this.state.work.reading = message.reading; this.show_reading(message.reading, this.state.work); } }
}
