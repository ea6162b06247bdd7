// A trace in a real browser.
import { test, after, afterEach } from 'node:test';
import assert from 'node:assert/strict';
import { demo, open, begin, done, need_browser, tidy } from './bench.mjs';

need_browser();
const server = await demo();
let page;
after(async () => { await server.stop(); await tidy(); });
afterEach(async () => { const faults = page?.faults || []; await page?.context().close(); page = null; assert.deepEqual(faults, []); });

/** Meter, probes and knob as they stand for a trace of the load. */
async function set_up() {
  await page.locator('#dial').selectOption('voltage-ac');
  await page.locator('#red').selectOption('H1');
  await page.locator('#black').selectOption('H2');
  await page.locator('#knob').selectOption('medium');
}
async function supply(on) {
  await page.locator('#power').click();
  await page.see((wanted) => document.querySelector('#power').checked === wanted && new RegExp(wanted ? '^(on|live)' : '^(off|dead)').test(document.querySelector('.tile dd')?.textContent), on);
}
const pixels = () => page.locator('canvas').evaluate((c) => { const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data; let n = 0; for (let i = 3; i < d.length; i += 4) n += d[i] > 0; return n; });
async function end_it() {
  await page.evaluate(() => document.activeElement?.blur());
  await page.keyboard.press('q');
  await page.getByRole('button', { name: 'End and judge' }).last().click();
  await page.locator('.verdict').waitFor();
  assert.match(await page.locator('.verdict .live-banner').innerText(), /switch it off before you touch/);
}

test('a trace is drawn as it grows, its cycles stand in a table, and it is judged when it ends', async () => {
  page = await open(server.url);
  await begin(page, { profile: 'regulator-shunt-240', kind: 'trace', serial: 'T-1', position: 'medium', supply: '240 V' });
  await page.getByText('LIVE parts').waitFor();
  await set_up();
  // A cycle of the supply by hand is shorter than one of the bimetal.
  for (const on of [true, false, true, false, true]) await supply(on);
  await page.see(() => document.querySelectorAll('tbody th').length >= 1);
  await page.see(() => [...document.querySelectorAll('.tile')].some((t) => /Complete cycles/.test(t.textContent) && Number(t.querySelector('dd').textContent) >= 1));
  await page.see(() => [...document.querySelectorAll('.tile')].some((t) => /Duty so far/.test(t.textContent) && /%/.test(t.textContent)));
  assert.ok(await pixels() > 1000);
  // A page that comes now shows the same cycles.
  const cycles = await page.locator('tbody th').allInnerTexts();
  await page.reload();
  await page.see((were) => were.every((one) => [...document.querySelectorAll('tbody th')].some((th) => th.textContent === one)), cycles);
  assert.ok(await pixels() > 1000);
  await end_it();
  // Cycles of a second where the part's take half a minute are no good part.
  assert.match(await page.locator('.verdict-word').innerText(), /FAIL/);
  await done(page);
});

test('a load that stays on beyond its limit is an alarm that is seen and heard, and it ends with the load', async () => {
  page = await open(server.url);
  const fault = await page.see(() => [...document.querySelectorAll('#fault option')].find((o) => o.value === 'stuck-closed:cycling')?.value);
  await page.locator('#fault').selectOption(fault);
  await page.see(() => document.querySelector('#fault').value === 'stuck-closed:cycling');
  await begin(page, { profile: 'regulator-shunt-240', kind: 'trace', serial: 'T-2', position: 'medium', supply: '240 V' });
  await page.evaluate(() => { window.tones = []; addEventListener('tone', (e) => window.tones.push(e.detail)); });
  await set_up();
  await page.see(() => document.querySelector('#power').checked);  // left on by the trace before, as the page has warned
  await page.see(() => /^(on|live)/.test(document.querySelector('.tile dd')?.textContent));
  // profiles/regulator-shunt-240.toml: on for 25 s at most at medium
  await page.see(() => !document.querySelector('.alarm').hidden && /ON for .* where 25/.test(document.querySelector('.alarm').textContent));
  await page.see(() => window.tones.includes('alarm'));
  await supply(false);
  await page.see(() => document.querySelector('.alarm').hidden);
  await end_it();
  assert.doesNotMatch(await page.locator('.verdict-word').innerText(), /PASS/);
  await done(page);
});
