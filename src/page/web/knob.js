// The knob as the part has it: where to turn it, and where it can stand.
import { s } from './dom.js';

/** @param on_turn called with a position; absent: only a picture. */
export function knob(positions, at, on_turn) {
  const turned = positions.filter((p) => p.turned);
  const angle_of = (p) => (p.angle ?? 0) - 90;
  const here = positions.find((p) => p.id === at) || positions[0];
  const point = (angle, radius) => [100 + radius * Math.cos(angle * Math.PI / 180), 100 + radius * Math.sin(angle * Math.PI / 180)];
  const svg = s('svg', { viewBox: '-78 -24 356 248', role: on_turn ? 'group' : 'img', 'aria-label': `Knob at ${here.label}` });
  svg.append(s('circle', { cx: 100, cy: 100, r: 58, class: 'f-cell s-ink', 'stroke-width': 3 }));
  for (const p of turned) {
    const [x, y] = point(angle_of(p), 70);
    const [tx, ty] = point(angle_of(p), 92);
    const now = p.id === here.id;
    const anchor = tx < 85 ? 'end' : tx > 115 ? 'start' : 'middle';
    const label = s('text', { x: tx, y: ty + 8, 'text-anchor': anchor, 'font-size': now ? 27 : 22, 'font-weight': now ? 750 : 500, class: now ? 'f-ink' : 'f-muted' }, p.label);
    svg.append(s('circle', { cx: x, cy: y, r: now ? 6 : 3.5, class: now ? 'f-ink' : 'f-muted' }), label);
    if (on_turn) {
      label.classList.add('grip');
      label.addEventListener('click', () => on_turn(p.id));
      const spot = s('circle', { cx: x, cy: y, r: 18, fill: 'transparent', class: 'grip' });
      spot.addEventListener('click', () => on_turn(p.id));
      svg.append(spot);
    }
  }
  if (here.turned) {
    const [x1, y1] = point(angle_of(here), 14);
    const [x2, y2] = point(angle_of(here), 50);
    svg.append(s('line', { x1, y1, x2, y2, class: 's-ink', 'stroke-width': 8, 'stroke-linecap': 'round' }));
  }
  return svg;
}
