// A program that is exchanged for a newer one while pages are open. The newer one is this one with other bytes in its page: the
// version in it, and a word that can be seen.
import { test, after } from 'node:test';
import assert from 'node:assert/strict';
import { chmodSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { demo, open, wire, binary, folder, need_browser, tidy } from './bench.mjs';

need_browser();
after(tidy);

/** A copy of the program in which one text of the page and its version are others of the same length. */
function newer(version) {
  const other = version.replace(/./g, (c) => (c === '0' ? '1' : '0'));
  const text = readFileSync(binary).toString('latin1');
  assert.ok(text.includes(version) && text.includes('What is on the bench?'));
  const file = join(folder, 'newer');
  writeFileSync(file, Buffer.from(text.replaceAll(version, other).replaceAll('What is on the bench?', 'What lay on the bench'), 'latin1'));
  chmodSync(file, 0o755);
  return file;
}

test('a page of an older version says so and loads again, and then is the newer one', async () => {
  const old = await demo();
  const line = await wire(old);
  const page = await open(line.url);
  await page.getByRole('heading', { name: 'What is on the bench?' }).waitFor();
  const version = page.of_type('hello')[0].version;
  const next = await demo({ binary: newer(version) });
  // What it says stands for less than a second: it is written down when it appears.
  await page.evaluate(() => new MutationObserver(() => { const text = document.querySelector('#offline').textContent; if (/older version/.test(text)) sessionStorage.setItem('said', text); })
    .observe(document.querySelector('#offline'), { childList: true, subtree: true, characterData: true }));
  line.cut();
  await page.getByText('The line to the program is gone').waitFor();
  line.mend(next);
  await page.getByRole('heading', { name: 'What lay on the bench' }).waitFor();
  assert.match(await page.evaluate(() => sessionStorage.getItem('said')), /this page is of an older version and loads again/);
  assert.notEqual(page.of_type('hello').at(-1).version, version);
  assert.deepEqual(page.faults, []);
  await page.context().close();
  line.end();
  await old.stop();
  await next.stop();
});

test('a page whose program was started anew with its token asks for the token again, and goes on with it', async () => {
  const token_file = join(folder, 'token');
  const first = await demo('--token-file', token_file);
  const page = await open(first.url);
  await page.getByRole('heading', { name: 'What is on the bench?' }).waitFor();
  await first.stop();
  await page.getByText('The line to the program is gone').waitFor();
  const again = await demo('--token-file', token_file, '--listen', first.host);
  await page.getByRole('heading', { name: 'This page is locked' }).waitFor();
  await page.locator('#token').fill('wrong');
  await page.keyboard.press('Enter');
  await page.getByText('That is not the token').waitFor();
  await page.locator('#token').fill(readFileSync(token_file, 'utf8').trim());
  await page.keyboard.press('Enter');
  await page.getByRole('heading', { name: 'What is on the bench?' }).waitFor();
  await page.context().close();
  await again.stop();
});
