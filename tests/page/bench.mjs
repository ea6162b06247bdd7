// What every test of the page needs: the real program with its simulated bench, a real browser, and a way to say SKIPPED.
import { spawn, execFileSync } from 'node:child_process';
import { createRequire } from 'node:module';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { once } from 'node:events';

const source = process.env.SOURCE_DIR || new URL('../..', import.meta.url).pathname;
const binary = process.env.SWITCHWRIGHT || join(source, 'build/release/switchwright');
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

export const folder = mkdtempSync(join(tmpdir(), 'switchwright-page-'));
const running = new Set();

/** @returns { url, host, process, stop() } of `switchwright serve`. */
export async function serve(...options) {
  const env = { ...process.env, XDG_CONFIG_HOME: join(folder, 'config'), XDG_DATA_HOME: join(folder, 'data'), HOME: folder };
  const child = spawn(binary, ['serve', '--store', join(folder, `records-${running.size}.sqlite`), ...(options.includes('--listen') ? [] : ['--listen', '127.0.0.1:0']), ...options], { env, stdio: ['ignore', 'pipe', 'pipe'] });
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
export const demo = (...options) => serve('--demo', '--rate', '25', '--settle', '0.12s', ...options);

let chrome;
export async function browser() {
  const { chromium } = need('playwright-core');
  chrome ||= await chromium.launch({ executablePath: chromium_path(), args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'] });
  return chrome;
}
/** A page that fails its test when its script throws or its content policy is broken. */
export async function open(url, options = {}) {
  const context = await (await browser()).newContext({ viewport: { width: 1280, height: 860 }, ...options });
  const page = await context.newPage();
  page.faults = [];
  page.on('pageerror', (error) => page.faults.push(String(error)));
  page.on('console', (message) => { if (message.type() === 'error' && /Content Security Policy|Refused/.test(message.text())) page.faults.push(message.text()); });
  page.setDefaultTimeout(20000);
  // The library's own way evaluates text inside the page, which the page's content policy forbids, as it should.
  page.waitForFunction = async (f, argument, { timeout = 20000 } = {}) => {
    for (const end = Date.now() + timeout; ;) {
      const value = await page.evaluate(f, argument).catch(() => null);
      if (value) return { jsonValue: async () => value };
      if (Date.now() > end) throw new Error(`waited in vain for ${f}`);
      await page.waitForTimeout(25);
    }
  };
  await page.goto(url);
  return page;
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
/** Plays the person: does each step on the panel and confirms it, until the verdict or until `until` says so. */
export async function work_through(page, { until = () => false, confirm = 'key' } = {}) {
  for (let n = 0; n < 400; ++n) {
    const state = await page.waitForFunction(() => {
      if (document.querySelector('.verdict')) return { over: true };
      const who = document.querySelector('#who');
      const key = document.querySelector('.bench-head b')?.textContent;
      if (!key) return false;
      return { key, acknowledge: Boolean(who?.offsetParent), inspect: Boolean(document.querySelector('.actions [data-key=y]')), letters: document.querySelector('.letters').textContent };
    }).then((handle) => handle.jsonValue());
    if (state.over || await until(state, page)) return state;
    const head = page.locator('.bench-head b');
    const before = await page.evaluate(() => document.querySelector('.bench-head')?.textContent + document.querySelector('.letters').textContent + document.querySelector('.where').textContent);
    if (state.acknowledge) { await page.locator('#who').fill('demo'); await page.keyboard.press('Enter'); }
    else if (state.inspect) await page.keyboard.press('y');
    else {
      await page.getByRole('button', { name: 'Do this step for me' }).click();
      await page.waitForFunction(() => document.querySelector('.reading')?.dataset.state === 'settled' || document.querySelector('.verdict'));
      if (await page.locator('.verdict').count()) return { over: true };
      await page.evaluate(() => document.activeElement?.blur());
      await page.keyboard.press(await page.locator('.actions [data-key=c]').count() ? 'c' : 'Enter');
    }
    await page.waitForFunction((was) => document.querySelector('.verdict') || document.querySelector('.bench-head')?.textContent + document.querySelector('.letters').textContent + document.querySelector('.where').textContent !== was, before);
    void head; void confirm;
  }
  throw new Error('no end was reached');
}

export async function tidy() {
  if (chrome) await chrome.close();
  for (const child of running) child.kill('SIGKILL');
  rmSync(folder, { recursive: true, force: true });
}
