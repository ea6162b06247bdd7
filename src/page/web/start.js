// Before the work: what, with which meter, who. The serial number is asked for each time and never offered from the last one.
import { h, say, show, fetched } from './dom.js';
import { send } from './link.js';

const kinds = [
  ['qualify', 'Qualify', 'every pair at every position, without power'],
  ['qualify-powered', 'Qualify, then under power', 'voltages once it has passed without'],
  ['powered', 'Under power alone', 'for a part with a passing record'],
  ['trace', 'Trace the cycling', 'on and off times under power'],
  ['drop', 'Millivolt drop', 'contacts in milliohms'],
];

const required = ['continuity', 'soundness', 'voltages', 'timing', 'inspection', 'stated'];
const claim_parts = [['order', 'Work order or claim'], ['appliance', 'Appliance model'], ['appliance_serial', 'Appliance serial number'], ['date_code', 'Date code on the part'], ['supplier', 'Supplier'], ['lot', 'Supplier\u2019s lot'], ['remark', 'Customer\u2019s remark']];

export class StartView {
  constructor(state) {
    this.state = state;
    const last = { ...state.hello.last, ...state.draft };
    const demo = state.hello.demo;
    this.kind = last.kind || 'qualify';
    const field = (id, label, control, more) => {
      control.id = id;
      if (more) control.setAttribute('aria-describedby', `${id}-more`);
      return h('div', { class: 'field', 'data-field': id }, h('label', { for: id, text: label }), control, more ? h('p', { class: 'muted', id: `${id}-more`, text: more }) : null);
    };
    const text = (value, attributes = {}) => h('input', { type: 'text', maxlength: 200, autocomplete: 'off', value: value || '', ...attributes });
    this.f = {
      profile: h('select', { onchange: () => this.profile_chosen() }), meter: h('select', { onchange: () => this.meter_chosen() }),
      port: text(last.port, { list: 'ports', spellcheck: 'false' }), part: text(last.part), serial: text(''), operator: text(last.operator, { autocomplete: 'name' }),
      plan: h('select', {}, [['full', 'Full: every pair at every position'], ['short', 'Short: enough to see every single fault'], ['adaptive', 'Adaptive: the most telling reading next']].map(([value, t]) => h('option', { value, text: t }))),
      range: text('', { placeholder: 'auto, or like 40Mohm' }), own: h('select', {}), position: h('select', {}), supply: text(''), load: text(''), minutes: text('', { inputmode: 'decimal' }),
      cycles: text('', { inputmode: 'numeric' }), current: text('1A@1%'), cold: text(''), by_itself: h('input', { type: 'checkbox', id: 'by_itself' }), who: text(last.operator, { autocomplete: 'name' }), typed: h('input', { type: 'checkbox', id: 'typed', onchange: () => this.fit() }), line: text('', { list: 'ports' }),
    };
    this.ports = h('datalist', { id: 'ports' });
    this.found = h('div', { class: 'found', role: 'status' });
    this.trouble = h('p', { class: 'ask', role: 'alert', hidden: true });
    this.kind_inputs = kinds.map(([value, name, more]) => h('label', {},
      h('input', { type: 'radio', name: 'kind', value, checked: value === this.kind, onchange: () => { this.kind = value; this.fit(); } }), h('span', { text: name }), h('small', { text: more })));
    this.unfinished = h('div', { class: 'found' });
    this.button = h('button', { class: 'primary big-start', type: 'submit', text: 'Begin' });
    this.cautions = h('section', { class: 'cautions', 'aria-labelledby': 'cautions-title' },
      h('h2', { id: 'cautions-title', text: 'Mains voltage kills' }),
      h('p', { text: 'Resistance is measured only on a part that is disconnected and proven dead. Work under power is for qualified persons: isolating transformer or RCD/GFCI, fused leads, a meter of a suitable measurement category, the cover on. An open reading is no proof of isolation. Local codes and licensed practice come first. This program never switches power itself.' }));
    this.element = h('form', { class: 'start', onsubmit: (e) => { e.preventDefault(); this.begin(); } },
      h('h1', { text: 'What is on the bench?' }), this.unfinished,
      h('fieldset', {}, h('legend', { class: 'unseen', text: 'Kind of work' }), h('div', { class: 'kinds' }, this.kind_inputs)),
      h('div', { class: 'fields' },
        field('profile', 'Profile: what it should be', this.f.profile),
        demo ? null : field('meter', 'Meter', this.f.meter), demo ? null : field('own', 'Which of the shop\u2019s meters', this.f.own, 'With its calibration; only meters of this kind'),
        demo ? null : h('div', { class: 'field', 'data-field': 'typed' }, h('label', { class: 'check' }, this.f.typed, 'It has no cable: I type what it shows')),
        demo ? null : h('div', { class: 'field', 'data-field': 'port' }, h('label', { for: 'port', text: 'Port' }), Object.assign(this.f.port, { id: 'port' }), this.ports,
          h('div', { class: 'row' }, h('button', { type: 'button', onclick: () => send({ do: 'begin', work: 'find' }), text: 'Find the meter: listen at the ports' })), this.found),
        field('part', 'Part', this.f.part), field('serial', 'Serial number or tag of this piece', this.f.serial), field('operator', 'Operator', this.f.operator),
        field('range', 'The meter\u2019s range on ohms', this.f.range, 'This meter does not show it. Left empty, opens stay undecided.'),
        field('plan', 'Plan', this.f.plan),
        field('cold', 'Record that passed without power', this.f.cold, 'Empty: that of this sitting'),
        field('current', 'Current of the supply and its uncertainty', this.f.current),
        field('position', 'The knob stands at', this.f.position),
        field('supply', 'Supply voltage', this.f.supply, 'Like 240 V; empty: not known'), field('load', 'Load', this.f.load, 'Like 2400W@240 or 24ohm; empty: not known'),
        field('minutes', 'End after minutes', this.f.minutes, 'Empty: until you end it'), field('cycles', 'End after complete cycles', this.f.cycles, 'Five at least, twenty are better'),
        field('line', 'Port of a second meter on the line', this.f.line, 'With it a dead load can be judged; same kind of meter'),
        field('who', 'Your name, to acknowledge the cautions below', this.f.who),
        demo ? h('div', { class: 'field', 'data-field': 'by_itself' }, h('label', { class: 'check' }, this.f.by_itself, 'Let simulated hands do it all')) : null),
      this.stated = h('div', { class: 'fields', hidden: true }), this.further(field, text),
      this.trouble, h('div', { class: 'row end' }, this.button), this.cautions);
    this.f.profile.id = 'profile';
    this.load(last);
    this.fit();
    if (last.focus) queueMicrotask(() => this.f[last.focus]?.focus());
    state.draft = { ...state.draft, focus: undefined };
  }

