// The WebSocket against RFC 6455, with a client not made here (npm ws) and with raw frames. Section numbers stand beside the rules.
import { test, after } from 'node:test';
import assert from 'node:assert/strict';
import net from 'node:net';
import { createHash, randomBytes } from 'node:crypto';
import { demo, need, tidy } from './bench.mjs';

const WebSocket = need('ws');
const server = await demo();
after(async () => { await server.stop(); await tidy(); });
const origin = `http://${server.host}`;

/** A raw connection after the opening handshake. */
function raw() {
  return new Promise((resolve, reject) => {
    const key = randomBytes(16).toString('base64');
    const socket = net.connect(server.port, '127.0.0.1', () => socket.write(`GET /bench HTTP/1.1\r\nHost: ${server.host}\r\nOrigin: ${origin}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Key: ${key}\r\nSec-WebSocket-Version: 13\r\n\r\n`));
    let bytes = Buffer.alloc(0), head = null;
    const frames = [];
    const one = { socket, frames, closed: false, key };
    socket.on('error', () => {});
    socket.on('close', () => { one.closed = true; });
    socket.on('data', (data) => {
      bytes = Buffer.concat([bytes, data]);
      if (!head) {
        const end = bytes.indexOf('\r\n\r\n');
        if (end < 0) return;
        head = bytes.subarray(0, end).toString();
        one.head = head;
        bytes = bytes.subarray(end + 4);
        head.startsWith('HTTP/1.1 101') ? resolve(one) : reject(new Error(head));
      }
      for (;;) {
        if (bytes.length < 2) return;
        let length = bytes[1] & 127, at = 2;
        if (length === 126) { if (bytes.length < 4) return; length = bytes.readUInt16BE(2); at = 4; }
        else if (length === 127) { if (bytes.length < 10) return; length = Number(bytes.readBigUInt64BE(2)); at = 10; }
        if (bytes.length < at + length) return;
        frames.push({ fin: bytes[0] >> 7, opcode: bytes[0] & 15, masked: bytes[1] >> 7, payload: bytes.subarray(at, at + length) });
        bytes = bytes.subarray(at + length);
      }
    });
  });
}
function frame(opcode, payload, { fin = true, mask = true, rsv = 0, length } = {}) {
  const body = Buffer.from(payload);
  const size = length ?? body.length;
  const head = size < 126 ? Buffer.from([0, size]) : size < 65536 ? Buffer.from([0, 126, size >> 8, size & 255]) : Buffer.concat([Buffer.from([0, 127]), (() => { const b = Buffer.alloc(8); b.writeBigUInt64BE(BigInt(size)); return b; })()]);
  head[0] = (fin ? 128 : 0) | (rsv << 4) | opcode;
  if (!mask) return Buffer.concat([head, body]);
  head[1] |= 128;
  const key = randomBytes(4);
  return Buffer.concat([head, key, Buffer.from(body.map((b, i) => b ^ key[i % 4]))]);
}
const until = async (what, ms = 30000) => { const end = Date.now() + ms; while (!what()) { if (Date.now() > end) return false; await new Promise((r) => setTimeout(r, 10)); } return true; };
const close_code = (one) => { const f = one.frames.find((x) => x.opcode === 8); return f && f.payload.length >= 2 ? f.payload.readUInt16BE(0) : null; };

test('the accept key is the one of section 4.2.2, and no frame from the server is masked (5.1)', async () => {
  const one = await raw();
  const accept = createHash('sha1').update(`${one.key}258EAFA5-E914-47DA-95CA-C5AB0DC85B11`).digest('base64');
  assert.match(one.head, new RegExp(`sec-websocket-accept: ${accept.replace(/[+/=]/g, '\\$&')}`, 'i'));
  assert.ok(await until(() => one.frames.length > 0));
  assert.ok(one.frames.every((f) => f.masked === 0 && f.fin === 1 && f.opcode === 1));
  assert.equal(JSON.parse(one.frames[0].payload).type, 'hello');
  one.socket.destroy();
});

