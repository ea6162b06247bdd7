// A trace as it grows: what the load does now, whether it does it too long, every cycle in figures.
import { h, say, show, sure } from './dom.js';
import { send } from './link.js';
import { tone, speak } from './senses.js';
import { Chart, Series } from './chart.js';
import { verdict_screen } from './bench.js';

const seconds = (x) => (x < 100 ? `${x.toFixed(2)} s` : `${Math.floor(x / 60)} min ${Math.round(x % 60)} s`);

export class TraceView {
  constructor(state) {
    this.state = state;
    const work = state.work;
    this.alarm = h('div', { class: 'alarm', role: 'alert', hidden: true });
    this.live = h('div', { class: 'live-banner', text: 'LIVE parts. Touch nothing; the cover stays on.' });
    this.canvas = h('canvas', { class: 'chart', role: 'img', 'aria-label': 'The trace so far; the figures beside it say the same in numbers' });
    this.tiles = h('dl', { class: 'tiles' });
    this.limits = h('p', { class: 'instruction' });
    this.note = h('p', { class: 'ask', role: 'status', hidden: true });
    this.table = h('table', {}, h('thead', {}, h('tr', {}, ['Cycle', 'On', 'Off', 'Period', 'Duty', ''].map((t) => h('th', { scope: 'col', text: t })))), this.rows = h('tbody'));
    this.whole = h('button', { type: 'button', 'aria-pressed': 'true', onclick: () => this.toggle() }, 'Whole trace', h('kbd', { text: 'w' }));
    this.stop_button = h('button', { type: 'button', class: 'primary main-action', onclick: () => this.stop() }, 'End and judge', h('kbd', { text: 'q' }));
    this.head = h('div', { class: 'bench-head' }, h('span', { text: `${work.part_name || 'part'} ${work.serial}` }), h('span', { text: work.part.title }), h('span', { text: `at ${work.position}` }),
      h('span', {}, h('b', {}, this.elapsed = h('span'))));
    this.area = h('div', { class: 'bench' }, this.head, this.alarm, this.live, this.limits, this.tiles, this.canvas, this.note,
      h('div', { class: 'actions' }, this.stop_button, this.whole), h('div', { class: 'board', tabindex: 0, role: 'region', 'aria-label': 'Complete cycles' }, h('h2', { text: 'Complete cycles, newest first' }), this.table));
    this.end_area = h('div', { hidden: true });
    this.element = h('div', {}, h('h1', { class: 'unseen', text: 'Trace' }), this.area, this.end_area);
    this.chart = new Chart(this.canvas);
    this.load(work);
  }
  end() { this.chart.end(); }

  /** Everything from the server's memory: at the beginning, and when the page was away. */
  load(work) {
    this.loaded = work;
    this.chart.series = work.channels.map((channel) => { const one = new Series(); one.load(channel.samples); return one; });
    this.cycles = work.cycles.slice();
    this.chart.dirty = true;
    this.draw_cycles();
    this.draw_figures(work.figures);
  }

  take(message) {
    if (message.type === 'sample') {
      this.chart.series[message.c]?.add(message.t, message.v);
      this.chart.dirty = true;
    } else if (message.type === 'figures') this.draw_figures(message.figures);
    else if (message.type === 'trace') {
      const e = message.event;
      if (e.type === 'cycle') { this.cycles.push(e); if (this.cycles.length > 200) this.cycles.shift(); this.draw_cycles(); }
      if (e.type === 'reconsidered') { this.cycles = this.cycles.filter((c) => c.channel !== e.channel); this.draw_cycles(); }
      if (e.type === 'note' || e.type === 'link') { say(this.note, e.text || e.detail); show(this.note, e.type === 'note' || !['alive', 'open'].includes(e.state)); }
    }
  }

