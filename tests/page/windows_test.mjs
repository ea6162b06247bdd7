// Pages that go away, come back, and are two at once.
import { test, after, afterEach } from 'node:test';
import assert from 'node:assert/strict';
import { demo, open, wire, answered, begin, stop_work, done, need_browser, tidy } from './bench.mjs';

need_browser();
const server = await demo();
let page;
after(async () => { await server.stop(); await tidy(); });
afterEach(async () => { const faults = page?.faults || []; await page?.context().close(); page = null; assert.deepEqual(faults, []); });

const question = (one) => one.locator('.bench').getAttribute('data-question');
const on_the_bench = async (serial) => {
  await begin(page, { profile: 'interlock-door', serial });
  await page.locator('#who').fill('demo');
  await page.keyboard.press('Enter');
  await page.getByText('Known live source').waitFor();
};

test('a page that is loaded again stands at the same step within a second', async () => {
  page = await open(server.url);
  await on_the_bench('R-1');
  const was = await question(page);
  // The best of a few: what else this machine does meanwhile is not what is asked.
  const took_ms = [];
  for (let i = 0; i < 5 && !took_ms.some((ms) => ms < 1000); ++i) {
    await page.reload();
    await page.getByText('Known live source').waitFor();
    took_ms.push(await page.evaluate(() => performance.getEntriesByName('shown')[0].startTime));
    assert.equal(await question(page), was);
  }
  assert.ok(took_ms.some((ms) => ms < 1000), `${took_ms.map(Math.round)} ms from the request to the step`);
  await stop_work(page);
  await done(page);
});

test('a line that is cut is said, comes back by itself to what has settled meanwhile, and nothing measured is lost', async () => {
  const line = await wire(server);
  page = await open(line.url);
  const other = await open(server.url);
  await on_the_bench('R-2');
  const was = await question(page);
  line.cut();
  await page.getByText('The line to the program is gone').waitFor();
  await other.getByRole('button', { name: 'Do this step for me' }).click();
  await other.see(() => document.querySelector('.reading').dataset.state === 'settled');
  line.mend();
  await page.see(() => document.querySelector('#offline').hidden && document.querySelector('.reading').dataset.state === 'settled');
  assert.equal(await question(page), was);
  assert.equal(await page.locator('.figure').first().innerText(), await other.locator('.figure').first().innerText());
  await page.evaluate(() => document.activeElement?.blur());
  await page.keyboard.press('Enter');
  await page.see((old) => document.querySelector('.bench').dataset.question !== old, was);
  await stop_work(page);
  await done(page);
  line.end();
  await other.context().close();
});

test('two windows stay in step, and an answer from the second that comes late changes nothing', async () => {
  page = await open(server.url);
  const other = await open(server.url);
  await begin(page, { profile: 'interlock-door', serial: 'W-1' });
  await other.locator('#who').fill('the other');
  await page.locator('#who').fill('the first');
  await Promise.all([page.keyboard.press('Enter'), other.keyboard.press('Enter')]);
  for (const one of [page, other]) await one.getByText('Known live source').waitFor();
  for (const one of [page, other]) await answered(one);
  assert.equal(page.of_type('acknowledged').length, 1);
  assert.equal(await page.locator('.bench-head').innerText(), await other.locator('.bench-head').innerText());
  await page.getByRole('button', { name: 'Do this step for me' }).click();
  for (const one of [page, other]) await one.see(() => document.querySelector('.reading').dataset.state === 'settled');
  for (const one of [page, other]) await one.evaluate(() => document.activeElement?.blur());
  await Promise.all([page.keyboard.press('Enter'), other.keyboard.press('Enter')]);
  for (const one of [page, other]) await one.see(() => document.querySelector('.bench-head b').textContent === 'Step 3');
  for (const one of [page, other]) await answered(one);
  const step = (one) => one.locator('.bench-head b').innerText();
  assert.deepEqual([await step(page), await step(other)], ['Step 3', 'Step 3']);
  await stop_work(page);
  await other.locator('.verdict.stopped').waitFor();
  await other.context().close();
  await done(page);
});