  /** What most work does not need: what must be decided for a pass, and what a claim names. */
  further(field, text) {
    this.require = required.map((part) => h('label', { class: 'check' }, h('input', { type: 'checkbox', value: part }), part));
    this.claim = Object.fromEntries(claim_parts.map(([id]) => [id, text('')]));
    return h('details', {}, h('summary', { text: 'More: what a pass must cover, and what a claim names' }),
      h('fieldset', { class: 'require' }, h('legend', { text: 'A pass must cover also' }), h('div', { class: 'row' }, this.require)),
      h('div', { class: 'fields' }, claim_parts.map(([id, label]) => field(`claim_${id}`, label, this.claim[id]))));
  }

  async load(last) {
    const demo = this.state.hello.demo;
    try {
      this.profiles = await fetched('/api/profiles');
      const current = demo ? demo.part.profile : last.profile;
      this.f.profile.replaceChildren(...this.profiles.map((p) => h('option', { value: p.profile, selected: p.profile === current, disabled: Boolean(p.broken), text: p.broken ? `${p.profile}: cannot be read` : `${p.title} (${p.profile})` })));
      if (!demo) {
        [this.meters, this.own] = await Promise.all([fetched('/api/meters'), fetched('/api/own-meters').catch(() => [])]);
        this.f.meter.replaceChildren(...this.meters.map((m) => h('option', { value: m.meter, selected: m.meter === last.meter, disabled: Boolean(m.broken), text: m.broken ? `${m.meter}: cannot be read` : `${m.meter}: ${m.title}` })));
        const ports = await fetched('/api/ports');
        this.ports.replaceChildren(...ports.map((p) => h('option', { value: p.port, text: p.product || p.device })));
        if (!this.f.port.value && ports.length === 1) this.f.port.value = ports[0].port;
        this.meter_chosen();
      }
      this.profile_chosen();
      this.offer_unfinished();
    } catch (error) { this.say(error.message); }
  }

  /** Somebody who comes back to the bench goes on where the work stopped. */
  async offer_unfinished() {
    const demo = Boolean(this.state.hello.demo);
    const records = await fetched('/api/records').catch(() => []);
    const open = records.filter((r) => r.outcome === 'unfinished' && r.kind.startsWith('qualify') && r.simulated === demo).slice(0, 2);
    this.unfinished.replaceChildren(...open.map((r) => h('button', { type: 'button', onclick: () => send({ do: 'begin', work: r.kind, resume: r.record, port: demo ? '' : this.f.port.value.trim() }),
      text: `Go on with ${[r.part, r.serial].filter(Boolean).join(' ') || r.record}, begun ${new Date(r.started).toLocaleString(undefined, { dateStyle: 'medium', timeStyle: 'short' })}` })));
  }

