// Figures of the bench page: from a reading's event to painted pixels with one page and with ten, the server's share of a
// processor at 64 readings a second, the weight of the page, the time to the first instruction, and what drawing an hour of a
// trace costs. Run: SOURCE_DIR=$PWD SWITCHWRIGHT=build/release/switchwright node tests/bench/page/measure.mjs
import { readFileSync } from 'node:fs';
import { loadavg } from 'node:os';
import { serve, open, begin, browser, tidy } from '../../page/bench.mjs';

const server = await serve('--demo', '--rate', '64');
const seconds_measured = 10;
const figure = (all, share) => all.sort((a, b) => a - b)[Math.min(all.length - 1, Math.floor(all.length * share))];
/** Processor seconds that the server has used. */
function used_s() {
  const fields = readFileSync(`/proc/${server.process.pid}/stat`, 'utf8').split(') ')[1].split(' ');
  return (Number(fields[11]) + Number(fields[12])) / 100;
}
/** Notes, for every reading that arrives, when the frame that shows it is on the screen. */
function watch() {
  window.lags = [];
  const Real = WebSocket;
  window.WebSocket = class extends Real {
    constructor(...all) {
      super(...all);
      this.addEventListener('message', (m) => {
        const message = JSON.parse(m.data);
        if (message.event?.type !== 'reading') return;
        const at = Date.parse(message.event.time);
        requestAnimationFrame(() => { const channel = new MessageChannel(); channel.port1.onmessage = () => window.lags.push(Date.now() - at); channel.port2.postMessage(0); });
      });
    }
  };
}
async function watched() {
  const context = await (await browser()).newContext({ viewport: { width: 1280, height: 860 } });
  await context.addInitScript(watch);
  const page = await context.newPage();
  await page.goto(server.url);
  return page;
}
async function measure(pages, name) {
  for (const page of pages) await page.evaluate(() => { window.lags = []; });
  const before = used_s();
  await new Promise((r) => setTimeout(r, seconds_measured * 1000));
  const share = (used_s() - before) / seconds_measured;
  const lags = (await Promise.all(pages.map((page) => page.evaluate(() => window.lags)))).flat();
  console.log(`${name}: server ${(100 * share).toFixed(1)} % of one processor` + (lags.length ? `; event to pixels median ${figure(lags, 0.5)} ms, p99 ${figure(lags, 0.99)} ms (${lags.length} readings painted)` : ''));
}

const first = await open(server.url);
await begin(first, { serial: 'M-1' });
await first.locator('#who').fill('demo');
await first.keyboard.press('Enter');
await first.getByText('Known live source').waitFor();
await first.getByRole('button', { name: 'Do this step for me' }).click();
await first.waitForTimeout(500);
console.log(`load of the machine ${loadavg()[0].toFixed(1)} on ${(await import('node:os')).cpus().length} processors`);
const bytes = await first.evaluate(() => [...performance.getEntriesByType('navigation'), ...performance.getEntriesByType('resource')].reduce((sum, e) => sum + e.decodedBodySize, 0));
console.log(`weight of everything, unpacked: ${(bytes / 1000).toFixed(0)} kB`);
const starts = [];
for (let i = 0; i < 7; ++i) {
  await first.reload({ waitUntil: 'commit' });
  await first.locator('.letters').filter({ hasText: 'Known' }).waitFor();
  starts.push(await first.evaluate(() => performance.now()));
}
console.log(`time to the first instruction after loading again: median ${figure(starts, 0.5).toFixed(0)} ms, worst ${Math.max(...starts).toFixed(0)} ms`);
await first.context().close();
await measure([], 'no page');
const pages = [await watched()];
await measure(pages, 'one page');
while (pages.length < 10) pages.push(await watched());
await measure(pages, 'ten pages');
const drawing = await pages[0].evaluate(async () => {
  const { Chart, Series } = await import('/chart.js');
  const canvas = document.body.appendChild(document.createElement('canvas'));
  canvas.className = 'chart';
  const chart = new Chart(canvas);
  const one = new Series();
  for (let i = 0; i < 36000; ++i) one.add(i / 10, Math.floor(i / 150) % 2 ? 240 + Math.sin(i) : 0.002);
  chart.series = [one];
  chart.draw();
  const times = [];
  for (let i = 0; i < 60; ++i) { const from = performance.now(); chart.draw(); times.push(performance.now() - from); }
  chart.end();
  return times;
});
console.log(`an hour at ten samples a second, drawn whole: median ${figure(drawing, 0.5).toFixed(1)} ms, p99 ${figure(drawing, 0.99).toFixed(1)} ms of the 16.7 ms that 60 frames a second leave`);
await server.stop();
await tidy();