const wrong = [
  ['a frame without a mask (5.1)', (s) => s.write(frame(1, '{}', { mask: false })), [1002]],
  ['a reserved bit (5.2)', (s) => s.write(frame(1, '{}', { rsv: 4 })), [1002]],
  ['an unknown opcode (5.2)', (s) => s.write(frame(3, '{}')), [1002]],
  ['a fragmented control frame (5.5)', (s) => s.write(frame(9, 'x', { fin: false })), [1002]],
  ['a control frame above 125 bytes (5.5)', (s) => s.write(frame(9, 'x'.repeat(126))), [1002]],
  ['a continuation of nothing (5.4)', (s) => s.write(frame(0, 'x')), [1002]],
  ['a new message inside another (5.4)', (s) => { s.write(frame(1, '{', { fin: false })); s.write(frame(1, '}')); }, [1002]],
  ['invalid UTF-8 (8.1)', (s) => s.write(frame(1, Buffer.from([0x7b, 0xc3, 0x28, 0x7d]))), [1007]],
  ['a message above 16 KiB (7.4.1)', (s) => s.write(frame(1, 'x'.repeat(17000))), [1009]],
  ['a length of 2^62 (7.4.1)', (s) => s.write(frame(1, '', { length: 2 ** 52 })), [1009, 1002]],
  ['binary, which nothing here speaks (7.4.1)', (s) => s.write(frame(2, '{}')), [1003]],
  ['a close code that must not be sent (7.4.2)', (s) => s.write(frame(8, Buffer.from([0x03, 0xed]))), [1002]],
  ['a close frame of one byte (5.5.1)', (s) => s.write(frame(8, Buffer.from([3]))), [1002]],
];
for (const [name, send, codes] of wrong)
  test(`${name} ends the connection with its code`, async () => {
    const one = await raw();
    await until(() => one.frames.length > 0);
    send(one.socket);
    assert.ok(await until(() => one.closed), 'still open');
    const code = close_code(one);
    assert.ok(code === null || codes.includes(code), `${code}`);
  });

test('fragments make one message, a ping between them is answered with its own payload (5.4, 5.5.3)', async () => {
  const one = await raw();
  await until(() => one.frames.length > 0);
  one.socket.write(frame(1, '{"do":', { fin: false }));
  one.socket.write(frame(9, 'are you there'));
  one.socket.write(frame(0, '"stop"', { fin: false }));
  one.socket.write(frame(0, '}'));
  assert.ok(await until(() => one.frames.some((f) => f.opcode === 10 && f.payload.toString() === 'are you there')));
  assert.ok(await until(() => one.frames.some((f) => f.opcode === 1 && f.payload.includes('Nothing is going on'))));
  one.socket.write(frame(8, Buffer.from([0x03, 0xe8])));
  assert.ok(await until(() => one.closed));
  assert.equal(close_code(one), 1000);
});

test('a page of another site, or none, gets no connection', async () => {
  const status = (options) => new Promise((resolve) => {
    const socket = new WebSocket(`ws://${server.host}/bench`, options);
    socket.on('unexpected-response', (_, answer) => { resolve(answer.statusCode); socket.terminate(); });
    socket.on('open', () => { resolve(101); socket.terminate(); });
    socket.on('error', () => {});
  });
  assert.equal(await status({ origin: 'http://evil.example' }), 403);
  assert.equal(await status({ origin: `https://${server.host}` }), 403);
  assert.equal(await status({ origin: 'null' }), 403);
  assert.equal(await status({}), 403);
  assert.equal(await status({ origin, headers: { Host: 'evil.example' } }), 421);
  assert.equal(await status({ origin }), 101);
});

const connect = () => new Promise((resolve, reject) => {
  const socket = new WebSocket(`ws://${server.host}/bench`, { origin });
  socket.heard = [];
  socket.on('error', reject);
  socket.on('message', (data) => { socket.heard.push(JSON.parse(data)); if (socket.heard.length === 1) resolve(socket); });
});
const say = (socket, command) => socket.send(typeof command === 'string' ? command : JSON.stringify(command));
const refused = (socket) => socket.heard.filter((m) => m.type === 'refused');

