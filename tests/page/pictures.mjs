// Pictures of every page in light and dark and on a narrow screen, to be looked at: node tests/page/pictures.mjs FOLDER [WORD ...]
// (only the scenes whose name has one of the words).
import { execFileSync } from 'node:child_process';
import { mkdirSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { demo, open, begin, binary, quiet, stop_work, done, work_through, need_browser, tidy } from './bench.mjs';

need_browser();
const [folder, ...words] = process.argv.slice(2);
if (!folder) { console.error('usage: node tests/page/pictures.mjs FOLDER [WORD ...]'); process.exit(2); }
mkdirSync(folder, { recursive: true });
const store = join(folder, `pictures-${process.pid}.sqlite`);
execFileSync(binary, ['lot', 'open', '--store', store, '--part', 'P-1', '--supplier', 'invented', '--lot-number', 'L-1', '--size', '8', '--condition', 'new', '--profile', 'interlock-door',
  '--meter', 'lcd-segment-14', '--operator', 'demo', '--simulated']);
const server = await demo('--store', store);
const sizes = [['light', 1280, 860], ['dark', 1280, 860], ['narrow', 320, 700]];

async function shoot(page, name) {
  const before = page.viewportSize();
  for (const [look, width, height] of sizes) {
    await page.emulateMedia({ colorScheme: look === 'dark' ? 'dark' : 'light' });
    await page.setViewportSize({ width, height });
    await quiet(page);
    await page.evaluate(() => new Promise((r) => requestAnimationFrame(() => requestAnimationFrame(r))));
    await page.screenshot({ path: join(folder, `${name}-${look}.png`), fullPage: look === 'narrow' });
  }
  await page.setViewportSize(before);
}
const settled = (page) => page.see(() => document.querySelector('.reading')?.dataset.state === 'settled');
const step_for_me = async (page) => { await page.getByRole('button', { name: 'Do this step for me' }).click(); await settled(page); };

const scenes = {
  async start(page) { await page.locator('#profile option').first().waitFor({ state: 'attached' }); await shoot(page, 'start'); },
  async qualify(page) {
    await begin(page, { profile: 'regulator-shunt-240', serial: 'P-1' });
    await page.locator('#who').waitFor();
    await shoot(page, 'acknowledge');
    await page.locator('#who').fill('demo');
    await page.keyboard.press('Enter');
    await page.getByText('Known live source').waitFor();
    await shoot(page, 'known-source');
    await work_through(page, { stop: (state) => state.kind === 'measure' });
    await page.getByRole('button', { name: 'Do this step for me' }).click();
    await settled(page);
    await shoot(page, 'measure');
    let n = 0;
    await work_through(page, { stop: (state) => state.kind === 'measure' && ++n > 6 });
    await page.locator('details summary').click();
    await shoot(page, 'board');
    await stop_work(page);
    await shoot(page, 'stopped');
    await done(page);
  },
  async verdict(page) {
    await page.locator('#profile option').first().waitFor({ state: 'attached' });
    await begin(page, { profile: 'interlock-door', serial: 'P-2', plan: 'short', by_itself: true });
    await page.locator('.verdict').waitFor();
    await shoot(page, 'verdict-pass');
    await done(page);
    const fault = await page.see(() => [...document.querySelectorAll('#fault option')].find((o) => o.value.startsWith('stuck-closed:'))?.value);
    await page.locator('#fault').selectOption(fault);
    await begin(page, { profile: 'interlock-door', serial: 'P-3', plan: 'short', by_itself: true });
    await page.locator('.verdict').waitFor();
    await shoot(page, 'verdict-fail');
    await done(page);
    await page.locator('#fault').selectOption('');
  },
  async powered(page) {
    await begin(page, { profile: 'rocker-lamp', serial: 'V-1', kind: 'qualify-powered', by_itself: true });
    await page.locator('.live-banner:not([hidden])').waitFor();
    await shoot(page, 'live');
    await page.locator('.verdict').waitFor();
    await done(page);
  },
  async trace(page) {
    await begin(page, { profile: 'regulator-shunt-240', kind: 'trace', serial: 'T-1', position: 'medium', supply: '240 V' });
    await page.locator('#dial').selectOption('voltage-ac');
    await page.locator('#red').selectOption('H1');
    await page.locator('#black').selectOption('H2');
    await page.locator('#knob').selectOption('medium');
    for (const on of [true, false, true, false, true]) {
      await page.locator('#power').click();
      await page.see((wanted) => (wanted ? /^(on|live)/ : /^(off|dead)/).test(document.querySelector('.tile dd')?.textContent), on);
    }
    await page.see(() => document.querySelectorAll('tbody th').length >= 1);
    await shoot(page, 'trace');
    await page.evaluate(() => document.activeElement?.blur());
    await page.keyboard.press('q');
    await page.getByRole('button', { name: 'End and judge' }).last().click();
    await page.locator('.verdict').waitFor();
    await shoot(page, 'trace-verdict');
    await done(page);
  },
  async lots(page) {
    await page.goto(`${server.url}#lots`);
    await page.getByRole('button', { name: 'Test this unit' }).waitFor();
    await page.locator('#unit_operator').fill('demo');
    await page.locator('#unit_itself').check();
    await page.locator('#unit_serial').fill('S-1');
    await page.locator('#unit_serial').press('Enter');
    await page.locator('.verdict').waitFor();
    await page.keyboard.press('n');
    await page.see(() => document.querySelector('.lots')?.innerText.includes('1 of'));
    await shoot(page, 'lots');
  },
  async drop(page) {
    await begin(page, { profile: 'interlock-door', kind: 'drop', serial: 'D-1', current: '1A@1%' });
    await page.locator('#who').fill('demo');
    await page.keyboard.press('Enter');
    await page.see(() => document.querySelector('.bench')?.dataset.kind === 'drop-no-current');
    await shoot(page, 'drop');
    await page.getByRole('button', { name: 'Type what it shows' }).click();
    await shoot(page, 'drop-type');
    await page.keyboard.press('Escape');
    await stop_work(page);
    await done(page);
  },
  async records(page) { await page.goto(`${server.url}#records`); await page.locator('main h1').waitFor(); await shoot(page, 'records'); },
  async meters(page) {
    await page.goto(`${server.url}#meters`);
    await page.getByRole('button', { name: 'Show what it reads' }).click();
    await page.see(() => /V|ohm|over/.test(document.querySelector('.figure').textContent));
    await shoot(page, 'meters');
    await page.getByRole('button', { name: 'Stop listening' }).click();
  },
  async practice(page) {
    await page.goto(`${server.url}#practice`);
    await page.locator('#pp option').first().waitFor({ state: 'attached' });
    await shoot(page, 'practice-start');
    await page.getByRole('button', { name: 'Put one on the bench' }).click();
    await page.getByRole('button', { name: 'Take the most telling reading' }).click();
    await page.see(() => /^1 readings?/.test(document.querySelector('.bench [role=status]')?.textContent || ''));
    await shoot(page, 'practice');
    await page.getByRole('button', { name: 'Give up and show' }).click();
    await page.getByText('Given up').waitFor();
    await shoot(page, 'practice-end');
    await page.getByRole('button', { name: 'Another one' }).click();
  },
};
for (const [name, scene] of Object.entries(scenes)) {
  if (words.length && !words.some((word) => name.includes(word))) continue;
  const page = await open(server.url);
  await scene(page);
  await page.context().close();
  console.log(name);
}
await server.stop();
for (const ending of ['', '-wal', '-shm']) rmSync(store + ending, { force: true });
await tidy();
