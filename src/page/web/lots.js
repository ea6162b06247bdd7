// A lot of parts: how it stands, which unit comes next, and its serial number from a scanner, which types it and presses Enter.
import { h, say, show, mark, fetched } from './dom.js';
import { send } from './link.js';

const state_mark = { pass: 'pass', fail: 'fail', undecided: 'undecided', lost: 'undecided' };

export class LotsView {
  constructor(state) {
    this.state = state;
    const text = (id, value, attributes = {}) => h('input', { id, type: 'text', maxlength: 200, autocomplete: 'off', value: value || '', ...attributes });
    const field = (control, label) => h('div', { class: 'field' }, h('label', { for: control.id, text: label }), control);
    this.which = h('select', { id: 'lot', onchange: () => { state.lot = this.which.value; this.draw(); } });
    this.serial = text('unit_serial', '', { spellcheck: 'false' });
    this.operator = text('unit_operator', state.draft.operator || state.hello.last.operator, { autocomplete: 'name' });
    this.port = text('unit_port', state.hello.last.port, { spellcheck: 'false' });
    this.by_itself = h('input', { type: 'checkbox', id: 'unit_itself' });
    this.nothing = h('p', { role: 'status' });
    this.bar = h('i');
    this.progress = h('div', { class: 'progress', role: 'progressbar', 'aria-label': 'Units done', 'aria-valuemin': 0 }, this.bar);
    this.about = h('div', {});
    this.letters = h('p', { class: 'letters words' });
    this.more = h('p', { class: 'instruction' });
    this.trouble = h('p', { class: 'ask', role: 'alert', hidden: true });
    this.button = h('button', { class: 'primary big-start', type: 'submit', text: 'Test this unit' });
    this.form = h('form', { onsubmit: (e) => { e.preventDefault(); this.begin(); } }, this.letters, this.more,
      h('div', { class: 'fields' }, field(this.serial, 'Its serial number: scan it, or type it'), field(this.operator, 'Operator'),
        state.hello.demo ? h('label', { class: 'check' }, this.by_itself, 'Let simulated hands do it all') : field(this.port, 'Port of the meter')),
      this.trouble, h('div', { class: 'row end' }, this.button));
    this.rows = h('tbody');
    this.table = h('div', { class: 'board', tabindex: 0, role: 'region', 'aria-label': 'Units of the sample' }, h('table', {}, h('thead', {}, h('tr', {}, ['Place', 'Unit', 'Serial number', 'State', 'Why', 'Document'].map((t) => h('th', { scope: 'col', text: t })))), this.rows));
    this.box = h('div', { class: 'bench', hidden: true }, h('div', { class: 'fields' }, h('div', { class: 'field' }, h('label', { for: 'lot', text: 'Lot' }), this.which)), this.about, this.progress, this.form, this.table);
    this.element = h('section', { class: 'bench-frame lots' }, h('h1', { text: 'Lots' }), this.nothing, this.box);
    this.load();
  }

  async load() {
    try {
      this.lots = await fetched('/api/lots');
    } catch (error) { say(this.nothing, error.message); return; }
    show(this.box, this.lots.length > 0);
    say(this.nothing, this.lots.length ? '' : 'There is no lot yet. Open one in a terminal: switchwright lot open');
    const wanted = this.lots.some((one) => one.lot === this.state.lot) ? this.state.lot : this.lots[0]?.lot;
    this.which.replaceChildren(...this.lots.map((one) => h('option', { value: one.lot, selected: one.lot === wanted, text: `${one.lot_number}${one.supplier ? ` from ${one.supplier}` : ''}${one.closed ? ', closed' : one.fault ? ', not whole' : ''}` })));
    if (this.lots.length) { this.draw(); if (!this.form.hidden) this.serial.focus(); }
  }

  get lot() { return this.lots?.find((one) => one.lot === this.which.value); }

