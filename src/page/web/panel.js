// The hands of a demonstration: probes that are dragged to terminals, a knob that is turned, a fault that is put in.
import { h, s, show, fetched } from './dom.js';
import { send } from './link.js';
import { knob } from './knob.js';

const dials = [['resistance', 'ohms'], ['voltage-ac', 'AC volts'], ['voltage-dc', 'DC volts']];

export class Panel {
  constructor(state) {
    this.state = state;
    this.canvas = s('svg', { class: 'hands', viewBox: '0 0 400 330', role: 'img', 'aria-label': 'The simulated bench; the fields below do the same' });
    this.more = h('div', { class: 'fields' });
    this.faults = h('select', { id: 'fault', onchange: (e) => send({ do: 'fault', fault: e.target.value }) });
    this.do_it = h('button', { type: 'button', class: 'primary', onclick: (e) => { this.follow(); if (e.detail) this.do_it.blur(); }, text: 'Do this step for me' });
    this.element = h('aside', { class: 'panel', 'aria-labelledby': 'panel-title' }, h('h2', { id: 'panel-title', text: 'Your hands' }),
      h('p', { class: 'muted', text: 'Drag the probes to the terminals, turn the knob, put in a fault, and see what the program says.' }), this.do_it, this.canvas, this.more,
      h('div', { class: 'field' }, h('label', { for: 'fault', text: 'What is wrong with the switch' }), this.faults));
    this.canvas.addEventListener('pointerdown', (e) => this.grab(e));
    this.canvas.addEventListener('pointermove', (e) => this.drag(e));
    for (const name of ['pointerup', 'pointercancel']) this.canvas.addEventListener(name, (e) => this.drop(e));
  }
  get demo() { return this.state.hello.demo; }

  async load_faults() {
    const { part } = this.demo;
    this.of = part.profile;
    const all = await fetched(`/api/faults?profile=${encodeURIComponent(part.profile)}`).catch(() => []);
    this.faults.replaceChildren(h('option', { value: '', text: 'nothing: a good part' }), ...all.map((f) => h('option', { value: f.fault, text: f.words })));
    this.faults.value = this.demo.panel.faults[0] || '';
  }

  points() {
    const { part, panel } = this.demo;
    const under_power = panel.power || this.state.work?.step?.kind === 'voltage' || this.state.work?.work === 'powered' || this.state.work?.work === 'qualify-powered' || this.state.work?.work === 'trace';
    const names = [...part.terminals, ...part.metal, ...(under_power ? [...(part.outside || []), part.earth].filter(Boolean) : [])];
    const row = Math.min(names.length, 6);
    return names.map((name, i) => ({ name, x: 40 + (i % row) * (320 / Math.max(1, row - 1)), y: 62 + Math.floor(i / row) * 62 }));
  }
  /** Where a probe that touches nothing lies. */
  rest(i) { return { x: 150 + i * 100, y: 222 }; }

  update() {
    if (!this.demo) return;
    const { panel, part } = this.demo;
    const work = this.state.work;
    const step = work?.step;
    const can = Boolean(step && work.state === 'running' && !work.by_itself && !['acknowledge', 'inspect'].includes(step.kind));
    this.do_it.disabled = !can;
    if (this.of !== part.profile) this.load_faults();
    if (document.activeElement !== this.faults) this.faults.value = panel.faults[0] || '';
    this.update_fields();
    const key = JSON.stringify([this.stands(), part.profile, this.points().length]);
    if (key === this.key || this.held) return;
    this.key = key;
    this.draw();
  }

  /** Where everything stands; simulated hands that work by themselves are shown at it. */
  stands() {
    const { panel } = this.demo;
    const work = this.state.work;
    if (!work?.by_itself || !work.step || work.state !== 'running') return panel;
    const { step } = work;
    return { ...panel, probes: step.probes, ends: step.pair && step.probes === 'pair' ? step.pair : ['', ''], position: step.position || panel.position, dial: step.dial || panel.dial, power: work.live };
  }