test('what is no command is refused in one sentence, and the connection goes on', async () => {
  const socket = await connect();
  for (const text of ['', 'null', '[]', '{', '"x"', '{"do":7}', '{"do":"begin","work":"\\u0000"}', `{"do":"begin","work":"qualify","profile":"${'x'.repeat(5000)}"}`, '{"do":"begin","work":"trace","channels":{}}', '['.repeat(9000)]) {
    const before = refused(socket).length;
    say(socket, text);
    assert.ok(await until(() => refused(socket).length === before + 1), text.slice(0, 40));
  }
  assert.ok(refused(socket).every((m) => m.text.length > 5 && m.text.length < 800));
  assert.equal(socket.readyState, 1);
  socket.terminate();
});

test('somebody who sends faster than any person is put out; the others do not notice', async () => {
  const good = await connect(), rude = await connect();
  rude.on('error', () => {});
  for (let i = 0; i < 400; ++i) if (rude.readyState === 1) say(rude, { do: 'ping' });
  assert.ok(await until(() => rude.readyState === 3));
  say(good, { do: 'stop' });
  assert.ok(await until(() => refused(good).length === 1));
  good.terminate();
});

test('a step is answered once, whoever answers first; a page that reads nothing stalls nobody', async () => {
  const a = await connect(), b = await connect(), asleep = await connect();
  asleep._socket.pause();
  say(a, { do: 'begin', work: 'qualify', profile: 'interlock-door', serial: 'T-1', operator: 'demo' });
  const step = (s) => s.heard.filter((m) => m.event?.type === 'step').at(-1);
  assert.ok(await until(() => step(a) && step(b)));
  const { question, seen } = step(a);
  assert.equal(step(a).event.kind, 'acknowledge');
  say(a, { do: 'acknowledge', who: 'one', question, seen });
  say(b, { do: 'acknowledge', who: 'two', question, seen });
  assert.ok(await until(() => step(a).question !== question && refused(b).length === 1));
  const given = a.heard.filter((m) => m.event?.type === 'acknowledged');
  assert.deepEqual(given.map((m) => m.event.who), ['one']);
  assert.match(refused(b)[0].text, /answered already/);

  // Readings go on at their own rate although one page takes none.
  const readings = () => a.heard.filter((m) => m.event?.type === 'reading').length;
  // (A page that takes nothing is put out after 20 s at the latest; the readings are not to wait for that.)
  const before = readings();
  assert.ok(await until(() => readings() - before >= 25, 10000), `${readings() - before} readings in 10 s at 25 a second`);

  // A confirmation names the settled reading that was seen; one that has moved since is not kept.
  say(a, { do: 'panel', probes: 'known-source', dial: 'voltage-ac' });
  const settled = () => a.heard.filter((m) => m.event?.type === 'settled').at(-1);
  assert.ok(await until(() => settled()));
  const old = settled();
  say(a, { do: 'panel', probes: 'off' });
  assert.ok(await until(() => a.heard.some((m) => m.event?.type === 'unsettled')));
  say(a, { do: 'confirm', question: old.question, seen: old.seen });
  assert.ok(await until(() => refused(a).length === 1));
  assert.match(refused(a)[0].text, /changed in the meantime/);
  say(a, { do: 'confirm' });
  assert.ok(await until(() => refused(a).length === 2));
  say(a, { do: 'stop' });
  assert.ok(await until(() => a.heard.some((m) => m.type === 'work' && m.work?.state === 'over')));
  for (const s of [a, b, asleep]) s.terminate();
});

test('a name that an operator typed comes back as the text it was', async () => {
  const a = await connect();
  const serial = '<img src=x onerror=alert(1)> \u202e "\'&';
  say(a, { do: 'begin', work: 'qualify', profile: 'interlock-door', serial, operator: 'demo' });
  assert.ok(await until(() => a.heard.some((m) => m.work?.serial === serial)));
  say(a, { do: 'stop' });
  await until(() => a.heard.some((m) => m.type === 'work' && m.work?.state === 'over'));
  a.terminate();
});
