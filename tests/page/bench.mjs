// What every test of the page needs: the real program with its simulated bench, a real browser, and a way to say SKIPPED.
import { spawn, execFileSync } from 'node:child_process';
import { createRequire } from 'node:module';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { once } from 'node:events';
import assert from 'node:assert/strict';
import net from 'node:net';

export const source = process.env.SOURCE_DIR || new URL('../..', import.meta.url).pathname;
export const binary = process.env.SWITCHWRIGHT || join(source, 'build/release/switchwright');
const skipped = 77;  // the exit code that means SKIPPED; a test that fails ends with another one

/** Ends the whole file as skipped, before any test has run. */
function skip(what) {
  console.log(`SKIPPED: ${what}`);
  process.exit(skipped);
}
let modules;
/** A package from npm, at the version of package-lock.json. */
export function need(name) {
  if (!modules) {
    try { modules = execFileSync(join(source, 'tools/page-modules'), { encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] }).trim(); }
    catch (error) { skip(`npm packages playwright-core, axe-core and ws cannot be had: ${String(error.stderr).trim()}`); }
  }
  return createRequire(join(modules, 'package.json'))(name);
}
export function chromium_path() {
  const path = ['/usr/bin/chromium', '/usr/bin/chromium-browser', '/usr/bin/google-chrome'].find(existsSync);
  return path || skip('no browser (Debian package chromium)');
}
/** First line of every file that opens a browser: skipped as a whole where one cannot be had. */
export function need_browser() { need('playwright-core'); chromium_path(); }

/** How long anything may take on a machine that does much else at the same time. What is waited for is always an event. */
export const patience = 60000;
/** @returns what `what` gives, as soon as it gives something. */
export async function until(what, limit = patience) {
  for (const end = Date.now() + limit; ;) {
    const value = await what();
    if (value) return value;
    if (Date.now() > end) throw new Error(`waited in vain for ${what}`);
    await new Promise((r) => setTimeout(r, 20));
  }
}

export const folder = mkdtempSync(join(tmpdir(), 'switchwright-page-'));
const running = new Set();

const with_default = (options, name, value) => (options.includes(name) ? [] : [name, value]);
let served = 0;
/** @returns { url, host, process, stop() } of `switchwright serve`, each with a store of its own unless --store is given.
    A first option that is an object names another program: { binary }. */
export async function serve(...given) {
  const { binary: program } = typeof given[0] === 'object' ? given[0] : { binary };
  const options = given.filter((option) => typeof option === 'string');
  const env = { ...process.env, XDG_CONFIG_HOME: join(folder, 'config'), XDG_DATA_HOME: join(folder, 'data'), HOME: folder };
  const child = spawn(program, ['serve', ...with_default(options, '--store', join(folder, `records-${++served}.sqlite`)), ...with_default(options, '--listen', '127.0.0.1:0'), ...options], { env, stdio: ['ignore', 'pipe', 'pipe'] });
  running.add(child);
  let out = '', errors = '';
  child.stderr.on('data', (data) => { errors += data; });
  const url = await new Promise((resolve, reject) => {
    const look = () => { const at = out.match(/https?:\/\/\S+/); if (at && errors.includes('end it with')) resolve(at[0]); };
    child.stdout.on('data', (data) => { out += data; look(); });
    child.stderr.on('data', look);
    child.on('exit', (code) => reject(new Error(`serve ended with ${code}: ${errors}`)));
  });
  const stop = async (signal = 'SIGINT') => {
    running.delete(child);
    if (child.exitCode === null && child.signalCode === null) { child.kill(signal); await once(child, 'exit'); }
    return child.exitCode;
  };
  return { url, host: new URL(url).host, port: Number(new URL(url).port), process: child, stop, errors: () => errors };
}
/** A network between the page and the program that can be cut. Both ends have ports of five digits, so that an address can be
    put in the place of the other without a length changing. */
export async function wire(server) {
  const sockets = new Set();
  let to = server.host, whole = true;
  const proxy = net.createServer((near) => {
    if (!whole) { near.destroy(); return; }
    const far = net.connect(Number(to.split(':')[1]), '127.0.0.1');
    for (const one of [near, far]) {
      sockets.add(one);
      one.on('error', () => {});
      one.on('close', () => { sockets.delete(one); near.destroy(); far.destroy(); });
    }
    const here = `127.0.0.1:${proxy.address().port}`;
    near.on('data', (data) => far.write(Buffer.from(data.toString('latin1').replaceAll(here, to), 'latin1')));
    far.on('data', (data) => near.write(data));
  });
  await new Promise((r) => proxy.listen(0, '127.0.0.1', r));
  assert.equal(String(proxy.address().port).length, String(server.port).length);
  return {
    url: `http://127.0.0.1:${proxy.address().port}/`,
    cut() { whole = false; for (const one of sockets) one.destroy(); },
    mend(other = server) { to = other.host; whole = true; },
    end() { this.cut(); proxy.close(); },
  };
}
export const demo = (...options) => serve(...options, '--demo', '--rate', '25', '--settle', '0.12s');

