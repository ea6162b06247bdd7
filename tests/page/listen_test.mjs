// What needs no part: a meter that is listened to, and an exercise.
import { test, after, afterEach } from 'node:test';
import assert from 'node:assert/strict';
import { demo, serve, open, stop_work, need_browser, tidy } from './bench.mjs';

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

test('a meter is found by listening at its port, and what it shows stands beside it', async () => {
  page = await open(`${server.url}#meters`);
  await page.getByRole('button', { name: 'Find meters: listen at the ports' }).click();
  const found = page.getByRole('button', { name: /^lcd-segment-14 at .*, shows / });
  await found.waitFor();
  await found.click();  // listens to it
  await page.see(() => /V|ohm|over/.test(document.querySelector('.figure').textContent));
  await page.getByRole('button', { name: 'Stop listening' }).click();
  await page.getByRole('button', { name: 'Show what it reads' }).waitFor();
});

test('without a port and without a meter the start page says what is missing, and keeps what was filled in', async () => {
  const real = await serve();
  page = await open(real.url);
  await page.locator('#meter option').first().waitFor({ state: 'attached' });
  await page.locator('#serial').fill('N-1');
  await page.locator('#operator').fill('demo');
  await page.locator('#port').fill('');
  await page.getByRole('button', { name: 'Begin' }).click();
  await page.locator('.start [role=alert]').getByText('Which port is the meter at?').waitFor();
  await page.locator('#port').fill('/dev/there-is-none');
  await page.getByRole('button', { name: 'Begin' }).click();
  await page.locator('.start [role=alert]').getByText(/there-is-none/).waitFor();
  assert.equal(await page.locator('#serial').inputValue(), 'N-1');
  await real.stop();
});

test('a meter without a cable is read by a person, who types what it shows', async () => {
  const real = await serve();
  page = await open(real.url);
  await page.locator('#meter option').first().waitFor({ state: 'attached' });
  await page.locator('#profile').selectOption('interlock-door');
  await page.locator('#meter').selectOption('lcd-segment-14');
  await page.getByLabel('It has no cable: I type what it shows').check();
  await page.locator('#serial').fill('N-2');
  await page.locator('#operator').fill('demo');
  await page.getByRole('button', { name: 'Begin' }).click();
  await page.locator('#who').fill('demo');
  await page.keyboard.press('Enter');
  await page.getByText('Known live source').waitFor();
  await page.getByRole('button', { name: 'Type what it shows' }).click();
  await page.locator('#asked').fill('24.1 V');
  await page.keyboard.press('Enter');
  await page.see(() => document.querySelector('.reading').dataset.state === 'settled');
  assert.match(await page.locator('.figure').first().innerText(), /24\.1 ?V/);
  await stop_work(page);
  await real.stop();
});
