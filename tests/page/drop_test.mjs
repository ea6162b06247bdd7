// The millivolt drop in a real browser: the supply's current is typed as its display shows it.
import { test, after, afterEach } from 'node:test';
import assert from 'node:assert/strict';
import { demo, open, begin, until, done, need_browser, tidy } from './bench.mjs';

need_browser();
const server = await demo();
let page;
after(async () => { await server.stop(); await tidy(); });
afterEach(async () => { const faults = page?.faults || []; await page?.context().close(); page = null; assert.deepEqual(faults, []); });

const gone = (was) => Boolean(document.querySelector('.verdict')) || document.querySelector('.bench')?.dataset.question !== was;
const settled = () => document.querySelector('.reading')?.dataset.state === 'settled';
async function type_in(text) {
  await page.getByRole('button', { name: 'Type what it shows' }).click();
  await page.locator('#asked').fill(text);
  await page.keyboard.press('Enter');
}
/** Does the drop from the panel. @param shows what the display says by the kind of the step */
async function measure(shows, seen = []) {
  for (;;) {
    const step = await page.see(() => (document.querySelector('.verdict') ? { over: true } : document.querySelector('.bench')?.dataset.question && { ...document.querySelector('.bench').dataset }));
    if (step.over) return seen;
    if (step.kind === 'acknowledge') { await page.locator('#who').fill('demo'); await page.keyboard.press('Enter'); await page.see(gone, step.question); continue; }
    await page.getByRole('button', { name: 'Do this step for me' }).click();
    if (shows[step.kind]) await type_in(shows[step.kind]);
    await page.see((was) => document.querySelector('.verdict') || document.querySelector('.bench').dataset.question !== was || document.querySelector('.reading').dataset.state === 'settled', step.question);
    seen.push({ kind: step.kind, figure: await page.locator('.figure').first().innerText() });
    await until(async () => {
      await page.evaluate(() => document.activeElement?.blur());
      await page.keyboard.press(await page.locator('.actions [data-key=c]').count() ? 'c' : 'Enter');
      return page.see(gone, step.question, 3000).catch(() => false);
    });
  }
}

test('a sound contact passes once the current is typed, what is typed is shown as typed, and the report has a table of drops', async () => {
  page = await open(server.url);
  await begin(page, { profile: 'high-limit-manual-reset', kind: 'drop', serial: 'D-1', current: '1A@1%' });
  const seen = await measure({ 'drop-no-current': '0.000 A', 'drop-current': '1.000 A' });
  assert.equal(seen.find((s) => s.kind === 'drop-no-current').figure, '0.000 A');
  assert.equal(seen.find((s) => s.kind === 'drop-current').figure, '1.000 A');
  assert.ok(seen.filter((s) => s.kind.startsWith('drop') && !s.kind.includes('current')).every((s) => /V$/.test(s.figure)), JSON.stringify(seen));
  assert.match(await page.locator('.verdict-word').innerText(), /PASS/);
  assert.match(await page.locator('.verdict').innerText(), /for soundness/i);
  const [report] = await Promise.all([page.context().waitForEvent('page'), page.getByRole('link', { name: 'Report' }).click()]);
  await report.waitForLoadState();
  assert.match(await report.locator('body').innerText(), /Millivolt drop[^]*limit/);
  await done(page);
});

test('a display that shows a current where none can flow is refused; left out, nothing is found sound', async () => {
  page = await open(server.url);
  await begin(page, { profile: 'interlock-door', kind: 'drop', serial: 'D-2', current: '1A@1%' });
  await page.locator('#who').fill('demo');
  await page.keyboard.press('Enter');
  await page.see(() => document.querySelector('.bench')?.dataset.kind === 'drop-no-current');
  const was = await page.locator('.bench').getAttribute('data-question');
  await type_in('1.000 A');
  await page.see(settled);
  await page.evaluate(() => document.activeElement?.blur());
  await page.keyboard.press('Enter');
  await page.getByText('it shows what is set').first().waitFor();
  assert.equal(await page.locator('.bench').getAttribute('data-question'), was);
  await page.keyboard.press('s');
  await page.locator('#asked').fill('no ammeter at hand');
  await page.keyboard.press('Enter');
  await page.see(gone, was);
  await measure({ 'drop-current': '1.000 A' });
  assert.doesNotMatch(await page.locator('.verdict-word').innerText(), /PASS/);
  await done(page);
});

test('a text that is no reading is refused in a sentence, and the step waits for another', async () => {
  page = await open(server.url);
  await begin(page, { profile: 'interlock-door', kind: 'drop', serial: 'D-3', current: '1A@1%' });
  await page.locator('#who').fill('demo');
  await page.keyboard.press('Enter');
  await page.see(() => document.querySelector('.bench')?.dataset.kind === 'drop-no-current');
  const was = await page.locator('.bench').getAttribute('data-question');
  for (const wrong of ['ampere', '1', '1.00 V', '<b>1 A</b>']) {
    const had = page.of_type('refused').length + page.of_type('note').length;
    await type_in(wrong);
    await until(() => page.of_type('refused').length + page.of_type('note').length > had);
    assert.ok(!await page.evaluate(settled), wrong);
  }
  await type_in('0.000 A');
  await page.see(settled);
  assert.equal(await page.locator('.bench').getAttribute('data-question'), was);
  await page.evaluate(() => document.activeElement?.blur());
  await page.keyboard.press('q');
  await page.getByRole('button', { name: 'Stop and keep' }).last().click();
  await page.locator('.verdict.stopped').waitFor();
});