  draw() {
    const { part } = this.demo;
    const panel = this.stands();
    const points = this.points();
    const lowest = Math.max(...points.map((p) => p.y));
    const c = this.canvas;
    c.replaceChildren(s('rect', { x: 8, y: 12, width: 384, height: lowest + 26, rx: 12, class: 'f-cell s-frame', 'stroke-width': 2 }));
    for (const p of points) c.append(s('circle', { cx: p.x, cy: p.y, r: 11, class: 'f-paper s-ink', 'stroke-width': 2.5 }), s('text', { x: p.x, y: p.y - 18, class: 't' }, p.name));
    const source = { x: 52, y: 206 }, together = { x: 348, y: 206 };
    this.targets = [...points, { ...source, special: 'known-source' }, { ...together, special: 'shorted' }];
    c.append(s('rect', { x: 24, y: 186, width: 56, height: 40, rx: 8, class: 'f-paper s-ink', 'stroke-width': 2 }), s('text', { x: 66, y: 178, class: 't small' }, 'known source, 24 V'));
    c.append(s('circle', { cx: 348, cy: 206, r: 18, class: 'f-paper s-ink', 'stroke-width': 2, 'stroke-dasharray': '5 4' }), s('text', { x: 348, y: 180, class: 't small' }, 'tips together'));
    this.probes = [0, 1].map((i) => {
      const on = panel.ends[i] ? points.find((p) => p.name === panel.ends[i]) : null;
      const at = panel.probes === 'known-source' ? { x: source.x - 10 + i * 20, y: source.y } : panel.probes === 'shorted' ? { x: together.x - 6 + i * 12, y: together.y } : on || this.rest(i);
      return this.draw_probe(i, at);
    });
  }

  /** The fields stay the same elements while they are used; another part or other work brings others. */
  build_fields() {
    const { part } = this.demo;
    const select = (id, label, options, change) => h('div', { class: 'field' }, h('label', { for: id, text: label }), h('select', { id, onchange: (e) => change(e.target.value) }, options.map(([v, t]) => h('option', { value: v, text: t }))));
    const turned = part.positions.some((p) => p.turned);
    this.knob_box = turned ? h('div', { class: 'knob-picture' }) : null;
    this.more.replaceChildren(...[
      h('div', { class: 'two' }, select('red', 'Red probe', [], (v) => this.put([v, null])), select('black', 'Black probe', [], (v) => this.put([null, v]))),
      h('div', { class: 'knob-figure' }, this.knob_box, select('knob', part.knob, part.positions.map((p) => [p.id, p.label]), (v) => send({ do: 'panel', position: v }))),
      h('div', { class: 'two' }, select('dial', 'Meter set to', dials, (v) => send({ do: 'panel', dial: v })),
        select('tips', 'Probes also', [['', 'as placed'], ['shorted', 'tips together'], ['known-source', 'on the live source']], (v) => (v ? send({ do: 'panel', probes: v }) : this.put([null, null])))),
      part.supply_v ? h('label', { class: 'check' }, h('input', { id: 'power', type: 'checkbox', onchange: (e) => send({ do: 'panel', power: e.target.checked }) }), `Supply on (${part.supply_v} V)`) : null,
      this.current = select('flow', 'Current supply', [['off', 'off'], ['on', 'on'], ['reversed', 'on, clips exchanged'], ['one-clip', 'on, one clip free']], (v) => send({ do: 'panel', current: v, amps: this.amps() }))].filter(Boolean));
    this.names = '';
  }
  /** What the supply of a demonstration is set to: what the work says that it gives. */
  amps() { return this.state.work?.current_a || 1; }
  update_fields() {
    const { panel, part } = this.demo;
    if (part.profile !== this.fields_of) { this.fields_of = part.profile; this.knob_at = null; this.build_fields(); }
    show(this.current, this.state.work?.work === 'drop');
    const names = this.points().map((p) => p.name);
    if (names.join() !== this.names) {
      this.names = names.join();
      for (const id of ['red', 'black']) {
        const field = this.more.querySelector(`#${id}`);
        const chosen = field.value;
        field.replaceChildren(...[['', 'in the air'], ...names.map((n) => [n, n])].map(([v, t]) => h('option', { value: v, text: t })));
        field.value = chosen;
      }
    }
    const values = { red: panel.ends[0], black: panel.ends[1], knob: panel.position, dial: panel.dial, tips: ['shorted', 'known-source'].includes(panel.probes) ? panel.probes : '', flow: panel.current };
    for (const [id, value] of Object.entries(values)) {
      const field = this.more.querySelector(`#${id}`);
      if (field && field.value !== value) field.value = value;
    }
    const power = this.more.querySelector('#power');
    if (power && power.checked !== panel.power) power.checked = panel.power;
    if (this.knob_box && this.knob_at !== panel.position) {
      this.knob_at = panel.position;
      this.knob_box.replaceChildren(knob(part.positions, panel.position, (id) => send({ do: 'panel', position: id })));
    }
  }
  draw_probe(i, at) {
    const paint = i ? 'var(--black)' : 'var(--red)';
    const group = s('g', { class: 'grip', 'data-probe': i });
    const body = s('g', {}, s('path', { d: 'M0 0L5 -14L12 -62Q14 -70 20 -66L26 -60Q30 -54 24 -48L8 -8Z', class: 'probe', 'stroke-linejoin': 'round' }), s('circle', { cx: 0, cy: 0, r: 5, class: 'probe' }), s('circle', { cx: 10, cy: -30, r: 34, fill: 'transparent' }));
    for (const one of body.querySelectorAll('.probe')) { one.style.fill = paint; one.style.stroke = 'var(--paper)'; }
    // The black probe leans the other way, so that two on neighbours stay apart.
    body.setAttribute('transform', i ? 'rotate(180) scale(-1 1)' : 'rotate(180)');
    group.append(body, s('text', { x: i ? 12 : -12, y: 88, class: 'probe-tag f-ink' }, i ? 'black' : 'red'));
    group.setAttribute('transform', `translate(${at.x} ${at.y})`);
    this.canvas.append(group);
    return group;
  }

