// A switch with a fault that nobody is told: touch, turn, read, and name it.
import { h, s, say, show, mark, fetched, picture } from './dom.js';
import { send } from './link.js';
import { tone } from './senses.js';
import { knob } from './knob.js';

export class PracticeView {
  constructor(state) {
    this.state = state;
    this.ends = ['', ''];
    this.position = '';
    this.element = h('section', { class: 'bench-frame' }, h('h1', { text: 'Practice' }));
    this.start = h('div', {});
    this.area = h('div', { class: 'bench', hidden: true });
    this.element.append(this.start, this.area);
    this.draw_start();
  }
  async draw_start() {
    const profile = h('select', { id: 'pp' });
    const level = h('select', { id: 'pl' }, h('option', { value: 'easy', text: 'Easy: one fault, good readings stand beside' }), h('option', { value: 'hard', text: 'Hard: anything, also two faults' }));
    const learner = h('input', { id: 'pn', type: 'text', maxlength: 120, autocomplete: 'name' });
    this.start.replaceChildren(h('form', { onsubmit: (e) => { e.preventDefault(); send({ do: 'begin', work: 'practice', profile: profile.value, level: level.value, learner: learner.value }); } },
      h('p', { class: 'instruction', text: 'A simulated switch is on the bench. Perhaps it is good, perhaps something is wrong with it. Find out with as few readings as you can. Practice is kept apart from real records.' }),
      h('div', { class: 'fields' }, h('div', { class: 'field' }, h('label', { for: 'pp', text: 'Switch' }), profile), h('div', { class: 'field' }, h('label', { for: 'pl', text: 'Level' }), level), h('div', { class: 'field' }, h('label', { for: 'pn', text: 'Your name' }), learner)),
      h('div', { class: 'row end' }, h('button', { class: 'primary big-start', text: 'Put one on the bench' }))));
    const profiles = await fetched('/api/profiles').catch(() => []);
    profile.replaceChildren(...profiles.filter((p) => !p.broken).map((p) => h('option', { value: p.profile, selected: p.profile === 'regulator-shunt-240', text: p.title })));
  }
  update() {
    const work = this.state.work;
    const on = work?.work === 'practice';
    show(this.start, !on);
    show(this.area, on);
    if (!on) return;
    if (!this.position || !work.part.positions.some((p) => p.id === this.position)) this.position = work.part.positions[0].id;
    if (work.end && !this.told) { this.told = true; tone(work.end.gave_up ? 'undecided' : work.end.right ? 'pass' : 'fail'); }
    if (!work.end) this.told = false;
    this.draw(work);
  }
  draw(work) {
    const over = work.state === 'over';
    const points = [...work.part.terminals, ...work.part.metal];
    const choice = (i, name) => h('div', { class: 'field' }, h('label', { for: `end${i}`, text: name }),
      h('select', { id: `end${i}`, onchange: (e) => { this.ends[i] = e.target.value; this.draw(work); } }, ['', ...points].map((p) => h('option', { value: p, selected: this.ends[i] === p, text: p || 'in the air' }))));
    const can = this.ends[0] && this.ends[1] && this.ends[0] !== this.ends[1] && !work.busy;
    const newest = work.readings[work.readings.length - 1];
    const sketch = h('figure');
    picture(`/api/schematic?profile=${encodeURIComponent(work.part.profile)}&position=${encodeURIComponent(this.position)}`).then((svg) => {
      for (const end of svg.querySelectorAll('[data-terminal]')) {
        const name = end.dataset.terminal;
        const at = { cx: end.getAttribute('cx'), cy: end.getAttribute('cy') };
        if (this.ends.includes(name)) svg.append(s('circle', { ...at, r: 15, class: 'halo' }));
        const spot = s('circle', { ...at, r: 26, fill: 'transparent', class: 'grip' });
        spot.addEventListener('click', () => { this.touch(name); this.draw(work); });
        svg.append(spot);
      }
      sketch.replaceChildren(svg);
    }).catch(() => {});
    const focused = document.activeElement?.id;
    const name = h('select', { id: 'pf' }, work.cases.map((c) => h('option', { value: c.name, text: c.words })));
    this.area.replaceChildren(...[
      over && work.end ? h('div', { class: `reading`, 'data-state': 'settled', 'data-outcome': work.end.gave_up ? 'undecided' : work.end.right ? 'pass' : 'fail' },
        h('div', { class: 'state' }, mark(work.end.gave_up ? 'undecided' : work.end.right ? 'pass' : 'fail'), work.end.gave_up ? 'Given up' : work.end.right ? (work.end.exact ? 'Right' : 'Right: no reading tells it from what was hidden') : 'Not that'),
        h('div', { class: 'figure', text: work.end.words }), h('p', { class: 'outlook', text: `Hidden was: ${work.end.hidden}.` }),
        work.end.told_it.length ? h('div', {}, h('p', { class: 'strong', text: 'What told it' }), h('ul', {}, work.end.told_it.map((t) => h('li', { text: t })))) : null,
        work.end.way.length ? h('p', { text: `The fewest readings that tell it: ${work.end.way.join('; ')}.` }) : null,
        h('div', { class: 'row end' }, h('button', { type: 'button', class: 'primary', onclick: () => send({ do: 'leave' }), text: 'Another one' }))) : null,
      work.trouble ? h('p', { class: 'ask', role: 'alert', text: work.trouble }) : null,
      h('div', { class: 'stage' }, h('div', {},
        over ? null : h('div', {}, h('div', { class: 'fields' }, choice(0, 'Red probe'), choice(1, 'Black probe')), h('div', { class: 'actions' },
          h('button', { id: 'pr', type: 'button', class: 'primary main-action', disabled: !can, onclick: () => send({ do: 'read', place: `${this.ends[0]}-${this.ends[1]} ${this.position}` }), text: work.busy ? 'Reading\u2026' : 'Read' }),
          h('button', { type: 'button', disabled: work.busy, onclick: () => send({ do: 'hint' }), text: 'Take the most telling reading' }))),
        newest ? h('div', { class: 'reading', 'data-state': 'settled', 'data-outcome': newest.odd ? 'fail' : '' }, h('div', { class: 'state' }, newest.odd ? mark('fail') : null, `${newest.pair.join(' to ')} at ${newest.position}`), h('div', { class: 'figure', text: newest.words }), newest.good ? h('p', { class: 'outlook', text: `A good part reads ${newest.good}.` }) : null) : null,
        h('p', { class: 'muted', role: 'status', text: `${work.readings.length} ${work.readings.length === 1 ? 'reading' : 'readings'} taken; ${work.left} of ${work.of} explanations ${work.left === 1 ? 'is' : 'are'} left.` }),
        over ? null : h('div', { class: 'field' }, h('label', { for: 'pf', text: 'I name it' }), name, h('div', { class: 'row' }, h('button', { type: 'button', onclick: () => send({ do: 'name', fault: name.value }), text: 'That is it' }), h('button', { type: 'button', onclick: () => send({ do: 'give-up' }), text: 'Give up and show' })))),
      h('div', { class: 'sight' }, h('figure', { class: 'knob-figure' }, work.part.positions.some((p) => p.turned) ? knob(work.part.positions, this.position, over ? null : (id) => { this.position = id; this.draw(work); }) : null,
        h('div', { class: 'field' }, h('label', { for: 'pk', text: work.part.knob }), h('select', { id: 'pk', onchange: (e) => { this.position = e.target.value; this.draw(work); } }, work.part.positions.map((p) => h('option', { value: p.id, selected: p.id === this.position, text: p.label }))))), sketch)),
      h('div', { class: 'board', tabindex: 0, role: 'region', 'aria-label': 'Readings' }, h('table', {}, h('thead', {}, h('tr', {}, ['', 'Pair', 'Position', 'Reads', 'A good part'].map((t, i) => h('th', { scope: 'col', text: i ? t : 'No.' })))), h('tbody', {}, work.readings.map((r, i) =>
        h('tr', {}, h('th', { scope: 'row', text: i + 1 }), h('td', { text: r.pair.join(' to ') }), h('td', { text: r.position }), h('td', { class: r.odd ? 'fail' : '' }, r.odd ? mark('fail', 16) : null, r.words), h('td', { text: r.good || '' }))))))].filter(Boolean));
    if (focused) this.area.querySelector(`#${focused}`)?.focus();
  }
  touch(name) {
    if (this.ends.includes(name)) this.ends = this.ends.map((e) => (e === name ? '' : e));
    else if (!this.ends[0]) this.ends[0] = name;
    else this.ends[1] = name;
  }
}
