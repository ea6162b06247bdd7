// Figures of the bench page: from a reading to its painted pixels with one page and with ten, the server's share of a processor at
// 64 readings a second, the weight of the page, the time to the first instruction, and a trace of an hour at ten samples a second
// that is drawn while it grows. The meter is simulated in a process of its own, so the server's share is the server's.
// Run: node tests/bench/page/measure.mjs (about two minutes on a quiet machine)
import { spawn } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { cpus, loadavg } from 'node:os';
import net from 'node:net';
import { binary, serve, open, browser, need_browser, quiet, tidy } from '../../page/bench.mjs';

need_browser();
const seconds_measured = 20;
const sleep = (s) => new Promise((r) => setTimeout(r, s * 1000));
const at_share = (all, share) => [...all].sort((a, b) => a - b)[Math.min(all.length - 1, Math.floor(all.length * share))];
/** Processor seconds that a process has used (proc(5): utime and stime in clock ticks of 10 ms). */
function used_s(pid) {
  const fields = readFileSync(`/proc/${pid}/stat`, 'utf8').split(') ')[1].split(' ');
  return (Number(fields[11]) + Number(fields[12])) / 100;
}
const machine = () => `${new Date().toISOString().slice(0, 16)}Z, ${cpus().length} processors, load average ${loadavg()[0].toFixed(1)}`;

const simulator = spawn(binary, ['simulate', '--profile', 'interlock-door', '--meter', 'lcd-segment-14', '--rate', '64'], { stdio: ['ignore', 'pipe', 'ignore'] });
const ready = await new Promise((resolve) => simulator.stdout.once('data', (data) => resolve(JSON.parse(String(data).split('\n')[0]))));
const hands = net.connect(ready.hands);
/** The simulated hands put the probes on the known source, where the first step wants them. */
const on_source = () => new Promise((resolve) => { hands.once('data', resolve); hands.write('{"id":1,"probes":"known-source","dial":"voltage-ac"}\n'); });
const server = await serve();

const first = await open(server.url);
await first.locator('#meter option').first().waitFor({ state: 'attached' });
await quiet(first);
const weight = await first.evaluate(() => [...performance.getEntriesByType('navigation'), ...performance.getEntriesByType('resource')]
  .filter((e) => !e.name.includes('/api/')).reduce((sum, e) => sum + e.decodedBodySize, 0));
await first.locator('#profile').selectOption('interlock-door');
await first.locator('#meter').selectOption('lcd-segment-14');
for (const [id, text] of [['port', ready.port], ['serial', 'M-1'], ['operator', 'demo']]) await first.locator(`#${id}`).fill(text);
await first.getByRole('button', { name: 'Begin' }).click();
await first.locator('#who').fill('demo');
await first.keyboard.press('Enter');
await first.getByText('Known live source').waitFor();
await on_source();
await first.see(() => document.querySelector('.reading').dataset.state === 'settled');
console.log(machine());
console.log(`weight of the page, unpacked: ${(weight / 1000).toFixed(0)} kB`);

const shown = (page) => page.evaluate(() => performance.getEntriesByName('shown')[0]?.startTime);
const again = [], anew = [];
for (let i = 0; i < 9; ++i) { await first.reload(); again.push(await first.see(() => performance.getEntriesByName('shown')[0]?.startTime)); }
for (let i = 0; i < 9; ++i) { const page = await open(server.url); await page.see(() => performance.getEntriesByName('shown').length); anew.push(await shown(page)); await page.context().close(); }
console.log(`from the request to the instruction: loaded again median ${at_share(again, 0.5).toFixed(0)} ms, worst ${Math.max(...again).toFixed(0)} ms; for the first time median ${at_share(anew, 0.5).toFixed(0)} ms, worst ${Math.max(...anew).toFixed(0)} ms (9 each)`);
await first.context().close();

