// A trace in a real browser.
import { test, after, afterEach } from 'node:test';
import assert from 'node:assert/strict';
import { demo, open, begin, done, need_browser, tidy } from './bench.mjs';

need_browser();
const server = await demo();
let page;
after(async () => { await server.stop(); await tidy(); });
afterEach(async () => { const faults = page?.faults || []; await page?.context().close(); page = null; assert.deepEqual(faults, []); });

test('a trace is drawn as it grows, its cycles stand in a table, and it is judged when it ends', async () => {
  page = await open(server.url);
  await begin(page, { profile: 'regulator-shunt-240', kind: 'trace', serial: 'T-1', position: 'medium', supply: '240 V' });
  await page.locator('#dial').selectOption('voltage-ac');
  const ends = await page.locator('#red option').allInnerTexts();
  assert.ok(ends.includes('H1') && ends.includes('H2'));
  await page.locator('#red').selectOption('H1');
  await page.locator('#black').selectOption('H2');
  await page.locator('#knob').selectOption('medium');
  const supply = async (on) => {
    await page.locator('#power').click();
    await page.see((wanted) => document.querySelector('#power').checked === wanted && (wanted ? /^(on|live)/ : /^(off|dead)/).test(document.querySelector('.tile dd')?.textContent), on);
  };
  await supply(true);
  // A cycle of the supply by hand is shorter than one of the bimetal.
  for (const on of [false, true, false, true]) await supply(on);
  await page.see(() => document.querySelectorAll('tbody th').length >= 1);
  const painted = await page.locator('canvas').evaluate((c) => { const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data; let n = 0; for (let i = 3; i < d.length; i += 4) n += d[i] > 0; return n; });
  assert.ok(painted > 1000);
  await page.evaluate(() => document.activeElement?.blur());
  await page.keyboard.press('q');
  await page.getByRole('button', { name: 'End and judge' }).last().click();
  await page.locator('.verdict').waitFor();
  assert.match(await page.locator('.verdict-word').innerText(), /UNDECIDED|FAIL|PASS/);
  await done(page);
});
