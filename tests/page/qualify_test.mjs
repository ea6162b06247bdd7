// A part is proven good or bad in a real browser, by a person who uses the panel and the keyboard.
import { test, after, afterEach } from 'node:test';
import assert from 'node:assert/strict';
import { appendFileSync, copyFileSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { demo, open, begin, work_through, done, need_browser, folder, source, tidy } from './bench.mjs';

need_browser();
const server = await demo();
let page;
after(async () => { await server.stop(); await tidy(); });
afterEach(async () => { const faults = page?.faults || []; await page?.context().close(); page = null; assert.deepEqual(faults, []); });

test('a good part passes, step by step from the keyboard, and the next part is one key away', async () => {
  page = await open(server.url);
  const tones = [];
  await page.exposeFunction('heard', (name) => tones.push(name));
  await page.evaluate(() => addEventListener('tone', (e) => window.heard(e.detail)));
  await begin(page, { profile: 'interlock-door', serial: 'P-1', plan: 'short' });
  await work_through(page);
  assert.match(await page.locator('.verdict-word').innerText(), /PASS/);
  assert.ok(await page.locator('.verdict.pass').count());
  assert.ok(tones.includes('settled') && tones.at(-1) === 'pass', tones.join());
  const box = await page.locator('.verdict').boundingBox();
  assert.ok(box.height > 0.6 * 860, 'the verdict fills the screen');
  await page.keyboard.press('n');
  await page.getByRole('heading', { name: 'What is on the bench?' }).waitFor();
  assert.equal(await page.locator('#serial').inputValue(), '', 'the serial number is never offered from the last part');
  assert.equal(await page.locator('#operator').inputValue(), 'demo');
  assert.equal(await page.evaluate(() => document.activeElement.id), 'serial');
});

test('a welded contact fails, and the pair and the position are named', async () => {
  page = await open(server.url);
  await page.locator('#profile option').first().waitFor({ state: 'attached' });
  await page.locator('#profile').selectOption('interlock-door');
  const fault = await page.see(() => [...document.querySelectorAll('#fault option')].find((o) => o.value.startsWith('stuck-closed:'))?.value);
  await page.locator('#fault').selectOption(fault);
  await begin(page, { profile: 'interlock-door', serial: 'F-1', plan: 'short' });
  await work_through(page);
  assert.match(await page.locator('.verdict-word').innerText(), /FAIL/);
  assert.match(await page.locator('.verdict ul').innerText(), /stays closed/);
  await done(page);
  await page.locator('#fault').selectOption('');
});

test('records are found again, with report and bag', async () => {
  page = await open(`${server.url}#records`);
  await page.locator('#find').fill('P-1');
  await page.see(() => document.querySelectorAll('tbody tr').length === 1);
  assert.match(await page.locator('tbody tr').innerText(), /pass\s+for continuity/, 'a pass never stands without its scope');
  await page.locator('#find').fill('F-1');
  await page.see(() => /F-1/.test(document.querySelector('tbody').textContent));
  const rows = page.locator('tbody tr');
  await page.see(() => document.querySelectorAll('tbody tr').length === 1);
  assert.match(await rows.first().innerText(), /fail/);
  const [report] = await Promise.all([page.context().waitForEvent('page'), rows.first().locator('a[href$="/report"]').click()]);
  await report.waitForLoadState();
  assert.match(await report.locator('body').innerText(), /F-1/);
  const [download] = await Promise.all([page.waitForEvent('download'), rows.first().getByRole('link', { name: /^Bag/ }).click()]);
  assert.match(download.suggestedFilename(), /\.tar$/);
});

test('what another instrument found is stated on the page: without it the verdict waits, beyond its limit it fails', async () => {
  const shelf = join(folder, 'data/switchwright/profiles');
  mkdirSync(shelf, { recursive: true });
  const file = join(shelf, 'stated-door.toml');
  copyFileSync(join(source, 'profiles/interlock-door.toml'), file);
  appendFileSync(file, '\n[[stated]]\nid = "insulation"\nquantity = "insulation-resistance"\nwhat = "all terminals to the housing, 500 V DC"\nmin_ohm = 1e6\nseverity = "critical"\n');
  const bench = await demo('--profile', 'stated-door');
  page = await open(bench.url);
  //       what is stated                                               verdict
  const rows = [['',                                                     'UNDECIDED'],
                ['0.2 Mohm, U=10%, instrument=IT-7, due=2099-01-31',     'FAIL'],
                ['500 Mohm, U=10%, instrument=IT-7, due=2099-01-31',     'PASS']];
  for (const [stated, verdict] of rows) {
    await page.locator('#profile option').first().waitFor({ state: 'attached' });
    await begin(page, { profile: 'stated-door', serial: `I-${verdict}`, plan: 'short', stated_insulation: stated });
    await work_through(page);
    assert.match(await page.locator('.verdict-word').innerText(), new RegExp(verdict), stated);
    assert.match(await page.locator('.verdict').innerText(), /insulation|other instruments/i);
    await done(page);
  }
  await bench.stop();
});