  update() {
    const work = this.state.work;
    if (!work || work.work !== 'trace') return;
    if (work.channels !== this.loaded?.channels && work !== this.loaded) this.load(work);
    const over = work.state === 'over';
    show(this.area, !over);
    show(this.end_area, over);
    if (over && !this.ended) {
      this.ended = true;
      this.end_area.replaceChildren(verdict_screen(work, work.verdict, { next: () => { this.state.draft = { ...this.state.draft, serial: '', focus: 'serial' }; send({ do: 'leave' }); }, done: () => send({ do: 'leave' }) }));
      tone(work.verdict ? work.verdict.verdict : 'deviates');
      if (work.verdict) speak(`${work.verdict.letters.join(' ')}. ${work.verdict.headline}`);
    }
  }

  draw_figures(f) {
    say(this.elapsed, `running ${f.elapsed}${f.to_go ? `, ${f.to_go} to go` : ''}`);
    say(this.limits, f.should ? `The load must ${f.should}${f.limits ? `: ${f.limits}` : '.'}` : '');
    if (f.alarm && !this.alarm.textContent) { tone('alarm'); speak(f.alarm); }
    say(this.alarm, f.alarm ? `Too long: ${f.alarm}` : '');
    show(this.alarm, Boolean(f.alarm));
    if (!this.note.hidden && f.channels.every((c) => !c.trouble && c.samples)) show(this.note, false);  // put right
    const tiles = [];
    for (const c of f.channels) tiles.push([c.channel, c.trouble ? 'no data' : `${c.state}${c.words ? `, ${c.words}` : ''}`, c.trouble || (c.since ? `for ${c.since}` : `${c.samples} samples`)]);
    tiles.push(['Complete cycles', String(f.cycles), '']);
    if (f.duty) tiles.push(['Duty so far', f.duty, 'provisional'], ['On', f.on || '', ''], ['Off', f.off || '', ''], ['Period', f.period, '']);
    this.chart.levels = f.levels || null;
    this.chart.too_long_from_s = f.too_long_from_s ?? null;
    this.chart.load = Math.max(0, f.channels.findIndex((c) => c.channel === 'load'));
    this.chart.unit = f.channels[0]?.unit || '';
    if (this.tiles.childElementCount !== tiles.length) this.tiles.replaceChildren(...tiles.map(() => h('div', { class: 'tile' }, h('dt'), h('dd'))));
    tiles.forEach(([name, value, more], i) => {
      const [dt, dd] = this.tiles.children[i].children;
      say(dt, more && f.channels.length > i ? `${name} (${more})` : name);
      say(dd, value);
    });
  }

  draw_cycles() {
    this.rows.replaceChildren(...this.cycles.slice(-60).reverse().map((c) => h('tr', {}, h('th', { scope: 'row', text: this.chart.series.length > 1 ? `${c.channel} ${c.index}` : c.index }), h('td', { text: seconds(c.on_s) }),
      h('td', { text: seconds(c.off_s) }), h('td', { text: seconds(c.period_s) }), h('td', { text: `${(100 * c.duty).toFixed(1)} %` }), h('td', { text: c.has_gap || c.gap ? 'gap inside' : '' }))));
    if (!this.cycles.length) this.rows.replaceChildren(h('tr', {}, h('td', { colspan: 6, class: 'muted', text: 'No complete cycle yet: from one switching on to the next.' })));
    this.fit_window();
  }
  fit_window() {
    const last = this.cycles[this.cycles.length - 1];
    this.chart.window_s = this.whole.getAttribute('aria-pressed') === 'true' ? 0 : last ? Math.min(Math.max(6 * last.period_s, 10), 7200) : 120;
    this.chart.dirty = true;
  }
  toggle() { this.whole.setAttribute('aria-pressed', String(this.whole.getAttribute('aria-pressed') !== 'true')); this.fit_window(); }
  async stop() { if (await sure('End the trace here? It is kept and judged.', 'End and judge')) send({ do: 'stop' }); }
  key(name) {
    if (this.state.work.state === 'over') {
      if (name === 'n' || name === 'N' || name === 'Enter') { send({ do: 'leave' }); return true; }
      return false;
    }
    if (name === 'q') { this.stop(); return true; }
    if (name === 'w') { this.toggle(); return true; }
    return false;
  }
}
