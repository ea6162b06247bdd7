// What is kept is found again and handed on.
import { test, after, afterEach } from 'node:test';
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { demo, open, begin, done, until, patience, folder, need_browser, tidy } from './bench.mjs';

need_browser();
const server = await demo();
let page;
after(async () => { await server.stop(); await tidy(); });
afterEach(async () => { const faults = page?.faults || []; await page?.context().close(); page = null; assert.deepEqual(faults, []); });

/** What a link downloads, as a file. A machine that does much else may be told to try again (503), as a person is. */
async function fetched(link) {
  const url = new URL(await link.getAttribute('href'), server.url);
  const answer = await until(async () => { const one = await fetch(url); return one.status === 503 ? null : one; }, 4 * patience);
  assert.equal(answer.status, 200, String(url));
  const file = join(folder, answer.headers.get('content-disposition').match(/^attachment; filename="(switchwright-[\w.-]+)"$/)[1]);
  writeFileSync(file, Buffer.from(await answer.arrayBuffer()));
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
  assert.match(await row.innerText(), /pass\s+for continuity/, 'a pass never stands without its scope');
  const [claim] = await Promise.all([page.context().waitForEvent('page'), row.getByRole('link', { name: /^Claim/ }).click()]);
  await claim.waitForLoadState();
  const text = await claim.locator('body').innerText();
  assert.match(text, /C-1/);
  assert.match(text, /trace/i);
  await claim.close();
  const pdf = execFileSync('pdftotext', [await fetched(row.getByRole('link', { name: /^PDF/ })), '-'], { encoding: 'utf8' });
  assert.match(pdf, /C-1/);
  const label = await fetched(row.getByRole('link', { name: /^Label/ }));
  assert.match(execFileSync('pdftotext', [label, '-'], { encoding: 'utf8' }), /C-1/);
  // 62 mm wide, as the label's page says of itself (1 pt is 25.4/72 mm)
  const width_pt = Number(execFileSync('pdfinfo', [label], { encoding: 'utf8' }).match(/Page size:\s+([\d.]+)/)[1]);
  assert.ok(Math.abs(width_pt * 25.4 / 72 - 62) < 0.5, `${width_pt} pt`);
  assert.match(readFileSync(await fetched(row.getByRole('link', { name: /^CSV/ })), 'utf8'), /^record,position,terminal_1/);
  const [download] = await Promise.all([page.waitForEvent('download'), row.getByRole('link', { name: /^Bag/ }).click()]);
  assert.match(download.suggestedFilename(), /\.tar$/);
  const bag = await fetched(row.getByRole('link', { name: /^Bag/ }));
  assert.match(execFileSync('tar', ['-tf', bag], { encoding: 'utf8' }), /manifest-sha256\.txt/);
});

test('a claim that cannot be made and a record that is not there are said in a sentence', async () => {
  for (const path of ['records/20990101-000000-0000/claim', 'records/20990101-000000-0000/label']) {
    const answer = await fetch(server.url + path);
    assert.equal(answer.status, 404);
    assert.match(await answer.text(), /no record is called "20990101-000000-0000"/);
  }
});
