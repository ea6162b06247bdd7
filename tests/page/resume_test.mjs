// Work that stopped is gone on with where it stood.
import { test, after, afterEach } from 'node:test';
import assert from 'node:assert/strict';
import { join } from 'node:path';
import { demo, open, begin, work_through, stop_work, done, folder, need_browser, tidy } from './bench.mjs';

need_browser();
let server = await demo('--store', join(folder, 'kept.sqlite'));
let page;
after(async () => { await server.stop(); await tidy(); });
afterEach(async () => { const faults = page?.faults || []; await page?.context().close(); page = null; assert.deepEqual(faults, []); });

test('a program that was killed in the middle is gone on with at the step where it stood', async () => {
  page = await open(server.url);
  await begin(page, { profile: 'interlock-door', serial: 'K-1' });
  let measured = 0;
  await work_through(page, { stop: (state) => state.kind === 'measure' && ++measured > 2 });
  const letters = await page.locator('.letters').innerText(), where = await page.locator('.where').innerText();
  const kept = page.heard.filter((m) => m.event?.row).length;
  assert.ok(kept >= 2);
  await server.stop('SIGKILL');
  await page.getByText('The line to the program is gone').waitFor();
  server = await demo('--store', join(folder, 'kept.sqlite'));
  await page.goto(server.url);
  await page.getByRole('button', { name: /^Go on with demonstration part K-1/ }).click();
  let reached = 0;
  await work_through(page, { stop: (state) => state.kind === 'measure' && ++reached > 0 });
  // Acknowledged and proven anew; what was measured is not measured again.
  assert.equal(await page.locator('.letters').innerText(), letters);
  assert.equal(await page.locator('.where').innerText(), where);
  await work_through(page);
  assert.match(await page.locator('.verdict-word').innerText(), /PASS/);
  await done(page);
});

test('an unfinished record is gone on with from the list, also when another part is on the bench by now', async () => {
  page = await open(server.url);
  await begin(page, { profile: 'interlock-door', serial: 'U-1' });
  await work_through(page, { stop: (state) => state.kind === 'measure' });
  await stop_work(page);
  await done(page);
  await page.locator('#profile').selectOption('rocker-lamp');
  await page.see(() => [...document.querySelectorAll('#red option')].some((o) => o.value === '1'));
  await page.goto(`${server.url}#records`);
  await page.getByRole('button', { name: /^Go on with demonstration part U-1/ }).click();
  await page.locator('.bench').waitFor();
  await page.see(() => document.querySelector('.bench')?.dataset.question);
  assert.match(await page.locator('.bench-head').innerText(), /U-1/);
  assert.ok((await page.locator('#red option').allInnerTexts()).includes('COM'));
  await stop_work(page);
});
