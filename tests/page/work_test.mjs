// Whole pieces of work in a real browser, by a person who uses the panel and the keyboard.
import { test, after, afterEach } from 'node:test';
import assert from 'node:assert/strict';
import { demo, open, begin, work_through, tidy } from './bench.mjs';

const server = await demo();
let page;
after(async () => { await server.stop(); await tidy(); });
afterEach(async () => { const faults = page?.faults || []; await page?.context().close(); page = null; assert.deepEqual(faults, []); });
const done = async () => { await page.keyboard.press('Enter'); await page.getByRole('heading', { name: 'What is on the bench?' }).waitFor(); };

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
  const fault = await page.waitForFunction(() => [...document.querySelectorAll('#fault option')].find((o) => o.value.startsWith('stuck-closed:'))?.value).then((x) => x.jsonValue());
  await page.locator('#fault').selectOption(fault);
  await begin(page, { profile: 'interlock-door', serial: 'F-1', plan: 'short' });
  await work_through(page);
  assert.match(await page.locator('.verdict-word').innerText(), /FAIL/);
  assert.match(await page.locator('.verdict ul').innerText(), /stays closed/);
  await done();
  await page.locator('#fault').selectOption('');
});

test('records are found again, with report and bag', async () => {
  page = await open(`${server.url}#records`);
  await page.locator('#find').fill('P-1');
  await page.waitForFunction(() => document.querySelectorAll('tbody tr').length === 1);
  assert.match(await page.locator('tbody tr').innerText(), /pass\s+for continuity/, 'a pass never stands without its scope');
  await page.locator('#find').fill('F-1');
  await page.waitForFunction(() => /F-1/.test(document.querySelector('tbody').textContent));
  const rows = page.locator('tbody tr');
  await page.waitForFunction(() => document.querySelectorAll('tbody tr').length === 1);
  assert.match(await rows.first().innerText(), /fail/);
  const [report] = await Promise.all([page.context().waitForEvent('page'), rows.first().getByRole('link', { name: /^Report/ }).click()]);
  await report.waitForLoadState();
  assert.match(await report.locator('body').innerText(), /F-1/);
  const [download] = await Promise.all([page.waitForEvent('download'), rows.first().getByRole('link', { name: /bag/ }).click()]);
  assert.match(download.suggestedFilename(), /\.tar$/);
});

test('a page that goes away comes back to the same step within a second, and the measurement went on', async () => {
  page = await open(server.url);
  await begin(page, { profile: 'interlock-door', serial: 'R-1' });
  await page.locator('#who').fill('demo');
  await page.keyboard.press('Enter');
  await page.getByText('Known live source').waitFor();
  const was = await page.locator('.bench-head b').innerText();
  await page.reload();
  const from = Date.now();
  await page.getByText('Known live source').waitFor();
  assert.ok(Date.now() - from < 1000, `${Date.now() - from} ms`);
  assert.equal(await page.locator('.bench-head b').innerText(), was);
  // The network drops: the page says so, comes back by itself, and shows what has settled meanwhile.
  await page.context().setOffline(true);
  await page.evaluate(() => { window.dropped = performance.now(); });
  await page.context().setOffline(false);
  await page.getByRole('button', { name: 'Do this step for me' }).click();
  await page.waitForFunction(() => document.querySelector('.reading').dataset.state === 'settled');
  await page.keyboard.press('q');
  await page.getByRole('button', { name: 'Stop and keep' }).last().click();
  await page.locator('.verdict.stopped').waitFor();
  await done();
});

