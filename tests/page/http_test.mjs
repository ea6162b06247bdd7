// The door: what curl and a raw socket get to see. Rules from RFC 9110 (HTTP semantics), RFC 9112 (HTTP/1.1), the Fetch
// standard (Sec-Fetch headers, Origin) and Content Security Policy Level 3.
import { test, after } from 'node:test';
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import net from 'node:net';
import { existsSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { demo, serve, need, until, folder, tidy } from './bench.mjs';

const server = await demo();
after(async () => { await server.stop(); await tidy(); });

function curl(...options) {
  const out = execFileSync('curl', ['-sS', '-i', '--max-time', '20', ...options], { encoding: 'latin1', stdio: ['ignore', 'pipe', 'pipe'] });
  const [head, ...rest] = out.split('\r\n\r\n');
  const lines = head.split('\r\n');
  const headers = Object.fromEntries(lines.slice(1).map((line) => [line.slice(0, line.indexOf(':')).toLowerCase(), line.slice(line.indexOf(':') + 2)]));
  return { status: Number(lines[0].split(' ')[1]), headers, body: rest.join('\r\n\r\n') };
}
/** Sends bytes as they are; everything that comes back until the other side closes or `ms` are over. */
function raw(bytes, ms = 3000, port = server.port) {
  return new Promise((resolve) => {
    const socket = net.connect(port, '127.0.0.1', () => socket.write(bytes));
    let got = '';
    const end = (closed) => { clearTimeout(timer); socket.destroy(); resolve({ got, closed, status: Number(got.split(' ')[1]) || 0 }); };
    const timer = setTimeout(() => end(false), ms);
    socket.on('data', (data) => { got += data.toString('latin1'); });
    socket.on('close', () => end(true));
    socket.on('error', () => end(true));
  });
}
const get = (path, ...lines) => `GET ${path} HTTP/1.1\r\nHost: ${server.host}\r\n${lines.map((l) => `${l}\r\n`).join('')}Connection: close\r\n\r\n`;

test('the page comes with a content policy that lets no inline script run', () => {
  const { status, headers, body } = curl(server.url);
  assert.equal(status, 200);
  const policy = headers['content-security-policy'];
  assert.match(policy, /default-src 'none'/);
  assert.match(policy, /script-src 'self'(;|$)/);
  assert.doesNotMatch(policy, /unsafe/);
  assert.match(policy, /frame-ancestors 'none'/);
  assert.equal(headers['x-content-type-options'], 'nosniff');
  assert.equal(headers['referrer-policy'], 'no-referrer');
  assert.doesNotMatch(body, /<script(?![^>]*\bsrc=)|\bon[a-z]+=|<style|\bstyle=/);
});

test('a file that the browser has already is not sent again, another method is refused', () => {
  const first = curl(`${server.url}app.js`);
  const again = curl('-H', `If-None-Match: ${first.headers.etag}`, `${server.url}app.js`);
  assert.deepEqual([first.status, again.status, again.body], [200, 304, '']);
  const head = curl('-I', `${server.url}app.js`);
  assert.deepEqual([head.status, head.body, head.headers['content-length']], [200, '', String(first.body.length)]);
  for (const method of ['POST', 'PUT', 'DELETE', 'TRACE', 'OPTIONS']) {
    const answer = curl('-X', method, `${server.url}api/records`);
    assert.deepEqual([method, answer.status, answer.headers.allow], [method, 405, 'GET, HEAD']);
  }
});

test('another Host is refused, so that a name that points here by trick gets nothing', () => {
  for (const host of ['evil.example', `evil.example:${server.port}`, '127.0.0.1', '127.0.0.1:1', `localhost.evil.example:${server.port}`, `[::1:${server.port}`, ''])
    assert.equal(curl('-H', `Host: ${host}`, server.url).status, 421, host);
  assert.equal(curl('-H', `Host: localhost:${server.port}`, server.url).status, 200);
});

test('two Host lines, or none, are refused', async () => {
  assert.equal((await raw(`GET / HTTP/1.1\r\nHost: ${server.host}\r\nHost: ${server.host}\r\nConnection: close\r\n\r\n`)).status, 421);
  assert.equal((await raw('GET / HTTP/1.1\r\nConnection: close\r\n\r\n')).status, 421);
});

test('another site gets no answer to anything but a link to the page', () => {
  const cross = (path, mode = 'no-cors', site = 'cross-site') => curl('-H', `Sec-Fetch-Site: ${site}`, '-H', `Sec-Fetch-Mode: ${mode}`, `${server.url}${path}`).status;
  assert.equal(cross('api/records'), 403);
  assert.equal(cross('api/records', 'cors', 'same-site'), 403);
  assert.equal(cross('records/x/report', 'navigate'), 403);
  assert.equal(cross('', 'navigate'), 200);
  assert.equal(cross('api/records', 'cors', 'same-origin'), 200);
});

test('what cannot be read is refused with its own status', async () => {
  assert.equal((await raw('hello\r\n\r\n')).status, 400);
  assert.equal((await raw(get('/', `X: ${'a'.repeat(9000)}`))).status, 431);
  assert.equal((await raw(`POST /token HTTP/1.1\r\nHost: ${server.host}\r\nContent-Length: 5000\r\n\r\n`)).status, 413);
  assert.equal((await raw(`POST /token HTTP/1.1\r\nHost: ${server.host}\r\nContent-Length: -1\r\n\r\n`)).status, 400);
  assert.equal((await raw(`POST /token HTTP/1.1\r\nHost: ${server.host}\r\nContent-Length: 3\r\nContent-Length: 4\r\n\r\nabcd`)).status, 400);
  assert.equal((await raw(get('/%zz'))).status, 400);
  assert.equal((await raw(get('/..%2f..%2fetc/passwd'))).status, 400);
  assert.equal((await raw(get('/a%00b'))).status, 400);
  assert.equal((await raw(get('http://evil.example/'))).status, 400);
  assert.equal((await raw(get('/nothing'))).status, 404);
  assert.equal((await raw(get('/api/schematic?profile=../../secret&position=off'))).status, 404);
  assert.equal((await raw(get('/api/schematic?profile=%2Fetc%2Fpasswd'))).status, 404);
  assert.equal((await raw(get('/records/20990101-000000-0000/report'))).status, 404);
});

test('a request that is split over packets is one request, two in one packet are two', async () => {
  const both = await raw(`GET /app.js HTTP/1.1\r\nHost: ${server.host}\r\n\r\n${get('/style.css')}`);
  assert.equal(both.got.match(/HTTP\/1\.1 200/g).length, 2);
  const socket = net.connect(server.port, '127.0.0.1');
  let got = '';
  socket.on('data', (d) => { got += d.toString('latin1'); });
  const closed = new Promise((r) => socket.on('close', r));
  const text = get('/icon.svg');
  for (const part of [text.slice(0, 7), text.slice(7, 30), text.slice(30)]) { socket.write(part); await new Promise((r) => setTimeout(r, 30)); }
  await closed;
  assert.match(got, /^HTTP\/1\.1 200/);
});

test('whoever opens more connections than a shop needs is turned away, and others are still served', async () => {
  // 48 from one address; one that waits to be read from is not seen to be closed, so all are read from.
  let closed = 0;
  const idle = Array.from({ length: 60 }, () => net.connect(server.port, '127.0.0.1').on('error', () => {}).on('close', () => { closed += 1; }).resume());
  await until(() => closed === 12, 8000);  // before the first of the others is silent for too long
  for (const s of idle) s.destroy();
  await until(() => closed === 60);
  await until(() => { try { return curl(server.url).status === 200; } catch { return false; } });
  assert.equal(curl(server.url).status, 200);
});

test('somebody who sends a letter a second is put out in ten seconds', async () => {
  const socket = net.connect(server.port, '127.0.0.1');
  const from = Date.now();
  const timer = setInterval(() => socket.write('G'), 1000);
  socket.on('error', () => {});
  socket.on('data', () => {});
  await new Promise((r) => socket.on('close', r));
  clearInterval(timer);
  const gone_s = (Date.now() - from) / 1000;
  assert.ok(gone_s > 8 && gone_s < 19, `${gone_s} s; a loaded machine is given the rest`);
});

test('an address that others can reach needs a token, and the token lets in', async () => {
  await assert.rejects(serve('--listen', '0.0.0.0:0'), /needs a token/);
  const token_file = join(folder, 'token');
  const open = await serve('--listen', '0.0.0.0:0', '--token-file', token_file);
  assert.match(open.errors(), /without TLS everybody/);
  assert.equal(statSync(token_file).mode & 0o077, 0);
  const token = readFileSync(token_file, 'utf8').trim();
  assert.ok(token.length >= 32 && open.url.endsWith(`#token=${token}`));
  const base = `http://127.0.0.1:${open.port}/`;
  const origin = ['-H', `Origin: http://127.0.0.1:${open.port}`];
  assert.equal(curl(base).status, 200);  // the page itself holds nothing of the shop
  assert.equal(curl(`${base}api/records`).status, 401);
  assert.equal(curl(...origin, '-d', 'wrong', `${base}token`).status, 401);
  assert.equal(curl('-d', token, `${base}token`).status, 403);
  assert.equal(curl('-H', 'Origin: http://evil.example', '-d', token, `${base}token`).status, 403);
  const entered = curl(...origin, '-d', token, `${base}token`);
  assert.equal(entered.status, 204);
  const cookie = entered.headers['set-cookie'];
  assert.match(cookie, /HttpOnly/);
  assert.match(cookie, /SameSite=Strict/);
  assert.ok(!cookie.includes(token));
  assert.equal(curl('-H', `Cookie: ${cookie.split(';')[0]}`, `${base}api/records`).status, 200);
  assert.equal(curl('-H', `Cookie: ${cookie.split('=')[0]}=${token}`, `${base}api/records`).status, 401);
  await open.stop();
});

test('with a certificate everything goes through TLS 1.2 or newer', async () => {
  const key = join(folder, 'key.pem'), cert = join(folder, 'cert.pem');
  execFileSync('openssl', ['req', '-x509', '-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes', '-keyout', key, '-out', cert, '-days', '2', '-subj', '/CN=localhost', '-addext', 'subjectAltName=DNS:localhost'], { stdio: 'ignore' });
  const safe = await serve('--demo', '--tls-cert', cert, '--tls-key', key);
  assert.match(safe.url, /^https:/);
  const base = `https://localhost:${safe.port}/`;
  assert.equal(curl('--cacert', cert, base).status, 200);
  assert.throws(() => curl('--cacert', cert, '--tls-max', '1.1', base));
  assert.equal((await raw(get('/'), 3000, safe.port)).status, 0);
  await safe.stop();
  assert.ok(existsSync(key));
  await assert.rejects(serve('--demo', '--tls-cert', cert), /both --tls-cert and --tls-key/);
});

test('a bag is downloaded as a tar that tar opens and sha256sum checks', async () => {
  const own = await demo();
  const WebSocket = need('ws');
  const socket = new WebSocket(`ws://${own.host}/bench`, { origin: `http://${own.host}` });
  const record = await new Promise((resolve, reject) => {
    let id = '', begun = false;
    socket.on('error', reject);
    socket.on('message', (data) => {
      const message = JSON.parse(data);
      if (message.type === 'hello' && !begun) { begun = true; socket.send(JSON.stringify({ do: 'begin', work: 'qualify', profile: 'interlock-door', serial: 'B-1', operator: 'demo', by_itself: true })); }
      if (message.work?.record) id = message.work.record;
      if (message.type === 'refused') reject(new Error(message.text));
      if (message.event?.type === 'judged') socket.send(JSON.stringify({ do: 'stop' }));
      if (message.work?.state === 'over') resolve(id);
    });
  });
  socket.close();
  const file = join(folder, 'bag.tar');
  execFileSync('curl', ['-sS', '-o', file, `${own.url}records/${record}/bag`]);
  execFileSync('tar', ['-xf', file, '-C', folder]);
  const inside = join(folder, `switchwright-${record}`);
  execFileSync('sha256sum', ['-c', '--strict', '--quiet', 'manifest-sha256.txt'], { cwd: inside });
  execFileSync('sha256sum', ['-c', '--strict', '--quiet', 'tagmanifest-sha256.txt'], { cwd: inside });
  const report = curl(`${own.url}records/${record}/report`);
  assert.equal(report.status, 200);
  assert.match(report.headers['content-security-policy'], /default-src 'none'; style-src 'unsafe-inline'/);
  assert.match(report.headers['content-security-policy'], /sandbox/);
  await own.stop();
});
