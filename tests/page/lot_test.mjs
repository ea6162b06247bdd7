// A lot at the page: the next unit, its serial number as a scanner types it, and the count, which the terminal's own must agree with.
import { test, after, afterEach } from 'node:test';
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { join } from 'node:path';
import { demo, open, until, binary, folder, need_browser, tidy } from './bench.mjs';

need_browser();
const store = join(folder, 'lots.sqlite');
const tool = (...options) => execFileSync(binary, [...options, '--store', store], { encoding: 'utf8', env: { ...process.env, XDG_CONFIG_HOME: join(folder, 'config'), HOME: folder } });
const open_lot = (number, ...options) => JSON.parse(tool('lot', 'open', '--part', 'P-1', '--supplier', 'invented', '--lot-number', number, '--size', '8', '--condition', 'new', '--profile', 'interlock-door',
  '--meter', 'lcd-segment-14', '--operator', 'demo', '--seed', '1', '--full-every', '0', '--agreed', 'major=2:0', '--agreed', 'minor=2:0', '--agreed', 'critical=2:0', '--simulated', '--json', ...options)).lot;
const status = (lot) => { try { return JSON.parse(tool('lot', 'status', lot, '--json').split('\n')[0]); } catch (error) { return JSON.parse(error.stdout.split('\n')[0]); } };
const lot = open_lot('L-1');
const server = await demo('--store', store);
let page;
after(async () => { await server.stop(); await tidy(); });
afterEach(async () => { const faults = page?.faults || []; await page?.context().close(); page = null; assert.deepEqual(faults, []); });

const counted = (words) => page.see((w) => document.querySelector('.lots')?.innerText.includes(w), words);
/** Keys as a scanner sends them, wherever the focus is. */
async function scan(serial) {
  await page.evaluate(() => document.activeElement?.blur());
  await page.keyboard.type(serial);
  await page.keyboard.press('Enter');
}

test('units go through one after the other, a number that was had is refused, and the terminal counts the same', async () => {
  page = await open(`${server.url}#lots`);
  await counted('0 of 2 done');
  const first = await page.locator('.letters').innerText();
  await page.locator('#unit_operator').fill('demo');
  await page.locator('#unit_itself').check();
  await scan('S-1');
  await page.locator('.verdict.pass').waitFor();
  assert.match(await page.locator('.verdict').innerText(), /S-1/);
  await page.keyboard.press('n');
  await counted('1 of 2 done: 1 good, 0 defective');
  assert.notEqual(await page.locator('.letters').innerText(), first);
  await page.locator('#unit_operator').fill('demo');
  await page.locator('#unit_itself').check();
  await scan('S-1');
  await page.locator('.lots [role=alert]').getByText(/S-1 is that of unit \d+ already/).waitFor();
  await page.locator('#unit_serial').fill('');
  await page.getByRole('button', { name: 'Test this unit' }).click();
  await page.locator('.lots [role=alert]').getByText(/Scan or type the serial number/).waitFor();
  assert.deepEqual([status(lot).done, status(lot).good], [1, 1]);
});

test('a unit that deviates on the short plan has the full one next; then the lot is rejected, at the terminal too', async () => {
  page = await open(server.url);
  const fault = await page.see(() => [...document.querySelectorAll('#fault option')].find((o) => o.value.startsWith('stuck-closed:'))?.value);
  await page.locator('#fault').selectOption(fault);
  await until(() => page.of_type('panel').at(-1)?.panel.faults.length === 1);
  await page.goto(`${server.url}#lots`);
  await counted('1 of 2 done');
  await page.locator('#unit_operator').fill('demo');
  await page.locator('#unit_itself').check();
  await scan('S-2');
  await page.locator('.verdict.fail').waitFor();
  await page.keyboard.press('Enter');
  await counted('again for the full one');
  assert.equal(await page.locator('#unit_serial').inputValue(), 'S-2');
  await page.locator('#unit_itself').check();
  await page.locator('#unit_serial').press('Enter');
  await page.locator('.verdict.fail').waitFor();
  await page.keyboard.press('n');
  await counted('2 of 2 done: 1 good, 1 defective');
  await counted('Rejected');
  const at_the_terminal = status(lot);
  assert.deepEqual([at_the_terminal.done, at_the_terminal.good, at_the_terminal.defective, at_the_terminal.decision_now], [2, 1, 1, 'reject']);
  assert.equal(await page.getByRole('button', { name: 'Test this unit' }).isVisible(), false);
});

test('a unit that was stopped goes on where it stopped, and nothing is counted for it meanwhile', async () => {
  const second = open_lot('L-2');
  page = await open(`${server.url}#lots`);
  await page.locator('#lot option').first().waitFor({ state: 'attached' });
  await page.locator('#lot').selectOption(second);
  await counted('0 of 2 done');
  await page.locator('#unit_operator').fill('demo');
  await scan('S-3');
  await page.locator('#who').fill('demo');
  await page.keyboard.press('Enter');
  await page.getByText('Known live source').waitFor();
  await page.evaluate(() => document.activeElement?.blur());
  await page.keyboard.press('q');
  await page.getByRole('button', { name: 'Stop and keep' }).last().click();
  await page.locator('.verdict.stopped').waitFor();
  await page.keyboard.press('n');
  await counted('It was begun and goes on where it stopped: put S-3 on the bench.');
  assert.equal(status(second).done, 0);
  await scan('S-4');
  await page.locator('.lots [role=alert]').getByText(/which bears S-3/).waitFor();
  await page.locator('#unit_serial').fill('S-3');
  await page.locator('#unit_serial').press('Enter');
  await page.locator('#who').waitFor();
  assert.match(await page.locator('.bench-head').innerText(), /unit \d+ of lot L-2/);
  await page.keyboard.press('Escape');
  await page.evaluate(() => document.activeElement?.blur());
  await page.keyboard.press('q');
  await page.getByRole('button', { name: 'Stop and keep' }).last().click();
  await page.locator('.verdict.stopped').waitFor();
});