  draw() {
    const lot = this.lot;
    if (!lot) return;
    show(this.form, Boolean(lot.next && !lot.not_here && !lot.fault));
    if (lot.fault) {
      this.about.replaceChildren(h('p', { class: 'fail strong', text: `This lot is not as it was written, so nothing can be decided from it: ${lot.fault}` }));
      this.rows.replaceChildren();
      return;
    }
    const counts = lot.classes.map((c) => `${c.severity}: ${c.defective} defective, accepted up to ${c.accept}${c.undecided ? `, ${c.undecided} not decided` : ''}${c.may_still_fail > 0 ? `, ${c.may_still_fail} more may fail` : ''}`);
    const word = lot.closed ? `Closed: ${lot.decision}.` : lot.rejection_certain ? 'Rejected, whatever the rest is.' : lot.acceptance_certain && lot.next ? 'Accepted, however bad the rest is.' : lot.next ? '' : `The sample is done: ${lot.decision}.`;
    this.about.replaceChildren(...[
      h('p', { class: 'strong', text: `${lot.done} of ${lot.sample} done: ${lot.good} good, ${lot.defective} defective` }),
      h('p', { class: 'muted', text: `${lot.part || lot.profile}, ${lot.size} in the carton, ${lot.condition === 'new' ? 'never connected' : 'pulled from use'}, ${lot.mode} inspection` }),
      ...counts.map((line) => h('p', { text: line })),
      word ? h('p', { class: 'strong', text: `${word} ${lot.reason}` }) : null,
      !lot.closed && (!lot.next || lot.rejection_certain) ? h('p', { class: 'muted', text: `Decide in a terminal: switchwright lot close ${lot.lot}` }) : null,
      lot.not_here && !lot.closed ? h('p', { class: 'ask', text: lot.not_here }) : null].filter(Boolean));
    this.progress.setAttribute('aria-valuemax', lot.sample);
    this.progress.setAttribute('aria-valuenow', lot.done);
    this.bar.style.transform = `scaleX(${lot.done / Math.max(1, lot.sample)})`;
    if (lot.next) {
      const { unit, place, again, goes_on, serial } = lot.next;
      say(this.letters, `Unit ${unit}`);
      say(this.more, goes_on ? `It was begun and goes on where it stopped: put ${serial} on the bench.` : again ? `It deviated on the short plan: put ${serial} on the bench again for the full one.` : `Take number ${unit} from the carton: place ${place} of ${lot.sample}, ${lot.next.plan} plan.`);
      if (goes_on || again) this.serial.value = serial;
    }
    this.rows.replaceChildren(...lot.places.filter((p) => p.state !== 'missing').map((p) => h('tr', {}, h('th', { scope: 'row', text: p.place }), h('td', { text: p.unit }), h('td', { text: p.serial || '' }),
      h('td', { class: state_mark[p.state] || '' }, state_mark[p.state] ? mark(state_mark[p.state], 18) : null, [p.state, p.severity].filter(Boolean).join(', ')), h('td', { text: p.why || '' }),
      h('td', {}, p.record ? h('a', { class: 'button', href: `/records/${encodeURIComponent(p.record)}/report`, target: '_blank', rel: 'noopener', 'aria-label': `Report of unit ${p.unit}`, text: 'Report' }) : null))));
    if (!this.rows.childElementCount) this.rows.replaceChildren(h('tr', {}, h('td', { colspan: 6, class: 'muted', text: 'No unit is tested yet.' })));
  }

  begin() {
    show(this.trouble, false);
    this.state.lot = this.which.value;
    this.state.draft = { ...this.state.draft, operator: this.operator.value.trim() };
    this.begun = true;
    send({ do: 'begin', work: 'lot-unit', lot: this.which.value, serial: this.serial.value.trim(), operator: this.operator.value.trim(), port: this.port.value.trim(), by_itself: this.by_itself.checked });
  }
  refused(message) { this.begun = false; say(this.trouble, message.text); show(this.trouble, true); this.serial.select(); }
  update() {
    if (this.begun && this.state.work?.lot && this.state.work.state !== 'over') { this.begun = false; location.hash = '#bench'; }
  }
  /** A scanner types wherever the focus is. */
  key(name) {
    if (name.length !== 1 || this.form.hidden) return false;
    this.serial.focus();
    this.serial.value += name;
    return true;
  }
}