/** Notes, for every reading that arrives, when the frame that shows it has been painted. */
function watch() {
  window.lags = [];
  window.arrived = 0;
  const Real = WebSocket;
  window.WebSocket = class extends Real {
    constructor(...all) {
      super(...all);
      this.addEventListener('message', (m) => {
        const { event } = JSON.parse(m.data);
        if (event?.type !== 'reading') return;
        window.arrived += 1;
        const at = Date.parse(event.time);
        requestAnimationFrame(() => { const channel = new MessageChannel(); channel.port1.onmessage = () => window.lags.push(Date.now() - at); channel.port2.postMessage(0); });
      });
    }
  };
}
// Pages of one browser, as tabs are; every one of them is drawn.
const context = await (await browser()).newContext({ viewport: { width: 1280, height: 860 } });
await context.addInitScript(watch);
async function watched() {
  const page = await context.newPage();
  await page.goto(server.url);
  await page.locator('.letters').filter({ hasText: 'Known' }).waitFor();
  return page;
}
async function measure(pages, name) {
  for (const page of pages) await page.evaluate(() => { window.lags = []; window.arrived = 0; });
  const before = used_s(server.process.pid);
  await sleep(seconds_measured);
  const share = (used_s(server.process.pid) - before) / seconds_measured;
  const lags = (await Promise.all(pages.map((page) => page.evaluate(() => window.lags)))).flat();
  const arrived = (await Promise.all(pages.map((page) => page.evaluate(() => window.arrived)))).reduce((a, b) => a + b, 0);
  console.log(`${name}, 64 readings a second: server ${(100 * share).toFixed(1)} % of one processor` +
    (lags.length ? `; reading to painted pixels median ${at_share(lags, 0.5)} ms, p95 ${at_share(lags, 0.95)} ms, worst ${Math.max(...lags)} ms; ${(arrived / pages.length / seconds_measured).toFixed(0)} readings a second at each page` : ''));
}
await measure([], 'no page');
const pages = [await watched()];
await measure(pages, 'one page');
while (pages.length < 10) pages.push(await watched());
await measure(pages, 'ten pages');
for (const page of pages.slice(1)) await page.close();

const hour = await pages[0].evaluate(async (seconds) => {
  const { Chart, Series } = await import('/chart.js');
  const canvas = document.body.appendChild(document.createElement('canvas'));
  canvas.className = 'chart';
  const chart = new Chart(canvas);
  const one = new Series();
  let n = 0;
  const more = () => { one.add(n / 10, Math.floor(n / 150) % 2 ? 240 + Math.sin(n) : 0.002); ++n; };
  while (n < 36000) more();
  chart.series = [one];
  chart.levels = [0.002, 240];
  const draw = chart.draw.bind(chart);
  const cost = [], frames = [];
  chart.draw = () => { const from = performance.now(); draw(); canvas.getContext('2d').getImageData(0, 0, 1, 1); cost.push(performance.now() - from); };
  const begun = performance.now();
  let last = begun;
  await new Promise((resolve) => {
    const frame = (now) => {
      frames.push(now - last);
      last = now;
      more();
      chart.dirty = true;  // every frame draws anew, six times as often as samples come
      if (now - begun > 1000 * seconds) resolve(); else requestAnimationFrame(frame);
    };
    requestAnimationFrame(frame);
  });
  chart.end();
  return { fps: 1000 * frames.length / (last - begun), cost, long: frames.filter((x) => x > 34).length, frames: frames.length };
}, 10);
console.log(`an hour at ten samples a second, drawn whole in every frame: ${hour.fps.toFixed(1)} frames a second, one drawing median ${at_share(hour.cost, 0.5).toFixed(1)} ms, p99 ${at_share(hour.cost, 0.99).toFixed(1)} ms; ${hour.long} of ${hour.frames} frames longer than two`);
hands.destroy();
simulator.kill('SIGINT');
await server.stop('SIGKILL');
await tidy();