let chrome;
export async function browser() {
  const { chromium } = need('playwright-core');
  if (!chrome?.isConnected()) chrome = await chromium.launch({ executablePath: chromium_path(), args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'] });
  return chrome;
}
/** A page that fails its test when its script throws or its content policy is broken. */
export async function open(url, options = {}) {
  const context = await (await browser()).newContext({ viewport: { width: 1280, height: 860 }, ...options });
  const page = await context.newPage();
  page.faults = [];
  page.heard = [];  // what the program sent
  page.on('websocket', (socket) => socket.on('framereceived', ({ payload }) => page.heard.push(JSON.parse(payload))));
  page.of_type = (type) => page.heard.filter((m) => m.type === type || m.event?.type === type);
  page.on('pageerror', (error) => page.faults.push(String(error)));
  page.on('console', (message) => { if (message.type() === 'error' && /Content Security Policy|Refused/.test(message.text())) page.faults.push(message.text()); });
  page.setDefaultTimeout(patience);
  // The library's own way evaluates text inside the page, which the page's content policy forbids, as it should.
  page.see = async (f, argument, limit = patience) => {
    for (const end = Date.now() + limit; ;) {
      const value = await page.evaluate(f, argument).catch(() => null);
      if (value) return value;
      if (page.isClosed() || !chrome?.isConnected()) throw new Error('the browser ended in the middle of the test');
      if (Date.now() > end) throw new Error(`waited in vain for ${f}; the page shows: ${await page.locator('main').innerText().catch(() => '')}`);
      await new Promise((r) => setTimeout(r, 25));
    }
  };
  await page.goto(url);
  return page;
}
/** Nothing is on its way to this page any more. */
export const quiet = (page) => page.waitForLoadState('networkidle');
/** Everything that this page has asked for is answered: the last thing asked is refused for certain, and answers come in order. */
export async function answered(page) {
  const had = page.of_type('refused').length;
  await page.evaluate(() => import('/link.js').then((link) => link.send({ do: 'demo-part', profile: 'no such profile' })));
  await until(() => page.of_type('refused').length > had);
}
/** Fills in the start form of a demonstration. */
export async function begin(page, { kind = 'qualify', profile, serial = 'A-1', operator = 'demo', by_itself = false, ...more } = {}) {
  await page.getByRole('heading', { name: 'What is on the bench?' }).waitFor();
  await page.locator('#profile option').first().waitFor({ state: 'attached' });
  if (profile) await page.locator('#profile').selectOption(profile);
  await page.locator(`[name=kind][value=${kind}]`).check({ force: true });
  await page.locator('#serial').fill(serial);
  await page.locator('#part').fill('demonstration part');
  if (kind === 'trace') await page.locator('#who').fill(operator); else await page.locator('#operator').fill(operator);
  for (const [id, value] of Object.entries(more)) {
    const field = page.locator(`#${id}`);
    if (await field.evaluate((e) => e.tagName) === 'SELECT') await field.selectOption(value); else await field.fill(value);
  }
  if (by_itself) await page.locator('#by_itself').check({ force: true });
  await page.getByRole('button', { name: 'Begin' }).click();
}
/** Plays the person: does each step on the panel and confirms it, until the verdict or until `stop` says so. */
export async function work_through(page, { stop = () => false } = {}) {
  for (let n = 0; n < 400; ++n) {
    const state = await page.see(() => {
      if (document.querySelector('.verdict')) return { over: true };
      const key = document.querySelector('.bench')?.dataset.question;
      if (!key) return false;
      return { key, kind: document.querySelector('.bench').dataset.kind, letters: document.querySelector('.letters').textContent };
    });
    if (state.over || await stop(state, page)) return state;
    const gone = (was) => Boolean(document.querySelector('.verdict')) || document.querySelector('.bench')?.dataset.question !== was;
    if (state.kind === 'acknowledge') { await page.locator('#who').fill('demo'); await page.keyboard.press('Enter'); await page.see(gone, state.key); continue; }
    if (state.kind === 'inspect') { await page.keyboard.press('y'); await page.see(gone, state.key); continue; }
    await page.getByRole('button', { name: 'Do this step for me' }).click();
    // A reading that moves once more between the look and the key is refused; then the person presses again.
    await until(async () => {
      await page.see((was) => Boolean(document.querySelector('.verdict')) || document.querySelector('.bench')?.dataset.question !== was || document.querySelector('.reading')?.dataset.state === 'settled', state.key);
      if (await page.evaluate(gone, state.key)) return true;
      await page.evaluate(() => document.activeElement?.blur());
      const asked = await page.locator('.actions [data-key=c]').count();
      await page.keyboard.press(asked ? 'c' : 'Enter');
      return page.see(gone, state.key, 3000).catch(() => false);
    });
  }
  throw new Error('no end was reached');
}
/** Ends guided work that is not to be done to its end. */
export async function stop_work(page) {
  await page.evaluate(() => document.activeElement?.blur());
  await page.keyboard.press('q');
  await page.getByRole('button', { name: 'Stop and keep' }).last().click();
  await page.locator('.verdict').waitFor();
}
/** From the verdict back to the start. */
export async function done(page) {
  await page.locator('.verdict').waitFor();
  await page.evaluate(() => document.activeElement?.blur());
  await page.keyboard.press('Enter');
  await page.getByRole('heading', { name: 'What is on the bench?' }).waitFor();
}

export async function tidy() {
  if (chrome) await chrome.close();
  for (const child of running) child.kill('SIGKILL');
  rmSync(folder, { recursive: true, force: true });
}
