// What needs no part: a meter that is listened to, and an exercise.
import { test, after, afterEach } from 'node:test';
import assert from 'node:assert/strict';
import { demo, open, need_browser, tidy } from './bench.mjs';

need_browser();
const server = await demo();
let page;
after(async () => { await server.stop(); await tidy(); });
afterEach(async () => { const faults = page?.faults || []; await page?.context().close(); page = null; assert.deepEqual(faults, []); });

test('a meter is listened to without keeping anything, and an exercise is done', async () => {
  page = await open(`${server.url}#meters`);
  await page.getByRole('button', { name: 'Show what it reads' }).click();
  await page.see(() => /V|ohm|over/.test(document.querySelector('.figure').textContent));
  await page.getByRole('button', { name: 'Stop listening' }).click();
  await page.getByRole('button', { name: 'Show what it reads' }).waitFor();
  await page.goto(`${server.url}#practice`);
  await page.locator('#pp option').first().waitFor({ state: 'attached' });
  await page.getByRole('button', { name: 'Put one on the bench' }).click();
  await page.getByRole('button', { name: 'Take the most telling reading' }).click();
  await page.see(() => /^1 reading taken/.test(document.querySelector('.bench [role=status]')?.textContent || ''));
  await page.getByRole('button', { name: 'Give up and show' }).click();
  await page.getByText('Given up').waitFor();
  assert.doesNotMatch(await page.locator('main').innerText(), /null|undefined/);
  await page.getByRole('button', { name: 'Another one' }).click();
});