  where(event) {
    const box = this.canvas.getBoundingClientRect();
    return { x: (event.clientX - box.left) * 400 / box.width, y: (event.clientY - box.top) * 330 / box.height };
  }
  grab(event) {
    const group = event.target.closest('[data-probe]');
    if (!group) return;
    this.held = group;
    this.canvas.append(group);
    this.canvas.setPointerCapture(event.pointerId);
    const i = Number(group.dataset.probe);
    this.put([i ? null : '', i ? '' : null]);
  }
  drag(event) {
    if (!this.held) return;
    const at = this.where(event);
    this.held.setAttribute('transform', `translate(${at.x} ${at.y})`);
  }
  drop(event) {
    if (!this.held) return;
    const at = this.where(event);
    const i = Number(this.held.dataset.probe);
    this.held = null;
    this.key = '';
    const near = this.targets.map((t) => ({ ...t, d: Math.hypot(t.x - at.x, t.y - at.y) })).sort((a, b) => a.d - b.d)[0];
    if (near.d < 34 && near.special) send({ do: 'panel', probes: near.special, ends: ['', ''] });
    else if (near.d < 34) this.put([i ? null : near.name, i ? near.name : null]);
    this.update();
  }
  /** @param ends where each probe goes; null: it stays where it is. */
  put(ends) { send({ do: 'panel', ends }); }

  /** What a person would do now, done at once: probes lifted first, as hands do. */
  follow() {
    const step = this.state.work?.step;
    if (!step) return;
    const now = this.demo.panel;
    const wanted = step.probes === 'pair' ? step.pair : ['', ''];
    const same = step.probes === 'pair' && now.probes === 'pair' && [...now.ends].sort().join() === [...wanted].sort().join();
    const move = { do: 'panel', dial: step.dial || now.dial };
    if (!same && now.probes !== 'off') send({ do: 'panel', probes: 'off', ends: ['', ''] });
    if (step.position) move.position = step.position;
    if (step.power) move.power = step.power === 'on';
    if (step.current) Object.assign(move, { current: step.current, amps: step.current_a });
    setTimeout(() => send({ ...move, probes: step.probes, ends: wanted }), same || now.probes === 'off' ? 0 : 250);
  }
}