  profile_chosen() {
    const p = this.profiles?.find((one) => one.profile === this.f.profile.value);
    if (!p || p.broken) return;
    this.f.position.replaceChildren(...p.positions.map((one) => h('option', { value: one.id, text: one.label })));
    const timed = p.timed?.find((id) => id !== p.positions[0].id);
    if (timed) this.f.position.value = timed;
    for (const input of this.element.querySelectorAll('[name=kind]')) {
      const off = !p.powered && ['qualify-powered', 'powered', 'trace'].includes(input.value);
      input.disabled = off;
      if (off && input.checked) { this.kind = 'qualify'; this.element.querySelector('[value=qualify]').checked = true; }
    }
    this.stated_inputs = new Map((p.stated || []).map((one) => [one.id, h('input', { type: 'text', id: `stated_${one.id}`, maxlength: 200, autocomplete: 'off', 'aria-describedby': `stated_${one.id}_more`, placeholder: `500 Mohm, ${one.needs_U ? 'U=10%, ' : ''}instrument=\u2026, due=2030-01-31` })]));
    this.stated.replaceChildren(...(p.stated || []).map((one) => h('div', { class: 'field' }, h('label', { for: `stated_${one.id}`, text: `From another instrument: ${one.id}${one.required ? '' : ' (not needed)'}` }), this.stated_inputs.get(one.id), h('p', { class: 'muted', id: `stated_${one.id}_more`, text: one.what }))));
    this.fit();
    const demo = this.state.hello.demo;
    if (demo && demo.part.profile !== p.profile && !(this.state.work && this.state.work.state !== 'over')) send({ do: 'demo-part', profile: p.profile });
  }
  meter_chosen() {
    const meter = this.meters?.find((m) => m.meter === this.f.meter.value);
    const own = (this.own || []).filter((o) => o.meter === this.f.meter.value);
    this.f.own.replaceChildren(h('option', { value: '', text: own.length ? 'not stated' : 'none of this kind is entered' }), ...own.map((o) => h('option', { value: o.name, text: `${o.name} (calibration ${o.calibration})` })));
    this.asks_range = Boolean(meter?.asks_range);
    this.fit();
  }
  fit() {
    const trace = this.kind === 'trace';
    const on = { plan: this.kind.startsWith('qualify'), range: this.asks_range && this.kind.startsWith('qualify'), cold: this.kind === 'powered', current: this.kind === 'drop', position: trace || this.kind === 'drop',
      supply: trace, load: trace, minutes: trace, cycles: trace, who: trace, line: trace && !this.state.hello.demo, by_itself: !trace, operator: !trace, typed: !trace, port: trace || !this.f.typed.checked };
    show(this.stated, Boolean(this.stated_inputs?.size) && this.kind.startsWith('qualify'));
    for (const [name, wanted] of Object.entries(on)) { const box = this.element.querySelector(`[data-field=${name}]`); if (box) show(box, Boolean(wanted)); }
  }
  say(text) { say(this.trouble, text); show(this.trouble, Boolean(text)); if (text) this.trouble.scrollIntoView({ block: 'nearest' }); }

  begin() {
    this.say('');
    const value = (name) => this.f[name].value.trim();
    const operator = this.kind === 'trace' ? value('who') : value('operator');
    const command = { do: 'begin', work: this.kind, profile: this.f.profile.value, part: value('part'), serial: value('serial'), operator };
    command.require = this.require.map((label) => label.firstChild).filter((box) => box.checked).map((box) => box.value).join();
    command.claim = Object.fromEntries(Object.entries(this.claim).map(([id, input]) => [id, input.value.trim()]));
    if (this.kind.startsWith('qualify')) command.stated = Object.fromEntries([...this.stated_inputs].map(([id, input]) => [id, input.value.trim()]));
    const demo = this.state.hello.demo;
    if (!demo) Object.assign(command, { meter: (this.f.typed.checked && this.kind !== 'trace' ? 'typed:' : '') + this.f.meter.value, port: value('port'), own: this.f.own.value });
    if (this.kind === 'trace') {
      const channels = [{ name: 'load', meter: command.meter, port: command.port, own: command.own, role: 'load' }];
      if (value('line')) channels.push({ name: 'line', meter: command.meter, port: value('line'), role: 'line' });
      Object.assign(command, { position: this.f.position.value, supply: value('supply'), load: value('load'), minutes: Number(value('minutes').replace(',', '.')) || 0, cycles: Number(value('cycles')) || 0, acknowledged_by: value('who'), channels });
    } else {
      Object.assign(command, { plan: this.f.plan.value, range: this.asks_range ? value('range') : '', cold: value('cold'), by_itself: this.f.by_itself.checked });
      if (this.kind === 'drop') Object.assign(command, { current: value('current'), position: this.f.position.value });
    }
    this.state.draft = { kind: this.kind, profile: command.profile, part: command.part, operator, meter: this.f.meter.value, port: command.port };
    send(command);
  }
  refused(message) { this.say(message.text); }

  update() {
    const work = this.state.work;
    if (!work || work.work !== 'find') return;
    this.found.replaceChildren(...[work.say ? h('p', { class: 'muted', text: work.say }) : null,
      ...work.found.map((one) => h('button', { type: 'button', onclick: () => { this.f.meter.value = one.meter; this.f.port.value = one.port; this.meter_chosen(); }, text: `${one.meter} at ${one.port}${one.shows ? `, shows ${one.shows}` : ''}` })),
      ...work.notes.map((note) => h('p', { class: 'muted', text: note }))].filter(Boolean));
  }
}
