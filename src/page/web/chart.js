// Our own pen for a trace: one column of pixels at a time, from the lowest to the highest sample in it, so that an hour at ten
// samples a second costs no more than the width of the screen.

export class Series {
  constructor() { this.t = []; this.v = []; }
  add(t, v) { this.t.push(t); this.v.push(v); }
  load({ t_ms, v }) { this.t = t_ms.map((x) => x / 1000); this.v = v.slice(); }
  get last() { return this.t.length ? this.t[this.t.length - 1] : 0; }
  /** The first sample at or after a time. */
  index(t) {
    let low = 0, high = this.t.length;
    while (low < high) { const middle = (low + high) >> 1; if (this.t[middle] < t) low = middle + 1; else high = middle; }
    return low;
  }
}

const steps = [1, 2, 5];
function ticks(low, high, most) {
  const span = high - low || 1;
  const base = 10 ** Math.floor(Math.log10(span / most));
  const step = base * (steps.find((x) => x * base * most >= span) || 10);
  const out = [];
  for (let x = Math.ceil(low / step) * step; x <= high + step * 1e-9; x += step) out.push(x);
  return { out, step };
}
const clock_words = (s) => (s >= 3600 ? `${Math.floor(s / 3600)} h ${String(Math.floor(s / 60) % 60).padStart(2, '0')}` : s >= 120 ? `${Math.floor(s / 60)} min${s % 60 ? ` ${Math.round(s % 60)} s` : ''}` : `${Number(s.toFixed(2))} s`);

export class Chart {
  constructor(canvas) {
    this.canvas = canvas;
    this.series = [];
    this.window_s = 0;  // 0: the whole
    this.dirty = true;
    this.levels = null;
    this.too_long_from_s = null;
    this.resize = new ResizeObserver(() => { this.dirty = true; });
    this.resize.observe(canvas);
    const frame = () => {
      if (this.ended) return;
      if (this.dirty) { this.dirty = false; this.draw(); }
      requestAnimationFrame(frame);
    };
    requestAnimationFrame(frame);
  }
  end() { this.ended = true; this.resize.disconnect(); }

  draw() {
    const { canvas } = this;
    const ratio = devicePixelRatio || 1;
    const width = canvas.clientWidth, height = canvas.clientHeight;
    if (!width || !height) return;
    if (canvas.width !== Math.round(width * ratio)) canvas.width = Math.round(width * ratio);
    if (canvas.height !== Math.round(height * ratio)) canvas.height = Math.round(height * ratio);
    const pen = canvas.getContext('2d');
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, width, height);
    const look = getComputedStyle(document.documentElement);
    const colour = (name) => look.getPropertyValue(name).trim();
    const left = 62, right = width - 14, top = 14, bottom = height - 30;
    const now = Math.max(...this.series.map((one) => one.last), 1);
    // A limit that comes soon is shown before it is reached.
    const limit = this.too_long_from_s;
    const room = this.window_s || now;
    const to = limit !== null && limit > now && limit - now < 0.25 * room ? limit + 0.03 * room : now;
    const from = this.window_s ? Math.max(0, to - this.window_s) : 0;
    let most = 0;
    const ranges = this.series.map((one) => [Math.max(0, one.index(from) - 1), one.t.length]);
    this.series.forEach((one, i) => { for (let k = ranges[i][0]; k < ranges[i][1]; ++k) if (Math.abs(one.v[k]) > most) most = Math.abs(one.v[k]); });
    most = most ? most * 1.08 : 1;
    const x = (t) => left + (t - from) / (to - from || 1) * (right - left);
    const y = (v) => bottom - Math.abs(v) / most * (bottom - top);
    pen.font = '13px system-ui, sans-serif';
    pen.lineWidth = 1;
    pen.textBaseline = 'middle';
    pen.textAlign = 'right';
    for (const v of ticks(0, most, 5).out) {
      pen.strokeStyle = colour('--line');
      pen.beginPath(); pen.moveTo(left, y(v)); pen.lineTo(right, y(v)); pen.stroke();
      pen.fillStyle = colour('--muted');
      pen.fillText(`${Number(v.toPrecision(6))}${v && this.unit ? ` ${this.unit}` : ''}`, left - 8, y(v));
    }
    pen.textAlign = 'center';
    for (const t of ticks(from, to, Math.max(2, width / 160)).out) {
      pen.fillText(clock_words(t), Math.min(Math.max(x(t), left + 18), right - 18), bottom + 16);
      pen.strokeStyle = colour('--line');
      pen.beginPath(); pen.moveTo(x(t), bottom); pen.lineTo(x(t), bottom + 5); pen.stroke();
    }
    if (limit !== null && limit > from && limit < to) this.draw_limit(pen, { at: x(limit), end: x(Math.max(now, limit)), left, right, top, bottom, colour });
    if (this.levels) {
      pen.setLineDash([7, 6]);
      pen.strokeStyle = colour('--muted');
      for (const level of this.levels) { pen.beginPath(); pen.moveTo(left, y(level)); pen.lineTo(right, y(level)); pen.stroke(); }
      pen.setLineDash([]);
    }
    this.series.forEach((one, i) => {
      pen.strokeStyle = i ? colour('--undecided') : colour('--accent');
      pen.lineWidth = 2;
      if (i) pen.setLineDash([9, 4]);
      pen.beginPath();
      let column = -1, low = 0, high = 0, last = 0, begun = false;
      const flush = () => {
        if (column < 0) return;
        if (begun) pen.lineTo(column, y(low)); else { pen.moveTo(column, y(low)); begun = true; }
        if (high !== low) pen.lineTo(column, y(high));
        pen.lineTo(column, y(last));
      };
      for (let k = ranges[i][0]; k < ranges[i][1]; ++k) {
        const at = Math.round(x(one.t[k]));
        const v = Math.abs(one.v[k]);
        if (at !== column) {
          flush();
          if (begun) pen.lineTo(at, y(last));  // a level holds until the next sample
          column = at; low = high = last = v;
        } else { if (v < low) low = v; if (v > high) high = v; last = v; }
      }
      flush();
      pen.stroke();
      pen.setLineDash([]);
    });
  }
  /** From when on the dwell that goes on just now is too long; what is beyond it already is filled. */
  draw_limit(pen, { at, end, left, right, top, bottom, colour }) {
    pen.fillStyle = colour('--fail-soft');
    pen.fillRect(at, top, end - at, bottom - top);
    pen.strokeStyle = pen.fillStyle = colour('--fail');
    pen.lineWidth = 2;
    pen.setLineDash([3, 4]);
    pen.beginPath(); pen.moveTo(at, top); pen.lineTo(at, bottom); pen.stroke();
    pen.setLineDash([]);
    pen.lineWidth = 1;
    const words = 'longest allowed';
    const on_left = at - pen.measureText(words).width - 8 > left;
    pen.textAlign = on_left ? 'right' : 'left';
    pen.fillText(words, on_left ? at - 6 : Math.min(at + 6, right), top + 10);
  }
}
