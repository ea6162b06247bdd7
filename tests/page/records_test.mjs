// What is kept is found again, handed on, and gone on with.
import { test, after, afterEach } from 'node:test';
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { join } from 'node:path';
import { demo, open, begin, work_through, stop_work, done, folder, need_browser, tidy } from './bench.mjs';

need_browser();
let server = await demo('--store', join(folder, 'kept.sqlite'));
let page;
after(async () => { await server.stop(); await tidy(); });
afterEach(async () => { const faults = page?.faults || []; await page?.context().close(); page = null; assert.deepEqual(faults, []); });

/** Follows a link that downloads; its first bytes. */
async function fetched(link) {
  const [download] = await Promise.all([page.waitForEvent('download'), link.click()]);
  const file = join(folder, download.suggestedFilename());
  await download.saveAs(file);
  return file;
}

test('a piece with a qualification and a trace has a claim; both have report, PDF, CSV, label and bag', async () => {
  page = await open(server.url);
  await begin(page, { profile: 'rocker-lamp', serial: 'C-1', plan: 'short', by_itself: true });
  await page.locator('.verdict').waitFor();
  await done(page);
  await begin(page, { profile: 'rocker-lamp', kind: 'trace', serial: 'C-1', supply: '120 V' });
  await page.locator('#dial').selectOption('voltage-ac');
  await page.locator('#red').selectOption({ index: 1 });
  await page.locator('#black').selectOption({ index: 2 });
  await page.see(() => document.querySelector('.tile dd') && !/no data|waiting/.test(document.querySelector('.tile dd').textContent));
  await page.evaluate(() => document.activeElement?.blur());
  await page.keyboard.press('q');
  await page.getByRole('button', { name: 'End and judge' }).last().click();
  await page.locator('.verdict').waitFor();
  await done(page);
  await page.goto(`${server.url}#records`);
  await page.locator('#find').fill('C-1');
  await page.see(() => document.querySelectorAll('tbody tr').length === 2);
  await page.locator('#kind').selectOption('trace');
  await page.see(() => document.querySelectorAll('tbody tr').length === 1);
  await page.locator('#kind').selectOption('');
  await page.locator('#outcome').selectOption('pass');
  await page.see(() => document.querySelectorAll('tbody tr').length < 2);
  await page.locator('#outcome').selectOption('');
  await page.see(() => document.querySelectorAll('tbody tr').length === 2);
  const row = page.locator('tbody tr').filter({ hasText: 'qualify' });
  const [claim] = await Promise.all([page.context().waitForEvent('page'), row.getByRole('link', { name: /^Claim/ }).click()]);
  await claim.waitForLoadState();
  const text = await claim.locator('body').innerText();
  assert.match(text, /C-1/);
  assert.match(text, /trace/i);
  await claim.close();
  const pdf = execFileSync('pdftotext', [await fetched(row.getByRole('link', { name: /as PDF/ })), '-'], { encoding: 'utf8' });
  assert.match(pdf, /C-1/);
  const label = await fetched(row.getByRole('link', { name: /^Label/ }));
  assert.match(execFileSync('pdftotext', [label, '-'], { encoding: 'utf8' }), /C-1/);
  // 62 mm wide, as the label's page says of itself (1 pt is 25.4/72 mm)
  const width_pt = Number(execFileSync('pdfinfo', [label], { encoding: 'utf8' }).match(/Page size:\s+([\d.]+)/)[1]);
  assert.ok(Math.abs(width_pt * 25.4 / 72 - 62) < 0.5, `${width_pt} pt`);
  const bag = await fetched(row.getByRole('link', { name: /bag/ }));
  assert.match(execFileSync('tar', ['-tf', bag], { encoding: 'utf8' }), /manifest-sha256\.txt/);
});

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

test('a claim that cannot be made and a record that is not there are said in a sentence', async () => {
  for (const path of ['records/20990101-000000-0000/claim', 'records/20990101-000000-0000/label']) {
    const answer = await fetch(server.url + path);
    assert.equal(answer.status, 404);
    assert.match(await answer.text(), /no record is called "20990101-000000-0000"/);
  }
});