test('two windows stay in step, and an answer from the second that comes late changes nothing', async () => {
  page = await open(server.url);
  const other = await open(server.url);
  await begin(page, { profile: 'interlock-door', serial: 'W-1' });
  await other.locator('#who').fill('the other');
  await page.locator('#who').fill('the first');
  await Promise.all([page.keyboard.press('Enter'), other.keyboard.press('Enter')]);
  for (const one of [page, other]) await one.getByText('Known live source').waitFor();
  assert.equal(await page.locator('.bench-head').innerText(), await other.locator('.bench-head').innerText());
  await page.getByRole('button', { name: 'Do this step for me' }).click();
  for (const one of [page, other]) await one.waitForFunction(() => document.querySelector('.reading').dataset.state === 'settled');
  for (const one of [page, other]) await one.evaluate(() => document.activeElement?.blur());
  await Promise.all([page.keyboard.press('Enter'), other.keyboard.press('Enter')]);
  const step = (one) => one.locator('.bench-head b').innerText();
  await page.waitForFunction(() => document.querySelector('.bench-head b').textContent === 'Step 3');
  await other.waitForFunction(() => document.querySelector('.bench-head b').textContent === 'Step 3');
  await new Promise((r) => setTimeout(r, 300));
  assert.deepEqual([await step(page), await step(other)], ['Step 3', 'Step 3']);
  await page.keyboard.press('q');
  await page.getByRole('button', { name: 'Stop and keep' }).last().click();
  await other.locator('.verdict.stopped').waitFor();
  await other.context().close();
  await done();
});

test('a meter is listened to without keeping anything, and an exercise is done', async () => {
  page = await open(`${server.url}#meters`);
  await page.getByRole('button', { name: 'Show what it reads' }).click();
  await page.waitForFunction(() => /V|ohm|over/.test(document.querySelector('.figure').textContent));
  await page.getByRole('button', { name: 'Stop listening' }).click();
  await page.getByRole('button', { name: 'Show what it reads' }).waitFor();
  await page.goto(`${server.url}#practice`);
  await page.locator('#pp option').first().waitFor({ state: 'attached' });
  await page.getByRole('button', { name: 'Put one on the bench' }).click();
  await page.getByRole('button', { name: 'Take the most telling reading' }).click({ timeout: 20000 });
  await page.waitForFunction(() => /^1 readings/.test(document.querySelector('.bench [role=status]')?.textContent || ''));
  await page.getByRole('button', { name: 'Give up and show' }).click();
  await page.getByText('Given up').waitFor();
  assert.doesNotMatch(await page.locator('main').innerText(), /null|undefined/);
  await page.getByRole('button', { name: 'Another one' }).click();
});

test('under power: its own acknowledgement, the LIVE banner while the supply is on, and a verdict', async () => {
  page = await open(server.url);
  await begin(page, { profile: 'rocker-lamp', serial: 'V-1', kind: 'qualify-powered', by_itself: true });
  await page.locator('.live-banner:not([hidden])').waitFor({ timeout: 90000 });
  assert.match(await page.locator('.live-banner').innerText(), /LIVE/);
  await page.locator('.verdict').waitFor({ timeout: 90000 });
  assert.match(await page.locator('.verdict-word').innerText(), /PASS|UNDECIDED/);
  await done();
});

test('a trace is drawn as it grows, its cycles stand in a table, and it is judged when it ends', async () => {
  page = await open(server.url);
  await begin(page, { profile: 'regulator-shunt-240', kind: 'trace', serial: 'T-1', position: 'medium', supply: '240 V' });
  await page.locator('#dial').selectOption('voltage-ac');
  await page.locator('#power').check();
  const ends = await page.locator('#red option').allInnerTexts();
  assert.ok(ends.includes('H1') && ends.includes('H2'));
  await page.locator('#red').selectOption('H1');
  await page.locator('#black').selectOption('H2');
  await page.locator('#knob').selectOption('medium');
  await page.waitForFunction(() => /V/.test(document.querySelector('.tile dd')?.textContent || ''));
  // A cycle of the supply by hand is shorter than one of the bimetal.
  for (const on of [false, true, false, true]) {
    await page.waitForTimeout(3000);
    await page.locator('#power').setChecked(on);
  }
  await page.waitForFunction(() => document.querySelectorAll('tbody th').length >= 1, null, { timeout: 60000 });
  const painted = await page.locator('canvas').evaluate((c) => { const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data; let n = 0; for (let i = 3; i < d.length; i += 4) n += d[i] > 0; return n; });
  assert.ok(painted > 1000);
  await page.evaluate(() => document.activeElement?.blur());
  await page.keyboard.press('q');
  await page.getByRole('button', { name: 'End and judge' }).last().click();
  await page.locator('.verdict').waitFor();
  assert.match(await page.locator('.verdict-word').innerText(), /UNDECIDED|FAIL|PASS/);
  await done();
});
