// Under power: voltages with the supply on, and the marks that say so.
import { test, after, afterEach } from 'node:test';
import assert from 'node:assert/strict';
import { demo, open, begin, done, need_browser, tidy } from './bench.mjs';

need_browser();
const server = await demo();
let page;
after(async () => { await server.stop(); await tidy(); });
afterEach(async () => { const faults = page?.faults || []; await page?.context().close(); page = null; assert.deepEqual(faults, []); });

test('under power: its own acknowledgement, the LIVE banner while the supply is on, and a verdict', async () => {
  page = await open(server.url);
  await begin(page, { profile: 'rocker-lamp', serial: 'V-1', kind: 'qualify-powered', by_itself: true });
  await page.locator('.live-banner:not([hidden])').waitFor();
  assert.match(await page.locator('.live-banner').innerText(), /LIVE/);
  await page.locator('.verdict').waitFor();
  assert.match(await page.locator('.verdict-word').innerText(), /PASS|UNDECIDED/);
  await done(page);
});
